//! Plays a scene on paper: every statement at its time, under the factors of what it stands in.

use super::layer::Built;
use super::limit;
use super::names::label;
use super::resolver::{Extent, Place, Resolver, Stop};
use super::schedule::title;
use super::seed::seed;
use super::waveform;
use super::{Content, Layer, Placement};
use crate::diag::{Diagnostic, Span};
use crate::lang::tree::{Call, Channel, Group, Line, Play, Statement, SuffixKind, What, When};
use crate::signal::{Curve, Factor, Signal};
use crate::time::to_nanosecond;
use std::collections::BTreeMap;

/// What has been placed so far.
#[derive(Debug, Default)]
pub(super) struct Stage {
    pub(super) layers: Vec<Layer>,
    pub(super) placements: Vec<Placement>,
    pub(super) voices: Vec<Voice>,
}

/// A noise layer, to find those that play at once with one seed.
#[derive(Debug)]
pub(super) struct Voice {
    pub(super) path: String,
    pub(super) start_s: f64,
    pub(super) end_s: f64,
    pub(super) layer: usize,
}

/// What a thing inherits from all that it stands in.
#[derive(Debug, Clone)]
pub(super) struct Under {
    factors: Vec<Factor>,
    /// Where a `fall` ends everything, s.
    cut_s: f64,
    label: String,
    path: String,
    placement: usize,
}

impl Under {
    /// The scene itself.
    pub(super) fn scene() -> Self {
        Self {
            factors: Vec::new(),
            cut_s: f64::INFINITY,
            label: String::new(),
            path: String::new(),
            placement: 0,
        }
    }

    fn named(&self, name: &str) -> String {
        match (self.label.as_str(), name) {
            (label, "") => label.to_string(),
            ("", name) => name.to_string(),
            (label, name) => format!("{label} / {name}"),
        }
    }
}

/// `rise` and `fall` of a statement, s, with where they are written.
#[derive(Debug, Clone, Copy, Default)]
struct Edges {
    rise: Option<(f64, Span)>,
    fall: Option<(f64, Span)>,
}

/// One playing of a statement.
#[derive(Debug, Clone, Copy)]
struct Playing<'a> {
    frame: usize,
    k: usize,
    play: &'a Play,
    /// Which repetition, if it is repeated.
    repetition: Option<usize>,
    start_s: f64,
    /// Which layer on its channel, in its body.
    nth: usize,
    edges: Edges,
}

/// Why a playing's number: it is in the path of its seed.
fn part(name: &str, repetition: Option<usize>) -> String {
    match repetition {
        Some(n) => format!("/{name}#{n}"),
        None => format!("/{name}"),
    }
}

impl<'a> Resolver<'a> {
    /// Places everything in a body.
    pub(super) fn place_body(&mut self, frame: usize, under: &Under, stage: &mut Stage) {
        let statements: &'a [Statement] = self.frame(frame).statements;
        let mut on_channel: BTreeMap<Line, usize> = BTreeMap::new();
        for (k, statement) in statements.iter().enumerate() {
            if self.exhausted {
                return;
            }
            match statement {
                Statement::Play(play) => {
                    let nth = match &play.what {
                        What::Layer(channel, _) if channel.group == Group::Platform => {
                            let count = on_channel.entry(channel.line).or_default();
                            *count += 1;
                            *count - 1
                        }
                        _ => 0,
                    };
                    // What cannot be placed was told; the rest of the body is placed all the same.
                    let _ = self.place_play(frame, k, nth, under, stage);
                }
                Statement::On(on) if self.wrong.contains(&on.span) => {}
                Statement::On(on) => {
                    self.not_yet(on.input.span, "inputs and `on`");
                }
                Statement::Let(_) | Statement::Expect(_) | Statement::Unreadable(_) => {}
            }
        }
    }

    fn place_play(
        &mut self,
        frame: usize,
        k: usize,
        nth: usize,
        under: &Under,
        stage: &mut Stage,
    ) -> Result<(), Stop> {
        let play = self.play(frame, k)?;
        if let What::Layer(channel, _) = &play.what {
            match channel.group {
                Group::Platform => {}
                Group::Seat => return Err(self.not_yet(channel.span, "channels of the seat")),
                Group::Vehicle => return Err(self.not_yet(channel.span, "channels of the vehicle")),
            }
        }
        let (start_s, length_s) = (self.start(frame, k)?, self.length(frame, k)?);
        if let Extent::Given(_) = self.frame(frame).extent
            && start_s >= self.end(frame)?
        {
            let span = match &play.when {
                Some(When::At(at)) => at.span,
                _ => play.span,
            };
            let diagnostic = Diagnostic::warning(
                "never-plays",
                span,
                "this starts when its body has ended, and never plays",
            )
            .help("start it earlier, or make the body longer");
            return Err(self.fail(diagnostic));
        }
        let at = Place { frame, statement: Some(k) };
        let mut under = under.clone();
        let mut edges = Edges::default();
        for suffix in &play.suffixes {
            match &suffix.kind {
                SuffixKind::Gain(value) => {
                    let gain = self.amplitude(value, at, (start_s, length_s))?;
                    if gain != Curve::Constant(1.0) {
                        under.factors.push(Factor::Gain(gain));
                    }
                }
                SuffixKind::Rise(value) => {
                    edges.rise = self.duration(value, at, "`rise`")?.map(|length_s| (length_s, value.span));
                }
                SuffixKind::Fall(value) => {
                    edges.fall = self.duration(value, at, "`fall`")?.map(|length_s| (length_s, value.span));
                }
                SuffixKind::For(_) | SuffixKind::As(_) => {}
            }
        }
        let once = Playing { frame, k, play, repetition: None, start_s, nth, edges };
        let Some(When::Every(repeat)) = &play.when else {
            return self.place_once(once, &under, stage);
        };
        let room = limit::LAYERS.saturating_sub(stage.layers.len());
        for (n, start_s) in self.firings(repeat, at, room)?.into_iter().enumerate() {
            self.place_once(Playing { repetition: Some(n), start_s, ..once }, &under, stage)?;
        }
        Ok(())
    }

    fn place_once(&mut self, playing: Playing<'a>, under: &Under, stage: &mut Stage) -> Result<(), Stop> {
        let Playing { frame, k, play, repetition, start_s, edges, .. } = playing;
        let mut under = under.clone();
        let child = match (&play.what, repetition) {
            (What::Layer(..), _) => None,
            (_, None) => Some(self.child(frame, k)?),
            (_, Some(_)) => Some(self.open_child(frame, k, start_s)?),
        };
        let length_s = match (&play.what, child) {
            (_, Some(child)) => match self.body_length(child) {
                Ok(length_s) => length_s,
                Err(stop) => {
                    // Something in it has no length, so it is not played; the rest of it may have mistakes of its own.
                    self.place_body(child, &under, &mut Stage::default());
                    return Err(stop);
                }
            },
            (What::Layer(channel, call), None) => {
                self.layer_length(frame, k, channel, call, start_s).map(to_nanosecond)?
            }
            (_, None) => return Err(Stop::Reported),
        };
        if self.frame(frame).extent == Extent::Endless {
            under.placement = stage.placements.len();
            let name = title(play);
            stage.placements.push(Placement { name, start_s, length_s, span: play.span });
        }
        self.fitting(edges, length_s)?;
        let mut edges = edges;
        if let What::Layer(_, call) = &play.what
            && waveform::row(&call.name.text).is_some_and(|row| row.edges)
        {
            // language.md: by default 250 ms, at most a quarter of the length each.
            let usual = (0.25_f64.min(length_s / 4.0), play.span);
            edges.rise = edges.rise.or(Some(usual));
            edges.fall = edges.fall.or(Some(usual));
        }
        if let Some((rise_s, _)) = edges.rise {
            under.factors.push(Factor::Rise { start_s, length_s: rise_s });
        }
        if let Some((fall_s, _)) = edges.fall {
            let end_s = to_nanosecond(start_s + length_s);
            under.factors.push(Factor::Fall { end_s, length_s: fall_s });
            under.cut_s = under.cut_s.min(end_s);
        }
        let name = label(play).map(|name| name.text.to_string());
        match (&play.what, child) {
            (What::Layer(channel, call), _) => {
                under.label = under.named(&title(play));
                under.path += &part(&name.unwrap_or_default(), repetition);
                under.path += &format!("/{}:{}", channel.line.word(), playing.nth);
                self.place_layer(playing, length_s, (channel, call), under, stage)
            }
            (What::Cue(call), Some(child)) => {
                let name = name.unwrap_or_else(|| call.name.text.to_string());
                under.label = under.named(&name);
                under.path += &part(&name, repetition);
                self.place_body(child, &under, stage);
                Ok(())
            }
            (What::Block(_), Some(child)) => {
                under.label = under.named(name.as_deref().unwrap_or(""));
                under.path += &part(name.as_deref().unwrap_or("{}"), repetition);
                self.place_body(child, &under, stage);
                Ok(())
            }
            (_, None) => Err(Stop::Reported),
        }
    }

    /// Refuses edges that are longer than what they stand on.
    fn fitting(&mut self, edges: Edges, length_s: f64) -> Result<(), Stop> {
        let show = |time_s| crate::units::show(time_s, crate::units::Dimension::TIME);
        for (name, edge) in [("rise", edges.rise), ("fall", edges.fall)] {
            if let Some((edge_s, span)) = edge
                && edge_s > length_s + 1e-9
            {
                let title = format!("a {name} of {} does not fit into {}", show(edge_s), show(length_s));
                return Err(self.fail(Diagnostic::error("range", span, title)));
            }
        }
        if let (Some((rise_s, _)), Some((fall_s, span))) = (edges.rise, edges.fall)
            && rise_s + fall_s > length_s + 1e-9
        {
            let title = format!(
                "rise and fall take {} of {} together, so full size is never reached",
                show(rise_s + fall_s),
                show(length_s)
            );
            self.tell(Diagnostic::warning("range", span, title));
        }
        Ok(())
    }

    fn place_layer(
        &mut self,
        playing: Playing<'a>,
        natural_s: f64,
        (channel, call): (&'a Channel, &'a Call),
        under: Under,
        stage: &mut Stage,
    ) -> Result<(), Stop> {
        let (start_s, span) = (playing.start_s, playing.play.span);
        let end_s = to_nanosecond(start_s + natural_s).min(under.cut_s);
        if end_s > limit::SCENE_S {
            let title = format!(
                "this plays on until after {} h, the longest that a scene may last",
                limit::SCENE_S / 3600.0
            );
            return Err(self.fail(Diagnostic::error("limit", span, title)));
        }
        if end_s <= start_s {
            let title = "this starts when a `fall` has closed what it stands in, and never plays";
            return Err(self.fail(Diagnostic::warning("never-plays", span, title)));
        }
        let is_noise = call.name.text.as_ref() == "noise";
        if stage.layers.len() >= limit::LAYERS || (is_noise && stage.voices.len() >= limit::NOISES) {
            self.exhausted = true;
            let (most, what) =
                if is_noise { (limit::NOISES, "noise layers") } else { (limit::LAYERS, "layers") };
            let diagnostic =
                Diagnostic::error("limit", span, format!("this scene has more than {most} {what}"))
                    .help("repeat less often, or cut the scene into several");
            return Err(self.fail(diagnostic));
        }
        let at = Place { frame: playing.frame, statement: Some(playing.k) };
        let built = self.build(channel, call, at, (start_s, natural_s), seed(&under.path))?;
        let acting = under.factors.iter().filter(|factor| match factor {
            // Where an edge is over, or has not begun, it multiplies by one.
            Factor::Rise { start_s: from_s, length_s } => from_s + length_s > start_s,
            Factor::Fall { end_s: to_s, length_s } => to_s - length_s < end_s,
            Factor::Gain(_) => true,
        });
        let amplitude_span = self.bindings(channel, call)?.amplitude().map_or(call.span, |value| value.span);
        let content = match built {
            Built::Wave(wave, mut factors) => {
                factors.extend(acting.cloned());
                Content::Signal(Signal { start_s, length_s: end_s - start_s, wave, factors })
            }
            Built::Sound { name, looped, level } => {
                let level = acting.fold(level, |level, factor| Curve::product(level, as_curve(factor)));
                Content::SoundFile { name, looped, start_s, length_s: end_s - start_s, level }
            }
        };
        if is_noise {
            stage.voices.push(Voice { path: under.path, start_s, end_s, layer: stage.layers.len() });
        }
        stage.layers.push(Layer {
            group: channel.group,
            line: channel.line,
            content,
            label: under.label,
            span,
            amplitude_span,
            placement: under.placement,
        });
        Ok(())
    }

    /// Tells of noise that plays twice at once with one seed.
    pub(super) fn one_seed_at_a_time(&mut self, scene: usize, stage: &mut Stage) {
        stage.voices.sort_by(|a, b| a.path.cmp(&b.path).then(a.start_s.total_cmp(&b.start_s)));
        let mut last: Option<&Voice> = None;
        for voice in &stage.voices {
            let before = last.filter(|before| before.path == voice.path);
            if let Some(before) = before
                && voice.start_s < before.end_s - 1e-9
                && let (Some(first), Some(second)) =
                    (stage.layers.get(before.layer), stage.layers.get(voice.layer))
            {
                let overlap = overlap(first, second, voice.start_s, &stage.placements);
                let names = &self.frame(scene).names;
                let free =
                    ["again", "second", "third"].into_iter().find(|name| !names.symbols.contains_key(*name));
                let overlap = match free {
                    Some(name) if first.placement != second.placement => {
                        let span = overlap.primary.span;
                        let end = Span { start: span.end, ..span };
                        overlap.fix(format!("label it `as {name}`"), end, format!(" as {name}"))
                    }
                    _ => overlap,
                };
                self.tell(overlap);
            }
            if before.is_none_or(|before| voice.end_s > before.end_s) {
                last = Some(voice);
            }
        }
    }
}

fn overlap(first: &Layer, second: &Layer, at_s: f64, placements: &[Placement]) -> Diagnostic {
    let place =
        |layer: &Layer| placements.get(layer.placement).map_or(layer.span, |placement| placement.span);
    let (mut earlier, mut later) = (place(first), place(second));
    if earlier == later {
        (earlier, later) = (first.span, second.span);
    }
    let at = crate::units::show(at_s, crate::units::Dimension::TIME);
    let title = format!("`{}` plays twice at once from {at} with one seed, so both move alike", second.label);
    let diagnostic = Diagnostic::error("overlap", later, title)
        .help("give one of them a label of its own with `as name`: noise is seeded by labels");
    if earlier == later { diagnostic } else { diagnostic.also(earlier, "the other one") }
}

/// A factor as a curve: edges are the smooth step S over a straight ramp of time.
fn as_curve(factor: &Factor) -> Curve {
    match factor {
        Factor::Gain(curve) => curve.clone(),
        Factor::Rise { start_s, length_s } => {
            Curve::ease(Curve::ramp(0.0, 1.0, *start_s, start_s + length_s), 0.0, 1.0)
        }
        Factor::Fall { end_s, length_s } => {
            Curve::ease(Curve::ramp(1.0, 0.0, end_s - length_s, *end_s), 0.0, 1.0)
        }
    }
}
