//! What one instant of motion asks of every leg, under every load case: forces, motor torques, power at the supply.
//!
//! Virtual work with one rigid payload a case: J^T F = tau. The legs' sliding masses and what turns in them are added
//! leg by leg, and where friction leaves a torque open the worse branch is taken. No allocation once made.
//!
//! Cannot: know a profile, a limit.

mod moment;
mod square;

pub use moment::{LegNow, Moment};

use super::dynamics::{MAX_LEGS, coordinates};
use super::kinematics::{MAX_AXES, Pose, along_r_m};
use super::mechanics::screw::{BallScrew, LegState, MovingParts};
use super::{Payload, Rig};
use crate::units::STANDARD_GRAVITY_M_S2;
use nalgebra::{Matrix3, Vector3};
use square::{Square, inverse};

/// Slower than this a leg counts as standing still, m/s (chosen: a hundredth of a turn a second on a lead of 10 mm).
pub const STILL_M_S: f64 = 1e-4;

/// The parts of a leg that its motor turns and slides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drivetrain {
    /// The screw.
    pub screw: BallScrew,
    /// Rotor, screw and coupling, kg m^2.
    pub turning_kg_m2: f64,
    /// What slides with the nut, kg.
    pub sliding_kg: f64,
}

/// A rig made ready for working out demands.
#[derive(Debug, Clone)]
pub struct Demands<'r> {
    rig: &'r Rig,
    cases: Vec<(String, Payload)>,
    drivetrains: Vec<Option<Drivetrain>>,
}

impl<'r> Demands<'r> {
    /// For a rig with all of its load cases.
    pub fn new(rig: &'r Rig) -> Self {
        let cases =
            rig.load_cases().into_iter().map(|(name, payload)| (name.to_string(), payload.clone())).collect();
        let drivetrain = |leg: &super::Actuator| {
            let (screw, motor) = (leg.parts.screw.as_ref()?, leg.parts.motor.as_ref()?);
            Some(Drivetrain {
                screw: screw.screw,
                turning_kg_m2: screw.screw.inertia_kg_m2 + motor.motor.rotor_kg_m2,
                sliding_kg: screw.sliding_kg,
            })
        };
        Self { rig, cases, drivetrains: rig.actuators.iter().map(drivetrain).collect() }
    }

    /// The rig.
    pub fn rig(&self) -> &'r Rig {
        self.rig
    }

    /// The load cases by name, in the order of [`Moment::forces_n`].
    pub fn cases(&self) -> &[(String, Payload)] {
        &self.cases
    }

    /// One for each leg; `None` where the file has no screw or no motor for it.
    pub fn drivetrains(&self) -> &[Option<Drivetrain>] {
        &self.drivetrains
    }

    /// Room for one instant.
    pub fn moment(&self) -> Moment {
        Moment::new(self.rig, self.cases.len())
    }

    /// Fills `out` for coordinates `q` (rig's order; rad or m), their rates and accelerations. A missing value is zero.
    ///
    /// False at a singular pose, or where there are not as many legs as axes; `out` is then without meaning.
    pub fn at(&self, q: &[f64], rate: &[f64], acceleration: &[f64], out: &mut Moment) -> bool {
        let pose = Pose::at(self.rig, q);
        out.pose = pose;
        out.state = [q, rate, acceleration].map(coordinates);
        let n = pose.count;
        if self.rig.actuators.len() != n || n > MAX_LEGS {
            return false;
        }
        let motion = Motion::new(&pose, rate, acceleration);
        let mut transposed: Square = [[0.0; MAX_AXES]; MAX_AXES];
        for (i, (actuator, leg)) in self.rig.actuators.iter().zip(&mut out.legs).enumerate() {
            let along = along_r_m(&pose, actuator);
            let length = along.norm();
            let unit = along / length;
            let arm = pose.rotation_rp * actuator.anchor_p_m;
            for (j, row) in transposed.iter_mut().enumerate().take(n) {
                row[i] = unit.dot(&motion.first(j, arm));
            }
            let (velocity, up) = motion.point(arm);
            let speed = unit.dot(&velocity);
            *leg = LegNow {
                length_m: length,
                speed_m_s: speed,
                // From L^2 = d . d: L L'' = d . d'' + d' . d' - L'^2.
                acceleration_m_s2: unit.dot(&up) + (velocity.norm_squared() - speed * speed) / length,
                gravity_m_s2: STANDARD_GRAVITY_M_S2 * unit.z,
            };
        }
        let Some(inverse) = inverse(&transposed, n) else { return false };
        for ((_, payload), (forces, still)) in
            self.cases.iter().zip(out.forces_n.iter_mut().zip(&mut out.still_n))
        {
            let (tau, tau_still) = motion.generalised(&pose, payload);
            for ((force, still), row) in forces.iter_mut().zip(still.iter_mut()).zip(&inverse) {
                (*force, *still) = (0.0, 0.0);
                for j in 0..n {
                    *force += row[j] * tau[j];
                    *still += row[j] * tau_still[j];
                }
            }
        }
        self.shafts(out);
        true
    }

    /// Torques and rates of the motors from leg forces.
    fn shafts(&self, out: &mut Moment) {
        for (i, (drivetrain, leg)) in self.drivetrains.iter().zip(&out.legs).enumerate() {
            let Some(drivetrain) = drivetrain else { continue };
            let parts = MovingParts {
                turning_kg_m2: drivetrain.turning_kg_m2,
                sliding_kg: drivetrain.sliding_kg,
                gravity_m_s2: leg.gravity_m_s2,
            };
            for (forces, torques) in out.forces_n.iter().zip(&mut out.torques_nm) {
                let state = LegState {
                    force_n: forces[i],
                    speed_m_s: leg.speed_m_s,
                    acceleration_m_s2: leg.acceleration_m_s2,
                };
                torques[i] = drivetrain.screw.demand(&parts, &state, STILL_M_S).worst_nm();
            }
        }
    }
}

/// Rates of the whole platform at one instant.
struct Motion {
    /// Angular rate and acceleration, rig frame and platform frame.
    turn_r: Vector3<f64>,
    turn_up_r: Vector3<f64>,
    turn_p: Vector3<f64>,
    turn_up_p: Vector3<f64>,
    /// Of the platform's origin.
    velocity_r: Vector3<f64>,
    up_r: Vector3<f64>,
    axes_r: [Vector3<f64>; MAX_AXES],
    turns: [bool; MAX_AXES],
}

impl Motion {
    fn new(pose: &Pose, rate: &[f64], acceleration: &[f64]) -> Self {
        let zero = Vector3::zeros();
        let mut motion = Self {
            turn_r: zero,
            turn_up_r: zero,
            turn_p: zero,
            turn_up_p: zero,
            velocity_r: zero,
            up_r: zero,
            axes_r: [zero; MAX_AXES],
            turns: [false; MAX_AXES],
        };
        for j in 0..pose.count {
            let (rate, up) =
                (rate.get(j).copied().unwrap_or_default(), acceleration.get(j).copied().unwrap_or_default());
            let axis = pose.axis_r(j);
            motion.axes_r[j] = axis;
            motion.turns[j] = pose.is_turn(j);
            if pose.is_turn(j) {
                // What was summed before turns this axis with it: its direction changes at turn x axis.
                motion.turn_up_r += axis * up + motion.turn_r.cross(&axis) * rate;
                motion.turn_r += axis * rate;
            } else {
                motion.velocity_r += axis * rate;
                motion.up_r += axis * up;
            }
        }
        motion.turn_p = pose.rotation_rp.tr_mul(&motion.turn_r);
        motion.turn_up_p = pose.rotation_rp.tr_mul(&motion.turn_up_r);
        motion
    }

    /// d x / d q_j of the point at `arm` (from the platform's origin, rig axes).
    fn first(&self, j: usize, arm: Vector3<f64>) -> Vector3<f64> {
        if self.turns[j] { self.axes_r[j].cross(&arm) } else { self.axes_r[j] }
    }

    /// Velocity and acceleration of the point at `arm`.
    fn point(&self, arm: Vector3<f64>) -> (Vector3<f64>, Vector3<f64>) {
        let swing = self.turn_r.cross(&arm);
        (self.velocity_r + swing, self.up_r + self.turn_up_r.cross(&arm) + self.turn_r.cross(&swing))
    }

    /// Generalised forces that the legs must make: with the motion, and at rest in the same pose.
    ///
    /// Newton and Euler about the centre of mass, projected on each coordinate. Source: virtual work, any text on rigid
    /// bodies (from memory); held against MuJoCo in tests/kinematics_peers.rs.
    fn generalised(&self, pose: &Pose, payload: &Payload) -> ([f64; MAX_AXES], [f64; MAX_AXES]) {
        let arm = pose.rotation_rp * payload.centre_p_m;
        let mut force = self.point(arm).1;
        force.z -= STANDARD_GRAVITY_M_S2;
        force *= payload.mass_kg;
        let inertia: &Matrix3<f64> = &payload.inertia_kg_m2;
        let moment_p = inertia * self.turn_up_p + self.turn_p.cross(&(inertia * self.turn_p));
        let moment = pose.rotation_rp * moment_p;
        let weight_n = payload.mass_kg * STANDARD_GRAVITY_M_S2;
        let (mut tau, mut still) = ([0.0; MAX_AXES], [0.0; MAX_AXES]);
        for j in 0..pose.count {
            let first = self.first(j, arm);
            tau[j] = force.dot(&first);
            if self.turns[j] {
                tau[j] += moment.dot(&self.axes_r[j]);
            }
            still[j] = -weight_n * first.z;
        }
        (tau, still)
    }
}

#[cfg(test)]
mod tests;
