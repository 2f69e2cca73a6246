//! A phase that grows with a frequency polynomial in time: exact, in turns.

use super::{Instants, WaveError};
use crate::signal::lanes::WIDTH;
use crate::signal::polynomial::{DEGREE, shift};
use crate::signal::turns::{Pair, exact_sum};
use crate::signal::{Curve, Factor, Majorant, Order, Polynomial};
use std::f64::consts::TAU;

/// The integral of a frequency over the time since the signal's start.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Phase {
    /// Hz, over seconds since the start.
    pub(super) frequency_hz: Polynomial,
    /// Turns, over seconds since the start; zero there.
    turns: Polynomial,
}

impl Phase {
    /// The phase of `frequency` (Hz over scenario time) from `start_s` on.
    pub(super) fn new(frequency: &Curve, start_s: f64) -> Result<Self, WaveError> {
        let mut polynomial =
            frequency.polynomial(start_s).ok_or(WaveError::NotPolynomial { what: "frequency" })?;
        if let Some(bad) = polynomial.0.iter().find(|c| !c.is_finite()) {
            return Err(WaveError::NotAboveZero { what: "frequency", reached: *bad });
        }
        while polynomial.0.len() > 1 && polynomial.0.last() == Some(&0.0) {
            polynomial.0.pop();
        }
        Ok(Self { turns: polynomial.integral(), frequency_hz: polynomial })
    }

    /// The constant frequency, if it is one.
    pub(super) fn steady_hz(&self) -> Option<f64> {
        if let [f] = self.frequency_hz.0[..] { Some(f) } else { None }
    }

    /// Turns since the start, to about twice the precision of a number.
    pub(super) fn turns_at(&self, t_s: f64, start_s: f64) -> Pair {
        self.turns.at_exactly(exact_sum(t_s, -start_s))
    }

    /// The angle's first three derivatives at `t_s` after the start, rad/s^k, behind an empty place for the angle.
    pub(super) fn angle_rates(&self, t_s: f64) -> [f64; 4] {
        let local = Local::about(self, t_s);
        let [f, f1, f2] = [0, 1, 2].map(|k| local.taylor.get(k).copied().unwrap_or(0.0));
        [0.0, TAU * f, TAU * f1, TAU * 2.0 * f2]
    }

    /// Bounds of the angle's derivatives over a stretch after the start (none of the angle itself).
    pub(super) fn angle_majorant(&self, from_s: f64, to_s: f64) -> Majorant {
        let [f, f1, f2, f3, _] = self.frequency_hz.bounds(from_s, to_s);
        Majorant([f64::INFINITY, TAU * f, TAU * f1, TAU * f2, TAU * f3])
    }
}

/// The factor that turns an amplitude of `order` at `frequency` into a value: 1/(2 pi f)^order.
pub(super) fn order_factor(frequency: &Curve, order: Order) -> Option<Factor> {
    let angular = Curve::product(Curve::Constant(TAU), frequency.clone());
    match order {
        Order::Value => None,
        Order::Rate => Some(Factor::Gain(Curve::power(angular, -1))),
        Order::Acceleration => Some(Factor::Gain(Curve::power(angular, -2))),
    }
}

/// The phase near an instant, as a polynomial in the time since that instant.
pub(super) struct Local {
    /// Taylor coefficients of the frequency, Hz.
    taylor: [f64; DEGREE],
    /// The same, each over its order plus one: the turns since the instant, over x.
    turns: [f64; DEGREE],
    /// How many of them are in use.
    count: usize,
}

impl Local {
    /// About `t_s` after the start.
    pub(super) fn about(phase: &Phase, t_s: f64) -> Self {
        let mut taylor = [0.0; DEGREE];
        let coefficients = &phase.frequency_hz.0;
        let count = coefficients.len().min(DEGREE);
        taylor[..count].copy_from_slice(&coefficients[..count]);
        shift(&mut taylor[..count], t_s);
        let mut turns = taylor;
        turns.iter_mut().enumerate().for_each(|(k, c)| *c /= (k + 1) as f64);
        Self { taylor, turns, count }
    }

    /// Frequency (Hz) at the instant and its slope (Hz/s), if the frequency is a straight ramp.
    pub(super) fn chirp(&self) -> Option<(f64, f64)> {
        (self.count == 2).then_some((self.taylor[0], self.taylor[1]))
    }

    /// Turns since the instant, and the angle's derivatives (rad/s^k, an empty place first), at `x` seconds after it.
    #[inline(always)]
    pub(super) fn at(&self, x: [f64; WIDTH]) -> ([f64; WIDTH], [[f64; WIDTH]; 4]) {
        let mut turns = [0.0; WIDTH];
        let mut rates = [[0.0; WIDTH]; 4];
        for k in (0..self.count).rev() {
            let (c, over, order) = (self.taylor[k], self.turns[k], k as f64);
            for l in 0..WIDTH {
                turns[l] = turns[l] * x[l] + over;
                rates[1][l] = rates[1][l] * x[l] + c;
            }
            if k >= 1 {
                for l in 0..WIDTH {
                    rates[2][l] = rates[2][l] * x[l] + order * c;
                }
            }
            if k >= 2 {
                for l in 0..WIDTH {
                    rates[3][l] = rates[3][l] * x[l] + order * (order - 1.0) * c;
                }
            }
        }
        for l in 0..WIDTH {
            turns[l] *= x[l];
        }
        rates.iter_mut().flatten().for_each(|x| *x *= TAU);
        (turns, rates)
    }
}

/// Seconds since the first instant, in groups of lanes; missing ones are zero.
pub(super) fn since_first<'a>(
    instants: &'a Instants<'_>,
) -> impl Iterator<Item = ([f64; WIDTH], usize)> + 'a {
    let first = instants.first_s();
    instants.time_s.chunks(WIDTH).map(move |times| {
        let mut x = [0.0; WIDTH];
        x.iter_mut().zip(times).for_each(|(x, t)| *x = t - first);
        (x, times.len())
    })
}
