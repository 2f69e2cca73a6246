//! Vectors and matrices of three rows whose numbers are one sample or several side by side.

use super::Lane;
use nalgebra::{Matrix3, Vector3};
use std::ops::Add;

/// x, y and z.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::rig) struct Vector<T>(pub(in crate::rig) [T; 3]);

impl<T: Lane> Vector<T> {
    /// The same vector for every sample.
    #[inline(always)]
    pub(in crate::rig) fn splat(vector: &Vector3<f64>) -> Self {
        Self([T::splat(vector.x), T::splat(vector.y), T::splat(vector.z)])
    }

    #[inline(always)]
    pub(in crate::rig) fn zero() -> Self {
        Self([T::splat(0.0); 3])
    }

    #[inline(always)]
    pub(in crate::rig) fn times(self, by: T) -> Self {
        let [x, y, z] = self.0;
        Self([x * by, y * by, z * by])
    }

    #[inline(always)]
    pub(in crate::rig) fn dot(&self, other: &Self) -> T {
        let ([x, y, z], [u, v, w]) = (self.0, other.0);
        x * u + y * v + z * w
    }

    #[inline(always)]
    pub(in crate::rig) fn cross(&self, other: &Self) -> Self {
        let ([x, y, z], [u, v, w]) = (self.0, other.0);
        Self([y * w - z * v, z * u - x * w, x * v - y * u])
    }

    /// The vector of one sample.
    #[inline(always)]
    pub(in crate::rig) fn lane(&self, at: usize) -> Vector3<f64> {
        let [x, y, z] = &self.0;
        Vector3::new(x.lane(at), y.lane(at), z.lane(at))
    }
}

impl<T: Lane> Add for Vector<T> {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        let ([x, y, z], [u, v, w]) = (self.0, other.0);
        Self([x + u, y + v, z + w])
    }
}

/// A matrix by its columns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::rig) struct Columns<T>(pub(in crate::rig) [Vector<T>; 3]);

impl<T: Lane> Columns<T> {
    /// The same matrix for every sample.
    #[inline(always)]
    pub(in crate::rig) fn splat(matrix: &Matrix3<f64>) -> Self {
        let column = |c: usize| Vector::splat(&Vector3::new(matrix[(0, c)], matrix[(1, c)], matrix[(2, c)]));
        Self([column(0), column(1), column(2)])
    }

    /// The matrix times a vector.
    #[inline(always)]
    pub(in crate::rig) fn times(&self, vector: &Vector<T>) -> Vector<T> {
        let ([a, b, c], [x, y, z]) = (&self.0, vector.0);
        a.times(x) + b.times(y) + c.times(z)
    }

    /// The transposed matrix times a vector: of a rotation the way back.
    #[inline(always)]
    pub(in crate::rig) fn back(&self, vector: &Vector<T>) -> Vector<T> {
        let [a, b, c] = &self.0;
        Vector([a.dot(vector), b.dot(vector), c.dot(vector)])
    }

    /// The matrix of one sample.
    #[inline(always)]
    pub(in crate::rig) fn lane(&self, at: usize) -> Matrix3<f64> {
        let [a, b, c] = &self.0;
        Matrix3::from_columns(&[a.lane(at), b.lane(at), c.lane(at)])
    }
}

#[cfg(test)]
mod tests {
    use super::super::{LANES, Lanes};
    use super::*;
    use proptest::prelude::*;
    use std::array::from_fn;

    proptest! {
        /// In every lane what nalgebra makes of that sample.
        #[test]
        fn each_lane_is_what_nalgebra_says(v in prop::collection::vec(-2.0..2.0_f64, 15 * LANES)) {
            let vector = |first: usize| Vector([0, 1, 2].map(|c| Lanes(from_fn(|k| v[(first + c) * LANES + k]))));
            let (a, b, m) = (vector(0), vector(3), Columns([vector(6), vector(9), vector(12)]));
            for k in 0..LANES {
                let (p, q, n) = (a.lane(k), b.lane(k), m.lane(k));
                prop_assert!((a.dot(&b).lane(k) - p.dot(&q)).abs() < 1e-14);
                prop_assert!((a.cross(&b).lane(k) - p.cross(&q)).norm() < 1e-14);
                prop_assert!(((a + b.times(a.0[0])).lane(k) - (p + q * p.x)).norm() < 1e-14);
                prop_assert!((m.times(&a).lane(k) - n * p).norm() < 1e-14);
                prop_assert!((m.back(&a).lane(k) - n.transpose() * p).norm() < 1e-14);
                prop_assert_eq!(Columns::<Lanes>::splat(&n).lane(k), n);
            }
        }
    }
}
