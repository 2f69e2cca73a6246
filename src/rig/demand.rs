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
use super::{Payload, Rig};
use crate::signal::{JetBlock, widest};
use crate::units::STANDARD_GRAVITY_M_S2;
use nalgebra::Vector3;
use std::array::from_fn;

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
        let number = |given: &[f64], j: usize| given.get(j).copied().unwrap_or(0.0);
        let state = [q, rate, acceleration].map(|given| from_fn(|j| number(given, j)));
        self.legs::<f64>(&state, std::slice::from_mut(out))[0]
    }

    /// The same for neighbouring samples of a block (one a coordinate, in the rig's order) from `first` on, as many as
    /// `out` is long, [`TOGETHER`] at most: together they cost half as much. The same bits as one by one.
    pub fn together(&self, block: &[JetBlock], first: usize, out: &mut [Moment]) -> [bool; TOGETHER] {
        let mut state = [[Lanes::splat(0.0); MAX_AXES]; 3];
        for (j, jets) in block.iter().enumerate().take(self.axes()) {
            for (state, row) in state.iter_mut().zip(jets.0.iter()) {
                let rest = row.get(first..).unwrap_or_default();
                let all = rest.first_chunk().copied();
                let some = || from_fn(|k| rest.get(k).copied().unwrap_or(0.0));
                state[j] = Lanes(all.unwrap_or_else(some));
            }
        }
        self.legs(&state, out)
    }

    /// How many axes count.
    fn axes(&self) -> usize {
        self.rig.axes.len().min(MAX_AXES)
    }

    /// One sample a lane, for coordinates, rates and accelerations; lanes beyond `out` go nowhere. Whether each is of
    /// meaning.
    fn legs<T: Lane>(&self, state: &[[T; MAX_AXES]; 3], out: &mut [Moment]) -> [bool; TOGETHER] {
        if self.rig.actuators.len() != self.axes() {
            return [false; TOGETHER];
        }
        let mut held = widest(
            #[inline(always)]
            || self.pushed(state, out),
        );
        for (out, held) in out.iter_mut().zip(&mut held) {
            // Loops over a number that is known when this is built cost half as much.
            *held &= match self.axes() {
                1 => out.solve::<1>(),
                2 => out.solve::<2>(),
                3 => out.solve::<3>(),
                4 => out.solve::<4>(),
                5 => out.solve::<5>(),
                MAX_AXES => out.solve::<MAX_AXES>(),
                _ => false,
            };
            if *held {
                self.shafts(out);
            }
        }
        held
    }

    /// Legs, and what all of them together must push. No step waits for one of another sample: several at a time is what
    /// any such processor does. False at a crank's dead point.
    #[inline(always)]
    fn pushed<T: Lane>(&self, state: &[[T; MAX_AXES]; 3], out: &mut [Moment]) -> [bool; TOGETHER] {
        let axes = self.axes();
        let stance = Stance::at(self.rig, &state[0]);
        let motion = Motion::new(&stance, &state[1][..axes], &state[2][..axes]);
        let mut held = [true; TOGETHER];
        for (i, actuator) in self.rig.actuators.iter().enumerate().take(axes) {
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
            for (j, limits) in self.rig.axes.iter().enumerate().take(axes) {
                // What slides does so along an axis of the rig, which has one entry.
                let gradient = if limits.axis.is_rotation() {
                    stance.axes_r[j].dot(&turned)
                } else {
                    pull.0[limits.axis.index()]
                };
                for (lane, out) in out.iter_mut().enumerate().take(T::COUNT) {
                    out.gradients[j][i] = gradient.lane(lane);
                }
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
            let push = motion.push(&stance, payload);
            for j in 0..axes {
                let [moving, still] = push.along(&stance, j);
                // They stand where what is solved will.
                for (lane, out) in out.iter_mut().enumerate().take(T::COUNT) {
                    out.forces_n[case][j] = moving.lane(lane);
                    out.still_n[case][j] = still.lane(lane);
                }
            }
        }
        for (lane, out) in out.iter_mut().enumerate().take(T::COUNT) {
            stance.write(lane, &mut out.pose);
            for (kept, given) in out.state.iter_mut().zip(state) {
                kept.iter_mut().zip(given).take(axes).for_each(|(kept, given)| *kept = given.lane(lane));
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

    /// What the legs must make together: Newton and Euler about the centre of mass, as a force and a moment about the
    /// platform's origin. Source: any text on rigid bodies (from memory); held against MuJoCo in tests/kinematics_peers.rs.
    #[inline(always)]
    fn push(&self, stance: &Stance<T>, payload: &Payload) -> Push<T> {
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
        Push { force, moment, weight_n, weight_moment }
    }
}

/// A force and a moment about the platform's origin, rig frame: with the motion, and at rest in the same pose.
struct Push<T> {
    force: Vector<T>,
    moment: Vector<T>,
    weight_n: T,
    weight_moment: Vector<T>,
}

impl<T: Lane> Push<T> {
    /// Projected on coordinate `j`, by virtual work: f . (axis x arm) = axis . (arm x f).
    #[inline(always)]
    fn along(&self, stance: &Stance<T>, j: usize) -> [T; 2] {
        let axis = &stance.axes_r[j];
        if stance.turns[j] {
            [axis.dot(&self.moment), axis.dot(&self.weight_moment)]
        } else {
            [axis.dot(&self.force), axis.0[2] * self.weight_n]
        }
    }
}

#[cfg(test)]
mod tests;
