//! The arithmetic of a value and its first three time derivatives, on one sample or on several side by side.

use crate::rig::lanes::Lane;
use std::ops::{Add, Mul, Sub};

/// Value, first, second and third time derivative.
#[derive(Debug, Clone, Copy)]
pub(super) struct Timed<T>(pub(super) [T; 4]);

impl<T: Lane> Timed<T> {
    /// Does not move.
    #[inline(always)]
    pub(super) fn constant(value: f64) -> Self {
        let zero = T::splat(0.0);
        Self([T::splat(value), zero, zero, zero])
    }

    /// The square root s of u: from s^2 = u, 2 s s' = u', 2 (s s'' + s'^2) = u'', 2 (s s''' + 3 s' s'') = u'''.
    #[inline(always)]
    pub(super) fn sqrt(self) -> Self {
        let half = T::splat(0.5);
        let [u0, u1, u2, u3] = self.0;
        root(u0.sqrt(), [half * u1, half * u2, half * u3])
    }

    /// Sine and cosine. With s' = c x' and c' = -s x' the second derivatives are c x'' - s x'^2 and so on.
    #[inline(always)]
    pub(super) fn sin_cos(self) -> (Self, Self) {
        let turn = Turn::of(self);
        let zero = T::splat(0.0);
        let one = T::splat(1.0);
        (turn.mix(zero, one), turn.mix(one, zero))
    }
}

/// s with its derivatives from s itself and the derivatives of s^2 / 2.
#[inline(always)]
pub(super) fn root<T: Lane>(s0: T, half: [T; 3]) -> Timed<T> {
    let three = T::splat(3.0);
    let over = s0.recip();
    let s1 = half[0] * over;
    let s2 = (half[1] - s1 * s1) * over;
    let s3 = (half[2] - three * (s1 * s2)) * over;
    Timed([s0, s1, s2, s3])
}

impl<T: Lane> Add for Timed<T> {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        let ([a0, a1, a2, a3], [b0, b1, b2, b3]) = (self.0, other.0);
        Self([a0 + b0, a1 + b1, a2 + b2, a3 + b3])
    }
}

impl<T: Lane> Sub for Timed<T> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        let ([a0, a1, a2, a3], [b0, b1, b2, b3]) = (self.0, other.0);
        Self([a0 - b0, a1 - b1, a2 - b2, a3 - b3])
    }
}

impl<T: Lane> Mul for Timed<T> {
    type Output = Self;
    /// Leibniz's rule.
    #[inline(always)]
    fn mul(self, other: Self) -> Self {
        let ([a0, a1, a2, a3], [b0, b1, b2, b3]) = (self.0, other.0);
        let (two, three) = (T::splat(2.0), T::splat(3.0));
        Self([
            a0 * b0,
            a1 * b0 + a0 * b1,
            a2 * b0 + two * (a1 * b1) + a0 * b2,
            a3 * b0 + three * (a2 * b1 + a1 * b2) + a0 * b3,
        ])
    }
}

/// An angle's sine and cosine with what their derivatives share.
#[derive(Debug, Clone, Copy)]
pub(super) struct Turn<T> {
    sin: T,
    cos: T,
    /// x', x'', x''' - x'^3, x'^2, 3 x' x''.
    rate: T,
    acceleration: T,
    jerk_less_cube: T,
    rate_squared: T,
    three_rate_acceleration: T,
}

impl<T: Lane> Turn<T> {
    #[inline(always)]
    pub(super) fn of(angle: Timed<T>) -> Self {
        let [x0, x1, x2, x3] = angle.0;
        let (sin, cos) = x0.sin_cos();
        let square = x1 * x1;
        Self {
            sin,
            cos,
            rate: x1,
            acceleration: x2,
            jerk_less_cube: x3 - square * x1,
            rate_squared: square,
            three_rate_acceleration: T::splat(3.0) * (x1 * x2),
        }
    }

    /// v = a cos x + b sin x. With d = dv/dx: v' = d x', v'' = d x'' - v x'^2, v''' = d (x''' - x'^3) - 3 v x' x''.
    #[inline(always)]
    pub(super) fn mix(&self, a: T, b: T) -> Timed<T> {
        let v = a * self.cos + b * self.sin;
        let d = b * self.cos - a * self.sin;
        Timed([
            v,
            d * self.rate,
            d * self.acceleration - v * self.rate_squared,
            d * self.jerk_less_cube - v * self.three_rate_acceleration,
        ])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// x = 0.3 + 0.7 t + 0.4 t^2 - 0.5 t^3, and functions of it differentiated by hand at t = 0.
    const X: Timed<f64> = Timed([0.3, 0.7, 0.8, -3.0]);

    fn near(found: Timed<f64>, expected: [f64; 4]) {
        for (k, (found, expected)) in found.0.into_iter().zip(expected).enumerate() {
            assert!((found - expected).abs() < 1e-14, "derivative {k}: {found} and not {expected}");
        }
    }

    #[test]
    fn products_and_roots_undo_each_other() {
        near(X * X, [0.09, 2.0 * 0.3 * 0.7, 2.0 * (0.49 + 0.3 * 0.8), 2.0 * (0.3 * -3.0 + 3.0 * 0.7 * 0.8)]);
        near((X * X).sqrt(), X.0);
        near(X + X - X, X.0);
    }

    #[test]
    fn sine_and_cosine_follow_the_chain_rule() {
        let (s, c) = (libm::sin(0.3), libm::cos(0.3));
        let (sin, cos) = X.sin_cos();
        near(sin, [s, c * 0.7, c * 0.8 - s * 0.49, c * -3.0 - 3.0 * s * 0.7 * 0.8 - c * 0.343]);
        near(cos, [c, -s * 0.7, -s * 0.8 - c * 0.49, s * 3.0 - 3.0 * c * 0.7 * 0.8 + s * 0.343]);
        near(sin * sin + cos * cos, [1.0, 0.0, 0.0, 0.0]);
    }
}
