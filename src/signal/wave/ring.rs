//! A decaying sinusoid, brought in and out by S.

use super::{Instants, Rows, WaveError, above_zero};
use crate::signal::turns::{exact_product, exact_sum, sine_cosine};
use crate::signal::{Factor, Jet, Majorant, Order};
use std::f64::consts::TAU;

/// scale e^(-damping w t) sin(w t) S(t / half cycle) S((length - t) / half cycle), w = 2 pi f.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Ring {
    frequency_hz: f64,
    damping: f64,
    /// Length in half cycles; at least two.
    half_cycles: f64,
    scale: f64,
}

/// Where it ends: the envelope at 1 %, ln 100.
const DECAY: f64 = 4.605_170_185_988_091;
/// Steps to a half cycle in the search for the largest swing; a summit of a sine between two of them is at most 0.5 %
/// higher than they are, so those seen at this part of the highest are looked at.
const SCAN: u32 = 16;
const NEAR: f64 = 0.95;
/// A summit is flat: its place to 1e-9 of a step gives its height to the last bit.
const HALVINGS: u32 = 28;
/// Rings of up to this many half cycles are searched at their end too.
const SHORT: f64 = 8.0;

impl Ring {
    pub(super) fn new(frequency_hz: f64, damping: f64, order: Order) -> Result<Self, WaveError> {
        above_zero("frequency", frequency_hz)?;
        if !(damping > 0.0 && damping <= 1.0) {
            return Err(WaveError::Damping(damping));
        }
        let half_cycles = (2.0 * DECAY / (TAU * damping) - 1e-9).ceil().max(2.0);
        let mut ring = Self { frequency_hz, damping, half_cycles, scale: 1.0 };
        if !ring.length_s().is_finite() {
            return Err(WaveError::Damping(damping));
        }
        ring.scale = 1.0 / ring.largest_swing(order.count());
        if !(ring.scale.is_finite() && ring.scale > 0.0) {
            return Err(WaveError::NotAboveZero { what: "frequency", reached: frequency_hz });
        }
        Ok(ring)
    }

    pub(super) fn frequency_hz(&self) -> f64 {
        self.frequency_hz
    }

    pub(super) fn length_s(&self) -> f64 {
        self.half_cycles * self.half_cycle_s()
    }

    fn half_cycle_s(&self) -> f64 {
        0.5 / self.frequency_hz
    }

    /// Real and imaginary parts of (-damping w + i w)^k: the k-th derivative of e^(-damping w t) sin(w t) is e^(-damping
    /// w t) (real sin + imaginary cos).
    fn powers(&self) -> [(f64, f64); 5] {
        let w = TAU * self.frequency_hz;
        let base = (-self.damping * w, w);
        let mut out = [(1.0, 0.0); 5];
        for k in 1..5 {
            let (re, im) = out[k - 1];
            out[k] = (re * base.0 - im * base.1, re * base.1 + im * base.0);
        }
        out
    }

    /// The edges for a ring that starts at `start_s`.
    fn edges(&self, start_s: f64) -> [Factor; 2] {
        let length_s = self.half_cycle_s();
        [Factor::Rise { start_s, length_s }, Factor::Fall { end_s: start_s + self.length_s(), length_s }]
    }

    /// Scaled envelope times cosine and sine.
    fn swing(&self, t_s: f64, start_s: f64) -> (f64, f64) {
        let since = exact_sum(t_s, -start_s);
        let product = exact_product(self.frequency_hz, since.high);
        let turns = (product.high - product.high.round()) + (product.low + self.frequency_hz * since.low);
        let (s, c) = sine_cosine(turns);
        let envelope = self.scale * libm::exp(-self.damping * TAU * self.frequency_hz * since.high);
        (envelope * c, envelope * s)
    }

    pub(super) fn jet(&self, t_s: f64, start_s: f64) -> Jet {
        let (c, s) = self.swing(t_s, start_s);
        let [p0, p1, p2, p3, _] = self.powers();
        let [rise, fall] = self.edges(start_s);
        Jet([p0, p1, p2, p3].map(|(re, im)| re * s + im * c)) * rise.jet(t_s) * fall.jet(t_s)
    }

    pub(super) fn fill(&self, instants: &Instants<'_>, rows: &mut Rows) {
        let (mut c, mut s) = self.swing(instants.first_s(), instants.start_s);
        let turn = self.frequency_hz * instants.step_s;
        let (sine, cosine) = sine_cosine(turn - turn.round());
        let decay = libm::exp(-self.damping * TAU * turn);
        let (turn_c, turn_s) = (decay * cosine, decay * sine);
        let [_, p1, p2, p3, _] = self.powers();
        let [value, rate, acceleration, jerk] = &mut *rows;
        let outs = value.iter_mut().zip(rate).zip(acceleration).zip(jerk);
        for ((((v, r), a), j), _) in outs.zip(instants.time_s) {
            *v = s;
            *r = p1.0 * s + p1.1 * c;
            *a = p2.0 * s + p2.1 * c;
            *j = p3.0 * s + p3.1 * c;
            (c, s) = (c * turn_c - s * turn_s, c * turn_s + s * turn_c);
        }
        let [rise, fall] = self.edges(instants.start_s);
        let (times, half) = (instants.time_s, self.half_cycle_s());
        // A hair beyond the edges, so that rounding cannot leave a sample out; there S is 1 anyway.
        let risen = times.partition_point(|t| *t <= instants.start_s + half * 1.000_001);
        let falling = times.partition_point(|t| *t < instants.start_s + self.length_s() - half * 1.000_001);
        rise.apply(times, 0, risen, rows);
        fall.apply(times, falling, times.len(), rows);
    }

    pub(super) fn majorant(&self, from_s: f64, to_s: f64) -> Majorant {
        let w = TAU * self.frequency_hz;
        let envelope = self.scale * libm::exp(-self.damping * w * from_s.max(0.0));
        let size = w * (1.0 + self.damping * self.damping).sqrt();
        let square = size * size;
        let plain = Majorant([1.0, size, square, square * size, square * square]).scaled(envelope);
        let [rise, fall] = self.edges(0.0);
        let edge = |edge: &Factor, bounds: Majorant| match edge.constant_over(from_s, to_s) {
            Some(1.0) => bounds,
            _ => bounds * edge.majorant(from_s, to_s),
        };
        edge(&fall, edge(&rise, plain))
    }

    /// The largest |derivative| of an order (0 to 2). From the end of the first half cycle to the start of the last, each
    /// half cycle is a smaller copy of the one before; so the first two are searched, and the last one of short rings (of
    /// a longer one it holds less than 5 % of the swing). Steps first, then every summit that could be the highest.
    fn largest_swing(&self, order: usize) -> f64 {
        let step = self.half_cycle_s() / f64::from(SCAN);
        let jet = |t: f64| self.jet(t, 0.0).0;
        let early = (0..=2 * SCAN).map(|i| f64::from(i) * step);
        let last = if self.half_cycles <= SHORT { SCAN } else { 0 };
        let late = (0..last).map(|i| self.length_s() - f64::from(i) * step);
        let seen: Vec<(f64, f64)> = early.chain(late).map(|t| (t, jet(t)[order].abs())).collect();
        let highest = seen.iter().fold(0.0_f64, |highest, (_, size)| highest.max(*size));
        let mut best = highest;
        for (t, size) in &seen {
            if *size < NEAR * highest {
                continue;
            }
            let (mut low, mut high) = (t - step, t + step);
            let rising = jet(low)[order + 1];
            if rising * jet(high)[order + 1] >= 0.0 {
                continue;
            }
            for _ in 0..HALVINGS {
                let middle = 0.5 * (low + high);
                if jet(middle)[order + 1] * rising > 0.0 { low = middle } else { high = middle }
            }
            best = best.max(jet(0.5 * (low + high))[order].abs());
        }
        best
    }
}
