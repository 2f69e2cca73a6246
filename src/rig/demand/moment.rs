//! The numbers of one instant.

use crate::rig::Rig;
use crate::rig::kinematics::{MAX_AXES, Pose};

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
            legs: vec![LegNow::default(); legs],
            forces_n: table.clone(),
            still_n: table.clone(),
            torques_nm: table,
        }
    }
}
