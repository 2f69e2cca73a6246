//! How much of an axis's acceleration lies in a band that the rig file wants avoided.
//!
//! Windows of about four seconds, half overlapped, Hann: a quarter of a hertz apart, which tells a band of a few hertz
//! from its neighbours. Source of the estimate: Welch, IEEE Trans. Audio Electroacoust. 15(2), 1967.

use crate::motion::Plan;
use crate::rig::{AvoidBand, Rig};
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
        let size = ((4.0 * f64::from(plan.rate().hz())) as usize).next_power_of_two();
        let angle = |k: usize| 2.0 * std::f64::consts::PI * k as f64 / size as f64;
        let hann = (0..size).map(|k| 0.5 - 0.5 * libm::cos(angle(k))).collect();
        Some(Self { size, hann, transform: RealFftPlanner::new().plan_fft_forward(size) })
    }

    /// Every window that starts inside these blocks.
    pub(super) fn of_blocks(&mut self, plan: &Plan, blocks: Range<u64>, worst: &mut [Worst]) {
        let (hop, step) = (self.size as u64 / 2, BLOCK as u64);
        let first = blocks.start * step;
        let starts: Vec<u64> =
            (first.next_multiple_of(hop)..blocks.end * step).step_by(hop as usize).collect();
        let watched = watched(plan.rig());
        let matters: Vec<Vec<usize>> =
            starts.iter().map(|start| self.matters(plan, *start, &watched)).collect();
        let mut frames = plan.frames();
        // Accelerations from the first sample on, block by block where a window wants them; a block is rendered once.
        let mut rows: Vec<Vec<f64>> = vec![Vec::new(); plan.rig().axes.len()];
        for (start, bands) in starts.iter().zip(&matters) {
            if bands.is_empty() {
                continue;
            }
            let (from, to) = (start / step, (start + self.size as u64).div_ceil(step));
            for row in &mut rows {
                row.resize(row.len().max((from * step - first) as usize), 0.0);
            }
            let mut block = blocks.start + rows.first().map_or(0, Vec::len) as u64 / step;
            while block < to {
                if block < plan.blocks() {
                    plan.render_platform(block, &mut frames);
                } else {
                    frames.count = 0;
                }
                for (row, platform) in rows.iter_mut().zip(&frames.platform) {
                    row.extend_from_slice(&platform.0[2][..frames.count]);
                    row.resize(((block + 1) * step - first) as usize, 0.0);
                }
                block += 1;
            }
            let (from_s, to_s) = (plan.rate().at_s(*start), plan.rate().at_s(start + self.size as u64));
            let offset = (start - first) as usize;
            for (at, row) in rows.iter().enumerate() {
                let mine: Vec<usize> = bands.iter().copied().filter(|band| watched[*band].0 == at).collect();
                if !mine.is_empty() {
                    let spectrum = self.spectrum(&row[offset..offset + self.size]);
                    let bin_hz = f64::from(plan.rate().hz()) / self.size as f64;
                    for band in mine {
                        let share = share(&spectrum, bin_hz, watched[band].1);
                        worst[band].merge(&Worst { share, at_s: f64::midpoint(from_s, to_s) });
                    }
                }
            }
        }
    }

    /// The watched pairs that the window at `start` can have anything to do with.
    fn matters(&self, plan: &Plan, start: u64, watched: &[(usize, &AvoidBand)]) -> Vec<usize> {
        let (from_s, to_s) = (plan.rate().at_s(start), plan.rate().at_s(start + self.size as u64));
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
