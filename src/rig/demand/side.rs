//! One vector a leg, side by side: all x, all y, all z, so that a processor can take several legs at a time.

use crate::rig::Rotation;
use crate::rig::kinematics::MAX_AXES;
use nalgebra::Vector3;
use std::array::from_fn;

/// One row an axis, one entry a leg.
pub(super) type Rows = [[f64; MAX_AXES]; 3];

/// `N` vectors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Side<const N: usize>(pub(super) [[f64; N]; 3]);

impl<const N: usize> Side<N> {
    /// A rotation times each.
    #[inline(always)]
    pub(super) fn turned(rotation: &Rotation, rows: &Rows) -> Self {
        let r = |c: usize, k: usize| rotation[(c, k)];
        Self(from_fn(|c| from_fn(|i| r(c, 0) * rows[0][i] + r(c, 1) * rows[1][i] + r(c, 2) * rows[2][i])))
    }

    /// Each number changed, by its axis and its leg.
    #[inline(always)]
    pub(super) fn with(&self, change: impl Fn(usize, usize, f64) -> f64) -> Self {
        Self(from_fn(|c| from_fn(|i| change(c, i, self.0[c][i]))))
    }

    /// Each times its neighbour.
    #[inline(always)]
    pub(super) fn dot(&self, other: &Self) -> [f64; N] {
        let [[x, y, z], [u, v, w]] = [&self.0, &other.0];
        from_fn(|i| x[i] * u[i] + y[i] * v[i] + z[i] * w[i])
    }

    /// Each times one vector.
    #[inline(always)]
    pub(super) fn along(&self, axis: &Vector3<f64>) -> [f64; N] {
        let [x, y, z] = &self.0;
        from_fn(|i| axis.x * x[i] + axis.y * y[i] + axis.z * z[i])
    }

    /// Each crossed with its neighbour.
    #[inline(always)]
    pub(super) fn cross(&self, other: &Self) -> Self {
        let [[x, y, z], [u, v, w]] = [&self.0, &other.0];
        Self([
            from_fn(|i| y[i] * w[i] - z[i] * v[i]),
            from_fn(|i| z[i] * u[i] - x[i] * w[i]),
            from_fn(|i| x[i] * v[i] - y[i] * u[i]),
        ])
    }

    /// One vector crossed with each.
    #[inline(always)]
    pub(super) fn swung(&self, turn: &Vector3<f64>) -> Self {
        let [x, y, z] = &self.0;
        Self([
            from_fn(|i| turn.y * z[i] - turn.z * y[i]),
            from_fn(|i| turn.z * x[i] - turn.x * z[i]),
            from_fn(|i| turn.x * y[i] - turn.y * x[i]),
        ])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::{Axis, geometry::rotation};
    use proptest::prelude::*;

    fn one<const N: usize>(side: &Side<N>, i: usize) -> Vector3<f64> {
        Vector3::new(side.0[0][i], side.0[1][i], side.0[2][i])
    }

    proptest! {
        /// Each leg's part is what nalgebra makes of that leg alone.
        #[test]
        fn each_is_what_it_is_alone(v in prop::collection::vec(-2.0..2.0_f64, 27)) {
            let rows: Rows = from_fn(|c| from_fn(|i| v[6 * c + i]));
            let (turn, r) = (Vector3::new(v[18], v[19], v[20]), rotation(Axis::Yaw, v[21]) * rotation(Axis::Roll, v[22]));
            let plain = Side::<3>::turned(&Rotation::identity(), &rows);
            let turned = Side::<3>::turned(&r, &rows);
            let crossed = plain.cross(&turned);
            let (swung, dot, along) = (plain.swung(&turn), plain.dot(&turned), plain.along(&turn));
            let moved = plain.with(|c, i, value| value + c as f64 + 10.0 * i as f64);
            for i in 0..3 {
                let (p, t) = (one(&plain, i), one(&turned, i));
                prop_assert!((t - r * p).norm() < 1e-14);
                prop_assert!((one(&crossed, i) - p.cross(&t)).norm() < 1e-14);
                prop_assert!((one(&swung, i) - turn.cross(&p)).norm() < 1e-14);
                prop_assert!((dot[i] - p.dot(&t)).abs() < 1e-14 && (along[i] - p.dot(&turn)).abs() < 1e-14);
                let wanted = p + Vector3::new(0.0, 1.0, 2.0).add_scalar(10.0 * i as f64);
                prop_assert!((one(&moved, i) - wanted).norm() < 1e-13);
            }
        }
    }
}
