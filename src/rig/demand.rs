//! What one instant of motion asks of every leg, under every load case: forces, motor torques, power at the supply.
//!
//! Virtual work with one rigid payload a case: J^T F = tau. The legs' sliding masses and what turns in them are added
//! leg by leg, and where friction leaves a torque open the worse branch is taken. No allocation once made.
//!
//! Cannot: know a profile, a limit.

mod moment;

pub use moment::{LegNow, Moment};

use super::kinematics::{MAX_AXES, Stance};
use super::lanes::{Columns, LANES, Lane, Lanes, Vector};
use super::mechanics::screw::{BallScrew, Gear, LegState, MovingParts};
use super::parts::CrankPart;
use super::square::Factors;
use super::{Payload, Rig};
use crate::signal::{JetBlock, widest};
use crate::units::STANDARD_GRAVITY_M_S2;
use nalgebra::Vector3;

/// How many samples are worked on together.
pub const TOGETHER: usize = LANES;

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
        Self { rig, cases, drivetrains, trains }
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
        let given = [q, rate, acceleration];
        let number = |order: usize, j: usize| given[order].get(j).copied().unwrap_or(0.0);
        self.legs::<f64>(number, std::slice::from_mut(out))[0]
    }

    /// The same for neighbouring samples of a block (one a coordinate, in the rig's order) from `first` on, as many as
    /// `out` is long, [`TOGETHER`] at most: together they cost half as much. The same bits as one by one.
    pub fn together(&self, block: &[JetBlock], first: usize, out: &mut [Moment]) -> [bool; TOGETHER] {
        if let Some((out, [])) = out.split_first_chunk_mut::<TOGETHER>() {
            let lanes = |order: usize, j: usize| {
                let row = block.get(j).and_then(|jets| jets.0[order].get(first..)?.first_chunk());
                row.map_or(Lanes::splat(0.0), |numbers| Lanes(*numbers))
            };
            return self.legs(lanes, out);
        }
        let mut held = [false; TOGETHER];
        for (k, (held, out)) in held.iter_mut().zip(out).enumerate() {
            let number = |order: usize, j: usize| {
                let number = block.get(j).and_then(|jets| jets.0[order].get(first + k));
                number.copied().unwrap_or(0.0)
            };
            *held = self.legs::<f64>(number, std::slice::from_mut(out))[0];
        }
        held
    }

    /// One sample a lane; `state` gives coordinates, rates and accelerations. Whether each is of meaning.
    fn legs<T: Lane>(&self, state: impl Fn(usize, usize) -> T, out: &mut [Moment]) -> [bool; TOGETHER] {
        let count = self.rig.axes.len().min(MAX_AXES);
        if self.rig.actuators.len() != count {
            return [false; TOGETHER];
        }
        // Loops over a number that is known when this is built cost half as much.
        let held = widest(
            #[inline(always)]
            || match count {
                1 => self.legs_of::<T, 1>(&state, out),
                2 => self.legs_of::<T, 2>(&state, out),
                3 => self.legs_of::<T, 3>(&state, out),
                4 => self.legs_of::<T, 4>(&state, out),
                5 => self.legs_of::<T, 5>(&state, out),
                MAX_AXES => self.legs_of::<T, MAX_AXES>(&state, out),
                _ => [false; TOGETHER],
            },
        );
        out.iter_mut().zip(held).filter(|(_, held)| *held).for_each(|(out, _)| self.shafts(out));
        held
    }

    /// Legs and their forces on a rig of `N` axes and legs. No step waits for one of another sample: several at a time is
    /// what any such processor does.
    #[inline(always)]
    fn legs_of<T: Lane, const N: usize>(
        &self,
        state: &impl Fn(usize, usize) -> T,
        out: &mut [Moment],
    ) -> [bool; TOGETHER] {
        let mut given = [[T::splat(0.0); N]; 3];
        for (order, given) in given.iter_mut().enumerate() {
            given.iter_mut().enumerate().for_each(|(j, number)| *number = state(order, j));
        }
        let stance = Stance::at(self.rig, &given[0]);
        let motion = Motion::new(&stance, &given[1], &given[2]);
        let mut held = [true; TOGETHER];
        let mut transposed = [[T::splat(0.0); N]; N];
        for (i, actuator) in self.rig.actuators.iter().enumerate().take(N) {
            let arm = stance.rotation_rp.times(&Vector::splat(&actuator.anchor_p_m));
            let along = stance.translation_r_m + arm + Vector::splat(&-actuator.base_r_m);
            let length = along.dot(&along).sqrt();
            let per_length = length.recip();
            let swing = motion.turn_r.cross(&arm);
            let velocity = motion.velocity_r + swing;
            let up = motion.up_r + motion.turn_up_r.cross(&arm) + motion.turn_r.cross(&swing);
            let mut pull = along.times(per_length);
            // Of a crank the pull of its rod: how its pin follows the anchor.
            let stand = |part: &CrankPart, lane: usize| {
                let anchor_r_m = part.crank.centre_r_m + along.lane(lane);
                (part.stand(&anchor_r_m), anchor_r_m)
            };
            if let Some(part) = &actuator.crank {
                for (lane, held) in held.iter_mut().enumerate().take(T::COUNT) {
                    let of_rod = stand(part, lane).0.pull_r();
                    // At a dead point, or beyond, no torque holds the platform.
                    *held &= of_rod.iter().all(|pull| pull.is_finite());
                    pull.0.iter_mut().zip(of_rod.iter()).for_each(|(pull, rod)| pull.set(lane, *rod));
                }
            }
            // pull . (axis x arm) = axis . (arm x pull)
            let turned = arm.cross(&pull);
            for (j, row) in transposed.iter_mut().enumerate() {
                // What slides does so along an axis of the rig, which has one entry.
                row[i] = match self.rig.axes.get(j) {
                    Some(limits) if !limits.axis.is_rotation() => pull.0[limits.axis.index()],
                    _ => stance.axes_r[j].dot(&turned),
                };
            }
            let speed = pull.dot(&velocity);
            // From L^2 = d . d: L L'' = d . d'' + d' . d' - L'^2.
            let gain = pull.dot(&up) + (velocity.dot(&velocity) - speed * speed) * per_length;
            for (lane, out) in out.iter_mut().enumerate().take(T::COUNT) {
                let mut now = LegNow {
                    length_m: length.lane(lane),
                    speed_m_s: speed.lane(lane),
                    acceleration_m_s2: gain.lane(lane),
                    gravity_m_s2: STANDARD_GRAVITY_M_S2 * pull.0[2].lane(lane),
                };
                if let Some(part) = &actuator.crank {
                    let (stand, anchor_r_m) = stand(part, lane);
                    let (velocity, up) = (velocity.lane(lane), up.lane(lane));
                    now.length_m = part.coordinate_m(&anchor_r_m);
                    now.acceleration_m_s2 = stand.acceleration_m_s2(&velocity, &up, now.speed_m_s);
                    now.gravity_m_s2 = STANDARD_GRAVITY_M_S2 * stand.way_r.z;
                }
                out.legs[i] = now;
            }
        }
        for (case, (_, payload)) in self.cases.iter().enumerate() {
            // They stand where what is solved will.
            for (j, [moving, still]) in motion.generalised::<N>(&stance, payload).iter().enumerate() {
                for (lane, out) in out.iter_mut().enumerate().take(T::COUNT) {
                    out.forces_n[case][j] = moving.lane(lane);
                    out.still_n[case][j] = still.lane(lane);
                }
            }
        }
        for (lane, (out, held)) in out.iter_mut().zip(&mut held).enumerate().take(T::COUNT) {
            stance.write(lane, &mut out.pose);
            for (kept, given) in out.state.iter_mut().zip(&given) {
                kept.iter_mut().zip(given).for_each(|(kept, given)| *kept = given.lane(lane));
            }
            let mut square = [[0.0; N]; N];
            for (row, from) in square.iter_mut().zip(&transposed) {
                row.iter_mut().zip(from).for_each(|(number, from)| *number = from.lane(lane));
            }
            let Some(factors) = Factors::of(square) else {
                *held = false;
                continue;
            };
            for (forces, still) in out.forces_n.iter_mut().zip(&mut out.still_n) {
                let mut right = [[0.0; 2]; N];
                for (right, (force, still)) in right.iter_mut().zip(forces.iter().zip(still.iter())) {
                    *right = [*force, *still];
                }
                for (solved, (force, still)) in factors.solve(&right).iter().zip(forces.iter_mut().zip(still))
                {
                    [*force, *still] = *solved;
                }
            }
        }
        held
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
struct Motion<T> {
    /// Angular rate and acceleration, rig frame and platform frame.
    turn_r: Vector<T>,
    turn_up_r: Vector<T>,
    turn_p: Vector<T>,
    turn_up_p: Vector<T>,
    /// Of the platform's origin.
    velocity_r: Vector<T>,
    up_r: Vector<T>,
}

impl<T: Lane> Motion<T> {
    #[inline(always)]
    fn new(stance: &Stance<T>, rate: &[T], acceleration: &[T]) -> Self {
        let zero = Vector::zero();
        let (mut turn_r, mut turn_up_r, mut velocity_r, mut up_r) = (zero, zero, zero, zero);
        for (j, (rate, up)) in rate.iter().zip(acceleration).enumerate() {
            let axis = stance.axes_r[j];
            if stance.turns[j] {
                // What was summed before turns this axis with it: its direction changes at turn x axis.
                turn_up_r = turn_up_r + axis.times(*up) + turn_r.cross(&axis).times(*rate);
                turn_r = turn_r + axis.times(*rate);
            } else {
                velocity_r = velocity_r + axis.times(*rate);
                up_r = up_r + axis.times(*up);
            }
        }
        let back = &stance.rotation_rp;
        let (turn_p, turn_up_p) = (back.back(&turn_r), back.back(&turn_up_r));
        Self { turn_r, turn_up_r, turn_p, turn_up_p, velocity_r, up_r }
    }

    /// Generalised forces that the legs must make, one a coordinate: with the motion, and at rest in the same pose.
    ///
    /// Newton and Euler about the centre of mass, as a force and a moment about the platform's origin, projected on each
    /// coordinate: f . (axis x arm) = axis . (arm x f). Source: virtual work, any text on rigid bodies (from memory); held
    /// against MuJoCo in tests/kinematics_peers.rs.
    #[inline(always)]
    fn generalised<const N: usize>(&self, stance: &Stance<T>, payload: &Payload) -> [[T; 2]; N] {
        let arm = stance.rotation_rp.times(&Vector::splat(&payload.centre_p_m));
        let bent = self.turn_r.cross(&self.turn_r.cross(&arm));
        let gravity = Vector::splat(&Vector3::new(0.0, 0.0, -STANDARD_GRAVITY_M_S2));
        let force =
            (self.up_r + self.turn_up_r.cross(&arm) + bent + gravity).times(T::splat(payload.mass_kg));
        let inertia = Columns::splat(&payload.inertia_kg_m2);
        let moment_p = inertia.times(&self.turn_up_p) + self.turn_p.cross(&inertia.times(&self.turn_p));
        let moment = stance.rotation_rp.times(&moment_p) + arm.cross(&force);
        let weight_n = T::splat(-payload.mass_kg * STANDARD_GRAVITY_M_S2);
        let weight_moment = Vector([arm.0[1] * weight_n, -(arm.0[0] * weight_n), T::splat(0.0)]);
        let mut tau = [[T::splat(0.0); 2]; N];
        for (tau, (axis, is_turn)) in tau.iter_mut().zip(stance.axes_r.iter().zip(stance.turns)) {
            *tau = if is_turn {
                [axis.dot(&moment), axis.dot(&weight_moment)]
            } else {
                [axis.dot(&force), axis.0[2] * weight_n]
            };
        }
        tau
    }
}

#[cfg(test)]
mod tests;
