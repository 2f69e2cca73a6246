//! Upper bounds of a quantity and its derivatives over a stretch of time.

use std::ops::{Add, Mul};

/// Suprema of |value| and of the first four |derivatives| over a stretch. Sums and products of majorants bound
/// the sums and products of what they bound (Leibniz).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Majorant(pub [f64; 5]);

impl Majorant {
    /// Nothing known: all infinite.
    pub const UNBOUNDED: Self = Self([f64::INFINITY; 5]);

    /// Bounds of a constant.
    pub const fn constant(value: f64) -> Self {
        Self([value.abs(), 0.0, 0.0, 0.0, 0.0])
    }

    /// Bounds of `factor` times the quantity.
    pub fn scaled(self, factor: f64) -> Self {
        if factor == 1.0 { self } else { Self(self.0.map(|x| bound(x * factor.abs()))) }
    }

    /// Bounds of the same quantity as a function of `t` where it was one of `(t - a) / unit`.
    pub fn stretched(self, unit: f64) -> Self {
        let [a, b, c, d, e] = self.0;
        let square = unit * unit;
        Self([a, b / unit, c / square, d / (square * unit), e / (square * square)].map(bound))
    }

    /// Bounds of f(x(t)) from bounds of |f| and its first four |derivatives| over the values that x takes
    /// (Faa di Bruno).
    pub fn compose(self, outer: [f64; 5]) -> Self {
        let [_, x1, x2, x3, x4] = self.0;
        let [f0, f1, f2, f3, f4] = outer;
        let square = x1 * x1;
        Self(
            [
                f0,
                f1 * x1,
                f2 * square + f1 * x2,
                f3 * square * x1 + 3.0 * f2 * x1 * x2 + f1 * x3,
                f4 * square * square
                    + 6.0 * f3 * square * x2
                    + f2 * (4.0 * x1 * x3 + 3.0 * x2 * x2)
                    + f1 * x4,
            ]
            .map(bound),
        )
    }

    /// The larger of two bounds, order by order: what holds over both stretches.
    pub fn larger(self, other: Self) -> Self {
        Self(std::array::from_fn(|k| self.0[k].max(other.0[k])))
    }

    /// A little larger, for the rounding of the numbers that were bounded and of the bounds themselves.
    pub(super) fn widened(self) -> Self {
        Self(self.0.map(|x| x * (1.0 + 1e-12)))
    }
}

/// Zero times infinity says nothing: no bound.
fn bound(x: f64) -> f64 {
    if x.is_nan() { f64::INFINITY } else { x }
}

impl Add for Majorant {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self(std::array::from_fn(|k| self.0[k] + other.0[k]))
    }
}

impl Mul for Majorant {
    type Output = Self;

    fn mul(self, other: Self) -> Self {
        let (a, b) = (self.0, other.0);
        Self(
            [
                a[0] * b[0],
                a[1] * b[0] + a[0] * b[1],
                a[2] * b[0] + 2.0 * a[1] * b[1] + a[0] * b[2],
                a[3] * b[0] + 3.0 * (a[2] * b[1] + a[1] * b[2]) + a[0] * b[3],
                a[4] * b[0] + 4.0 * (a[3] * b[1] + a[1] * b[3]) + 6.0 * a[2] * b[2] + a[0] * b[4],
            ]
            .map(bound),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn products_and_compositions_are_those_of_leibniz_and_faa_di_bruno() {
        // t^2 and t^3 at t = 1 with all signs positive: t^5 has 1, 5, 20, 60, 120.
        let square = Majorant([1.0, 2.0, 2.0, 0.0, 0.0]);
        let cube = Majorant([1.0, 3.0, 6.0, 6.0, 0.0]);
        assert_eq!((square * cube).0, [1.0, 5.0, 20.0, 60.0, 120.0]);
        // (t^2)^3 = t^6: 1, 6, 30, 120, 360
        assert_eq!(square.compose([1.0, 3.0, 6.0, 6.0, 0.0]).0, [1.0, 6.0, 30.0, 120.0, 360.0]);
        assert_eq!((Majorant::UNBOUNDED * Majorant::default()).0[0], f64::INFINITY);
        assert_eq!(square.stretched(2.0).0, [1.0, 1.0, 0.5, 0.0, 0.0]);
    }
}
