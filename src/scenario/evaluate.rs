//! Expressions to values: names looked up, units read, ramps laid over their statement.

use super::advice;
use super::names::Symbol;
use super::resolver::{Bound, Memo, Place, Resolver, Slot, Stop, TOP};
use super::value::{self, Val};
use crate::diag::{Diagnostic, Span, nearest};
use crate::lang::tree::{Expr, ExprKind, Name, Operator, UnitWord, Value, ValueKind};
use crate::signal::Curve;
use crate::units::{Compound, Dimension, UnitError, compound};

impl<'a> Resolver<'a> {
    /// What a value stands for. With `constant`, a ramp anywhere in it is [`Stop::Varies`], and no length is needed.
    ///
    /// # Errors
    /// Told already, or a ramp where a constant was asked for.
    pub(super) fn value(&mut self, value: &'a Value, at: Place, constant: bool) -> Result<Val, Stop> {
        match &value.kind {
            ValueKind::Single(expr) => self.expr(expr, at, constant),
            ValueKind::Range(..) => Err(self.fail(
                Diagnostic::error("argument", value.span, "a range `a..b` stands where one value is needed")
                    .help("write one value, or a ramp `a -> b`"),
            )),
            ValueKind::Ramp(ends) => self.ramp(ends, value.span, at, constant),
        }
    }

    fn ramp(
        &mut self,
        [from, to]: &'a [Expr; 2],
        span: Span,
        at: Place,
        constant: bool,
    ) -> Result<Val, Stop> {
        if constant {
            return Err(Stop::Varies(span));
        }
        let a = self.end_of_ramp(from, at)?;
        let b = self.end_of_ramp(to, at)?;
        if a.dimension != b.dimension {
            let title = format!("a ramp from {} to {}", a.dimension, b.dimension);
            let diagnostic = Diagnostic::error("dimension", from.span, title)
                .label(a.dimension.to_string())
                .also(to.span, b.dimension.to_string());
            return Err(self.fail(advice::toward(diagnostic, to, b.dimension, a.dimension)));
        }
        if a.is_instant() || b.is_instant() {
            let title = "a ramp between instants; a ramp runs over time by itself";
            return Err(self.fail(Diagnostic::error("dimension", span, title)));
        }
        if at.frame == TOP {
            let diagnostic =
                Diagnostic::error("argument", span, "a ramp at the top level has nothing to run over")
                    .help("a ramp runs over the statement or the body that it stands in: write it there");
            return Err(self.fail(diagnostic));
        }
        if self.is_review(at.frame) {
            return Ok(Val::unknown(a.dimension));
        }
        let (start_s, end_s) = self.stretch(at, span)?;
        let (Some(from), Some(to)) = (a.number(), b.number()) else { return Err(Stop::Reported) };
        Ok(Val::curve(Curve::ramp(from, to, start_s, end_s), a.dimension))
    }

    fn end_of_ramp(&mut self, expr: &'a Expr, at: Place) -> Result<Val, Stop> {
        self.expr(expr, at, true).map_err(|stop| match stop {
            Stop::Reported => stop,
            Stop::Varies(ramp) => self.fail(
                Diagnostic::error(
                    "varying",
                    expr.span,
                    "the ends of a ramp must be constant, and this varies",
                )
                .also(ramp, "this ramp makes it vary"),
            ),
        })
    }

    /// An expression that must not vary, as `what` in messages.
    ///
    /// # Errors
    /// Told already.
    pub(super) fn constant(&mut self, expr: &'a Expr, at: Place, what: &str) -> Result<Val, Stop> {
        let result = self.expr(expr, at, true);
        self.unvarying(result, expr.span, what)
    }

    /// A value that must not vary, as `what` in messages.
    ///
    /// # Errors
    /// Told already.
    pub(super) fn constant_value(&mut self, value: &'a Value, at: Place, what: &str) -> Result<Val, Stop> {
        let result = self.value(value, at, true);
        self.unvarying(result, value.span, what)
    }

    fn unvarying(&mut self, result: Result<Val, Stop>, span: Span, what: &str) -> Result<Val, Stop> {
        result.map_err(|stop| match stop {
            Stop::Reported => stop,
            Stop::Varies(ramp) => {
                let mut diagnostic =
                    Diagnostic::error("varying", span, format!("{what} must be constant, and this varies"));
                if ramp != span {
                    diagnostic = diagnostic.also(ramp, "this ramp makes it vary");
                }
                self.fail(diagnostic.help("only amplitudes, gains, levels, speeds and frequencies may vary"))
            }
        })
    }

    /// What an expression stands for; see [`Self::value`].
    ///
    /// # Errors
    /// Told already, or a ramp where a constant was asked for.
    pub(super) fn expr(&mut self, expr: &'a Expr, at: Place, constant: bool) -> Result<Val, Stop> {
        self.deeper(expr.span, |this| this.kind(expr, at, constant))
    }

    fn kind(&mut self, expr: &'a Expr, at: Place, constant: bool) -> Result<Val, Stop> {
        match &expr.kind {
            ExprKind::Number(number, unit) => self.number(*number, unit.as_ref(), expr.span),
            ExprKind::Clock(seconds) => Ok(Val::constant(*seconds, Dimension::TIME)),
            ExprKind::Call(call) => self.function(call, at, constant),
            ExprKind::Name(name) => self.name(name, at, constant),
            ExprKind::End(name) => self.label_end(name, at),
            ExprKind::Group(value) => self.value(value, at, constant),
            ExprKind::Negative(inner) => Ok(value::negative(&self.expr(inner, at, constant)?)),
            ExprKind::Binary(operator, operands) => {
                let [a, b] = &**operands;
                let (left, right) = (self.expr(a, at, constant), self.expr(b, at, constant));
                let (left, right) = (left?, right?);
                let result = value::binary(*operator, &left, &right);
                let result = result.map_err(|misfit| {
                    let diagnostic = advice::misfit(misfit, *operator, (a, &left), (b, &right), expr.span);
                    self.fail(diagnostic)
                })?;
                if *operator == Operator::Divide {
                    self.divisor(&right, b, at)?;
                }
                Ok(result)
            }
            ExprKind::Power(base, exponent) => {
                let inner = self.expr(base, at, constant)?;
                if *exponent < 0 {
                    self.divisor(&inner, base, at)?;
                }
                value::power(&inner, *exponent).map_err(|misfit| {
                    let base = (&**base, &inner);
                    self.fail(advice::misfit(misfit, Operator::Multiply, base, base, expr.span))
                })
            }
        }
    }

    fn number(&mut self, number: f64, unit: Option<&UnitWord>, span: Span) -> Result<Val, Stop> {
        let unit = match unit {
            Some(unit) => self.unit(unit)?,
            None => Compound { dimension: Dimension::NUMBER, scale: 1.0 },
        };
        let value = number * unit.scale;
        if value.is_finite() {
            return Ok(Val::constant(value, unit.dimension));
        }
        Err(self.fail(Diagnostic::error("range", span, "this number is too large to calculate with")))
    }

    /// What a unit measures.
    ///
    /// # Errors
    /// When it is none; told already.
    pub(super) fn unit(&mut self, unit: &UnitWord) -> Result<Compound, Stop> {
        compound(unit.powers.iter().map(|(word, power)| (&**word, *power))).map_err(|error| {
            let mut diagnostic = Diagnostic::error("unknown-unit", unit.span, error.to_string());
            let near = match &error {
                UnitError::Unknown { symbol, nearest } => advice::spelled_out(symbol).or(*nearest),
                _ => None,
            };
            if let (UnitError::Unknown { symbol, .. }, Some(near)) = (&error, near) {
                let text = self.sources.snippet(unit.span);
                let fixed = text.replacen(symbol.as_str(), near, 1);
                diagnostic = diagnostic.help(format!("did you mean `{near}`?")).fix(
                    format!("write `{fixed}`"),
                    unit.span,
                    fixed,
                );
            } else if matches!(error, UnitError::Unknown { .. }) {
                diagnostic =
                    diagnostic.help("a word after a number is its unit; between values put an operator");
            }
            self.fail(diagnostic)
        })
    }

    /// Refuses a divisor that can reach zero while its statement lasts.
    fn divisor(&mut self, divisor: &Val, expr: &Expr, at: Place) -> Result<(), Stop> {
        let Some(curve) = divisor.curve.as_ref().filter(|curve| curve.constant().is_none()) else {
            return Ok(());
        };
        let (start_s, end_s) = self.stretch(at, expr.span)?;
        let (low, high) = curve.range(start_s, end_s);
        if low > 0.0 || high < 0.0 {
            return Ok(());
        }
        let title = "this divisor can reach zero while its statement lasts";
        let diagnostic = Diagnostic::error("range", expr.span, title)
            .label(format!(
                "from {} to {}",
                crate::units::show(low, divisor.dimension),
                crate::units::show(high, divisor.dimension)
            ))
            .help("keep both ends of the ramp on one side of zero");
        Err(self.fail(diagnostic))
    }

    fn name(&mut self, name: &'a Name, at: Place, constant: bool) -> Result<Val, Stop> {
        let Some((frame, symbol)) = self.find(&name.text, at.frame) else {
            return Err(self.unknown(name, at.frame));
        };
        match symbol {
            Symbol::Param(k) => self.param(frame, k, name, constant),
            Symbol::Let(k) => {
                let Some(definition) = self.frame(frame).names.lets.get(k).copied() else {
                    return Err(Stop::Reported);
                };
                let place = Place { frame, statement: None };
                self.remembered(frame, Slot::Let(k), &definition.name, &definition.value, place, constant)
            }
            Symbol::Label(k) => {
                if self.is_review(frame) {
                    return Ok(Val::instant(None));
                }
                self.start(frame, k).map(|start_s| Val::instant(Some(start_s)))
            }
            Symbol::Input(k) => {
                let low = self.program.inputs.get(k).map(|input| &input.low).ok_or(Stop::Reported)?;
                let low = self.expr(low, Place { frame: TOP, statement: None }, true)?;
                if self.is_review(at.frame) {
                    return Ok(Val::unknown(low.dimension));
                }
                Err(self.not_yet(name.span, "inputs"))
            }
            Symbol::Cue(_) => {
                let title = format!("`{}` is a cue, and no value", name.text);
                Err(self.fail(
                    Diagnostic::error("unknown-name", name.span, title)
                        .help("play a cue on a line of its own: `at 1 s name(…)`"),
                ))
            }
        }
    }

    /// Says plainly that something is understood later.
    pub(super) fn not_yet(&mut self, span: Span, what: &str) -> Stop {
        let title = format!("{what} are not understood yet");
        let diagnostic = Diagnostic::error("not-yet", span, title)
            .help("the rest of the scene was read; leave this out to play it with this version");
        self.fail(diagnostic)
    }

    fn param(&mut self, frame: usize, k: usize, name: &'a Name, constant: bool) -> Result<Val, Stop> {
        match self.frame(frame).params.get(k).copied() {
            Some(Bound::Value(value, place)) => {
                self.remembered(frame, Slot::Param(k), name, value, place, constant)
            }
            Some(Bound::Unknown(Some(dimension))) => {
                let mut unknown = Val::unknown(dimension);
                if dimension == Dimension::TIME {
                    unknown.instants = f64::NAN;
                }
                Ok(unknown)
            }
            Some(Bound::Unknown(None)) | None => Err(Stop::Reported),
        }
    }

    /// The value of a let or a parameter, found out once as a constant and, where it varies, once more.
    pub(super) fn remembered(
        &mut self,
        frame: usize,
        slot: Slot,
        name: &Name,
        value: &'a Value,
        place: Place,
        constant: bool,
    ) -> Result<Val, Stop> {
        for constant_now in [true, false] {
            if !constant_now && constant {
                break;
            }
            let memo = self.frame_mut(frame).memos.entry(slot).or_default();
            let known = if constant_now { &memo.constant } else { &memo.varying };
            let result = match known {
                Some(result) => result.clone(),
                None => {
                    let title = format!("`{}`", name.text);
                    let result = self.guarded(frame, slot, title, name.span, |this| {
                        this.value(value, place, constant_now)
                    });
                    let memo: &mut Memo = self.frame_mut(frame).memos.entry(slot).or_default();
                    let kept = if constant_now { &mut memo.constant } else { &mut memo.varying };
                    *kept = Some(result.clone());
                    result
                }
            };
            match result {
                Err(Stop::Varies(_)) if !constant => {}
                other => return other,
            }
        }
        Err(Stop::Reported)
    }

    /// Which body defines a name, looked up from `frame` outwards.
    pub(super) fn find(&self, name: &str, frame: usize) -> Option<(usize, Symbol)> {
        let mut frame = Some(frame);
        while let Some(at) = frame {
            if let Some((symbol, _)) = self.frame(at).names.symbols.get(name) {
                return Some((at, *symbol));
            }
            frame = self.frame(at).parent;
        }
        None
    }

    /// The labelled statement that a name stands for.
    ///
    /// # Errors
    /// When it is no label; told already.
    pub(super) fn label(&mut self, name: &Name, at: Place) -> Result<(usize, usize), Stop> {
        match self.find(&name.text, at.frame) {
            Some((frame, Symbol::Label(k))) => Ok((frame, k)),
            Some(_) => {
                let title = format!("`{}` is no label, and only a label has an end", name.text);
                let diagnostic = Diagnostic::error("label", name.span, title)
                    .help("a label is set with `as name` at a statement's end");
                Err(self.fail(diagnostic))
            }
            None => Err(self.unknown(name, at.frame)),
        }
    }

    fn label_end(&mut self, name: &'a Name, at: Place) -> Result<Val, Stop> {
        let (frame, k) = self.label(name, at)?;
        if self.is_review(frame) {
            return Ok(Val::instant(None));
        }
        let (start_s, length_s) = (self.start(frame, k)?, self.length(frame, k)?);
        Ok(Val::instant(Some(crate::time::to_nanosecond(start_s + length_s))))
    }

    fn unknown(&mut self, name: &Name, frame: usize) -> Stop {
        let mut known: Vec<std::sync::Arc<str>> = Vec::new();
        let mut at = Some(frame);
        while let Some(frame) = at {
            let names = self.frame(frame).names.symbols.iter();
            known.extend(
                names.filter(|(_, (s, _))| !matches!(s, Symbol::Cue(_))).map(|(name, _)| name.clone()),
            );
            at = self.frame(frame).parent;
        }
        let mut diagnostic =
            Diagnostic::error("unknown-name", name.span, format!("nothing here is called `{}`", name.text));
        if let Some(near) = nearest(&name.text, known.iter().map(|name| &**name)) {
            let title = format!("write `{near}`");
            diagnostic = diagnostic.help(format!("did you mean `{near}`?")).fix(title, name.span, near);
        } else if crate::units::unit(&name.text).is_some() {
            diagnostic = diagnostic.help("a unit stands after a number: `1 kt`");
        } else {
            diagnostic =
                diagnostic.help("a name is a parameter, a `let` or a label of this body or one around it; a cue does not see the labels of where it is played");
        }
        self.fail(diagnostic)
    }
}
