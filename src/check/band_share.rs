//! How much of an axis's acceleration lies in a band that the rig file wants avoided.
//!
//! Windows of about four seconds, half overlapped, Hann: a quarter of a hertz apart, which tells a band of a few hertz
//! from its neighbours. Source of the estimate: Welch, IEEE Trans. Audio Electroacoust. 15(2), 1967.

use crate::motion::{Frames, Plan};
use crate::rig::{AvoidBand, Rig};
use crate::signal::{BLOCK, Majorant};
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
    pub(super) fn stretch(
        &mut self,
        plan: &Plan,
        blocks: Range<u64>,
        frames: &mut Frames,
        worst: &mut [Worst],
    ) {
        let hop = self.size as u64 / 2;
        let mut start = (blocks.start * BLOCK as u64).next_multiple_of(hop);
        while start < blocks.end * BLOCK as u64 {
            self.window(plan, start, frames, worst);
            start += hop;
        }
    }

    fn window(&mut self, plan: &Plan, start: u64, frames: &mut Frames, worst: &mut [Worst]) {
        let (rate, rig) = (plan.rate(), plan.rig());
        let (from_s, to_s) = (rate.at_s(start), rate.at_s(start + self.size as u64));
        let mut sup = vec![Majorant::default(); rig.axes.len()];
        plan.majorants(from_s, to_s, &mut sup);
        let watched = watched(rig);
        // What moves at f or faster has at most |fourth derivative| / (2 pi f)^2 of acceleration.
        let can_matter = |at: usize, band: &AvoidBand| {
            let turns = 2.0 * std::f64::consts::PI * band.low_hz;
            sup[at].0[4] / (turns * turns) > QUIET * band.share
        };
        for at in 0..rig.axes.len() {
            let bands: Vec<_> = watched
                .iter()
                .enumerate()
                .filter(|(_, (of, band))| *of == at && can_matter(at, band))
                .collect();
            if bands.is_empty() {
                continue;
            }
            let mut input = vec![0.0; self.size];
            let step = BLOCK as u64;
            for block in start / step..(start + self.size as u64).div_ceil(step).min(plan.blocks()) {
                plan.render(block, frames);
                for k in 0..frames.count {
                    if let Some(to) = (block * step + k as u64).checked_sub(start)
                        && let Some(slot) = input.get_mut(to as usize)
                    {
                        *slot = frames.platform[at].0[2][k] * self.hann[to as usize];
                    }
                }
            }
            let mut spectrum = self.transform.make_output_vec();
            if self.transform.process(&mut input, &mut spectrum).is_err() {
                continue;
            }
            let bin_hz = f64::from(rate.hz()) / self.size as f64;
            // Mean square of bin k of a Hann-windowed record: 2 |X|^2 / (N sum w^2), sum w^2 = 3 N / 8.
            let scale = 2.0 / (self.size as f64 * self.size as f64 * 3.0 / 8.0);
            let power = |(k, bin): (usize, &realfft::num_complex::Complex<f64>)| {
                (k as f64 * bin_hz, scale * bin.norm_sqr())
            };
            let total: f64 = spectrum.iter().enumerate().skip(1).map(power).map(|(_, p)| p).sum();
            if total < QUIET * QUIET {
                continue;
            }
            for (index, (_, band)) in bands {
                let inside = |(hz, _): &(f64, f64)| (band.low_hz..=band.high_hz).contains(hz);
                let part: f64 = spectrum.iter().enumerate().map(power).filter(inside).map(|(_, p)| p).sum();
                worst[index]
                    .merge(&Worst { share: (part / total).sqrt(), at_s: f64::midpoint(from_s, to_s) });
            }
        }
    }
}
