//! Values that may vary over scenario time: amplitudes, gains, speeds, frequencies.

mod bounds;
mod build;

use super::lanes::Lanes;
use super::{Jet, Majorant, Polynomial};
use std::f64::consts::LN_10;
use std::sync::Arc;

/// An expression in scenario time (absolute seconds from the scene's start). A ramp goes on straight beyond its
/// ends, so every curve is smooth wherever it is used.
///
/// Build one with [`Curve::sum`] and its sisters, which fold constants. All methods recurse to the depth of the
/// expression and visit shared parts as often as they stand in it; whoever builds a curve bounds both
/// ([`Curve::size`]).
#[derive(Debug, Clone, PartialEq)]
pub enum Curve {
    /// The same always.
    Constant(f64),
    /// Straight from `from` at `start_s` to `to` at `end_s`, and on.
    Ramp {
        /// Value at the start.
        from: f64,
        /// Value at the end.
        to: f64,
        /// Scenario time of the start, s.
        start_s: f64,
        /// Scenario time of the end, s; later than the start.
        end_s: f64,
    },
    /// `a + b`
    Sum(Arc<Curve>, Arc<Curve>),
    /// `a * b`
    Product(Arc<Curve>, Arc<Curve>),
    /// `a / b`
    Quotient(Arc<Curve>, Arc<Curve>),
    /// `a ^ n`
    Power(Arc<Curve>, i32),
    /// S((x - low) / (high - low)); `low` above `high` runs downwards.
    Ease {
        /// What is eased.
        x: Arc<Curve>,
        /// Where S is 0.
        low: f64,
        /// Where S is 1.
        high: f64,
    },
    /// 10^(x / 20): decibels to an amplitude ratio.
    Decibels(Arc<Curve>),
    /// e^x (for sweeps, whose frequency doubles in equal times).
    Exponential(Arc<Curve>),
}

/// ln 10 / 20: decibels to nepers, from the definition of the decibel (20 log10 of an amplitude ratio).
const NEPER_PER_DECIBEL: f64 = LN_10 / 20.0;

/// The largest degree that [`Curve::polynomial`] gives.
const DEGREE: usize = 8;

impl Curve {
    /// The constant that this curve is, if nothing in it varies.
    pub fn constant(&self) -> Option<f64> {
        match self {
            Self::Constant(value) => Some(*value),
            Self::Ramp { from, to, .. } => (from == to).then_some(*from),
            Self::Sum(a, b) | Self::Product(a, b) | Self::Quotient(a, b) => {
                a.constant()?;
                b.constant()?;
                Some(self.jet(0.0).0[0])
            }
            Self::Power(x, _) | Self::Ease { x, .. } | Self::Decibels(x) | Self::Exponential(x) => {
                x.constant()?;
                Some(self.jet(0.0).0[0])
            }
        }
    }

    /// This curve as a polynomial in (t - origin_s), if it is one (of degree at most 8).
    pub fn polynomial(&self, origin_s: f64) -> Option<Polynomial> {
        let plain = match self {
            Self::Constant(value) => vec![*value],
            Self::Ramp { from, to, start_s, end_s } => {
                let slope = (to - from) / (end_s - start_s);
                vec![from + slope * (origin_s - start_s), slope]
            }
            Self::Sum(a, b) => {
                let (mut a, mut b) = (a.polynomial(origin_s)?.0, b.polynomial(origin_s)?.0);
                if a.len() < b.len() {
                    std::mem::swap(&mut a, &mut b);
                }
                a.iter_mut().zip(&b).for_each(|(x, y)| *x += y);
                a
            }
            Self::Product(a, b) => multiply(&a.polynomial(origin_s)?.0, &b.polynomial(origin_s)?.0)?,
            Self::Quotient(a, b) => {
                let divisor = b.constant()?;
                let mut a = a.polynomial(origin_s)?.0;
                a.iter_mut().for_each(|x| *x /= divisor);
                a
            }
            Self::Power(x, n) => {
                if let Some(value) = self.constant() {
                    return Some(Polynomial(vec![value]));
                }
                let base = x.polynomial(origin_s)?.0;
                let count = usize::try_from(*n).ok().filter(|n| *n <= DEGREE)?;
                (0..count).try_fold(vec![1.0], |product, _| multiply(&product, &base))?
            }
            Self::Ease { .. } | Self::Decibels(_) | Self::Exponential(_) => vec![self.constant()?],
        };
        Some(Polynomial(plain))
    }

    /// Value and derivatives at `t_s`.
    pub fn jet(&self, t_s: f64) -> Jet {
        let [[value], [rate], [acceleration], [jerk]] = self.lanes([t_s]).0;
        Jet([value, rate, acceleration, jerk])
    }

    /// Value and derivatives at several instants.
    pub(super) fn lanes<const N: usize>(&self, t_s: [f64; N]) -> Lanes<N> {
        match self {
            Self::Constant(value) => Lanes::constant(*value),
            Self::Ramp { from, to, start_s, end_s } => {
                let slope = (to - from) / (end_s - start_s);
                Lanes([t_s.map(|t| from + slope * (t - start_s)), [slope; N], [0.0; N], [0.0; N]])
            }
            Self::Sum(a, b) => a.lanes(t_s).sum(&b.lanes(t_s)),
            Self::Product(a, b) => a.lanes(t_s).product(&b.lanes(t_s)),
            Self::Quotient(a, b) => a.lanes(t_s).quotient(&b.lanes(t_s)),
            Self::Power(x, n) => x.lanes(t_s).power(*n),
            Self::Ease { x, low, high } => {
                let per = 1.0 / (high - low);
                let mut u = x.lanes(t_s);
                for (k, row) in u.0.iter_mut().enumerate() {
                    let offset = if k == 0 { *low } else { 0.0 };
                    row.iter_mut().for_each(|x| *x = (*x - offset) * per);
                }
                u.smoothstep()
            }
            Self::Decibels(x) => x.lanes(t_s).exponential(NEPER_PER_DECIBEL),
            Self::Exponential(x) => x.lanes(t_s).exponential(1.0),
        }
    }

    /// An interval that holds every value over `from_s..=to_s` (may be wider than needed, never narrower);
    /// infinite where a divisor can reach zero.
    pub fn range(&self, from_s: f64, to_s: f64) -> (f64, f64) {
        let (range, _) = self.bounds(from_s, to_s);
        (range.low, range.high)
    }

    /// Bounds over `from_s..=to_s`; infinite where a divisor can reach zero.
    pub fn majorant(&self, from_s: f64, to_s: f64) -> Majorant {
        self.bounds(from_s, to_s).1
    }

    /// How many operations and operands it has, shared parts counted as often as they stand in it; `at_most` when
    /// there are that many or more (the count stops there, so asking is cheap).
    pub fn size(&self, at_most: usize) -> usize {
        if at_most <= 1 {
            return at_most;
        }
        match self {
            Self::Constant(_) | Self::Ramp { .. } => 1,
            Self::Sum(a, b) | Self::Product(a, b) | Self::Quotient(a, b) => {
                let first = 1 + a.size(at_most - 1);
                first + b.size(at_most - first)
            }
            Self::Power(x, _) | Self::Ease { x, .. } | Self::Decibels(x) | Self::Exponential(x) => {
                1 + x.size(at_most - 1)
            }
        }
    }
}

/// The product of two coefficient lists; `None` above the largest degree.
fn multiply(a: &[f64], b: &[f64]) -> Option<Vec<f64>> {
    let count = (a.len() + b.len()).checked_sub(1).filter(|count| *count <= DEGREE + 1)?;
    let mut out = vec![0.0; count];
    for (i, x) in a.iter().enumerate() {
        for (sum, y) in out.iter_mut().skip(i).zip(b) {
            *sum += x * y;
        }
    }
    Some(out)
}

#[cfg(test)]
mod tests;
