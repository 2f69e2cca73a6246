//! The platform's pose at one set of coordinates, and how its points move with each coordinate.

use crate::rig::lanes::{Columns, Lane, Vector};
use crate::rig::{Rig, Rotation};
use nalgebra::{Matrix3, Vector3};

/// Most coordinates that a pose can have: a rigid body has six.
pub(crate) const MAX_AXES: usize = 6;

/// Where the platform is: x_r = translation + rotation x_p. Translations run along the rig's axes, whatever their
/// place in the order of axes; rotations follow the order from the frame outwards.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pose {
    /// Of the platform's origin, rig frame, m.
    pub(crate) translation_r_m: Vector3<f64>,
    /// From platform to rig axes.
    pub(crate) rotation_rp: Rotation,
    /// For each coordinate: the axis that it turns about or runs along now, rig frame.
    axes_r: [Vector3<f64>; MAX_AXES],
    turns: [bool; MAX_AXES],
    /// How many coordinates are in use.
    pub(crate) count: usize,
}

/// The same of one sample or of several side by side, for sums over whole bodies.
#[derive(Debug, Clone, Copy)]
pub(in crate::rig) struct Stance<T> {
    pub(in crate::rig) translation_r_m: Vector<T>,
    pub(in crate::rig) rotation_rp: Columns<T>,
    /// Those in use: the first `count`.
    pub(in crate::rig) axes_r: [Vector<T>; MAX_AXES],
    pub(in crate::rig) turns: [bool; MAX_AXES],
    count: usize,
}

impl<T: Lane> Stance<T> {
    /// At coordinates `q`; a missing coordinate is zero.
    #[inline(always)]
    pub(in crate::rig) fn at(rig: &Rig, q: &[T]) -> Self {
        let mut stance = Self {
            translation_r_m: Vector::zero(),
            rotation_rp: Columns::splat(&Matrix3::identity()),
            axes_r: [Vector::zero(); MAX_AXES],
            turns: [false; MAX_AXES],
            count: rig.axes.len().min(MAX_AXES),
        };
        for (j, limits) in rig.axes.iter().take(MAX_AXES).enumerate() {
            let value = q.get(j).copied().unwrap_or(T::splat(0.0));
            let about = limits.axis.index();
            stance.turns[j] = limits.axis.is_rotation();
            if limits.axis.is_rotation() {
                stance.axes_r[j] = match about {
                    0 => stance.turn::<0, 1, 2>(value),
                    1 => stance.turn::<1, 2, 0>(value),
                    _ => stance.turn::<2, 0, 1>(value),
                };
            } else {
                stance.axes_r[j] = Vector::splat(&limits.axis.unit());
                let along = &mut stance.translation_r_m.0[about];
                *along = *along + value;
            }
        }
        stance
    }

    /// Turns by `angle` about the platform's own axis `A`, and gives that axis, which stays: the two after it mix.
    #[inline(always)]
    fn turn<const A: usize, const P: usize, const R: usize>(&mut self, angle: T) -> Vector<T> {
        let (sin, cos) = angle.sin_cos();
        let columns = &mut self.rotation_rp.0;
        let (p, r) = (columns[P], columns[R]);
        (columns[P], columns[R]) = (p.times(cos) + r.times(sin), r.times(cos) + p.times(-sin));
        columns[A]
    }

    /// Puts one sample in the place of another pose of this rig.
    #[inline(always)]
    pub(in crate::rig) fn write(&self, lane: usize, out: &mut Pose) {
        out.translation_r_m = self.translation_r_m.lane(lane);
        out.rotation_rp = self.rotation_rp.lane(lane);
        for (axis, from) in out.axes_r.iter_mut().zip(&self.axes_r).take(self.count) {
            *axis = from.lane(lane);
        }
        (out.turns, out.count) = (self.turns, self.count);
    }
}

impl Pose {
    /// The pose at coordinates `q`; a missing coordinate is zero.
    pub(crate) fn at(rig: &Rig, q: &[f64]) -> Self {
        let mut pose = Self {
            translation_r_m: Vector3::zeros(),
            rotation_rp: Matrix3::identity(),
            axes_r: [Vector3::zeros(); MAX_AXES],
            turns: [false; MAX_AXES],
            count: 0,
        };
        Stance::at(rig, q).write(0, &mut pose);
        pose
    }

    /// A platform point in the rig frame, m.
    pub(crate) fn point_r_m(&self, point_p_m: Vector3<f64>) -> Vector3<f64> {
        self.translation_r_m + self.rotation_rp * point_p_m
    }

    /// The axis of coordinate `j` when it is a rotation, zero when it is not: its part of the angular rate.
    pub(crate) fn turn_r(&self, j: usize) -> Vector3<f64> {
        if self.turns[j] { self.axes_r[j] } else { Vector3::zeros() }
    }

    /// d x / d q_j of a platform point, rig frame.
    pub(crate) fn first(&self, j: usize, point_p_m: Vector3<f64>) -> Vector3<f64> {
        if self.turns[j] { self.axes_r[j].cross(&(self.rotation_rp * point_p_m)) } else { self.axes_r[j] }
    }

    /// d^2 x / d q_i d q_j of a platform point, rig frame: the outer axis turns what the inner one makes.
    pub(crate) fn second(&self, i: usize, j: usize, point_p_m: Vector3<f64>) -> Vector3<f64> {
        if !(self.turns[i] && self.turns[j]) {
            return Vector3::zeros();
        }
        let (outer, inner) = (self.axes_r[i.min(j)], self.axes_r[i.max(j)]);
        outer.cross(&inner.cross(&(self.rotation_rp * point_p_m)))
    }

    /// Sum over i, j of v_i v_j d^2 x / d q_i d q_j: the acceleration of a point that constant rates `v` leave.
    pub(crate) fn curving(&self, v: &[f64; MAX_AXES], point_p_m: Vector3<f64>) -> Vector3<f64> {
        let mut sum = Vector3::zeros();
        for i in 0..self.count {
            sum += self.second(i, i, point_p_m) * (v[i] * v[i]);
            for j in i + 1..self.count {
                sum += self.second(i, j, point_p_m) * (2.0 * v[i] * v[j]);
            }
        }
        sum
    }

    /// The angular acceleration that constant rates `v` leave: an outer axis turns the inner ones with it.
    pub(crate) fn turning(&self, v: &[f64; MAX_AXES]) -> Vector3<f64> {
        let mut sum = Vector3::zeros();
        for i in 0..self.count {
            for j in i + 1..self.count {
                sum += self.turn_r(i).cross(&self.turn_r(j)) * (v[i] * v[j]);
            }
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::geometry::rotation;
    use crate::rig::sample::six_legs;
    use proptest::prelude::*;

    proptest! {
        /// The product of the axes' rotations, each about where the ones before have turned it.
        #[test]
        fn rotations_are_multiplied(q in prop::collection::vec(-3.0..3.0_f64, 6)) {
            let rig = six_legs();
            let (mut turned, mut moved) = (Matrix3::identity(), Vector3::zeros());
            let pose = Pose::at(&rig, &q);
            for (j, limits) in rig.axes.iter().enumerate() {
                if limits.axis.is_rotation() {
                    prop_assert!((pose.axes_r[j] - turned * limits.axis.unit()).norm() < 1e-14);
                    turned *= rotation(limits.axis, q[j]);
                } else {
                    moved += limits.axis.unit() * q[j];
                }
            }
            prop_assert!((pose.rotation_rp - turned).norm() < 1e-14);
            prop_assert_eq!(pose.translation_r_m, moved);
            // What stood there before leaves nothing.
            let mut other = Pose::at(&rig, &[0.3; 6]);
            Stance::at(&rig, &q).write(0, &mut other);
            prop_assert_eq!(other.rotation_rp, pose.rotation_rp);
            prop_assert_eq!(other.axes_r, pose.axes_r);
        }
    }
}
