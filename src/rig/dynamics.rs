//! What the legs must push: virtual work with gravity and one rigid payload. What slides and turns in the legs themselves
//! does not count here.

use super::kinematics::{MAX_AXES, Pose, gradient};
use super::square::Factors;
use super::{Payload, Rig};
use crate::units::STANDARD_GRAVITY_M_S2;
use nalgebra::Vector3;
use std::array::from_fn;

/// Most legs that a rig may have: twice the freedoms of a rigid body.
pub const MAX_LEGS: usize = 12;

/// One number for each platform coordinate.
pub(super) type Coordinates = [f64; MAX_AXES];
/// One number for each leg.
pub(super) type Legs = [f64; MAX_LEGS];

/// The first entries of a slice; missing ones are zero.
pub(super) fn coordinates(values: &[f64]) -> Coordinates {
    let mut all = [0.0; MAX_AXES];
    all.iter_mut().zip(values).for_each(|(slot, value)| *slot = *value);
    all
}

/// How strongly gravity pulls, m/s^2: standard gravity, or none for the forces of motion alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Gravity {
    /// Standard gravity along +z.
    On,
    /// None.
    Off,
}

/// Generalised forces (N m or N, one a coordinate) that the legs must make together for `rate` and `acceleration`.
///
/// Newton and Euler about the centre of mass, projected: tau_j = m (a_c - g) . dx_c/dq_j + (I w' + w x I w) . w_j.
/// Source: virtual work, any text on rigid bodies (from memory); held against MuJoCo in tests/kinematics_peers.rs.
pub(super) fn generalised(
    payload: &Payload,
    pose: &Pose,
    rate: &Coordinates,
    acceleration: &Coordinates,
    gravity: Gravity,
) -> Coordinates {
    let centre = payload.centre_p_m;
    let mut turn = Vector3::zeros();
    let mut turn_up = pose.turning(rate);
    let mut force = pose.curving(rate, centre);
    for j in 0..pose.count {
        turn += pose.turn_r(j) * rate[j];
        turn_up += pose.turn_r(j) * acceleration[j];
        force += pose.first(j, centre) * acceleration[j];
    }
    if gravity == Gravity::On {
        force.z -= STANDARD_GRAVITY_M_S2;
    }
    let force = force * payload.mass_kg;
    let inertia_r = pose.rotation_rp * payload.inertia_kg_m2 * pose.rotation_rp.transpose();
    let moment = inertia_r * turn_up + turn.cross(&(inertia_r * turn));
    let mut tau = [0.0; MAX_AXES];
    for (j, tau) in tau.iter_mut().enumerate().take(pose.count) {
        *tau = force.dot(&pose.first(j, centre)) + moment.dot(&pose.turn_r(j));
    }
    tau
}

/// Leg gradients at one pose: how each leg's length changes with each coordinate.
#[derive(Debug, Clone, Copy)]
pub(super) struct Gradients {
    rows: [Coordinates; MAX_LEGS],
    legs: usize,
    axes: usize,
}

impl Gradients {
    /// At a pose; `None` when there are more legs than [`MAX_LEGS`].
    pub(super) fn at(rig: &Rig, pose: &Pose) -> Option<Self> {
        if rig.actuators.len() > MAX_LEGS {
            return None;
        }
        let mut rows = [[0.0; MAX_AXES]; MAX_LEGS];
        for (row, actuator) in rows.iter_mut().zip(&rig.actuators) {
            *row = gradient(pose, actuator);
        }
        Some(Self { rows, legs: rig.actuators.len(), axes: pose.count })
    }

    /// Leg rates for coordinate rates.
    pub(super) fn legs(&self, rate: &Coordinates) -> Legs {
        let mut out = [0.0; MAX_LEGS];
        for (out, row) in out.iter_mut().zip(&self.rows).take(self.legs) {
            // Never -0, whose sign would be that of a direction.
            *out = 0.0 + row.iter().zip(rate).take(self.axes).map(|(a, b)| a * b).sum::<f64>();
        }
        out
    }

    /// Coordinate rates for leg rates; `None` at a singular pose or where there are not as many legs as coordinates.
    pub(super) fn coordinates(&self, legs: &Coordinates) -> Option<Coordinates> {
        let mut square = [[0.0; MAX_AXES]; MAX_AXES];
        square.iter_mut().zip(&self.rows).take(self.axes).for_each(|(line, row)| *line = *row);
        (self.legs == self.axes).then(|| solve(&square, legs, self.axes)).flatten()
    }

    /// Leg forces (N, + pushes the ends apart) that make the generalised forces `tau`: J^T F = tau, and of all such F
    /// the smallest when there are more legs than coordinates. `None` where the legs cannot make them.
    pub(super) fn forces(&self, tau: &Coordinates) -> Option<Legs> {
        let n = self.axes;
        let mut out = [0.0; MAX_LEGS];
        if self.legs == n {
            let mut transposed = [[0.0; MAX_AXES]; MAX_AXES];
            for (j, row) in transposed.iter_mut().enumerate().take(n) {
                for (i, value) in row.iter_mut().enumerate().take(n) {
                    *value = self.rows[i][j];
                }
            }
            let solved = solve(&transposed, tau, n)?;
            out[..n].copy_from_slice(&solved[..n]);
        } else {
            let mut square = [[0.0; MAX_AXES]; MAX_AXES];
            for row in self.rows.iter().take(self.legs) {
                for (i, line) in square.iter_mut().enumerate().take(n) {
                    for (j, value) in line.iter_mut().enumerate().take(n) {
                        *value += row[i] * row[j];
                    }
                }
            }
            out = self.legs(&solve(&square, tau, n)?);
        }
        Some(out)
    }
}

/// x of the first `n` rows and columns of A x = b; `None` when they are singular to working precision.
fn solve(a: &[Coordinates; MAX_AXES], b: &Coordinates, n: usize) -> Option<Coordinates> {
    match n {
        1 => solve_of::<1>(a, b),
        2 => solve_of::<2>(a, b),
        3 => solve_of::<3>(a, b),
        4 => solve_of::<4>(a, b),
        5 => solve_of::<5>(a, b),
        MAX_AXES => solve_of::<MAX_AXES>(a, b),
        _ => None,
    }
}

fn solve_of<const N: usize>(a: &[Coordinates; MAX_AXES], b: &Coordinates) -> Option<Coordinates> {
    let factors = Factors::<N>::of(from_fn(|i| from_fn(|j| a[i][j])))?;
    Some(coordinates(&factors.solve(&from_fn(|i| [b[i], 0.0])).map(|[x, _]| x)))
}

/// Leg forces (N, + pushes the ends apart) that move the payload with `rate` and `acceleration` at coordinates `q`
/// (rig's order; rad or m) against gravity. `None` at a singular pose.
pub fn legs_n(rig: &Rig, q: &[f64], rate: &[f64], acceleration: &[f64]) -> Option<Vec<f64>> {
    let pose = Pose::at(rig, q);
    let tau = generalised(&rig.payload, &pose, &coordinates(rate), &coordinates(acceleration), Gravity::On);
    let forces = Gradients::at(rig, &pose)?.forces(&tau)?;
    Some(forces.into_iter().take(rig.actuators.len()).collect())
}

/// Leg forces (N, + pushes the ends apart) that hold the payload still at coordinates `q`. `None` at a singular pose.
pub fn gravity_legs_n(rig: &Rig, q: &[f64]) -> Option<Vec<f64>> {
    legs_n(rig, q, &[], &[])
}
