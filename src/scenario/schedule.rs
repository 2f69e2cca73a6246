//! When statements start and how long they are, each found out when it is first asked for.
//!
//! Lengths never depend on a varying value, so this comes before any ramp is laid.

use super::limit;
use super::names::{Symbol, label};
use super::resolver::{Extent, Opening, Place, Resolver, Slot, Stop};
use super::waveform;
use crate::diag::{Diagnostic, Span};
use crate::lang::tree::{Expr, ExprKind, Play, SpanExpr, Statement, SuffixKind, Value, What, When};
use crate::time::to_nanosecond;
use crate::units::{Dimension, show};

/// The value of `for`.
pub(super) fn said_length(play: &Play) -> Option<&Value> {
    play.suffixes.iter().find_map(|suffix| match &suffix.kind {
        SuffixKind::For(value) => Some(value),
        _ => None,
    })
}

/// What a statement is called in messages: its label, or what it plays.
pub(super) fn title(play: &Play) -> String {
    if let Some(label) = label(play) {
        return label.text.to_string();
    }
    match &play.what {
        What::Layer(channel, call) => format!("{} {}", channel.line.word(), call.name.text),
        What::Cue(call) => call.name.text.to_string(),
        What::Block(_) => "block".to_string(),
    }
}

fn what_span(play: &Play) -> Span {
    match &play.what {
        What::Layer(_, call) | What::Cue(call) => call.span,
        What::Block(block) => block.span,
    }
}

impl<'a> Resolver<'a> {
    /// The play that is statement `k` of a body.
    ///
    /// # Errors
    /// When it is none, or was found wrong before.
    pub(super) fn play(&self, frame: usize, k: usize) -> Result<&'a Play, Stop> {
        let statements: &'a [Statement] = self.frame(frame).statements;
        match statements.get(k) {
            Some(Statement::Play(play)) if !self.wrong.contains(&play.span) => Ok(play),
            _ => Err(Stop::Reported),
        }
    }

    /// Start of statement `k`, s from the scene's start.
    ///
    /// # Errors
    /// Told already.
    pub(super) fn start(&mut self, frame: usize, k: usize) -> Result<f64, Stop> {
        self.timed(frame, Slot::Start(k), k, |this, play| {
            let here = this.frame(frame).start_s.ok_or(Stop::Reported)?;
            let at = Place { frame, statement: Some(k) };
            let (start_s, span) = match &play.when {
                None => return Ok(here),
                Some(When::At(expr)) => (this.instant(expr, at, "`at`")?.ok_or(Stop::Reported)?, expr.span),
                Some(When::Every(repeat)) => {
                    let Some(during) = &repeat.during else { return Ok(here) };
                    (this.stretch_of(during, at)?.ok_or(Stop::Reported)?.0, during.from.span)
                }
            };
            if start_s < here {
                let before = show(here - start_s, Dimension::TIME);
                let place = if this.frame(frame).extent == Extent::Endless {
                    "the scene"
                } else {
                    "the body that it stands in"
                };
                let diagnostic =
                    Diagnostic::error("range", span, format!("this starts {before} before {place}"))
                        .help("nothing can start before what it stands in");
                return Err(this.fail(diagnostic));
            }
            Ok(start_s)
        })
    }

    /// Length of statement `k`, s. Of `every`, the stretch in which it fires.
    ///
    /// # Errors
    /// Told already.
    pub(super) fn length(&mut self, frame: usize, k: usize) -> Result<f64, Stop> {
        self.timed(frame, Slot::Length(k), k, |this, play| {
            if let Some(When::Every(repeat)) = &play.when {
                let start_s = this.start(frame, k)?;
                let end_s = match &repeat.during {
                    Some(during) => {
                        let at = Place { frame, statement: Some(k) };
                        this.stretch_of(during, at)?.ok_or(Stop::Reported)?.1
                    }
                    None => this.end(frame)?,
                };
                return Ok((end_s - start_s).max(0.0));
            }
            this.own_or_rest(frame, k, play)
        })
    }

    /// How long what statement `k` plays is when it starts at the statement's start.
    fn own_or_rest(&mut self, frame: usize, k: usize, play: &'a Play) -> Result<f64, Stop> {
        let start_s = self.start(frame, k)?;
        match &play.what {
            What::Layer(channel, call) => self.layer_length(frame, k, channel, call, start_s),
            What::Cue(_) | What::Block(_) => {
                let child = self.child(frame, k)?;
                self.body_length(child)
            }
        }
    }

    /// How long a layer is that starts at `start_s`.
    ///
    /// # Errors
    /// Told already.
    pub(super) fn layer_length(
        &mut self,
        frame: usize,
        k: usize,
        channel: &crate::lang::tree::Channel,
        call: &'a crate::lang::tree::Call,
        start_s: f64,
    ) -> Result<f64, Stop> {
        let at = Place { frame, statement: Some(k) };
        let said = match said_length(self.play(frame, k)?) {
            Some(value) => Some((self.duration(value, at, "`for`")?.ok_or(Stop::Reported)?, value.span)),
            None => None,
        };
        match (waveform::row(&call.name.text), said) {
            (Some(row), Some((said, _))) if row.open => Ok(said),
            (Some(row), None) if row.open => Ok((self.end(frame)? - start_s).max(0.0)),
            (Some(_), said) => {
                let own = self.own_length(channel, call, at)?;
                match said {
                    Some((said, span)) if said > own + 1e-9 => {
                        let title = format!(
                            "the recording has {} left, and `for` asks for {}",
                            show(own, Dimension::TIME),
                            show(said, Dimension::TIME)
                        );
                        let diagnostic = Diagnostic::error("trace", span, title)
                            .also(call.span, "from here on in the recording");
                        Err(self.fail(
                            diagnostic.help("`for` cuts a trace; leave it out to play the trace to its end"),
                        ))
                    }
                    Some((said, _)) => Ok(said),
                    None => Ok(own),
                }
            }
            (None, _) => Err(Stop::Reported),
        }
    }

    fn timed(
        &mut self,
        frame: usize,
        slot: Slot,
        k: usize,
        work: impl FnOnce(&mut Self, &'a Play) -> Result<f64, Stop>,
    ) -> Result<f64, Stop> {
        if let Some(known) = self.frame(frame).times.get(&slot) {
            return *known;
        }
        let play = self.play(frame, k)?;
        let span = label(play).map_or(play.span, |name| name.span);
        let name = match (slot, label(play)) {
            (_, Some(label)) => format!("label `{}`", label.text),
            (_, None) => format!("`{}`", title(play)),
        };
        let result = self.guarded(frame, slot, name, span, |this| work(this, play)).map(to_nanosecond);
        self.frame_mut(frame).times.insert(slot, result);
        result
    }

    /// The body of statement `k` where it plays once.
    ///
    /// # Errors
    /// Told already.
    pub(super) fn child(&mut self, frame: usize, k: usize) -> Result<usize, Stop> {
        if let Some(known) = self.frame(frame).children.get(&k) {
            return *known;
        }
        let result = self.start(frame, k).and_then(|start_s| self.open_child(frame, k, start_s));
        self.frame_mut(frame).children.insert(k, result);
        result
    }

    /// Opens the body of statement `k` for one playing that starts at `start_s`.
    ///
    /// # Errors
    /// Told already.
    pub(super) fn open_child(&mut self, frame: usize, k: usize, start_s: f64) -> Result<usize, Stop> {
        let play = self.play(frame, k)?;
        let at = Place { frame, statement: Some(k) };
        let (block, cue, parent, params) = match &play.what {
            What::Layer(..) => return Err(Stop::Reported),
            What::Block(block) => (block, None, frame, Vec::new()),
            What::Cue(call) => {
                let (number, cue) = self.called(call)?;
                let params = self.parameters(call, cue, at)?;
                (&cue.body, Some(number), super::resolver::TOP, params)
            }
        };
        let extent = match said_length(play) {
            Some(value) => Extent::Given(self.duration(value, at, "`for`")?.ok_or(Stop::Reported)?),
            None if self.is_open_inside(&play.what) => Extent::Given((self.end(frame)? - start_s).max(0.0)),
            None => Extent::Own,
        };
        self.open(Opening { block, parent, above: frame, params, cue, start_s: Some(start_s), extent })
    }

    /// How long a body is: what it was given, or until the last thing in it ends, s.
    ///
    /// # Errors
    /// When it has no end, or its own statements need its length to find theirs.
    pub(super) fn body_length(&mut self, frame: usize) -> Result<f64, Stop> {
        match self.frame(frame).extent {
            Extent::Unknown | Extent::Endless => return Err(Stop::Reported),
            Extent::Given(length_s) => return Ok(length_s),
            Extent::Own => {}
        }
        if let Some(known) = self.frame(frame).times.get(&Slot::Body) {
            return *known;
        }
        let statements = self.frame(frame).statements;
        let here = self.frame(frame).start_s.ok_or(Stop::Reported)?;
        let span = statements.iter().find_map(|statement| match statement {
            Statement::Play(play) => Some(play.span),
            _ => None,
        });
        let Some(span) = span else { return Ok(0.0) };
        let result = self.guarded(frame, Slot::Body, "the length of the body".to_string(), span, |this| {
            let mut longest: f64 = 0.0;
            let mut stop = None;
            for (k, statement) in statements.iter().enumerate() {
                if matches!(statement, Statement::Play(_)) {
                    // All of them are asked, so that one run tells of all mistakes.
                    match this.start(frame, k).and_then(|start_s| Ok(start_s + this.length(frame, k)?)) {
                        Ok(end_s) => longest = longest.max(end_s - here),
                        Err(reason) => stop = Some(reason),
                    }
                }
            }
            if let Some(stop) = stop {
                return Err(stop);
            }
            Ok(to_nanosecond(longest))
        });
        self.frame_mut(frame).times.insert(Slot::Body, result);
        result
    }

    /// When a body ends, s from the scene's start.
    ///
    /// # Errors
    /// When it has no end.
    pub(super) fn end(&mut self, frame: usize) -> Result<f64, Stop> {
        let start_s = self.frame(frame).start_s.ok_or(Stop::Reported)?;
        Ok(to_nanosecond(start_s + self.body_length(frame)?))
    }

    /// The stretch of time that a ramp at `at` runs over, s from the scene's start.
    ///
    /// # Errors
    /// When there is none; told already.
    pub(super) fn stretch(&mut self, at: Place, span: Span) -> Result<(f64, f64), Stop> {
        let (start_s, length_s) = match at.statement {
            Some(k) => (self.start(at.frame, k)?, self.length(at.frame, k)?),
            None if self.frame(at.frame).extent == Extent::Endless => {
                let diagnostic = Diagnostic::error(
                    "argument",
                    span,
                    "a ramp in a `let` of the scene has nothing to run over",
                )
                .help("a scene has no length of its own: write the ramp in the statement that it is for");
                return Err(self.fail(diagnostic));
            }
            None => (self.frame(at.frame).start_s.ok_or(Stop::Reported)?, self.body_length(at.frame)?),
        };
        if length_s > 0.0 {
            return Ok((start_s, to_nanosecond(start_s + length_s)));
        }
        Err(self.fail(Diagnostic::error("range", span, "this ramp stands in something that lasts no time")))
    }

    /// A constant length of time above zero, s; `None` in a review where it is not known.
    ///
    /// # Errors
    /// Told already.
    pub(super) fn duration(&mut self, value: &'a Value, at: Place, what: &str) -> Result<Option<f64>, Stop> {
        let found = self.constant_value(value, at, what)?;
        if found.dimension != Dimension::TIME {
            let title = format!("{what} takes a time; this is {}", found.dimension);
            let diagnostic =
                Diagnostic::error("dimension", value.span, title).label(found.dimension.to_string());
            return Err(self.fail(super::advice::value_toward(
                diagnostic,
                value,
                found.dimension,
                Dimension::TIME,
            )));
        }
        if found.is_instant() {
            let diagnostic = Diagnostic::error(
                "label",
                value.span,
                format!("{what} takes a length of time, and this is an instant"),
            )
            .help("the length from one label to another is `b - a`");
            return Err(self.fail(diagnostic));
        }
        match found.number() {
            Some(length_s) if length_s <= 0.0 || to_nanosecond(length_s) <= 0.0 => {
                let title = format!("{what} must be above zero; this is {}", show(length_s, Dimension::TIME));
                Err(self.fail(Diagnostic::error("range", value.span, title)))
            }
            Some(length_s) => {
                self.within_cap(length_s, value.span).map(|length_s| Some(to_nanosecond(length_s)))
            }
            None => Ok(None),
        }
    }

    /// A constant time as an instant of the scene, s: a label stays what it is, a length counts from the body's
    /// start. `None` in a review.
    ///
    /// # Errors
    /// Told already.
    pub(super) fn instant(&mut self, expr: &'a Expr, at: Place, what: &str) -> Result<Option<f64>, Stop> {
        let found = self.constant(expr, at, what)?;
        if found.dimension != Dimension::TIME {
            let title = format!("{what} takes a time; this is {}", found.dimension);
            let diagnostic =
                Diagnostic::error("dimension", expr.span, title).label(found.dimension.to_string());
            return Err(self.fail(super::advice::toward(diagnostic, expr, found.dimension, Dimension::TIME)));
        }
        let from_label = (found.instants - 1.0).abs() < 1e-9;
        if !from_label && found.is_instant() {
            let diagnostic = Diagnostic::error(
                "label",
                expr.span,
                format!("{what} takes one instant, and labels are added up here"),
            )
            .help("`b - a` is a length of time, `a + 2 s` an instant");
            return Err(self.fail(diagnostic));
        }
        let (Some(number), Some(here)) = (found.number(), self.frame(at.frame).start_s) else {
            return Ok(None);
        };
        let at_s = if from_label { number } else { here + number };
        self.within_cap(at_s, expr.span).map(|at_s| Some(to_nanosecond(at_s)))
    }

    fn within_cap(&mut self, time_s: f64, span: Span) -> Result<f64, Stop> {
        if time_s.abs() <= limit::SCENE_S {
            return Ok(time_s);
        }
        let hours = limit::SCENE_S / 3600.0;
        Err(self.fail(Diagnostic::error("limit", span, format!("a scene may last {hours} h at most"))))
    }

    /// The stretch `a .. b`, or that of a label, s from the scene's start. `None` in a review.
    ///
    /// # Errors
    /// Told already.
    pub(super) fn stretch_of(&mut self, span: &'a SpanExpr, at: Place) -> Result<Option<(f64, f64)>, Stop> {
        let Some(to) = &span.to else {
            if let ExprKind::Name(name) = &span.from.kind
                && let Some((frame, Symbol::Label(k))) = self.find(&name.text, at.frame)
            {
                if self.is_review(at.frame) {
                    return Ok(None);
                }
                let (start_s, length_s) = (self.start(frame, k)?, self.length(frame, k)?);
                return Ok(Some((start_s, to_nanosecond(start_s + length_s))));
            }
            self.constant(&span.from, at, "a stretch of time")?;
            let diagnostic =
                Diagnostic::error("label", span.span, "a stretch of time is a label, or `a .. b`")
                    .help("write where it ends too: `2 s .. 5 s`");
            return Err(self.fail(diagnostic));
        };
        let from = self.instant(&span.from, at, "a stretch");
        let end = self.instant(to, at, "a stretch");
        let (Some(start_s), Some(end_s)) = (from?, end?) else { return Ok(None) };
        if end_s > start_s {
            return Ok(Some((start_s, end_s)));
        }
        let title = format!(
            "this stretch starts at {} and ends at {}",
            show(start_s, Dimension::TIME),
            show(end_s, Dimension::TIME)
        );
        Err(self.fail(Diagnostic::error("range", span.span, title)))
    }

    /// Whether a statement lasts as long as what it stands in.
    pub(super) fn is_open(&mut self, play: &'a Play) -> bool {
        match &play.when {
            Some(When::Every(repeat)) => repeat.during.is_none(),
            _ => said_length(play).is_none() && self.is_open_inside(&play.what),
        }
    }

    /// Whether what is played has no length of its own.
    pub(super) fn is_open_inside(&mut self, what: &'a What) -> bool {
        match what {
            What::Layer(_, call) => waveform::row(&call.name.text).is_some_and(|row| row.open),
            What::Block(block) => self.has_open(&block.statements),
            What::Cue(call) => {
                let Some((k, cue)) = self.program.cue(&call.name.text) else { return false };
                if let Some(known) = self.open_cues.get(&k) {
                    return *known;
                }
                // A cue that plays itself is told elsewhere; here it only must not go round for ever.
                self.open_cues.insert(k, false);
                let open = self.has_open(&cue.body.statements);
                self.open_cues.insert(k, open);
                open
            }
        }
    }

    fn has_open(&mut self, statements: &'a [Statement]) -> bool {
        statements.iter().any(|statement| match statement {
            Statement::Play(play) => self.is_open(play),
            _ => false,
        })
    }

    /// Where ` for …` would go.
    pub(super) fn after_what(play: &Play) -> Span {
        let span = what_span(play);
        Span { start: span.end, ..span }
    }
}
