//! The numbers of one instant.

use crate::rig::Rig;
use crate::rig::kinematics::{MAX_AXES, Pose};
use crate::rig::square::Factors;
use std::array::from_fn;

/// What a leg does.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LegNow {
    /// Its coordinate: of a crank the way of its pin, m.
    pub length_m: f64,
    /// + gets longer, m/s.
    pub speed_m_s: f64,
    /// m/s^2.
    pub acceleration_m_s2: f64,
    /// Gravity along the leg, + towards longer, m/s^2.
    pub gravity_m_s2: f64,
}

/// One instant under every load case.
#[derive(Debug, Clone)]
pub struct Moment {
    /// Where the platform is.
    pub(crate) pose: Pose,
    /// Coordinates, their rates and their accelerations: what it was worked out for.
    pub(crate) state: [[f64; MAX_AXES]; 3],
    /// How each leg's coordinate follows each of the platform's: one row of the platform's, one entry a leg.
    pub(super) gradients: [[f64; MAX_AXES]; MAX_AXES],
    /// One a leg.
    pub legs: Vec<LegNow>,
    /// For each case, one a leg: with which the leg pushes its ends apart, or a crank its pin onwards, N, without the leg's own masses.
    pub forces_n: Vec<Vec<f64>>,
    /// The same at rest in this pose.
    pub still_n: Vec<Vec<f64>>,
    /// For each case, one a leg: torque at the motor, N m, the worse branch where friction leaves it open. Zero where the
    /// file has no screw or no motor.
    pub torques_nm: Vec<Vec<f64>>,
}

impl Moment {
    pub(super) fn new(rig: &Rig, cases: usize) -> Self {
        let legs = rig.actuators.len();
        let table = vec![vec![0.0; legs]; cases];
        Self {
            pose: Pose::at(rig, &[]),
            state: [[0.0; MAX_AXES]; 3],
            gradients: [[0.0; MAX_AXES]; MAX_AXES],
            legs: vec![LegNow::default(); legs],
            forces_n: table.clone(),
            still_n: table.clone(),
            torques_nm: table,
        }
    }

    /// Legs' forces in the place of the generalised ones, on a rig of `N` axes and legs: gradients . F = tau. False where
    /// the pose is singular.
    #[inline]
    pub(super) fn solve<const N: usize>(&mut self) -> bool {
        let gradients: [[f64; N]; N] = from_fn(|j| from_fn(|i| self.gradients[j][i]));
        let Some(factors) = Factors::of(gradients) else { return false };
        for (forces, still) in self.forces_n.iter_mut().zip(&mut self.still_n) {
            let right: [[f64; 2]; N] = from_fn(|j| [forces[j], still[j]]);
            for (solved, (force, still)) in factors.solve(&right).iter().zip(forces.iter_mut().zip(still)) {
                [*force, *still] = *solved;
            }
        }
        true
    }
}
