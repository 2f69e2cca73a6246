//! Peak and r.m.s. of every layer by itself, as the rig's file would have it at this gain.

use super::LayerSummary;
use crate::motion::{Plan, Workers};
use crate::scenario::{Content, Layer};
use crate::signal::{BLOCK, JetBlock, Signal};

/// One a layer of the scenario, in its order, over its own length. A sound file has its
/// level's largest value as its peak and no r.m.s. of its own.
pub(super) fn summaries(plan: &Plan, workers: &impl Workers) -> Vec<LayerSummary> {
    let layers = &plan.scenario().layers;
    workers.map(layers.len() as u64, |at| summary(plan, at as usize, &layers[at as usize]))
}

fn summary(plan: &Plan, at: usize, layer: &Layer) -> LayerSummary {
    let signal = match &layer.content {
        Content::Signal(signal) => signal,
        Content::SoundFile { start_s, length_s, level, .. } => {
            let (low, high) = level.range(*start_s, start_s + length_s);
            return LayerSummary { layer: at, peak: low.abs().max(high.abs()), rms: None };
        }
    };
    let gain = if crate::motion::axis(layer.line).is_some() { plan.gain() } else { 1.0 };
    let step_s = step_s(plan, signal);
    let samples = (signal.length_s / step_s).ceil().max(1.0) as u64;
    let (mut peak, mut squares) = (0.0_f64, 0.0);
    let mut block = JetBlock::zero();
    let mut first = 0;
    while first < samples {
        let count = (samples - first).min(BLOCK as u64) as usize;
        block.clear();
        signal.add_block(signal.start_s + first as f64 * step_s, step_s, count, &mut block);
        let [values, slopes, bends, _] = &*block.0;
        for ((value, slope), bend) in values.iter().zip(slopes).zip(bends).take(count) {
            peak = peak.max(value.abs() + beside(*value, *slope, *bend, step_s));
            squares += value * value;
        }
        first += count as u64;
    }
    LayerSummary { layer: at, peak: peak * gain, rms: Some((squares / samples as f64).sqrt() * gain) }
}

/// How much further from zero a signal goes within half a step of a sample: to the top of the parabola through it, where
/// that lies so near (a little further, since the parabola's top lies beyond a sine's).
fn beside(value: f64, slope: f64, bend: f64, step_s: f64) -> f64 {
    let turns_back = value * bend < 0.0;
    if turns_back && slope.abs() < 0.6 * step_s * bend.abs() {
        slope * slope / (2.0 * bend.abs())
    } else {
        0.0
    }
}

/// Between the samples of one layer: 8 in the shortest period that it holds (with the parabola a peak is then told to
/// half a percent), 256 over one that has no frequency, and never finer than the plan.
fn step_s(plan: &Plan, signal: &Signal) -> f64 {
    let finest_s = plan.rate().step_s();
    match signal.band_hz() {
        Some((_, high_hz)) if high_hz > 0.0 => {
            (1.0 / (8.0 * high_hz)).min(signal.length_s / 32.0).max(finest_s)
        }
        _ => (signal.length_s / 256.0).max(finest_s),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The worst phase: the peak is half a step from its nearest samples.
    #[test]
    fn a_peak_between_samples_is_told_to_half_a_percent() {
        let (phase, step_s) = (std::f64::consts::PI / 8.0, std::f64::consts::PI / 4.0);
        let (value, slope) = (libm::cos(phase), -libm::sin(phase));
        let peak = value + beside(value, slope, -value, step_s);
        assert!((peak - 1.0).abs() < 0.005, "{peak}");
        assert_eq!(beside(1.0, 1.0, -0.1, step_s), 0.0, "the top is far away");
        assert_eq!(beside(1.0, 0.1, 0.5, step_s), 0.0, "it rises on");
    }
}
