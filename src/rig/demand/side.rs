//! One vector a leg, side by side: all x, all y, all z, so that a processor can take several legs at a time.

use crate::rig::kinematics::MAX_AXES;
use crate::rig::lanes::{Columns, Lane, Vector};

/// One row an axis, one entry a leg.
pub(super) type Rows = [[f64; MAX_AXES]; 3];

/// `N` vectors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Side<T, const N: usize>(pub(super) [[T; N]; 3]);

impl<T: Lane, const N: usize> Side<T, N> {
    /// Each by its leg. A loop and no closure that returns an array: those are copied about in memory.
    #[inline(always)]
    fn each(vector: impl Fn(usize) -> Vector<T>) -> Self {
        let mut side = Self([[T::splat(0.0); N]; 3]);
        for i in 0..N {
            let Vector([x, y, z]) = vector(i);
            (side.0[0][i], side.0[1][i], side.0[2][i]) = (x, y, z);
        }
        side
    }

    /// A rotation times each.
    #[inline(always)]
    pub(super) fn turned(rotation: &Columns<T>, rows: &Rows) -> Self {
        Self::each(
            #[inline(always)]
            |i| rotation.times(&Vector([T::splat(rows[0][i]), T::splat(rows[1][i]), T::splat(rows[2][i])])),
        )
    }

    /// Each changed, by its leg.
    #[inline(always)]
    pub(super) fn with(&self, change: impl Fn(usize, Vector<T>) -> Vector<T>) -> Self {
        Self::each(
            #[inline(always)]
            |i| change(i, self.one(i)),
        )
    }

    /// Each times its neighbour.
    #[inline(always)]
    pub(super) fn dot(&self, other: &Self) -> [T; N] {
        numbers(
            #[inline(always)]
            |i| self.one(i).dot(&other.one(i)),
        )
    }

    /// Each times one vector.
    #[inline(always)]
    pub(super) fn along(&self, axis: &Vector<T>) -> [T; N] {
        numbers(
            #[inline(always)]
            |i| axis.dot(&self.one(i)),
        )
    }

    /// Each crossed with its neighbour.
    #[inline(always)]
    pub(super) fn cross(&self, other: &Self) -> Self {
        Self::each(
            #[inline(always)]
            |i| self.one(i).cross(&other.one(i)),
        )
    }

    /// One vector crossed with each.
    #[inline(always)]
    pub(super) fn swung(&self, turn: &Vector<T>) -> Self {
        Self::each(
            #[inline(always)]
            |i| turn.cross(&self.one(i)),
        )
    }

    /// The vector of one leg.
    #[inline(always)]
    pub(super) fn one(&self, i: usize) -> Vector<T> {
        Vector([self.0[0][i], self.0[1][i], self.0[2][i]])
    }
}

/// One number a leg.
#[inline(always)]
pub(super) fn numbers<T: Lane, const N: usize>(number: impl Fn(usize) -> T) -> [T; N] {
    let mut numbers = [T::splat(0.0); N];
    for (i, place) in numbers.iter_mut().enumerate() {
        *place = number(i);
    }
    numbers
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::{Axis, geometry::rotation};
    use nalgebra::{Matrix3, Vector3};
    use proptest::prelude::*;
    use std::array::from_fn;

    proptest! {
        /// Each leg's part is what nalgebra makes of that leg alone.
        #[test]
        fn each_is_what_it_is_alone(v in prop::collection::vec(-2.0..2.0_f64, 27)) {
            let rows: Rows = from_fn(|c| from_fn(|i| v[6 * c + i]));
            let (turn, r) = (Vector3::new(v[18], v[19], v[20]), rotation(Axis::Yaw, v[21]) * rotation(Axis::Roll, v[22]));
            let plain = Side::<f64, 3>::turned(&Columns::splat(&Matrix3::identity()), &rows);
            let turned = Side::<f64, 3>::turned(&Columns::splat(&r), &rows);
            let crossed = plain.cross(&turned);
            let (swung, dot, along) = (plain.swung(&Vector::splat(&turn)), plain.dot(&turned), plain.along(&Vector::splat(&turn)));
            let shift = |i: usize| Vector([10.0 * i as f64, 1.0 + 10.0 * i as f64, 2.0 + 10.0 * i as f64]);
            let moved = plain.with(|i, vector| vector + shift(i));
            for i in 0..3 {
                let (p, t) = (plain.one(i).lane(0), turned.one(i).lane(0));
                prop_assert!((t - r * p).norm() < 1e-14);
                prop_assert!((crossed.one(i).lane(0) - p.cross(&t)).norm() < 1e-14);
                prop_assert!((swung.one(i).lane(0) - turn.cross(&p)).norm() < 1e-14);
                prop_assert!((dot[i] - p.dot(&t)).abs() < 1e-14 && (along[i] - p.dot(&turn)).abs() < 1e-14);
                let wanted = p + Vector3::new(0.0, 1.0, 2.0).add_scalar(10.0 * i as f64);
                prop_assert!((moved.one(i).lane(0) - wanted).norm() < 1e-13);
            }
        }
    }
}
