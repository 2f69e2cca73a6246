//! Arguments to parameters: those without a name first, in order, then those with one.

use super::resolver::{Bound, Place, Resolver, Stop, TOP};
use crate::diag::{Diagnostic, nearest};
use crate::lang::tree::{Arg, ArgValue, Call, CueDefinition, ParamKind, Value};
use crate::units::Dimension;
use std::collections::BTreeMap;
use std::rc::Rc;

/// The value of an argument that has no name and is no text.
pub(super) fn unnamed(arg: &Arg) -> Option<&Value> {
    match (&arg.name, &arg.value) {
        (None, ArgValue::Value(value)) => Some(value),
        _ => None,
    }
}

/// A parameter as a call sees it: its name, and whether it must be given.
pub(super) struct Wanted<'n> {
    pub(super) name: &'n str,
    pub(super) required: bool,
}

impl<'a> Resolver<'a> {
    /// Which argument goes to which parameter.
    ///
    /// # Errors
    /// All mistakes of the call, told already.
    pub(super) fn bind(
        &mut self,
        call: &'a Call,
        wanted: &[Wanted<'_>],
    ) -> Result<Vec<Option<&'a Arg>>, Stop> {
        let mut bound: Vec<Option<&'a Arg>> = vec![None; wanted.len()];
        let mut wrong = None;
        let whose = &call.name.text;
        let mut named = None;
        for (position, arg) in call.args.iter().enumerate() {
            let slot = match &arg.name {
                None => {
                    if let Some(before) = named {
                        let title =
                            format!("an argument of `{whose}` without a name stands after one with a name");
                        let diagnostic = Diagnostic::error("argument", arg.span, title)
                            .also(before, "this one has a name")
                            .help("name it too, or move it before the named ones");
                        wrong = Some(self.fail(diagnostic));
                        continue;
                    }
                    position
                }
                Some(name) => {
                    named = Some(arg.span);
                    match wanted.iter().position(|wanted| *wanted.name == *name.text) {
                        Some(slot) => slot,
                        None => {
                            let title = format!("`{whose}` has no `{}`", name.text);
                            let mut diagnostic = Diagnostic::error("argument", name.span, title);
                            if let Some(near) = nearest(&name.text, wanted.iter().map(|wanted| wanted.name)) {
                                diagnostic = diagnostic.help(format!("did you mean `{near}`?")).fix(
                                    format!("write `{near}`"),
                                    name.span,
                                    near,
                                );
                            } else {
                                diagnostic = diagnostic.help(takes(whose, wanted));
                            }
                            wrong = Some(self.fail(diagnostic));
                            continue;
                        }
                    }
                }
            };
            match bound.get_mut(slot) {
                None => {
                    let title = format!("`{whose}` has one argument too many");
                    let diagnostic =
                        Diagnostic::error("argument", arg.span, title).help(takes(whose, wanted));
                    wrong = Some(self.fail(diagnostic));
                }
                Some(Some(first)) => {
                    let first = first.span;
                    let name = wanted.get(slot).map_or("", |wanted| wanted.name);
                    let title = format!("`{name}` of `{whose}` is given twice");
                    let diagnostic =
                        Diagnostic::error("argument", arg.span, title).also(first, "the first time");
                    wrong = Some(self.fail(diagnostic));
                }
                Some(free) => *free = Some(arg),
            }
        }
        let missing: Vec<_> = wanted
            .iter()
            .zip(&bound)
            .filter(|(wanted, bound)| wanted.required && bound.is_none())
            .map(|(wanted, _)| format!("`{}`", wanted.name))
            .collect();
        if !missing.is_empty() && wrong.is_none() {
            let title = format!("`{whose}` needs {}", missing.join(" and "));
            let diagnostic = Diagnostic::error("argument", call.span, title).help(takes(whose, wanted));
            wrong = Some(self.fail(diagnostic));
        }
        wrong.map_or(Ok(bound), Err)
    }

    /// The dimensions of a cue's parameters; `None` where the definition is wrong.
    pub(super) fn signature(&mut self, k: usize, cue: &'a CueDefinition) -> Rc<Vec<Option<Dimension>>> {
        if let Some(known) = self.signatures.get(&k) {
            return known.clone();
        }
        // Defaults may use what stands at the top level; the guard against circles is that of the lets there.
        self.signatures.insert(k, Rc::new(vec![None; cue.params.len()]));
        let at = Place { frame: TOP, statement: None };
        let dimensions = cue.params.iter().map(|param| match &param.kind {
            ParamKind::Unit(unit) => self.unit(unit).ok().map(|unit| unit.dimension),
            ParamKind::Default(value) => {
                self.constant_value(value, at, "a default").ok().map(|value| value.dimension)
            }
        });
        let dimensions = Rc::new(dimensions.collect::<Vec<_>>());
        self.signatures.insert(k, dimensions.clone());
        dimensions
    }

    /// The cue that a call plays.
    ///
    /// # Errors
    /// When there is none; told already.
    pub(super) fn called(&mut self, call: &'a Call) -> Result<(usize, &'a CueDefinition), Stop> {
        if let Some(found) = self.program.cue(&call.name.text) {
            return Ok(found);
        }
        let name = &call.name.text;
        let mut diagnostic =
            Diagnostic::error("unknown-cue", call.name.span, format!("there is no cue `{name}`"));
        let cues = self.program.cues.iter().map(|cue| &*cue.name.text);
        if super::waveform::row(name).is_some() {
            diagnostic = diagnostic.help(format!(
                "`{name}` is a waveform: write its channel before it, as in `pitch {name}(…)`"
            ));
        } else if let Some(near) = nearest(name, cues) {
            let title = format!("write `{near}`");
            diagnostic = diagnostic.help(format!("did you mean `{near}`?")).fix(title, call.name.span, near);
        } else {
            diagnostic = diagnostic
                .help("a cue is defined with `cue name(…) { … }`, here or in a file named by `use`");
        }
        Err(self.fail(diagnostic))
    }

    /// The values of a cue's parameters for one call. `own` is the number that the cue's body will get.
    ///
    /// # Errors
    /// Mistakes of the call, told already.
    pub(super) fn parameters(
        &mut self,
        call: &'a Call,
        cue: &'a CueDefinition,
        at: Place,
    ) -> Result<Vec<Bound<'a>>, Stop> {
        let wanted: Vec<_> = cue
            .params
            .iter()
            .map(|param| Wanted {
                name: &param.name.text,
                required: matches!(param.kind, ParamKind::Unit(_)),
            })
            .collect();
        let bound = self.bind(call, &wanted)?;
        let mut values = Vec::with_capacity(bound.len());
        for (arg, param) in bound.iter().zip(&cue.params) {
            values.push(match (arg, &param.kind) {
                (Some(arg), _) => match &arg.value {
                    ArgValue::Value(value) => Bound::Value(value, at),
                    ArgValue::Text(text) => {
                        let title = format!("`{}` of `{}` is no text", param.name.text, cue.name.text);
                        return Err(self.fail(Diagnostic::error("argument", text.span, title)));
                    }
                },
                (None, ParamKind::Default(value)) => {
                    Bound::Value(value, Place { frame: TOP, statement: None })
                }
                (None, ParamKind::Unit(_)) => return Err(Stop::Reported),
            });
        }
        Ok(values)
    }

    /// Reviews a call of a cue: its arguments, and their dimensions.
    ///
    /// # Errors
    /// All mistakes of the call, told already.
    pub(super) fn review_call(&mut self, call: &'a Call, at: Place) -> Result<(), Stop> {
        let called = self.called(call);
        let parameters = match called {
            Ok((_, cue)) => self.parameters(call, cue, at),
            Err(stop) => Err(stop),
        };
        let (Ok((k, cue)), Ok(parameters)) = (called, parameters) else {
            // The arguments have mistakes of their own, whoever they are for.
            for arg in &call.args {
                if let ArgValue::Value(value) = &arg.value {
                    let _ = self.value(value, at, false);
                }
            }
            return Err(Stop::Reported);
        };
        let dimensions = self.signature(k, cue);
        let mut wrong = None;
        for ((bound, wanted), param) in parameters.iter().zip(dimensions.iter()).zip(&cue.params) {
            let Bound::Value(value, place) = bound else { continue };
            if place.frame == TOP {
                continue;
            }
            match self.value(value, at, false) {
                Err(stop) => wrong = Some(stop),
                Ok(found) => {
                    let Some(wanted) = wanted.filter(|wanted| *wanted != found.dimension) else { continue };
                    let title = format!(
                        "`{}` of `{}` takes {wanted}; this is {}",
                        param.name.text, cue.name.text, found.dimension
                    );
                    let diagnostic = Diagnostic::error("dimension", value.span, title)
                        .label(found.dimension.to_string())
                        .also(param.span, "the parameter says so here");
                    let diagnostic = super::advice::value_toward(diagnostic, value, found.dimension, wanted);
                    wrong = Some(self.fail(diagnostic));
                }
            }
        }
        if dimensions.contains(&None) {
            return Err(Stop::Reported);
        }
        wrong.map_or(Ok(()), Err)
    }
}

fn takes(whose: &str, wanted: &[Wanted<'_>]) -> String {
    let mut seen = BTreeMap::new();
    let names: Vec<_> =
        wanted
            .iter()
            .filter(|wanted| seen.insert(wanted.name, ()).is_none())
            .map(|wanted| {
                if wanted.required {
                    wanted.name.to_string()
                } else {
                    format!("{} (if you like)", wanted.name)
                }
            })
            .collect();
    if names.is_empty() {
        format!("`{whose}` takes no arguments")
    } else {
        format!("`{whose}` takes {}", names.join(", "))
    }
}
