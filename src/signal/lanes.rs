//! Jets of several instants side by side, so that loops over them vectorise.

use super::smoothstep::edge;

/// How many instants a fast loop takes at once.
pub(super) const WIDTH: usize = 8;

/// Value and first three derivatives of `N` instants.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lanes<const N: usize>(pub(super) [[f64; N]; 4]);

impl<const N: usize> Lanes<N> {
    /// A constant.
    pub(super) fn constant(value: f64) -> Self {
        Self([[value; N], [0.0; N], [0.0; N], [0.0; N]])
    }

    /// The jet of lane `l`; `l` below `N`.
    #[inline(always)]
    fn get(&self, l: usize) -> [f64; 4] {
        [self.0[0][l], self.0[1][l], self.0[2][l], self.0[3][l]]
    }

    /// Every lane from its own jet.
    #[inline(always)]
    fn map(&self, other: &Self, f: impl Fn([f64; 4], [f64; 4]) -> [f64; 4]) -> Self {
        let mut out = Self([[0.0; N]; 4]);
        for l in 0..N {
            let jet = f(self.get(l), other.get(l));
            out.0[0][l] = jet[0];
            out.0[1][l] = jet[1];
            out.0[2][l] = jet[2];
            out.0[3][l] = jet[3];
        }
        out
    }

    pub(super) fn sum(&self, other: &Self) -> Self {
        self.map(other, |a, b| [a[0] + b[0], a[1] + b[1], a[2] + b[2], a[3] + b[3]])
    }

    pub(super) fn product(&self, other: &Self) -> Self {
        self.map(other, product)
    }

    pub(super) fn quotient(&self, other: &Self) -> Self {
        self.map(other, quotient)
    }

    /// `self ^ n`, by squaring; for negative `n` the reciprocal.
    pub(super) fn power(&self, n: i32) -> Self {
        let mut left = n.unsigned_abs();
        let mut base = *self;
        let mut out = Self::constant(1.0);
        while left > 0 {
            if left & 1 == 1 {
                out = out.product(&base);
            }
            left >>= 1;
            if left > 0 {
                base = base.product(&base);
            }
        }
        if n < 0 { Self::constant(1.0).quotient(&out) } else { out }
    }

    /// S of every lane.
    pub(super) fn smoothstep(&self) -> Self {
        self.map(self, |u, _| compose(edge(u[0]), u))
    }

    /// e^(`scale` x) of every lane.
    pub(super) fn exponential(&self, scale: f64) -> Self {
        self.map(self, |x, _| {
            let f = libm::exp(scale * x[0]);
            compose([f, scale * f, scale * scale * f, scale * scale * scale * f], x)
        })
    }
}

/// The jet of `a b` (Leibniz).
#[inline(always)]
pub(super) fn product(a: [f64; 4], b: [f64; 4]) -> [f64; 4] {
    [
        a[0] * b[0],
        a[1] * b[0] + a[0] * b[1],
        a[2] * b[0] + 2.0 * (a[1] * b[1]) + a[0] * b[2],
        a[3] * b[0] + 3.0 * (a[2] * b[1] + a[1] * b[2]) + a[0] * b[3],
    ]
}

/// The jet of `a / b`: Leibniz for `q b = a`, solved for `q`.
#[inline(always)]
pub(super) fn quotient(a: [f64; 4], b: [f64; 4]) -> [f64; 4] {
    let q0 = a[0] / b[0];
    let q1 = (a[1] - q0 * b[1]) / b[0];
    let q2 = (a[2] - 2.0 * (q1 * b[1]) - q0 * b[2]) / b[0];
    let q3 = (a[3] - 3.0 * (q2 * b[1] + q1 * b[2]) - q0 * b[3]) / b[0];
    [q0, q1, q2, q3]
}

/// The jet of f(x(t)) from f and its derivatives at x (Faa di Bruno). The derivatives of f come first in each product, so
/// that a flat f stays flat where a power of x' overflows.
#[inline(always)]
pub(super) fn compose(f: [f64; 4], x: [f64; 4]) -> [f64; 4] {
    [
        f[0],
        f[1] * x[1],
        f[2] * x[1] * x[1] + f[1] * x[2],
        f[3] * x[1] * x[1] * x[1] + 3.0 * (f[2] * x[1] * x[2]) + f[1] * x[3],
    ]
}
