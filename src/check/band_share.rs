//! How much of an axis's acceleration lies in a band that the rig file wants avoided.
//!
//! Windows of four to eight seconds, half overlapped, Hann: a quarter of a hertz apart or less, which tells a band of a
//! few hertz from its neighbours. Source of the estimate: Welch, IEEE Trans. Audio Electroacoust. 15(2), 1967.

use crate::motion::{Frames, Plan, axis};
use crate::rig::{AvoidBand, Rig};
use crate::scenario::Content;
use crate::signal::{BLOCK, Majorant, Signal};
use realfft::{RealFftPlanner, RealToComplex};
use std::ops::Range;
use std::sync::Arc;

/// Windows whose r.m.s. acceleration is below this are too quiet to shake anything: rad/s^2 or m/s^2.
/// Source: from memory, a tenth of the usual thresholds of perception.
const QUIET: f64 = 0.02;

/// The window with the largest share.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Worst {
    /// Share of the r.m.s. acceleration, 0..1.
    pub(super) share: f64,
    /// Middle of the window, s.
    pub(super) at_s: f64,
}

impl Worst {
    /// One for every watched pair of the rig, nothing seen yet.
    pub(super) fn none(rig: &Rig) -> Vec<Self> {
        vec![Self::default(); watched(rig).len()]
    }

    pub(super) fn merge(&mut self, other: &Self) {
        if other.share > self.share || (other.share == self.share && other.at_s < self.at_s) {
            *self = *other;
        }
    }
}

/// Every band with each coordinate that it speaks of.
pub(super) fn watched(rig: &Rig) -> Vec<(usize, &AvoidBand)> {
    let speaks_of = |band: &AvoidBand, at: usize| band.axis.is_none_or(|axis| axis == rig.axes[at].axis);
    rig.avoid
        .iter()
        .flat_map(|band| (0..rig.axes.len()).filter(move |at| speaks_of(band, *at)).map(move |at| (at, band)))
        .collect()
}

/// The analysis of windows, with its buffers.
pub(super) struct Windows {
    /// Samples of the plan in a step of the analysis.
    stride: u64,
    step_s: f64,
    size: usize,
    hann: Vec<f64>,
    transform: Arc<dyn RealToComplex<f64>>,
}

impl Windows {
    /// `None` when the rig has nothing to avoid.
    pub(super) fn new(plan: &Plan) -> Option<Self> {
        if plan.rig().avoid.is_empty() {
            return None;
        }
        let stride = stride(plan);
        let step_s = plan.rate().step_s() * stride as f64;
        let size = ((4.0 / step_s) as usize).next_power_of_two();
        let angle = |k: usize| 2.0 * std::f64::consts::PI * k as f64 / size as f64;
        let hann = (0..size).map(|k| 0.5 - 0.5 * libm::cos(angle(k))).collect();
        Some(Self { stride, step_s, size, hann, transform: RealFftPlanner::new().plan_fft_forward(size) })
    }

    /// Every window that starts inside these blocks.
    pub(super) fn of_blocks(&mut self, plan: &Plan, blocks: Range<u64>, worst: &mut [Worst]) {
        let hop = self.size as u64 / 2;
        let first = (blocks.start * BLOCK as u64).div_ceil(self.stride);
        let end = (blocks.end * BLOCK as u64).div_ceil(self.stride);
        let watched = watched(plan.rig());
        let mut frames = plan.frames();
        // Accelerations from `kept` on; the half that the next window shares is not rendered again.
        let mut rows: Vec<Vec<f64>> = vec![Vec::new(); plan.rig().axes.len()];
        let mut kept = 0;
        for start in (first.next_multiple_of(hop)..end).step_by(hop as usize) {
            let bands = self.matters(plan, start, &watched);
            if bands.is_empty() {
                continue;
            }
            let known = rows.first().map_or(0, Vec::len) as u64;
            let shared = (kept + known).saturating_sub(start).min(known);
            rows.iter_mut().for_each(|row| drop(row.drain(..(known - shared) as usize)));
            kept = start;
            self.render(plan, start + shared..start + self.size as u64, &mut frames, &mut rows);
            let middle_s = self.at_s(plan, start) + self.step_s * hop as f64;
            for (at, row) in rows.iter().enumerate() {
                let mine: Vec<usize> = bands.iter().copied().filter(|band| watched[*band].0 == at).collect();
                if !mine.is_empty() {
                    let spectrum = self.spectrum(row);
                    let bin_hz = 1.0 / (self.step_s * self.size as f64);
                    for band in mine {
                        let share = share(&spectrum, bin_hz, watched[band].1);
                        worst[band].merge(&Worst { share, at_s: middle_s });
                    }
                }
            }
        }
    }

    fn at_s(&self, plan: &Plan, step: u64) -> f64 {
        plan.rate().at_s(step * self.stride)
    }

    /// Adds the accelerations of some steps to the rows; after the end of the plan there are none.
    fn render(&self, plan: &Plan, steps: Range<u64>, frames: &mut Frames, rows: &mut [Vec<f64>]) {
        let mut from = steps.start;
        while from < steps.end {
            let count = (steps.end - from).min(BLOCK as u64);
            plan.render_platform_sparse(self.at_s(plan, from), self.step_s, count as usize, frames);
            for (row, platform) in rows.iter_mut().zip(&frames.platform) {
                row.extend_from_slice(&platform.0[2][..count as usize]);
            }
            from += count;
        }
    }

    /// The watched pairs that the window at `start` can have anything to do with.
    fn matters(&self, plan: &Plan, start: u64, watched: &[(usize, &AvoidBand)]) -> Vec<usize> {
        let (from_s, to_s) = (self.at_s(plan, start), self.at_s(plan, start + self.size as u64));
        let mut sup = vec![Majorant::default(); plan.rig().axes.len()];
        let mut found = Vec::new();
        for (index, (at, band)) in watched.iter().enumerate() {
            plan.majorants_of(from_s, to_s, &mut sup, |signal| may_meet(plan, signal, band));
            // What moves at f or faster has at most |fourth derivative| / (2 pi f)^2 of acceleration.
            let turns = 2.0 * std::f64::consts::PI * band.low_hz;
            if sup[*at].0[4] / (turns * turns) > QUIET * band.share {
                found.push(index);
            }
        }
        found
    }

    /// Mean squares by frequency of a stretch as long as a window.
    fn spectrum(&self, stretch: &[f64]) -> Vec<f64> {
        let mut input: Vec<f64> =
            stretch.iter().zip(&self.hann).map(|(value, weight)| value * weight).collect();
        let mut spectrum = self.transform.make_output_vec();
        if self.transform.process(&mut input, &mut spectrum).is_err() {
            // Only lengths that do not fit the transform fail, and all of these are made by it.
            return Vec::new();
        }
        // Bin k of a Hann-windowed record: 2 |X|^2 / (N sum w^2), sum w^2 = 3 N / 8.
        let scale = 2.0 / (self.size as f64 * self.size as f64 * 3.0 / 8.0);
        spectrum.iter().map(|bin| scale * bin.norm_sqr()).collect()
    }
}

/// Samples of the plan in a step of the analysis: two and a half steps or more in the shortest period of its layers and
/// of the bands, which leaves a fifth for their edges, and 100 a second at least for what has no frequency. What folds
/// back from beyond is then next to nothing.
fn stride(plan: &Plan) -> u64 {
    let layers = plan.scenario().layers.iter().filter_map(|layer| match &layer.content {
        Content::Signal(signal) if axis(layer.line).is_some() => plan.band_hz(signal).map(|(_, high)| high),
        _ => None,
    });
    let bands = plan.rig().avoid.iter().map(|band| band.high_hz);
    let highest_hz = layers.chain(bands).fold(40.0, f64::max);
    ((f64::from(plan.rate().hz()) / (2.5 * highest_hz)) as u64).max(1)
}

/// Whether a layer can have anything in a band: by its own band and a fifth around it, for its edges; what has no
/// steady frequency (rings, pulses, holds) may meet any, and its envelope has to tell.
fn may_meet(plan: &Plan, signal: &Signal, band: &AvoidBand) -> bool {
    plan.band_hz(signal)
        .is_none_or(|(low, high)| low == high || 1.2 * high >= band.low_hz && low <= 1.2 * band.high_hz)
}

/// Share of the r.m.s. that lies in a band; none where the whole is too quiet to matter.
fn share(spectrum: &[f64], bin_hz: f64, band: &AvoidBand) -> f64 {
    let total: f64 = spectrum.iter().skip(1).sum();
    if total < QUIET * QUIET {
        return 0.0;
    }
    let inside = |(k, _): &(usize, &f64)| (band.low_hz..=band.high_hz).contains(&(*k as f64 * bin_hz));
    let part: f64 = spectrum.iter().enumerate().filter(inside).map(|(_, power)| power).sum();
    (part / total).sqrt()
}
