//! A value with its first three time derivatives.

use super::lanes;
use std::ops::{Add, Mul, Neg, Sub};

/// Value, rate, acceleration and jerk of a quantity at one instant.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Jet(pub [f64; 4]);

impl Jet {
    /// A constant.
    pub const fn constant(value: f64) -> Self {
        Self([value, 0.0, 0.0, 0.0])
    }

    /// `self / divisor`; infinite or not a number where the divisor is zero.
    pub fn quotient(self, divisor: Self) -> Self {
        Self(lanes::quotient(self.0, divisor.0))
    }

    /// f(self), from f and its first three derivatives at the value of `self` (Faa di Bruno).
    pub fn compose(self, outer: [f64; 4]) -> Self {
        Self(lanes::compose(outer, self.0))
    }
}

impl Add for Jet {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self(std::array::from_fn(|k| self.0[k] + other.0[k]))
    }
}

impl Sub for Jet {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        Self(std::array::from_fn(|k| self.0[k] - other.0[k]))
    }
}

impl Neg for Jet {
    type Output = Self;

    fn neg(self) -> Self {
        Self(self.0.map(|x| -x))
    }
}

impl Mul for Jet {
    type Output = Self;

    fn mul(self, other: Self) -> Self {
        Self(lanes::product(self.0, other.0))
    }
}

impl Mul<f64> for Jet {
    type Output = Self;

    fn mul(self, factor: f64) -> Self {
        Self(self.0.map(|x| x * factor))
    }
}

/// Samples in one block. Blocks start at multiples of this, so that ranges rendered apart give the same bytes.
pub const BLOCK: usize = 256;

/// A block of jets: `[value, rate, acceleration, jerk]`, each `BLOCK` samples.
#[derive(Debug, Clone, PartialEq)]
pub struct JetBlock(pub Box<[[f64; BLOCK]; 4]>);

impl JetBlock {
    /// All zero.
    pub fn zero() -> Self {
        Self(Box::new([[0.0; BLOCK]; 4]))
    }

    /// Sets all to zero.
    pub fn clear(&mut self) {
        self.0.iter_mut().for_each(|row| row.fill(0.0));
    }

    /// The jet of sample `k`.
    pub fn at(&self, k: usize) -> Jet {
        Jet([self.0[0][k], self.0[1][k], self.0[2][k], self.0[3][k]])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cubic(c: [f64; 4], t: f64) -> Jet {
        Jet([
            c[0] + t * (c[1] + t * (c[2] + t * c[3])),
            c[1] + t * (2.0 * c[2] + 3.0 * t * c[3]),
            2.0 * c[2] + 6.0 * t * c[3],
            6.0 * c[3],
        ])
    }

    #[test]
    fn the_product_of_two_cubics_is_the_sixth_degree_polynomial() {
        // (1 + t^3)(2 - t + t^2) at t = 2: 2 - t + t^2 + 2t^3 - t^4 + t^5
        let jet = cubic([1.0, 0.0, 0.0, 1.0], 2.0) * cubic([2.0, -1.0, 1.0, 0.0], 2.0);
        assert_eq!(jet.0, [36.0, 75.0, 138.0, 204.0]);
    }

    proptest! {
        #[test]
        fn quotient_undoes_product(a in prop::array::uniform4(-3.0..3.0_f64), b in prop::array::uniform4(-3.0..3.0_f64), big in 1.0..5.0_f64) {
            let divisor = Jet([b[0].signum() * (big + b[0].abs()), b[1], b[2], b[3]]);
            let back = (Jet(a) * divisor).quotient(divisor);
            for k in 0..4 {
                prop_assert!((back.0[k] - a[k]).abs() < 1e-9, "{:?} {:?}", back, a);
            }
        }
    }
}
