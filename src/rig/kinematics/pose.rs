//! The platform's pose at one set of coordinates, and how its points move with each coordinate.

use crate::rig::{Axis, Rig, Rotation, geometry::rotation};
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

impl Pose {
    /// The pose at coordinates `q`; a missing coordinate is zero.
    pub(crate) fn at(rig: &Rig, q: &[f64]) -> Self {
        let mut pose = Self {
            translation_r_m: Vector3::zeros(),
            rotation_rp: Matrix3::identity(),
            axes_r: [Vector3::zeros(); MAX_AXES],
            turns: [false; MAX_AXES],
            count: rig.axes.len().min(MAX_AXES),
        };
        for (j, limits) in rig.axes.iter().take(MAX_AXES).enumerate() {
            let value = q.get(j).copied().unwrap_or(0.0);
            let axis: Axis = limits.axis;
            pose.turns[j] = axis.is_rotation();
            if axis.is_rotation() {
                pose.axes_r[j] = pose.rotation_rp * axis.unit();
                pose.rotation_rp *= rotation(axis, value);
            } else {
                pose.axes_r[j] = axis.unit();
                pose.translation_r_m += axis.unit() * value;
            }
        }
        pose
    }

    /// The axis that coordinate `j` turns about or runs along, rig frame.
    pub(crate) fn axis_r(&self, j: usize) -> Vector3<f64> {
        self.axes_r[j]
    }

    /// Whether coordinate `j` is a rotation.
    pub(crate) fn is_turn(&self, j: usize) -> bool {
        self.turns[j]
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
