//! Values that may vary over scenario time: amplitudes, gains, speeds, frequencies.

use super::{Jet, Majorant};
use std::sync::Arc;

/// An expression in scenario time (absolute seconds from the scene's start). A ramp goes on straight beyond its
/// ends, so every curve is smooth wherever it is used.
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

impl Curve {
    /// The constant that this curve is, if nothing in it varies.
    pub fn constant(&self) -> Option<f64> {
        unimplemented!("H3")
    }

    /// This curve as a polynomial in (t - origin_s), if it is one (of degree at most 8).
    pub fn polynomial(&self, origin_s: f64) -> Option<Polynomial> {
        let _ = origin_s;
        unimplemented!("H3")
    }

    /// Value and derivatives at `t_s`.
    pub fn jet(&self, t_s: f64) -> Jet {
        let _ = t_s;
        unimplemented!("H3")
    }

    /// An interval that holds every value over `from_s..=to_s` (may be wider than needed, never narrower);
    /// infinite where a divisor can reach zero.
    pub fn range(&self, from_s: f64, to_s: f64) -> (f64, f64) {
        let _ = (from_s, to_s);
        unimplemented!("H3")
    }

    /// Bounds over `from_s..=to_s`; infinite where a divisor can reach zero.
    pub fn majorant(&self, from_s: f64, to_s: f64) -> Majorant {
        let _ = (from_s, to_s);
        unimplemented!("H3")
    }
}

/// A polynomial: coefficient k multiplies t^k. Never empty.
#[derive(Debug, Clone, PartialEq)]
pub struct Polynomial(pub Vec<f64>);
