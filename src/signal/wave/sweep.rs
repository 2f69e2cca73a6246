//! A sinusoid that takes equal time for each octave.

use super::phase::since_first;
use super::sine::write;
use super::{Instants, Rows, WaveError, above_zero};
use crate::signal::lanes::{WIDTH, compose};
use crate::signal::turns::{exact_product, sine_cosine};
use crate::signal::{Curve, Factor, Jet, Majorant, Order};
use std::f64::consts::TAU;

/// The frequency is f1 e^(k t) with k = ln(f2 / f1) / T, so the phase is f1/k (e^(k t) - 1), as in
/// `scipy.signal.chirp(method="logarithmic")`. Good to 4e-16 of the turns since the start.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sweep {
    from_hz: f64,
    to_hz: f64,
    /// Growth of the frequency, 1/s; not zero.
    growth_hz: f64,
    offset_turns: f64,
}

/// The series of (e^y - 1) / y is used up to here; 12 terms then leave 1e-17 of it.
const SERIES_REACH: f64 = 0.25;

impl Sweep {
    /// Between two different frequencies above zero.
    pub(super) fn new(from_hz: f64, to_hz: f64, phase_turns: f64, length_s: f64) -> Result<Self, WaveError> {
        above_zero("length", length_s)?;
        let growth_hz = libm::log(to_hz / from_hz) / length_s;
        if !growth_hz.is_finite() || growth_hz == 0.0 || !phase_turns.is_finite() {
            return Err(WaveError::Length("the sweep is too steep or too flat to compute".to_owned()));
        }
        Ok(Self { from_hz, to_hz, growth_hz, offset_turns: phase_turns - phase_turns.round() })
    }

    /// 1/(2 pi f)^order as a curve of scenario time.
    pub(super) fn order_factor(&self, order: Order, start_s: f64, length_s: f64) -> Option<Factor> {
        let count = order.count();
        if count == 0 {
            return None;
        }
        let scale = 1.0 / libm::pow(TAU * self.from_hz, count as f64);
        let fall = -(count as f64) * self.growth_hz * length_s;
        let exponent = Curve::ramp(0.0, fall, start_s, start_s + length_s);
        Some(Factor::Gain(Curve::product(Curve::Constant(scale), Curve::exponential(exponent))))
    }

    /// Turns since the start, whole ones dropped.
    fn fraction(&self, t_s: f64) -> f64 {
        exact_product(self.from_hz / self.growth_hz, libm::expm1(self.growth_hz * t_s))
            .fraction(1.0, self.offset_turns)
    }

    fn frequency_hz(&self, t_s: f64) -> f64 {
        self.from_hz * libm::exp(self.growth_hz * t_s)
    }

    /// The angle's derivatives at a frequency, behind an empty place.
    fn rates(&self, frequency_hz: f64) -> [f64; 4] {
        let k = self.growth_hz;
        let rate = TAU * frequency_hz;
        [0.0, rate, k * rate, k * k * rate]
    }

    pub(super) fn jet(&self, t_s: f64) -> Jet {
        let (s, c) = sine_cosine(self.fraction(t_s));
        Jet(compose([s, c, -s, -c], self.rates(self.frequency_hz(t_s))))
    }

    pub(super) fn fill(&self, instants: &Instants<'_>, rows: &mut Rows) {
        let (first, k) = (instants.first_s(), self.growth_hz);
        let span = instants.time_s.last().map_or(0.0, |last| last - first);
        if k.abs() * span > SERIES_REACH {
            return instants.each_local(rows, |t| self.jet(t));
        }
        let base = self.fraction(first - instants.start_s);
        let frequency = self.frequency_hz(first - instants.start_s);
        let mut place = 0;
        for (x, count) in since_first(instants) {
            let growth = mean_growth(x.map(|x| k * x));
            let mut turns = [0.0; WIDTH];
            let mut rates = [[0.0; WIDTH]; 4];
            for l in 0..WIDTH {
                let since = frequency * x[l] * growth[l];
                let rate = TAU * (frequency + k * since);
                turns[l] = base + since;
                rates[1][l] = rate;
                rates[2][l] = k * rate;
                rates[3][l] = k * k * rate;
            }
            write(turns, &rates, place, rows);
            place += count;
        }
    }

    pub(super) fn majorant(&self, from_s: f64, to_s: f64) -> Majorant {
        let top = self.frequency_hz(from_s).max(self.frequency_hz(to_s));
        let [_, a, b, c] = self.rates(top).map(f64::abs);
        Majorant([f64::INFINITY, a, b, c, c * self.growth_hz.abs()]).compose([1.0; 5])
    }

    pub(super) fn band_hz(&self, length_s: f64) -> (f64, f64) {
        let reached = if length_s.is_finite() { self.frequency_hz(length_s) } else { self.to_hz };
        (self.from_hz.min(reached), self.from_hz.max(reached))
    }
}

/// (e^y - 1) / y by its Taylor series, the sum of y^n / (n + 1)!, in Horner's form.
#[inline(always)]
fn mean_growth(y: [f64; WIDTH]) -> [f64; WIDTH] {
    const PARTS: [f64; 11] = [
        1.0 / 12.0,
        1.0 / 11.0,
        1.0 / 10.0,
        1.0 / 9.0,
        1.0 / 8.0,
        1.0 / 7.0,
        1.0 / 6.0,
        1.0 / 5.0,
        1.0 / 4.0,
        1.0 / 3.0,
        1.0 / 2.0,
    ];
    let mut sum = [1.0; WIDTH];
    for part in PARTS {
        for l in 0..WIDTH {
            sum[l] = 1.0 + sum[l] * (y[l] * part);
        }
    }
    sum
}
