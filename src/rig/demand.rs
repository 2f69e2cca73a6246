//! What one instant of motion asks of every leg, under every load case: forces, motor torques, power at the supply.
//!
//! Virtual work with one rigid payload a case: J^T F = tau. The legs' sliding masses and what turns in them are added
//! leg by leg, and where friction leaves a torque open the worse branch is taken. No allocation once made.
//!
//! Cannot: know a profile, a limit.

mod moment;
mod side;
mod square;

pub use moment::{LegNow, Moment};

use super::kinematics::{MAX_AXES, Pose};
use super::mechanics::screw::{BallScrew, Gear, LegState, MovingParts};
use super::parts::CrankPart;
use super::{Payload, Rig};
use crate::signal::widest;
use crate::units::STANDARD_GRAVITY_M_S2;
use nalgebra::{Matrix3, Vector3};
use side::{Rows, Side};
use square::Factors;

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
    /// The same, made ready.
    trains: Vec<Option<(Gear, MovingParts)>>,
    /// The legs' ends, one row an axis: x of all, y of all, z of all.
    anchors_p_m: Rows,
    bases_r_m: Rows,
    /// The crank legs, by their places.
    cranks: Vec<(usize, CrankPart)>,
}

impl<'r> Demands<'r> {
    /// For a rig with all of its load cases.
    pub fn new(rig: &'r Rig) -> Self {
        let cases =
            rig.load_cases().into_iter().map(|(name, payload)| (name.to_string(), payload.clone())).collect();
        let drivetrain = |leg: &super::Actuator| {
            let (reduction, motor) = (leg.reduction()?, leg.parts.motor.as_ref()?);
            Some(Drivetrain {
                screw: reduction.screw,
                turning_kg_m2: reduction.screw.inertia_kg_m2 + motor.motor.rotor_kg_m2,
                sliding_kg: reduction.sliding_kg,
            })
        };
        let drivetrains: Vec<Option<Drivetrain>> = rig.actuators.iter().map(drivetrain).collect();
        let ready = |train: &Drivetrain| {
            let (turning_kg_m2, sliding_kg) = (train.turning_kg_m2, train.sliding_kg);
            (train.screw.gear(), MovingParts { turning_kg_m2, sliding_kg, gravity_m_s2: 0.0 })
        };
        let trains = drivetrains.iter().map(|train| train.as_ref().map(ready)).collect();
        let (mut anchors_p_m, mut bases_r_m) = ([[0.0; MAX_AXES]; 3], [[0.0; MAX_AXES]; 3]);
        for (i, leg) in rig.actuators.iter().enumerate().take(MAX_AXES) {
            for c in 0..3 {
                (anchors_p_m[c][i], bases_r_m[c][i]) = (leg.anchor_p_m[c], leg.base_r_m[c]);
            }
        }
        let of_leg = |(i, leg): (usize, &super::Actuator)| Some((i, leg.crank?));
        let cranks = rig.actuators.iter().enumerate().take(MAX_AXES).filter_map(of_leg).collect();
        Self { rig, cases, drivetrains, trains, anchors_p_m, bases_r_m, cranks }
    }

    /// The rig.
    pub fn rig(&self) -> &'r Rig {
        self.rig
    }

    /// The load cases by name, in the order of [`Moment::forces_n`].
    pub fn cases(&self) -> &[(String, Payload)] {
        &self.cases
    }

    /// One for each leg; `None` where the file has no screw, or no gearbox of a crank, or no motor for it.
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
        out.pose.place(self.rig, q);
        if self.rig.actuators.len() != out.pose.count {
            return false;
        }
        // Loops over a number that is known when this is built cost half as much.
        let given = [q, rate, acceleration];
        let held = widest(
            #[inline(always)]
            || match out.pose.count {
                1 => self.legs::<1>(given, out),
                2 => self.legs::<2>(given, out),
                3 => self.legs::<3>(given, out),
                4 => self.legs::<4>(given, out),
                5 => self.legs::<5>(given, out),
                MAX_AXES => self.legs::<MAX_AXES>(given, out),
                _ => false,
            },
        );
        if held {
            self.shafts(out);
        }
        held
    }

    /// Legs and their forces on a rig of `N` axes and legs.
    ///
    /// Every step is one loop over all legs, numbers of one kind side by side: two at a time is what any such processor
    /// does, and roots and divisions of one leg need not wait for those of another. `given` are coordinates, rates and
    /// accelerations.
    #[inline(always)]
    fn legs<const N: usize>(&self, given: [&[f64]; 3], out: &mut Moment) -> bool {
        let Moment { pose, state, legs, forces_n, still_n, .. } = out;
        for (kept, given) in state.iter_mut().zip(given) {
            for (j, kept) in kept.iter_mut().enumerate().take(N) {
                *kept = given.get(j).copied().unwrap_or(0.0);
            }
        }
        let [_, rate, acceleration] = state;
        let motion = Motion::new::<N>(pose, rate, acceleration);
        let arm = Side::<N>::turned(&pose.rotation_rp, &self.anchors_p_m);
        let along = arm.with(|c, i, arm| pose.translation_r_m[c] + arm - self.bases_r_m[c][i]);
        let length = along.dot(&along).map(f64::sqrt);
        let per_length = length.map(|length| 1.0 / length);
        let mut unit = along.with(|_, i, along| along * per_length[i]);
        // Of a crank the pull of its rod: how its pin follows the anchor.
        let stand = |i: usize, part: &CrankPart| {
            let along_r_m = Vector3::new(along.0[0][i], along.0[1][i], along.0[2][i]);
            let anchor_r_m = part.crank.centre_r_m + along_r_m;
            (part.stand(&anchor_r_m), anchor_r_m)
        };
        for (i, part) in &self.cranks {
            let pull = stand(*i, part).0.pull_r();
            // At a dead point, or beyond, no torque holds the platform.
            if !pull.iter().all(|pull| pull.is_finite()) {
                return false;
            }
            unit.0.iter_mut().zip(pull.iter()).for_each(|(row, pull)| row[*i] = *pull);
        }
        // unit . (axis x arm) = axis . (arm x unit)
        let turned = arm.cross(&unit);
        let mut transposed = [[0.0; N]; N];
        for (j, row) in transposed.iter_mut().enumerate() {
            // What slides does so along an axis of the rig, which has one entry.
            *row = match self.rig.axes.get(j) {
                Some(limits) if !limits.axis.is_rotation() => unit.0[limits.axis.index()],
                _ => turned.along(&pose.axis_r(j)),
            };
        }
        let swing = arm.swung(&motion.turn_r);
        let velocity = swing.with(|c, _, swing| motion.velocity_r[c] + swing);
        let (bent, twist) = (swing.swung(&motion.turn_r), arm.swung(&motion.turn_up_r));
        let up = bent.with(|c, i, bent| motion.up_r[c] + twist.0[c][i] + bent);
        let (speed, rise, square) = (unit.dot(&velocity), unit.dot(&up), velocity.dot(&velocity));
        for (i, leg) in legs.iter_mut().enumerate().take(N) {
            *leg = LegNow {
                length_m: length[i],
                speed_m_s: speed[i],
                // From L^2 = d . d: L L'' = d . d'' + d' . d' - L'^2.
                acceleration_m_s2: rise[i] + (square[i] - speed[i] * speed[i]) * per_length[i],
                gravity_m_s2: STANDARD_GRAVITY_M_S2 * unit.0[2][i],
            };
        }
        for (i, part) in &self.cranks {
            let (stand, anchor_r_m) = stand(*i, part);
            let of = |side: &Side<N>| Vector3::new(side.0[0][*i], side.0[1][*i], side.0[2][*i]);
            legs[*i] = LegNow {
                length_m: part.coordinate_m(&anchor_r_m),
                speed_m_s: speed[*i],
                acceleration_m_s2: stand.acceleration_m_s2(&of(&velocity), &of(&up), speed[*i]),
                gravity_m_s2: STANDARD_GRAVITY_M_S2 * stand.way_r.z,
            };
        }
        let Some(factors) = Factors::of(transposed) else { return false };
        for ((_, payload), (forces, still)) in self.cases.iter().zip(forces_n.iter_mut().zip(still_n)) {
            let solved = factors.solve(&motion.generalised::<N>(pose, payload));
            for ((force, still), solved) in forces.iter_mut().zip(still).zip(solved) {
                [*force, *still] = solved;
            }
        }
        true
    }

    /// Torques of the motors from leg forces.
    fn shafts(&self, out: &mut Moment) {
        for (forces, torques) in out.forces_n.iter().zip(&mut out.torques_nm) {
            let legs = out.legs.iter().zip(&self.trains).zip(forces.iter().zip(torques));
            for ((leg, train), (force_n, torque_nm)) in legs {
                let Some((gear, parts)) = train else { continue };
                let parts = MovingParts { gravity_m_s2: leg.gravity_m_s2, ..*parts };
                let state = LegState {
                    force_n: *force_n,
                    speed_m_s: leg.speed_m_s,
                    acceleration_m_s2: leg.acceleration_m_s2,
                };
                *torque_nm = gear.demand(&parts, &state, STILL_M_S).worst_nm();
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
}

impl Motion {
    #[inline(always)]
    fn new<const N: usize>(pose: &Pose, rate: &[f64; MAX_AXES], acceleration: &[f64; MAX_AXES]) -> Self {
        let zero = Vector3::zeros();
        let (mut turn_r, mut turn_up_r, mut velocity_r, mut up_r) = (zero, zero, zero, zero);
        for (j, (rate, up)) in rate.iter().zip(acceleration).take(N).enumerate() {
            let axis = pose.axis_r(j);
            if pose.is_turn(j) {
                // What was summed before turns this axis with it: its direction changes at turn x axis.
                turn_up_r += axis * *up + turn_r.cross(&axis) * *rate;
                turn_r += axis * *rate;
            } else {
                velocity_r += axis * *rate;
                up_r += axis * *up;
            }
        }
        let turn_p = pose.rotation_rp.tr_mul(&turn_r);
        let turn_up_p = pose.rotation_rp.tr_mul(&turn_up_r);
        Self { turn_r, turn_up_r, turn_p, turn_up_p, velocity_r, up_r }
    }

    /// Velocity and acceleration of the point at `arm`.
    #[inline(always)]
    fn point(&self, arm: Vector3<f64>) -> (Vector3<f64>, Vector3<f64>) {
        let swing = self.turn_r.cross(&arm);
        (self.velocity_r + swing, self.up_r + self.turn_up_r.cross(&arm) + self.turn_r.cross(&swing))
    }

    /// Generalised forces that the legs must make, one a coordinate: with the motion, and at rest in the same pose.
    ///
    /// Newton and Euler about the centre of mass, as a force and a moment about the platform's origin, projected on each
    /// coordinate: f . (axis x arm) = axis . (arm x f). Source: virtual work, any text on rigid bodies (from memory); held
    /// against MuJoCo in tests/kinematics_peers.rs.
    #[inline(always)]
    fn generalised<const N: usize>(&self, pose: &Pose, payload: &Payload) -> [[f64; 2]; N] {
        let arm = pose.rotation_rp * payload.centre_p_m;
        let mut force = self.point(arm).1;
        force.z -= STANDARD_GRAVITY_M_S2;
        force *= payload.mass_kg;
        let inertia: &Matrix3<f64> = &payload.inertia_kg_m2;
        let moment_p = inertia * self.turn_up_p + self.turn_p.cross(&(inertia * self.turn_p));
        let moment = pose.rotation_rp * moment_p + arm.cross(&force);
        let weight = Vector3::new(0.0, 0.0, -payload.mass_kg * STANDARD_GRAVITY_M_S2);
        let weight_moment = arm.cross(&weight);
        let mut tau = [[0.0; 2]; N];
        for (j, tau) in tau.iter_mut().enumerate() {
            let axis = pose.axis_r(j);
            let (by, by_still) = if pose.is_turn(j) { (&moment, &weight_moment) } else { (&force, &weight) };
            *tau = [axis.dot(by), axis.dot(by_still)];
        }
        tau
    }
}

#[cfg(test)]
mod tests;
