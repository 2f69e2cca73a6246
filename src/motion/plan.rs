//! A plan: one scene on one rig at one gain, and its samples.

use super::interval::IntervalIndex;
use crate::lang::tree::Line;
use crate::rig::{Axis, Rig, kinematics};
use crate::scenario::{Content, Scenario};
use crate::signal::{BLOCK, Jet, JetBlock, Majorant, Signal};
use crate::time::SampleRate;
use std::sync::Arc;

/// Most samples that a plan may have: 24 h at 20 kHz and some, far below what a tick holds.
const MOST_SAMPLES: u64 = 2_000_000_000;

/// What would be played: a scene on a rig at a gain. Not checked yet.
#[derive(Debug, Clone)]
pub struct Plan {
    scenario: Arc<Scenario>,
    rig: Arc<Rig>,
    gain: f64,
    rate: SampleRate,
    /// For each coordinate of the rig: its sign against the language, and when which layer moves it.
    coordinates: Arc<[Coordinate]>,
    /// Factors on single layers, by their statement: what would fit if only that one were smaller.
    trim: Option<(crate::diag::Span, f64)>,
    /// Scenario seconds in a second of the plan: below 1 the same poses pass more slowly.
    tempo: f64,
    /// How far each leg may be off its set-points, m; empty where nothing is known.
    stray_m: Arc<[f64]>,
}

#[derive(Debug)]
struct Coordinate {
    sign: f64,
    index: IntervalIndex,
}

/// Why a scene cannot be planned on a rig.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// A layer moves an axis that the rig does not have.
    #[error("the rig has no {axis}")]
    NoAxis {
        /// The axis's word.
        axis: &'static str,
        /// Index of the layer.
        layer: usize,
    },
    /// More samples than can be rendered.
    #[error("{samples} samples are more than the {MOST_SAMPLES} that a plan may have")]
    TooLong {
        /// How many it would have.
        samples: u64,
    },
    /// A gain that is negative or no number.
    #[error("a gain must be zero or more and finite; this one is {gain}")]
    Gain {
        /// The gain.
        gain: f64,
    },
}

/// One block of a plan: platform coordinates (rad, m; the rig's order and signs) and legs (m), with derivatives.
#[derive(Debug, Clone)]
pub struct Frames {
    /// One a coordinate of the rig.
    pub platform: Vec<JetBlock>,
    /// One a leg: length between the anchors.
    pub legs: Vec<JetBlock>,
    /// Lengths of the legs with the platform level, m.
    level_m: Vec<f64>,
    /// How many samples of the block are in use.
    pub count: usize,
    /// Nothing sounds in the whole block: the platform is level and at rest.
    pub idle: bool,
}

/// The rig's axis that a channel moves; `None` for sound and shaker.
pub fn axis(line: Line) -> Option<Axis> {
    match line {
        Line::Pitch => Some(Axis::Pitch),
        Line::Roll => Some(Axis::Roll),
        Line::Yaw => Some(Axis::Yaw),
        Line::Surge => Some(Axis::Surge),
        Line::Sway => Some(Axis::Sway),
        Line::Heave => Some(Axis::Heave),
        Line::Sound | Line::Shaker => None,
    }
}

/// What a value in the language's sign is in the rig's: heave alone turns round (up there, down here).
pub fn sign(axis: Axis) -> f64 {
    if axis == Axis::Heave { -1.0 } else { 1.0 }
}

impl Plan {
    /// A plan at `gain` (a factor, 1 = as written) sampled at `rate`.
    ///
    /// # Errors
    /// When a layer moves an axis that the rig lacks, the gain is negative, or the scene is too long; all such reasons.
    pub fn new(
        scenario: Arc<Scenario>,
        rig: Arc<Rig>,
        gain: f64,
        rate: SampleRate,
    ) -> Result<Self, Vec<PlanError>> {
        let mut errors = Vec::new();
        if !(gain.is_finite() && gain >= 0.0) {
            errors.push(PlanError::Gain { gain });
        }
        let samples = rate.samples_over(scenario.length_s);
        if samples > MOST_SAMPLES {
            errors.push(PlanError::TooLong { samples });
        }
        let mut rows: Vec<Vec<(f64, f64, usize)>> = vec![Vec::new(); rig.axes.len()];
        for (layer, content) in scenario.layers.iter().enumerate() {
            let (Some(axis), Content::Signal(signal)) = (axis(content.line), &content.content) else {
                continue;
            };
            match rig.axes.iter().position(|limits| limits.axis == axis) {
                Some(at) => rows[at].push((signal.start_s, signal.start_s + signal.length_s, layer)),
                None => errors.push(PlanError::NoAxis { axis: axis.word(), layer }),
            }
        }
        if !errors.is_empty() {
            return Err(errors);
        }
        let coordinates = rig
            .axes
            .iter()
            .zip(rows)
            .map(|(limits, rows)| Coordinate { sign: sign(limits.axis), index: IntervalIndex::new(rows) })
            .collect();
        Ok(Self { scenario, rig, gain, rate, coordinates, trim: None, tempo: 1.0, stray_m: Arc::default() })
    }

    /// The same plan at another gain.
    #[must_use]
    pub fn at_gain(&self, gain: f64) -> Self {
        Self { gain, ..self.clone() }
    }

    /// The same plan at a part of its gain, to try it out. What a scene expects of itself speaks of its whole strength, and
    /// is not asked of less.
    #[must_use]
    pub fn at_part(&self, part: f64) -> Self {
        let mut scenario = Arc::clone(&self.scenario);
        if part < 1.0 {
            Arc::make_mut(&mut scenario).expectations.clear();
        }
        Self { gain: self.gain * part, scenario, ..self.clone() }
    }

    /// The same plan with the layers of one statement scaled by `factor` besides.
    #[must_use]
    pub(crate) fn with_trim(&self, statement: crate::diag::Span, factor: f64) -> Self {
        Self { trim: Some((statement, factor)), ..self.clone() }
    }

    /// The same plan played at another tempo: a pose of scenario time t comes at t / `tempo`, and its derivatives are
    /// scaled with it. From then on all times of the plan are counted in its own seconds, those of its scenario are
    /// not. A tempo that is no number above zero is taken as 1.
    #[must_use]
    pub fn at_tempo(&self, tempo: f64) -> Self {
        let tempo = if tempo.is_finite() && tempo > 0.0 { tempo } else { 1.0 };
        let factor = self.tempo / tempo;
        let coordinates = self.coordinates.iter().map(|coordinate| {
            let rows = coordinate.index.rows();
            let rows = rows.map(|(start_s, end_s, layer)| (start_s * factor, end_s * factor, layer));
            Coordinate { sign: coordinate.sign, index: IntervalIndex::new(rows.collect()) }
        });
        Self { tempo, coordinates: coordinates.collect(), ..self.clone() }
    }

    /// The same plan sampled at another rate.
    #[must_use]
    pub fn at_rate(&self, rate: SampleRate) -> Self {
        Self { rate, ..self.clone() }
    }

    /// The same plan on a rig with other limits; its axes, legs and anchors must be the same.
    #[must_use]
    pub(crate) fn on(&self, rig: Rig) -> Self {
        Self { rig: Arc::new(rig), ..self.clone() }
    }

    /// The same plan on drives whose legs may be off their set-points, m and one a leg: a check takes that off what the rig
    /// allows. Empty where nothing is known.
    #[must_use]
    pub fn with_stray(&self, stray_m: Vec<f64>) -> Self {
        Self { stray_m: stray_m.into(), ..self.clone() }
    }

    /// How far each leg may be off its set-points, m; empty where nothing is known.
    pub fn stray_m(&self) -> &[f64] {
        &self.stray_m
    }

    /// The scene.
    pub fn scenario(&self) -> &Arc<Scenario> {
        &self.scenario
    }

    /// The rig.
    pub fn rig(&self) -> &Arc<Rig> {
        &self.rig
    }

    /// The gain, a factor.
    pub fn gain(&self) -> f64 {
        self.gain
    }

    /// The sample rate.
    pub fn rate(&self) -> SampleRate {
        self.rate
    }

    /// Scenario seconds in a second of the plan.
    pub fn tempo(&self) -> f64 {
        self.tempo
    }

    /// How long it lasts, s of its own.
    pub fn length_s(&self) -> f64 {
        self.scenario.length_s / self.tempo
    }

    /// How many samples it has, the last at or just past the end.
    pub fn samples(&self) -> u64 {
        self.rate.samples_over(self.length_s())
    }

    /// How many blocks.
    pub fn blocks(&self) -> u64 {
        self.samples().div_ceil(BLOCK as u64)
    }

    /// Buffers for one block.
    pub fn frames(&self) -> Frames {
        Frames {
            platform: vec![JetBlock::zero(); self.rig.axes.len()],
            legs: vec![JetBlock::zero(); self.rig.actuators.len()],
            level_m: kinematics::lengths_m(&self.rig, &vec![0.0; self.rig.axes.len()]),
            count: 0,
            idle: true,
        }
    }

    /// Renders block `block` (samples `block * BLOCK ..`). No allocation. Same bytes whatever came before.
    pub fn render(&self, block: u64, frames: &mut Frames) {
        self.render_platform(block, frames);
        self.render_legs(frames);
    }

    /// The same for the platform alone; the legs are left as they were.
    pub fn render_platform(&self, block: u64, frames: &mut Frames) {
        let first = block * BLOCK as u64;
        let count = self.samples().saturating_sub(first).min(BLOCK as u64) as usize;
        self.render_grid(self.rate.at_s(first), self.rate.step_s(), count, frames);
    }

    /// Platform and legs at `count` (at most a block's) instants from `start_s` on, `step_s` apart: for a look at a
    /// stretch without all of its samples.
    pub fn render_sparse(&self, start_s: f64, step_s: f64, count: usize, frames: &mut Frames) {
        self.render_grid(start_s, step_s, count.min(BLOCK), frames);
        self.render_legs(frames);
    }

    /// The same for the platform alone.
    pub fn render_platform_sparse(&self, start_s: f64, step_s: f64, count: usize, frames: &mut Frames) {
        self.render_grid(start_s, step_s, count.min(BLOCK), frames);
    }

    fn render_legs(&self, frames: &mut Frames) {
        if !frames.idle {
            kinematics::leg_block(&self.rig, &frames.platform, frames.count, &mut frames.legs);
            return;
        }
        for (leg, length_m) in frames.legs.iter_mut().zip(&frames.level_m) {
            leg.clear();
            leg.0[0].fill(*length_m);
        }
    }

    fn render_grid(&self, start_s: f64, step_s: f64, count: usize, frames: &mut Frames) {
        frames.count = count;
        let end_s = start_s + step_s * frames.count as f64;
        // Exact at tempo 1.
        let (scene_s, scene_step_s) = (start_s * self.tempo, step_s * self.tempo);
        frames.idle = true;
        for (coordinate, out) in self.coordinates.iter().zip(&mut frames.platform) {
            out.clear();
            let mut idle = true;
            match self.trim {
                None => coordinate.index.each(start_s, end_s, &mut |layer| {
                    if let Some(signal) = self.signal(layer) {
                        signal.add_block(scene_s, scene_step_s, frames.count, out);
                        idle = false;
                    }
                }),
                Some((statement, factor)) => {
                    let mut trimmed = JetBlock::zero();
                    coordinate.index.each(start_s, end_s, &mut |layer| {
                        let Some(signal) = self.signal(layer) else { return };
                        let hit = self.scenario.layers[layer].span == statement;
                        signal.add_block(
                            scene_s,
                            scene_step_s,
                            frames.count,
                            if hit { &mut trimmed } else { out },
                        );
                        idle = false;
                    });
                    add_scaled(out, &trimmed, factor);
                }
            }
            let scale = coordinate.sign * self.gain;
            if !idle && (scale != 1.0 || self.tempo != 1.0) {
                for (row, scale) in out.0.iter_mut().zip(self.scales::<4>(scale)) {
                    row.iter_mut().take(count).for_each(|value| *value *= scale);
                }
            }
            frames.idle &= idle;
        }
    }

    fn signal(&self, layer: usize) -> Option<&Signal> {
        match &self.scenario.layers.get(layer)?.content {
            Content::Signal(signal) => Some(signal),
            Content::SoundFile { .. } => None,
        }
    }

    /// The band of a signal as it is played at this plan's tempo, Hz.
    pub fn band_hz(&self, signal: &Signal) -> Option<(f64, f64)> {
        signal.band_hz().map(|(low, high)| (low * self.tempo, high * self.tempo))
    }

    /// What samples between two instants (s) have to follow, as a frequency at this plan's tempo, Hz: see
    /// [`Signal::quickest_hz`].
    pub fn quickest_hz(&self, from_s: f64, to_s: f64) -> f64 {
        let mut most = 0.0_f64;
        for coordinate in self.coordinates.iter() {
            coordinate.index.each(from_s, to_s, &mut |layer| {
                let Some(signal) = self.signal(layer) else { return };
                most = most.max(signal.quickest_hz(from_s * self.tempo, to_s * self.tempo));
            });
        }
        most * self.tempo
    }

    /// Whether nothing moves between two instants, s.
    pub fn is_idle(&self, from_s: f64, to_s: f64) -> bool {
        self.coordinates.iter().all(|coordinate| coordinate.index.is_idle(from_s, to_s))
    }

    /// Platform coordinates at any instant (before the start and after the end: at rest). One jet a coordinate.
    pub fn platform_at(&self, t_s: f64, platform: &mut [Jet]) {
        platform.fill(Jet::default());
        self.each_layer_at(t_s, &mut |_, coordinate, jet| {
            let sum = &mut platform[coordinate].0;
            sum.iter_mut().zip(jet.0).for_each(|(sum, part)| *sum += part);
        });
    }

    /// What each layer that sounds at `t_s` adds there: layer, coordinate, and its part with sign and gain applied.
    pub fn each_layer_at(&self, t_s: f64, found: &mut impl FnMut(usize, usize, Jet)) {
        for (at, coordinate) in self.coordinates.iter().enumerate() {
            coordinate.index.each(t_s, t_s, &mut |layer| {
                let Some(signal) = self.signal(layer) else { return };
                let scale = coordinate.sign * self.gain * self.trim_of(layer);
                let mut jet = signal.jet(t_s * self.tempo);
                jet.0.iter_mut().zip(self.scales::<4>(scale)).for_each(|(value, scale)| *value *= scale);
                found(layer, at, jet);
            });
        }
    }

    /// `scale` for a value and its derivatives, each slowed by the tempo once more.
    fn scales<const N: usize>(&self, scale: f64) -> [f64; N] {
        let mut scale = scale / self.tempo;
        std::array::from_fn(|_| {
            scale *= self.tempo;
            scale
        })
    }

    fn trim_of(&self, layer: usize) -> f64 {
        match self.trim {
            Some((statement, factor)) if self.scenario.layers[layer].span == statement => factor,
            _ => 1.0,
        }
    }

    /// Bounds on each coordinate and its derivatives between two instants, s.
    pub fn majorants(&self, from_s: f64, to_s: f64, out: &mut [Majorant]) {
        self.majorants_of(from_s, to_s, out, |_| true);
    }

    /// The same from some of the layers only.
    pub fn majorants_of(
        &self,
        from_s: f64,
        to_s: f64,
        out: &mut [Majorant],
        counts: impl Fn(&Signal) -> bool,
    ) {
        for (coordinate, out) in self.coordinates.iter().zip(out) {
            let mut sum = [0.0; 5];
            coordinate.index.each(from_s, to_s, &mut |layer| {
                let Some(signal) = self.signal(layer).filter(|signal| counts(signal)) else { return };
                let scale = self.gain * self.trim_of(layer);
                let part = signal.majorant(from_s * self.tempo, to_s * self.tempo).0;
                let parts = part.into_iter().zip(self.scales::<5>(scale));
                sum.iter_mut().zip(parts).for_each(|(sum, (part, scale))| *sum += part * scale);
            });
            *out = Majorant(sum);
        }
    }
}

fn add_scaled(out: &mut JetBlock, part: &JetBlock, factor: f64) {
    let pairs = out.0.iter_mut().flatten().zip(part.0.iter().flatten());
    pairs.for_each(|(out, part)| *out += part * factor);
}
