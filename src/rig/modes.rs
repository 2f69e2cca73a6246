//! Natural frequencies and twist of a rig on its springs: a small modal model, *model only*.
//!
//! The payload is rigid. It stands on the legs, each a spring along its line, and on the joint, a spring about or along
//! any axis. An axis that the rig does not drive (yaw of a universal joint) moves as soon as the joint has a spring
//! there; without one it is rigid. K = J^T k J + K_joint + curvature of gravity's potential - sum F_i H_i, where F_i is
//! the force in leg i and H_i the second derivative of its length; M is the payload's. Source: small vibrations about
//! equilibrium, any text on mechanics (from memory). Masses of legs and rotors do not count.
//!
//! The bench procedure that measures it: tap the platform and read the frequency off an accelerometer, for each load.

mod band;
mod springs;
#[cfg(test)]
mod tests;

pub use band::{Band, bands};
pub use springs::{JointSpring, LegSpring, Side, Springs, Stiffness, bar_n_m, in_series_n_m};

use super::dynamics::{Coordinates, Gravity, generalised, gravity_legs_n};
use super::kinematics::{MAX_AXES, Pose, hessians, jacobian};
use super::mechanics::DataError;
use super::{Axis, AxisLimits, Rig};
use crate::units::STANDARD_GRAVITY_M_S2;
use nalgebra::{Cholesky, DMatrix, DVector, SymmetricEigen, Vector3};
use std::f64::consts::PI;

/// Most rounds of the eigenvalue iteration; six coordinates need a few dozen.
const MOST_ROUNDS: usize = 1000;

/// Why there are no modes.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ModesError {
    /// Another number of springs than of legs.
    #[error("{found} leg springs for {legs} legs, expected one for each")]
    LegCount {
        /// How many springs.
        found: usize,
        /// How many legs.
        legs: usize,
    },
    /// Every part of a leg is rigid.
    #[error("leg {leg} has no spring, expected the stiffness of its mount, screw or servo")]
    RigidLeg {
        /// Which, from 1.
        leg: usize,
    },
    /// Impossible data.
    #[error(transparent)]
    Data(#[from] DataError),
    /// The legs cannot hold the payload here.
    #[error("the legs cannot hold the payload at this pose")]
    Singular,
    /// A coordinate without inertia.
    #[error("the payload has no inertia about some axis; check mass and inertia")]
    Massless,
    /// The springs do not hold it up.
    #[error("the springs do not hold the platform up against gravity at this pose")]
    Falls,
    /// The iteration did not come to an end.
    #[error("the natural frequencies did not come out; check stiffness and inertia for extreme values")]
    NoResult,
}

/// The model at one pose.
#[derive(Debug, Clone, PartialEq)]
pub struct Model {
    /// Coordinates: the rig's axes in their order, then the axes in which only the joint's springs hold.
    pub axes: Vec<Axis>,
    /// N m/rad, N/m and mixed, over those axes.
    pub stiffness: DMatrix<f64>,
    /// kg m^2, kg and mixed.
    pub mass: DMatrix<f64>,
    rig: Rig,
    q: Vec<f64>,
}

/// One natural mode.
#[derive(Debug, Clone, PartialEq)]
pub struct Mode {
    /// Angular frequency squared, rad^2/s^2; negative when the platform falls over this way.
    pub square_rad2_s2: f64,
    /// Movement of each axis of the model (rad, m), scaled to unit modal mass, the largest part positive.
    pub shape: Vec<f64>,
    /// Share of each axis in the mode's kinetic energy; they add up to 1.
    pub shares: Vec<f64>,
}

impl Mode {
    /// Natural frequency, Hz; `None` when it falls over instead of swinging.
    pub fn frequency_hz(&self) -> Option<f64> {
        frequency_hz(self.square_rad2_s2)
    }
}

/// Hz from an angular frequency squared.
fn frequency_hz(square_rad2_s2: f64) -> Option<f64> {
    (square_rad2_s2 >= 0.0).then(|| square_rad2_s2.sqrt() / (2.0 * PI))
}

impl Model {
    /// The model at coordinates `q` (rig's order; rad or m) with springs on the given side of their uncertainty.
    ///
    /// # Errors
    /// When springs do not fit the rig or the legs cannot hold the payload here.
    pub fn at(rig: &Rig, q: &[f64], springs: &Springs, side: Side) -> Result<Self, ModesError> {
        springs.check(rig.actuators.len())?;
        let held_n = gravity_legs_n(rig, q).ok_or(ModesError::Singular)?;
        let mut rig = rig.clone();
        let driven = rig.axes.len().min(MAX_AXES);
        let place =
            rig.axes.first().map_or(crate::diag::Span::new(crate::diag::SourceId(0), 0, 0), |axis| axis.span);
        for spring in &springs.joint {
            if rig.axes.iter().all(|limits| limits.axis != spring.axis) {
                rig.axes.push(AxisLimits { axis: spring.axis, min: 0.0, max: 0.0, span: place });
            }
        }
        // What is added stays at zero: a missing coordinate counts as that.
        let q: Vec<f64> = q.iter().copied().take(driven).collect();
        let axes: Vec<Axis> = rig.axes.iter().map(|limits| limits.axis).collect();
        let pose = Pose::at(&rig, &q);
        let jacobian = jacobian(&rig, &q);
        let mut stiffness = DMatrix::zeros(axes.len(), axes.len());
        for ((leg, spring), (hessian, force_n)) in
            springs.legs.iter().enumerate().zip(hessians(&rig, &q).iter().zip(held_n))
        {
            let row = jacobian.row(leg);
            let k = spring.along_n_m(side).ok_or(ModesError::RigidLeg { leg: leg + 1 })?;
            stiffness += row.transpose() * row * k - hessian * force_n;
        }
        let weight_n = rig.payload.mass_kg * STANDARD_GRAVITY_M_S2;
        for i in 0..axes.len() {
            for j in 0..axes.len() {
                // The potential is -weight z of the centre, z being down.
                stiffness[(i, j)] -= weight_n * pose.second(i, j, rig.payload.centre_p_m).z;
            }
        }
        for spring in &springs.joint {
            if let Some(at) = axes.iter().position(|axis| *axis == spring.axis) {
                stiffness[(at, at)] += spring.stiffness.on(side);
            }
        }
        let mass = mass(&rig, &pose);
        Ok(Self { axes, stiffness, mass, rig, q })
    }

    /// Its modes, the lowest first.
    ///
    /// K x = w^2 M x by the symmetric eigenproblem of L^-1 K L^-T with M = L L^T.
    ///
    /// # Errors
    /// When the payload has no inertia, or the iteration fails.
    pub fn modes(&self) -> Result<Vec<Mode>, ModesError> {
        let lower = Cholesky::new(self.mass.clone()).ok_or(ModesError::Massless)?.l();
        let half = lower.solve_lower_triangular(&self.stiffness).ok_or(ModesError::Massless)?;
        let whole = lower.solve_lower_triangular(&half.transpose()).ok_or(ModesError::Massless)?;
        let even = (&whole + whole.transpose()) * 0.5;
        let eigen = SymmetricEigen::try_new(even, f64::EPSILON, MOST_ROUNDS).ok_or(ModesError::NoResult)?;
        let upper = lower.transpose();
        let mut modes = Vec::with_capacity(self.axes.len());
        for (k, square) in eigen.eigenvalues.iter().enumerate() {
            let column: DVector<f64> = eigen.eigenvectors.column(k).into_owned();
            let mut shape = upper.solve_upper_triangular(&column).ok_or(ModesError::Massless)?;
            if shape[shape.iamax()] < 0.0 {
                shape.neg_mut();
            }
            if !square.is_finite() || shape.iter().any(|value| !value.is_finite()) {
                return Err(ModesError::NoResult);
            }
            let moved = &self.mass * &shape;
            let shares = shape.iter().zip(moved.iter()).map(|(x, p)| x * p).collect();
            modes.push(Mode { square_rad2_s2: *square, shape: shape.iter().copied().collect(), shares });
        }
        modes.sort_by(|a, b| a.square_rad2_s2.total_cmp(&b.square_rad2_s2));
        Ok(modes)
    }

    /// How far a force on a platform point (N, rig frame; m, platform frame) moves each axis of the model (rad, m).
    ///
    /// # Errors
    /// When the springs do not hold the platform up.
    pub fn twist(&self, force_r_n: Vector3<f64>, point_p_m: Vector3<f64>) -> Result<Vec<f64>, ModesError> {
        let pose = Pose::at(&self.rig, &self.q);
        let load = DVector::from_fn(self.axes.len(), |j, _| force_r_n.dot(&pose.first(j, point_p_m)));
        let stiffness = Cholesky::new(self.stiffness.clone()).ok_or(ModesError::Falls)?;
        Ok(stiffness.solve(&load).iter().copied().collect())
    }
}

/// The payload's mass matrix at a pose: column j holds the forces that accelerate coordinate j by one.
fn mass(rig: &Rig, pose: &Pose) -> DMatrix<f64> {
    let still: Coordinates = [0.0; MAX_AXES];
    let mut mass = DMatrix::zeros(pose.count, pose.count);
    for j in 0..pose.count {
        let mut unit = still;
        unit[j] = 1.0;
        let forces = generalised(&rig.payload, pose, &still, &unit, Gravity::Off);
        for (i, force) in forces.iter().enumerate().take(pose.count) {
            mass[(i, j)] = *force;
        }
    }
    // Symmetric but for rounding.
    (&mass + mass.transpose()) * 0.5
}
