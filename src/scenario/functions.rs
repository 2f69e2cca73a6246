//! The functions of expressions: `ease`, `min`, `max`, `abs`.

use super::advice;
use super::arguments::unnamed;
use super::resolver::{Place, Resolver, Stop};
use super::value::{self, Val};
use crate::diag::{Diagnostic, Span, nearest};
use crate::lang::tree::{Call, ValueKind};
use crate::signal::Curve;
use crate::units::Dimension;

impl<'a> Resolver<'a> {
    /// What a call inside an expression stands for.
    ///
    /// # Errors
    /// Told already, or a ramp where a constant was asked for.
    pub(super) fn function(&mut self, call: &'a Call, at: Place, constant: bool) -> Result<Val, Stop> {
        match &*call.name.text {
            "ease" => self.ease(call, at, constant),
            "min" | "max" | "abs" => self.choice(call, at),
            other => {
                let mut diagnostic = Diagnostic::error(
                    "unknown-name",
                    call.name.span,
                    format!("there is no function `{other}`"),
                );
                if self.program.cue(other).is_some() {
                    diagnostic = diagnostic.help("this is a cue: play it on a line of its own");
                } else if let Some(near) = nearest(other, ["ease", "min", "max", "abs"]) {
                    diagnostic = diagnostic.help(format!("did you mean `{near}`?")).fix(
                        format!("write `{near}`"),
                        call.name.span,
                        near,
                    );
                } else {
                    diagnostic = diagnostic.help("the functions are `ease`, `min`, `max` and `abs`");
                }
                Err(self.fail(diagnostic))
            }
        }
    }

    fn ease(&mut self, call: &'a Call, at: Place, constant: bool) -> Result<Val, Stop> {
        let args: Vec<_> = call.args.iter().filter_map(unnamed).collect();
        let (x, low, high) = match args.as_slice() {
            [x, band] if call.args.len() == 2 => match &band.kind {
                ValueKind::Range(ends) => (*x, &ends[0], &ends[1]),
                _ => return Err(self.fail(shape_of_ease(band.span))),
            },
            _ => return Err(self.fail(shape_of_ease(call.span))),
        };
        let value = self.value(x, at, constant);
        let low_value = self.constant(low, at, "an end of `ease`");
        let high_value = self.constant(high, at, "an end of `ease`");
        let (value, low_value, high_value) = (value?, low_value?, high_value?);
        for (end, found) in [(low, &low_value), (high, &high_value)] {
            if found.dimension != value.dimension {
                let title = format!("`ease` of {} between {}", value.dimension, found.dimension);
                let diagnostic = Diagnostic::error("dimension", x.span, title)
                    .label(value.dimension.to_string())
                    .also(end.span, found.dimension.to_string());
                let diagnostic = advice::toward(diagnostic, end, found.dimension, value.dimension);
                return Err(self.fail(diagnostic));
            }
        }
        if let (Some(a), Some(b)) = (low_value.number(), high_value.number())
            && a == b
        {
            let title = "`ease` between two equal values would be a step";
            return Err(self.fail(Diagnostic::error("range", low.span.to(high.span), title)));
        }
        let curve = value.curve.clone().zip(low_value.number().zip(high_value.number()));
        let curve = curve.map(|(x, (low, high))| Curve::ease(x, low, high));
        Ok(Val { dimension: Dimension::NUMBER, instants: 0.0, curve, size: value.size.saturating_add(1) })
    }

    fn choice(&mut self, call: &'a Call, at: Place) -> Result<Val, Stop> {
        let name = &*call.name.text;
        let args: Vec<_> = call.args.iter().filter_map(unnamed).collect();
        let right = if name == "abs" { args.len() == 1 } else { !args.is_empty() };
        if !right || args.len() != call.args.len() {
            let shape = if name == "abs" { "abs(x)".to_string() } else { format!("{name}(a, b)") };
            let title = format!("`{name}` is written `{shape}`");
            return Err(self.fail(Diagnostic::error("argument", call.span, title)));
        }
        let mut best: Option<Val> = None;
        for arg in args {
            let next = self.constant_value(arg, at, &format!("what `{name}` takes"))?;
            best = Some(match best {
                None => next,
                Some(best) if best.dimension != next.dimension || best.is_instant() != next.is_instant() => {
                    let title = format!("`{name}` of {} and {}", best.dimension, next.dimension);
                    let diagnostic =
                        Diagnostic::error("dimension", arg.span, title).also(call.span, "in this call");
                    return Err(self.fail(diagnostic));
                }
                Some(best) => match (best.number(), next.number()) {
                    (Some(a), Some(b)) if (name == "min") == (b < a) => next,
                    (Some(_), Some(_)) => best,
                    _ => Val { curve: None, ..best },
                },
            });
        }
        let best = best.ok_or(Stop::Reported)?;
        Ok(match (name, best.number()) {
            ("abs", Some(x)) if x < 0.0 => value::negative(&best),
            _ => best,
        })
    }
}

fn shape_of_ease(span: Span) -> Diagnostic {
    Diagnostic::error("argument", span, "`ease` is written `ease(x, a..b)`")
        .help("it is 0 where x is a, 1 where x is b, and smooth between; a may be above b")
}
