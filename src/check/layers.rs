//! Peak and r.m.s. of every layer by itself, as the rig's file would have it at this gain.

use super::LayerSummary;
use crate::motion::{Plan, Workers};
use crate::scenario::{Content, Layer};
use crate::signal::{BLOCK, JetBlock, Signal};

/// One a layer of the scenario, in its order, over its own length. A sound file has its
/// level's largest value as its peak and no r.m.s. of its own.
pub(super) fn summaries(plan: &Plan, workers: &impl Workers) -> Vec<LayerSummary> {
    let layers = &plan.scenario().layers;
    // The longest work first, so that no worker is left with it at the end.
    let mut order: Vec<usize> = (0..layers.len()).collect();
    order.sort_by_key(|at| std::cmp::Reverse(samples(plan, &layers[*at])));
    let mut summaries = workers.map(layers.len() as u64, |k| {
        let at = order[k as usize];
        summary(plan, at, &layers[at])
    });
    summaries.sort_by_key(|summary| summary.layer);
    summaries
}

/// Samples that a layer is looked at with.
fn samples(plan: &Plan, layer: &Layer) -> u64 {
    match &layer.content {
        Content::Signal(signal) => (signal.length_s / step_s(plan, signal)).ceil().max(1.0) as u64,
        Content::SoundFile { .. } => 0,
    }
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
    let samples = samples(plan, layer);
    let (mut peak, mut squares) = (0.0_f64, 0.0);
    let mut block = JetBlock::zero();
    let mut first = 0;
    while first < samples {
        let count = (samples - first).min(BLOCK as u64) as usize;
        block.clear();
        signal.add_block(signal.start_s + first as f64 * step_s, step_s, count, &mut block);
        let [values, slopes, bends, turns] = &*block.0;
        for (((value, slope), bend), turn) in values.iter().zip(slopes).zip(bends).zip(turns).take(count) {
            peak = peak.max(value.abs() + beside([*value, *slope, *bend, *turn], step_s));
            squares += value * value;
        }
        first += count as u64;
    }
    LayerSummary { layer: at, peak: peak * gain, rms: Some((squares / samples as f64).sqrt() * gain) }
}

/// How much further from zero a signal goes within half a step of a sample: to the top of the cubic through its value
/// and derivatives, where that lies so near (a little further, since its top may lie beyond a sine's).
fn beside([value, slope, bend, turn]: [f64; 4], step_s: f64) -> f64 {
    if value * bend >= 0.0 {
        return 0.0;
    }
    // slope + bend t + turn t^2 / 2 = 0: the root nearer to the sample, in the form that a small turn does not spoil.
    let inside = bend * bend - 2.0 * slope * turn;
    if inside < 0.0 {
        return 0.0;
    }
    let t = -2.0 * slope / (bend + inside.sqrt().copysign(bend));
    if t.abs() > 0.6 * step_s {
        return 0.0;
    }
    (t * (slope + t * (bend / 2.0 + t * turn / 6.0)) * value.signum()).max(0.0)
}

/// Between the samples of one layer: 6 in the shortest period that it holds (with the cubic a peak is then told to
/// half a percent), 256 over one that has no frequency, and never finer than the plan.
fn step_s(plan: &Plan, signal: &Signal) -> f64 {
    let finest_s = plan.rate().step_s();
    match signal.band_hz() {
        Some((_, high_hz)) if high_hz > 0.0 => {
            (1.0 / (6.0 * high_hz)).min(signal.length_s / 32.0).max(finest_s)
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
        let (phase, step_s) = (std::f64::consts::PI / 6.0, std::f64::consts::PI / 3.0);
        for phase in [phase, phase / 2.0, -phase] {
            let (value, slope) = (libm::cos(phase), -libm::sin(phase));
            let peak = value + beside([value, slope, -value, -slope], step_s);
            assert!((peak - 1.0).abs() < 0.005, "{peak}");
            let trough = -value - beside([-value, -slope, value, slope], step_s);
            assert_eq!(trough, -peak);
        }
        assert_eq!(beside([1.0, 1.0, -0.1, 0.0], 1.0), 0.0, "the top is far away");
        assert_eq!(beside([1.0, 0.1, 0.5, 0.0], 1.0), 0.0, "it rises on");
        assert_eq!(beside([1.0, 1.0, -1.0, 1.0], 1.0), 0.0, "it rises without a top");
        assert!((beside([1.0, 0.1, -1.0, 0.0], 1.0) - 0.005).abs() < 1e-15, "a parabola's");
    }
}
