//! A signal: a waveform placed in time with its factors.

use super::wave::{Instants, Rows};
use super::{BLOCK, Factor, Jet, JetBlock, Majorant, Wave, widest};

/// A waveform placed in time: zero outside `start_s..start_s + length_s`, and there with value, rate, acceleration
/// and jerk at zero at both ends when its factors say so (ring, pulse and hold are at rest by themselves).
#[derive(Debug, Clone, PartialEq)]
pub struct Signal {
    /// Scenario time of its start, s.
    pub start_s: f64,
    /// Its length, s.
    pub length_s: f64,
    /// Unit amplitude.
    pub wave: Wave,
    /// All multiply.
    pub factors: Vec<Factor>,
}

impl Signal {
    /// Value and derivatives at scenario time `t_s`.
    pub fn jet(&self, t_s: f64) -> Jet {
        if !(t_s >= self.start_s && t_s < self.end_s()) {
            return Jet::default();
        }
        self.factors.iter().fold(self.wave.jet(t_s, self.start_s), |jet, factor| jet * factor.jet(t_s))
    }

    /// Adds samples `0..count` of a block to `out`: sample j is at `start_s + j * step_s` (scenario time), and that sum,
    /// rounded as written, decides whether it lies within the signal. What is added depends on nothing else, so
    /// blocks may be rendered in any order. It is what [`Signal::jet`] gives, within 1e-11 of the amplitude (order by
    /// order); at late times and high frequencies, where the sum's own rounding matters, steady noise, straight noise
    /// and rings take the unrounded time. `count` beyond [`BLOCK`] is cut to it.
    pub fn add_block(&self, start_s: f64, step_s: f64, count: usize, out: &mut JetBlock) {
        let count = count.min(BLOCK);
        let ahead_s = start_s + count as f64 * step_s;
        if count == 0 || start_s >= self.end_s() || ahead_s < self.start_s {
            return;
        }
        let mut times = [0.0; BLOCK];
        let times = &mut times[..count];
        times.iter_mut().enumerate().for_each(|(j, time)| *time = start_s + j as f64 * step_s);
        let times = &*times;
        let from = times.partition_point(|t| *t < self.start_s);
        let to = times.partition_point(|t| *t < self.end_s());
        let inside = times.get(from..to).unwrap_or_default();
        let (Some(first), Some(last)) = (inside.first(), inside.last()) else {
            return;
        };
        let scale = self.constant_over(*first, *last);
        if scale == 0.0 {
            return;
        }
        let mut rows: Rows = [[0.0; BLOCK]; 4];
        self.wave.fill(&Instants { time_s: inside, step_s, start_s: self.start_s }, &mut rows);
        for factor in &self.factors {
            if factor.constant_over(*first, *last).is_none() {
                factor.apply(inside, 0, inside.len(), &mut rows);
            }
        }
        widest(
            #[inline(always)]
            || {
                for (total, row) in out.0.iter_mut().zip(&rows) {
                    for (sum, x) in total[from..to].iter_mut().zip(row) {
                        *sum += scale * x;
                    }
                }
            },
        );
    }

    /// The product of all factors that do not vary over a stretch.
    fn constant_over(&self, from_s: f64, to_s: f64) -> f64 {
        self.factors.iter().filter_map(|factor| factor.constant_over(from_s, to_s)).product()
    }

    /// Bounds over `from_s..=to_s` (zero where the signal is silent).
    pub fn majorant(&self, from_s: f64, to_s: f64) -> Majorant {
        let (from, to) = (from_s.max(self.start_s), to_s.min(self.end_s()));
        if from > to || from.is_nan() || to.is_nan() {
            return Majorant::default();
        }
        let mut out = self.wave.majorant(from - self.start_s, to - self.start_s);
        for factor in &self.factors {
            out = match factor.constant_over(from, to) {
                Some(scale) => out.scaled(scale),
                None => out * factor.majorant(from, to),
            };
        }
        out.widened()
    }

    /// The lowest and highest frequency (Hz) that the waveform itself holds over the signal, where it has any: the least
    /// and largest momentary frequency of sines and sweeps, the band of noise as written, the frequency of a ring, and
    /// from 0 to the band limit for traces. Pulses and holds give `None`. What factors add beside it does not count.
    pub fn band_hz(&self) -> Option<(f64, f64)> {
        self.wave.band_hz(self.length_s)
    }

    /// What samples of it have to follow over `from_s..=to_s`, as a frequency, Hz: the highest of its band, two over the
    /// width of a pulse, one over the edge of a hold, and for a factor twice the frequency of a sine that changes as fast
    /// for its size, in whichever derivative it does so most (an edge of length T comes to 1.2 / T).
    pub fn quickest_hz(&self, from_s: f64, to_s: f64) -> f64 {
        let of_factor = |factor: &Factor| {
            let [value, rate, bend, turn, _] = factor.majorant(from_s, to_s).0;
            let quickest = (rate / value).max((bend / value).sqrt()).max(libm::cbrt(turn / value));
            if value > 0.0 { quickest / std::f64::consts::PI } else { 0.0 }
        };
        let wave_hz = self.band_hz().map_or_else(|| self.wave.edge_hz(), |(_, high_hz)| high_hz);
        // They multiply, so their frequencies add.
        wave_hz + self.factors.iter().map(of_factor).sum::<f64>()
    }

    fn end_s(&self) -> f64 {
        self.start_s + self.length_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::{Curve, Order};
    use std::sync::Arc;

    fn signal(wave: Wave, factors: Vec<Factor>) -> Signal {
        Signal { start_s: 1.0, length_s: 20.0, wave, factors }
    }

    #[test]
    fn the_quickest_is_the_band_an_edge_or_a_gain() {
        let slow = || Wave::sine(&Curve::Constant(0.5), 0.0, Order::Value, 1.0, 20.0).unwrap().0;
        assert_eq!(signal(slow(), vec![Factor::Gain(Curve::Constant(3.0))]).quickest_hz(0.0, 30.0), 0.5);
        let pulse = Wave::pulse(0.25, Order::Value).unwrap();
        assert_eq!(signal(pulse, Vec::new()).quickest_hz(0.0, 30.0), 8.0);
        let hold = Wave::hold(2.0, 0.5, 20.0, Order::Value).unwrap();
        assert_eq!(signal(hold, Vec::new()).quickest_hz(0.0, 30.0), 2.0);
        // An edge counts where it is, and nowhere else.
        let rising = signal(slow(), vec![Factor::Rise { start_s: 1.0, length_s: 0.1 }]);
        let hz = rising.quickest_hz(1.0, 2.0);
        assert!((11.0..13.0).contains(&hz), "{hz}");
        assert_eq!(rising.quickest_hz(5.0, 10.0), 0.5);
        // A gain that goes from 0 to 1 in a fifth of a second.
        let ramp = Curve::Ramp { from: 0.0, to: 1.0, start_s: 4.0, end_s: 4.2 };
        let eased = Curve::Ease { x: Arc::new(ramp), low: 0.0, high: 1.0 };
        let gained = signal(slow(), vec![Factor::Gain(eased)]);
        let hz = gained.quickest_hz(4.0, 4.5);
        assert!((5.0..8.0).contains(&hz), "{hz}");
        assert_eq!(gained.quickest_hz(10.0, 12.0), 0.5);
    }
}
