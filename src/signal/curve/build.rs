//! Building curves, with constants folded and straight ramps kept straight.

use super::Curve;
use std::sync::Arc;

impl Curve {
    /// Straight from `from` at `start_s` to `to` at `end_s`, which must be later, and on. A constant when both values
    /// are the same.
    pub fn ramp(from: f64, to: f64, start_s: f64, end_s: f64) -> Self {
        if from == to { Self::Constant(from) } else { Self::Ramp { from, to, start_s, end_s } }
    }

    /// `a + b`
    pub fn sum(a: Self, b: Self) -> Self {
        match (a, b) {
            (Self::Constant(a), Self::Constant(b)) => Self::Constant(a + b),
            (Self::Ramp { from, to, start_s, end_s }, Self::Constant(c))
            | (Self::Constant(c), Self::Ramp { from, to, start_s, end_s }) => {
                Self::ramp(from + c, to + c, start_s, end_s)
            }
            (
                Self::Ramp { from, to, start_s, end_s },
                Self::Ramp { from: from_b, to: to_b, start_s: start_b, end_s: end_b },
            ) if start_s == start_b && end_s == end_b => Self::ramp(from + from_b, to + to_b, start_s, end_s),
            (a, b) => Self::Sum(Arc::new(a), Arc::new(b)),
        }
    }

    /// `a * b`
    pub fn product(a: Self, b: Self) -> Self {
        match (a, b) {
            (Self::Constant(a), Self::Constant(b)) => Self::Constant(a * b),
            (Self::Ramp { from, to, start_s, end_s }, Self::Constant(c))
            | (Self::Constant(c), Self::Ramp { from, to, start_s, end_s }) => {
                Self::ramp(from * c, to * c, start_s, end_s)
            }
            (Self::Constant(1.0), x) | (x, Self::Constant(1.0)) => x,
            (a, b) => Self::Product(Arc::new(a), Arc::new(b)),
        }
    }

    /// `a / b`; a constant zero divisor gives an infinite constant or one that is not a number.
    pub fn quotient(a: Self, b: Self) -> Self {
        match (a, b) {
            (Self::Constant(a), Self::Constant(b)) => Self::Constant(a / b),
            (Self::Ramp { from, to, start_s, end_s }, Self::Constant(c)) => {
                Self::ramp(from / c, to / c, start_s, end_s)
            }
            (x, Self::Constant(1.0)) => x,
            (a, b) => Self::Quotient(Arc::new(a), Arc::new(b)),
        }
    }

    /// `x ^ n`
    pub fn power(x: Self, n: i32) -> Self {
        match n {
            0 => Self::Constant(1.0),
            1 => x,
            _ => Self::folded(Self::Power(Arc::new(x), n)),
        }
    }

    /// S((x - low) / (high - low)); `low` and `high` must differ.
    pub fn ease(x: Self, low: f64, high: f64) -> Self {
        Self::folded(Self::Ease { x: Arc::new(x), low, high })
    }

    /// 10^(x / 20)
    pub fn decibels(x: Self) -> Self {
        Self::folded(Self::Decibels(Arc::new(x)))
    }

    /// e^x
    pub fn exponential(x: Self) -> Self {
        Self::folded(Self::Exponential(Arc::new(x)))
    }

    /// The constant of an operation with one operand, where that is constant.
    fn folded(self) -> Self {
        let operand = match &self {
            Self::Power(x, _) | Self::Ease { x, .. } | Self::Decibels(x) | Self::Exponential(x) => x,
            _ => return self,
        };
        match **operand {
            Self::Constant(_) => Self::Constant(self.jet(0.0).0[0]),
            _ => self,
        }
    }
}
