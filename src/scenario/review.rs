//! Reads every definition for mistakes before anything is dated: all cues, all scenes, whether they play or not.
//!
//! Parameters have dimensions but no values here, labels are instants at unknown times. A statement with a mistake is
//! marked and not played, so that one mistake is told once.

use super::names::{Symbol, label};
use super::resolver::{Bound, Extent, Opening, Place, Resolver, Slot, Stop, TOP};
use super::schedule::{said_length, title};
use crate::diag::{Diagnostic, Span, nearest};
use crate::lang::tree::{
    CueDefinition, Expr, Input, On, Play, Scene, Statement, Suffix, SuffixKind, What, When,
};
use crate::units::Dimension;
use std::collections::BTreeSet;

impl<'a> Resolver<'a> {
    /// Reviews everything.
    pub(super) fn review(&mut self) {
        let program = self.program;
        for (k, definition) in program.names.lets.iter().enumerate() {
            let at = Place { frame: TOP, statement: None };
            let _ = self.remembered(TOP, Slot::Let(k), &definition.name, &definition.value, at, false);
        }
        for input in &program.inputs {
            let _ = self.review_input(input);
        }
        self.review_circles();
        for (k, cue) in program.cues.iter().enumerate() {
            let params = self.signature(k, cue).iter().map(|dimension| Bound::Unknown(*dimension)).collect();
            let opening = Opening {
                block: &cue.body,
                parent: TOP,
                above: TOP,
                params,
                cue: Some(k),
                start_s: None,
                extent: Extent::Unknown,
            };
            if let Ok(frame) = self.open(opening) {
                self.review_body(frame, false);
            }
        }
        for scene in &program.scenes {
            self.review_scene(scene);
        }
    }

    fn review_scene(&mut self, scene: &'a Scene) {
        let opening = Opening {
            block: &scene.body,
            parent: TOP,
            above: TOP,
            params: Vec::new(),
            cue: None,
            start_s: None,
            extent: Extent::Unknown,
        };
        if let Ok(frame) = self.open(opening) {
            self.review_body(frame, true);
        }
    }

    fn review_input(&mut self, input: &'a Input) -> Result<(), Stop> {
        let at = Place { frame: TOP, statement: None };
        let low = self.constant(&input.low, at, "an input's range");
        let high = self.constant(&input.high, at, "an input's range");
        let (low, high) = (low?, high?);
        self.same(&input.high, high.dimension, &input.low, low.dimension, "an input's range")?;
        match (low.number(), high.number()) {
            (Some(a), Some(b)) if a >= b => {
                let span = input.low.span.to(input.high.span);
                Err(self.fail(Diagnostic::error("range", span, "an input's range runs from low to high")))
            }
            _ => Ok(()),
        }
    }

    fn same(
        &mut self,
        expr: &Expr,
        found: Dimension,
        other: &Expr,
        wanted: Dimension,
        what: &str,
    ) -> Result<(), Stop> {
        if found == wanted {
            return Ok(());
        }
        let title = format!("{what}: {found} where {wanted} is needed");
        let diagnostic = Diagnostic::error("dimension", expr.span, title)
            .label(found.to_string())
            .also(other.span, wanted.to_string());
        Err(self.fail(super::advice::toward(diagnostic, expr, found, wanted)))
    }

    /// Reviews all statements of a body. In a scene, open things need `for`.
    fn review_body(&mut self, frame: usize, is_scene: bool) {
        let statements: &'a [Statement] = self.frame(frame).statements;
        for (k, statement) in statements.iter().enumerate() {
            match statement {
                Statement::Let(definition) => {
                    if let Some((_, Symbol::Let(k))) = self.find(&definition.name.text, frame) {
                        let at = Place { frame, statement: None };
                        let _ = self.remembered(
                            frame,
                            Slot::Let(k),
                            &definition.name,
                            &definition.value,
                            at,
                            false,
                        );
                    }
                }
                Statement::Play(play) => {
                    if self.review_play(frame, k, play, is_scene).is_err() {
                        self.wrong.insert(play.span);
                    }
                }
                Statement::On(on) => {
                    if self.review_on(frame, on).is_err() {
                        self.wrong.insert(on.span);
                    }
                }
                Statement::Expect(expect) => {
                    let _ = self.expectation(expect, frame, 0.0);
                }
                Statement::Unreadable(_) => {}
            }
        }
    }

    fn review_on(&mut self, frame: usize, on: &'a On) -> Result<(), Stop> {
        let at = Place { frame, statement: None };
        let input = self.review_crossing(frame, on);
        if let Some(pause) = &on.pause {
            let found = self.constant(pause, at, "`pause`");
            if let Ok(found) = found {
                let _ = self.same(pause, found.dimension, pause, Dimension::TIME, "`pause`");
            }
        }
        let opening = Opening {
            block: &on.body,
            parent: frame,
            above: frame,
            params: Vec::new(),
            cue: None,
            start_s: None,
            extent: Extent::Unknown,
        };
        let body = self.open(opening)?;
        self.review_body(body, false);
        input
    }

    fn review_crossing(&mut self, frame: usize, on: &'a On) -> Result<(), Stop> {
        let at = Place { frame, statement: None };
        let threshold = self.constant(&on.threshold, at, "a threshold");
        let until = self.constant(&on.until, at, "a threshold");
        let Some((_, Symbol::Input(k))) = self.find(&on.input.text, frame) else {
            let title = format!("there is no input `{}`", on.input.text);
            let mut diagnostic = Diagnostic::error("unknown-name", on.input.span, title);
            let known = self.program.inputs.iter().map(|input| &*input.name.text);
            diagnostic = match nearest(&on.input.text, known) {
                Some(near) => diagnostic.help(format!("did you mean `{near}`?")).fix(
                    format!("write `{near}`"),
                    on.input.span,
                    near,
                ),
                None => diagnostic.help("an input is defined with `input name low..high` at the top level"),
            };
            return Err(self.fail(diagnostic));
        };
        let input = self.program.inputs.get(k).copied().ok_or(Stop::Reported)?;
        let range = self.constant(&input.low, Place { frame: TOP, statement: None }, "an input's range")?;
        for (expr, found) in [(&on.threshold, threshold?), (&on.until, until?)] {
            self.same(expr, found.dimension, &input.low, range.dimension, "a threshold of this input")?;
        }
        Ok(())
    }

    fn review_play(&mut self, frame: usize, k: usize, play: &'a Play, is_scene: bool) -> Result<(), Stop> {
        let at = Place { frame, statement: Some(k) };
        let mut result = self.review_when(at, play);
        result = self.review_suffixes(at, play).and(result);
        let inside = match &play.what {
            What::Layer(channel, call) => self.review_layer(channel, call, at),
            What::Cue(call) => self.review_call(call, at),
            What::Block(block) => {
                let opening = Opening {
                    block,
                    parent: frame,
                    above: frame,
                    params: Vec::new(),
                    cue: None,
                    start_s: None,
                    extent: Extent::Unknown,
                };
                self.open(opening).map(|body| self.review_body(body, false))
            }
        };
        inside.and(result)?;
        self.review_length(play, is_scene)
    }

    fn review_when(&mut self, at: Place, play: &'a Play) -> Result<(), Stop> {
        match &play.when {
            None => Ok(()),
            Some(When::At(expr)) => self.instant(expr, at, "`at`").map(|_| ()),
            Some(When::Every(repeat)) => {
                let during = repeat.during.as_ref().map(|during| self.stretch_of(during, at)).transpose();
                self.review_every(repeat, at).and(during).map(|_| ())
            }
        }
    }

    fn review_suffixes(&mut self, at: Place, play: &'a Play) -> Result<(), Stop> {
        let mut result = Ok(());
        for (n, suffix) in play.suffixes.iter().enumerate() {
            let word = word(suffix);
            if play.suffixes.iter().take(n).any(|first| self::word(first) == word) {
                // The parser told of it.
                result = Err(Stop::Reported);
            }
            let one = match &suffix.kind {
                SuffixKind::For(value) => self.duration(value, at, "`for`").map(|_| ()),
                SuffixKind::Rise(value) => self.duration(value, at, "`rise`").map(|_| ()),
                SuffixKind::Fall(value) => self.duration(value, at, "`fall`").map(|_| ()),
                SuffixKind::Gain(value) => match self.value(value, at, false) {
                    Err(stop) => Err(stop),
                    Ok(found)
                        if found.dimension == Dimension::NUMBER || found.dimension == Dimension::LEVEL =>
                    {
                        Ok(())
                    }
                    Ok(found) => {
                        let title =
                            format!("`gain` takes a factor or a level in dB; this is {}", found.dimension);
                        let diagnostic = Diagnostic::error("dimension", value.span, title)
                            .label(found.dimension.to_string());
                        Err(self.fail(diagnostic))
                    }
                },
                SuffixKind::As(_) => Ok(()),
            };
            result = one.and(result);
        }
        result
    }

    /// Open things need an end, closed things have their own.
    fn review_length(&mut self, play: &'a Play, is_scene: bool) -> Result<(), Stop> {
        let repeats = matches!(play.when, Some(When::Every(_)));
        let is_trace = matches!(&play.what, What::Layer(_, call) if &*call.name.text == "trace");
        let open_inside = self.is_open_inside(&play.what);
        if let Some(said) = said_length(play)
            && !open_inside
            && !is_trace
        {
            let title = format!("`{}` has its own length, and `for` does not change it", title(play));
            let suffix = play.suffixes.iter().find(|suffix| matches!(suffix.kind, SuffixKind::For(_)));
            let span = suffix.map_or(said.span, |suffix| suffix.span);
            let diagnostic = Diagnostic::error("length", span, title)
                .help("`for` goes with `sine`, `sweep`, `noise`, `hold` and `loop`, with what holds one, and cuts a `trace`")
                .fix("leave `for` out", span, "");
            return Err(self.fail(diagnostic));
        }
        if repeats && open_inside && said_length(play).is_none() {
            let end = Self::after_what(play);
            let title = format!("`{}` has no length of its own, and is repeated", title(play));
            let diagnostic = Diagnostic::error("open-length", what_span(play), title)
                .help("say how long each repetition lasts")
                .fix("add `for 1 s`", end, " for 1 s");
            return Err(self.fail(diagnostic));
        }
        if !is_scene || !self.is_open(play) {
            return Ok(());
        }
        let diagnostic = if repeats {
            let start = Span { end: play.span.start, ..play.span };
            Diagnostic::error(
                "open-length",
                play.span,
                "`every` goes on until its body ends, and a scene has no end",
            )
            .help("say when it repeats: `during 0 s .. 10 s every …`")
            .fix("repeat `during 0 s .. 10 s`", start, "during 0 s .. 10 s ")
        } else {
            let title =
                format!("`{}` lasts as long as what it stands in, and a scene has no end", title(play));
            Diagnostic::error("open-length", what_span(play), title)
                .help("say how long it lasts with `for`")
                .fix("add `for 10 s`", Self::after_what(play), " for 10 s")
        };
        Err(self.fail(diagnostic))
    }

    /// Cues that play themselves, over however many others.
    fn review_circles(&mut self) {
        let mut done = BTreeSet::new();
        for k in 0..self.program.cues.len() {
            self.follow(k, &mut Vec::new(), &mut done);
        }
    }

    fn follow(&mut self, k: usize, chain: &mut Vec<(usize, Span)>, done: &mut BTreeSet<usize>) {
        let Some(cue) = self.program.cues.get(k).copied() else { return };
        if done.contains(&k) {
            return;
        }
        let mut calls = Vec::new();
        plays(&cue.body.statements, &mut calls, 0);
        for (name, play) in calls {
            let Some((next, definition)) = self.program.cue(name) else { continue };
            chain.push((k, play));
            if let Some(first) = chain.iter().position(|(on, _)| *on == next) {
                let diagnostic = self.cue_circle(&chain[first..], definition, play);
                self.tell(diagnostic);
                self.wrong.insert(play);
            } else if chain.len() < 1000 {
                self.follow(next, chain, done);
            }
            chain.pop();
        }
        done.insert(k);
    }

    fn cue_circle(&self, chain: &[(usize, Span)], definition: &CueDefinition, play: Span) -> Diagnostic {
        let name = |k: usize| self.program.cues.get(k).map_or("", |cue| &*cue.name.text);
        let names: Vec<_> = chain.iter().map(|(k, _)| format!("`{}`", name(*k))).collect();
        let title = format!("a cue plays itself: {} plays `{}`", names.join(" plays "), definition.name.text);
        let mut diagnostic = Diagnostic::error("cycle", play, title);
        for (k, span) in chain.iter().filter(|(_, span)| *span != play) {
            diagnostic = diagnostic.also(*span, format!("`{}` plays this", name(*k)));
        }
        diagnostic.help("use `every` to repeat something")
    }
}

/// The cues that statements play, in blocks too.
fn plays<'a>(statements: &'a [Statement], calls: &mut Vec<(&'a str, Span)>, depth: u32) {
    for statement in statements {
        if let Statement::Play(play) = statement {
            match &play.what {
                What::Cue(call) => calls.push((&call.name.text, play.span)),
                What::Block(block) if depth < super::limit::BODY_DEPTH => {
                    plays(&block.statements, calls, depth + 1)
                }
                What::Block(_) | What::Layer(..) => {}
            }
        }
    }
}

fn what_span(play: &Play) -> Span {
    match &play.what {
        What::Layer(channel, call) => channel.span.to(call.span),
        What::Cue(call) => call.span,
        What::Block(_) => label(play).map_or(play.span, |name| name.span),
    }
}

fn word(suffix: &Suffix) -> &'static str {
    match suffix.kind {
        SuffixKind::For(_) => "for",
        SuffixKind::Rise(_) => "rise",
        SuffixKind::Fall(_) => "fall",
        SuffixKind::Gain(_) => "gain",
        SuffixKind::As(_) => "as",
    }
}
