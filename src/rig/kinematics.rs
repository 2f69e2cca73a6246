//! Platform coordinates to leg coordinates and back, for N legs and any subset of six degrees of freedom.
//!
//! A platform point is x = t + R a with R the rotations in the rig's order from the frame outwards; a screw's length is
//! L = |x - b|, and of a crank the way of its pin takes the place of L (see [`super::crank`]). Translations run along the
//! rig's axes whatever their place in that order.

mod block;
mod bound;
#[cfg(test)]
mod crank_tests;
mod forward;
mod pin;
mod pose;
mod region;
#[cfg(test)]
mod tests;
mod timed;

pub use block::leg_block;
pub use bound::leg_bound;
pub use forward::{FORWARD_TOLERANCE_M, ForwardError, forward};
pub(in crate::rig) use pose::Stance;
pub(crate) use pose::{MAX_AXES, Pose};
pub(crate) use region::anchor_region;

use super::crank::Stand;
use super::{Actuator, Rig};
use crate::signal::Jet;
use nalgebra::{DMatrix, Vector3};
use timed::Timed;

/// From base to anchor, rig frame, m.
pub(crate) fn along_r_m(pose: &Pose, actuator: &Actuator) -> Vector3<f64> {
    pose.point_r_m(actuator.anchor_p_m) - actuator.base_r_m
}

/// Coordinate of one leg, m: a screw's length, the way of a crank's pin.
pub(crate) fn coordinate_m(pose: &Pose, actuator: &Actuator) -> f64 {
    match &actuator.crank {
        None => along_r_m(pose, actuator).norm(),
        Some(part) => part.coordinate_m(&pose.point_r_m(actuator.anchor_p_m)),
    }
}

/// How a leg's coordinate follows its anchor: dL/dx, rig frame.
fn pull_r(pose: &Pose, actuator: &Actuator) -> Vector3<f64> {
    match &actuator.crank {
        None => {
            let along = along_r_m(pose, actuator);
            along / along.norm()
        }
        Some(part) => part.stand(&pose.point_r_m(actuator.anchor_p_m)).pull_r(),
    }
}

/// d L / d q of one leg: dL/dq_j = d . x_j / L; of a crank the rod over its lever in the place of d / L.
pub(crate) fn gradient(pose: &Pose, actuator: &Actuator) -> [f64; MAX_AXES] {
    let unit = pull_r(pose, actuator);
    let mut row = [0.0; MAX_AXES];
    for (j, value) in row.iter_mut().enumerate().take(pose.count) {
        *value = unit.dot(&pose.first(j, actuator.anchor_p_m));
    }
    row
}

/// Coordinates of the legs (screws: lengths; cranks: ways of their pins; m) at platform coordinates `q` (rad, m; the rig's order).
pub fn lengths_m(rig: &Rig, q: &[f64]) -> Vec<f64> {
    let pose = Pose::at(rig, q);
    rig.actuators.iter().map(|actuator| coordinate_m(&pose, actuator)).collect()
}

/// Jacobian: row = leg, column = platform coordinate (m/rad or m/m).
pub fn jacobian(rig: &Rig, q: &[f64]) -> DMatrix<f64> {
    let pose = Pose::at(rig, q);
    let rows: Vec<_> = rig.actuators.iter().map(|actuator| gradient(&pose, actuator)).collect();
    DMatrix::from_fn(rows.len(), pose.count, |i, j| rows[i][j])
}

/// Second derivatives of each leg's length: one symmetric matrix a leg.
///
/// From L^2 = d . d: d2L/dq_i dq_j = (x_i . x_j + d . x_ij - L_i L_j) / L.
pub fn hessians(rig: &Rig, q: &[f64]) -> Vec<DMatrix<f64>> {
    let pose = Pose::at(rig, q);
    let hessian = |actuator: &Actuator| {
        let (along, anchor) = (along_r_m(&pose, actuator), actuator.anchor_p_m);
        let (length, slope) = (along.norm(), gradient(&pose, actuator));
        let stand = actuator.crank.map(|part| part.stand(&pose.point_r_m(anchor)));
        DMatrix::from_fn(pose.count, pose.count, |i, j| {
            let (first_i, first_j) = (pose.first(i, anchor), pose.first(j, anchor));
            if let Some(stand) = &stand {
                return stand.second((&first_i, &first_j), &pose.second(i, j, anchor), (slope[i], slope[j]));
            }
            (first_i.dot(&first_j) + along.dot(&pose.second(i, j, anchor)) - slope[i] * slope[j]) / length
        })
    };
    rig.actuators.iter().map(hessian).collect()
}

/// Leg coordinates with time derivatives for platform coordinates with time derivatives. No allocation.
///
/// Exact: the arithmetic of jets, no differences. A leg that the rig has not stays at zero.
pub fn leg_jet(rig: &Rig, leg: usize, q: &[Jet]) -> Jet {
    let Some(actuator) = rig.actuators.get(leg) else { return Jet::default() };
    let coordinate = |j: usize| Timed(q.get(j).copied().unwrap_or_default().0);
    Jet(match &actuator.crank {
        None => block::leg(rig, actuator, coordinate).0,
        Some(part) => pin::Pin::new(part).coordinate(block::anchor(rig, actuator, coordinate)).0,
    })
}

/// How far a leg's two end joints have swung since level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Swing {
    /// At the base, in the rig frame, rad; of a crank that of the rod at its pin, against the arm.
    pub base_rad: f64,
    /// At the anchor, in the platform frame, rad.
    pub anchor_rad: f64,
}

/// How far each leg's end joints have swung from level at coordinates `q`: what a rod end must allow.
pub fn swings(rig: &Rig, q: &[f64]) -> Vec<Swing> {
    let (level, pose) = (Pose::at(rig, &[]), Pose::at(rig, q));
    rig.actuators.iter().map(|actuator| swing(actuator, &level, &pose)).collect()
}

/// The same for one leg, from poses at hand.
pub(crate) fn swing(actuator: &Actuator, level: &Pose, pose: &Pose) -> Swing {
    // By atan2, which keeps its digits at small angles where acos loses half of them.
    let between = |a: Vector3<f64>, b: Vector3<f64>| libm::atan2(a.cross(&b).norm(), a.dot(&b));
    if let Some(part) = &actuator.crank {
        let [before, now] = [level, pose].map(|pose| part.stand(&pose.point_r_m(actuator.anchor_p_m)));
        // As the arm sees it: along itself, along its way, along the shaft.
        let seen = |stand: &Stand| {
            let (rod, axis) = (stand.rod_r_m, part.crank.axis_r);
            Vector3::new(rod.dot(&stand.arm_r), rod.dot(&stand.way_r), rod.dot(&axis))
        };
        return Swing {
            base_rad: between(seen(&before), seen(&now)),
            anchor_rad: between(before.rod_r_m, pose.rotation_rp.transpose() * now.rod_r_m),
        };
    }
    let (before, now) = (along_r_m(level, actuator), along_r_m(pose, actuator));
    Swing { base_rad: between(before, now), anchor_rad: between(before, pose.rotation_rp.transpose() * now) }
}
