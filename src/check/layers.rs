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
    let mut before = [0.0; 4];
    // One more than there are: the signal rests at its end, and the last middle lies before it.
    for first in (0..=samples).step_by(BLOCK) {
        let count = (samples + 1 - first).min(BLOCK as u64) as usize;
        block.clear();
        signal.add_block(signal.start_s + first as f64 * step_s, step_s, count, &mut block);
        let [values, slopes, bends, turns] = &*block.0;
        for (((value, slope), bend), turn) in values.iter().zip(slopes).zip(bends).zip(turns).take(count) {
            let jet = [*value, *slope, *bend, *turn];
            let middle = Middle::new(before, jet, step_s);
            let between = middle.value();
            squares += between * between + jet[0] * jet[0];
            if between.abs() > NEAR_TOP * peak {
                peak = peak.max(top(middle.jet(), step_s / 2.0));
            }
            if jet[0].abs() > NEAR_TOP * peak {
                peak = peak.max(top(jet, step_s / 2.0));
            }
            before = jet;
        }
    }
    let rms = (squares / (2 * samples) as f64).sqrt();
    LayerSummary { layer: at, peak: peak * gain, rms: Some(rms * gain) }
}

/// Only values above this part of the peak can lie beside a higher top: a signal without frequencies above f that goes as
/// far as M is at least M cos(2 pi f t) a time t beside that (R. J. Duffin and A. C. Schaeffer, "Some properties of
/// functions of exponential type", Bull. Amer. Math. Soc. 44, 1938), 0.81 M at the 0.6 steps that [`top`] looks at.
const NEAR_TOP: f64 = 0.75;

/// What lies midway between two samples: on the polynomial of degree 7 that has the values and derivatives of both
/// (Hermite's; the coefficients solved for in fractions). Of a sine with three samples a period the value comes to 1e-4.
struct Middle {
    /// What of the polynomial is even about the middle, and what is odd: value and derivatives at the later sample, in
    /// units of half a step.
    even: [f64; 4],
    odd: [f64; 4],
    half_s: f64,
}

impl Middle {
    fn new(before: [f64; 4], after: [f64; 4], step_s: f64) -> Self {
        let h = step_s / 2.0;
        let scale = [0.5, 0.5 * h, 0.5 * h * h, 0.5 * h * h * h];
        let sum: [f64; 4] = std::array::from_fn(|k| (after[k] + before[k]) * scale[k]);
        let difference: [f64; 4] = std::array::from_fn(|k| (after[k] - before[k]) * scale[k]);
        Self {
            even: [sum[0], difference[1], sum[2], difference[3]],
            odd: [difference[0], sum[1], difference[2], sum[3]],
            half_s: h,
        }
    }

    fn value(&self) -> f64 {
        dot(self.even, [1.0, -11.0 / 16.0, 3.0 / 16.0, -1.0 / 48.0])
    }

    fn jet(&self) -> [f64; 4] {
        let h = self.half_s;
        let slope = dot(self.odd, [35.0 / 16.0, -19.0 / 16.0, 0.25, -1.0 / 48.0]);
        let bend = dot(self.even, [0.0, 15.0 / 8.0, -7.0 / 8.0, 0.125]);
        let turn = dot(self.odd, [-105.0 / 8.0, 105.0 / 8.0, -3.75, 0.375]);
        [self.value(), slope / h, bend / (h * h), turn / (h * h * h)]
    }
}

fn dot(a: [f64; 4], b: [f64; 4]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2] + a[3] * b[3]
}

/// How far from zero a signal goes about a sample.
fn top(jet: [f64; 4], step_s: f64) -> f64 {
    jet[0].abs() + beside(jet, step_s)
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

/// Between the samples of one layer: 3 in the shortest period that it holds (with the middles and the cubic a peak is then
/// told to half a percent), 128 over one that has no frequency, and never finer than twice the plan's.
fn step_s(plan: &Plan, signal: &Signal) -> f64 {
    let finest_s = 2.0 * plan.rate().step_s();
    match signal.band_hz() {
        Some((_, high_hz)) if high_hz > 0.0 => {
            (1.0 / (3.0 * high_hz)).min(signal.length_s / 16.0).max(finest_s)
        }
        _ => (signal.length_s / 128.0).max(finest_s),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Any polynomial of degree 7 comes back exactly, and a sine at three samples a period nearly.
    #[test]
    fn the_middle_of_two_samples_is_that_of_the_polynomial_through_both() {
        // t^n and its derivatives.
        let power = |t: f64, n: i32| {
            let mut jet = [0.0; 4];
            let mut factor = 1.0;
            for (k, value) in (0..=n.min(3)).zip(&mut jet) {
                *value = factor * (k..n).map(|_| t).product::<f64>();
                factor *= f64::from(n - k);
            }
            jet
        };
        for n in 0..8 {
            let (from, to) = (0.7, 1.1);
            for (k, (found, expected)) in Middle::new(power(from, n), power(to, n), to - from)
                .jet()
                .into_iter()
                .zip(power(0.9, n))
                .enumerate()
            {
                assert!((found - expected).abs() < 1e-11, "power {n}, derivative {k}: {found} {expected}");
            }
        }
        let sine = |t: f64| [libm::sin(t), libm::cos(t), -libm::sin(t), -libm::cos(t)];
        let step = std::f64::consts::TAU / 3.0;
        for k in 0..20 {
            let t = f64::from(k) * 0.3;
            let found = Middle::new(sine(t), sine(t + step), step).jet();
            assert!((found[0] - libm::sin(t + step / 2.0)).abs() < 1e-4);
            assert!((found[2] + libm::sin(t + step / 2.0)).abs() < 5e-3);
        }
    }

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
