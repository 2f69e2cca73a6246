//! How far the platform runs on when it is told to stop, all legs together.
//!
//! The platform keeps its direction in platform coordinates, so that pitch stays pitch: every coordinate, and with
//! them every leg, comes to rest at one instant, and the leg that can brake least for its speed sets the pace. In time:
//! 1. the delay (detection, link, drive): rates and accelerations go on;
//! 2. the acceleration is taken away at the jerk of the leg that needs longest;
//! 3. from the rates then reached, deceleration rises at the jerk, holds at what is left, and falls again.
//!
//! For one leg alone this is v (delay) + v^2 / 2a + v a / 2j, or v sqrt(v / j) where the jerk never lets it reach a,
//! with v + a' (delay) + a'^2 / 2j in the place of v when it still speeds up with a' (rest-to-rest ramps of
//! jerk-limited motion: common practice, closed forms from memory). Pose, load and gradients are those of the call.

use super::Rig;
use super::dynamics::{Coordinates, Gradients, Gravity, Legs, coordinates, generalised};
use super::kinematics::{MAX_AXES, Pose, along_r_m};

/// A coordinated stop from one state.
#[derive(Debug, Clone, PartialEq)]
pub struct Stop {
    /// Platform coordinates where it comes to rest.
    pub rest: Vec<f64>,
    /// Time from the call to rest, s.
    pub time_s: f64,
    /// The leg that sets the pace.
    pub slowest_leg: usize,
    /// Deceleration that this leg has left at this pose and load, m/s^2.
    pub left_m_s2: f64,
}

/// The same without an allocation, for a caller that asks every cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StopNow {
    /// Platform coordinates where it comes to rest; the first `axes` count.
    pub rest: [f64; MAX_AXES],
    /// How many coordinates the rig has.
    pub axes: usize,
    /// Time from the call to rest, s.
    pub time_s: f64,
    /// The leg that sets the pace.
    pub slowest_leg: usize,
    /// Deceleration that this leg has left at this pose and load, m/s^2.
    pub left_m_s2: f64,
    /// Rates of the coordinates when braking begins, rad/s or m/s.
    pub onset: [f64; MAX_AXES],
    /// Largest deceleration of the coordinates, as a part of these rates a second, 1/s.
    pub peak_per_s: f64,
}

impl StopNow {
    /// Platform coordinates where it comes to rest.
    pub fn rest(&self) -> &[f64] {
        &self.rest[..self.axes]
    }
}

/// The stop from coordinates `q`, rates `rate`, accelerations `acceleration` (rig's order; rad or m).
///
/// An acceleration that already slows its coordinate is not counted on. `None` when some leg has no deceleration left
/// (curvature or load take all of it), when a number is not finite, or when the rig has more than 12 legs.
pub fn stop(rig: &Rig, q: &[f64], rate: &[f64], acceleration: &[f64]) -> Option<Stop> {
    let now = stop_now(rig, q, rate, acceleration)?;
    Some(Stop {
        rest: now.rest().to_vec(),
        time_s: now.time_s,
        slowest_leg: now.slowest_leg,
        left_m_s2: now.left_m_s2,
    })
}

/// [`stop`] without an allocation.
pub fn stop_now(rig: &Rig, q: &[f64], rate: &[f64], acceleration: &[f64]) -> Option<StopNow> {
    Onset::of(rig, q, rate, acceleration)?.stop(rig)
}

/// The way until braking begins, and what braking has to deal with: all of a stop that does not hang on the load.
#[derive(Debug, Clone)]
pub struct Onset {
    pose: Pose,
    gradients: Gradients,
    moved: Coordinates,
    from: Coordinates,
    before_s: f64,
}

impl Onset {
    /// As for [`stop`]; of the rig, its payload does not count.
    pub fn of(rig: &Rig, q: &[f64], rate: &[f64], acceleration: &[f64]) -> Option<Self> {
        let (at, rate, mut onward) = (coordinates(q), coordinates(rate), coordinates(acceleration));
        if !at.iter().chain(&rate).chain(&onward).all(|value| value.is_finite()) {
            return None;
        }
        for (onward, rate) in onward.iter_mut().zip(&rate) {
            if *onward * rate < 0.0 {
                *onward = 0.0;
            }
        }
        let pose = Pose::at(rig, &at);
        let gradients = Gradients::at(rig, &pose)?;

        let delay = rig.drive.detection_s + rig.drive.link_s + rig.drive.delay_s;
        let easing = longest_easing(rig, &gradients.legs(&onward));
        let mut moved = at;
        let mut from = rate;
        for j in 0..pose.count {
            moved[j] += rate[j] * (delay + easing)
                + onward[j] * (0.5 * delay * delay + delay * easing + easing * easing / 3.0);
            from[j] += onward[j] * (delay + 0.5 * easing);
        }
        Some(Self { pose, gradients, moved, from, before_s: delay + easing })
    }

    /// The stop under the load of `rig`, which is in all else the rig that this was made of.
    pub fn stop(&self, rig: &Rig) -> Option<StopNow> {
        let brake = Brake::of(rig, &self.pose, &self.gradients, &self.from)?;
        let mut rest = self.moved;
        for (rest, from) in rest.iter_mut().zip(&self.from) {
            // The ramp is symmetrical: its mean rate is half the first.
            *rest += from * 0.5 * brake.time_s;
        }
        rest.iter().all(|value| value.is_finite()).then_some(StopNow {
            rest,
            axes: self.pose.count,
            time_s: self.before_s + brake.time_s,
            slowest_leg: brake.leg,
            left_m_s2: brake.left_m_s2,
            onset: self.from,
            peak_per_s: brake.peak_per_s,
        })
    }
}

/// The furthest that any stop can run on while each leg's derivatives stay within bounds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// Delay and easing, s.
    before_s: f64,
    /// What an acceleration adds to the way before braking, s^2.
    onward_s2: f64,
    /// What an acceleration adds to the speed before braking, s.
    gains_s: f64,
    /// Braking, s.
    brake_s: f64,
}

impl Reach {
    /// How far something with at most this speed and acceleration runs on (m from m/s and m/s^2, rad from rad/s …).
    pub fn way(self, speed: f64, acceleration: f64) -> f64 {
        speed * (self.before_s + self.brake_s / 2.0)
            + acceleration * (self.onward_s2 + self.gains_s * self.brake_s / 2.0)
    }
}

/// Bounds every [`stop`] from states whose legs stay within `legs_sup` (one a leg: suprema of |length| to |4th
/// derivative|, as [`super::kinematics::leg_bound`] gives them). `None` where it cannot say: a thrust is limited, so
/// that what is left hangs on the pose, or the bound leaves nothing to brake with.
pub fn reach(rig: &Rig, legs_sup: &[[f64; 5]]) -> Option<Reach> {
    if rig.actuators.iter().any(|actuator| actuator.thrust_n.is_finite()) {
        return None;
    }
    let delay = rig.drive.detection_s + rig.drive.link_s + rig.drive.delay_s;
    let legs = || rig.actuators.iter().zip(legs_sup);
    let easing = legs().map(|(leg, sup)| sup[2] / leg.jerk_m_s3).fold(0.0, f64::max);
    let gains_s = delay + easing / 2.0;
    // Rates grow by this before braking begins, and the curve of the legs' lengths with their square.
    let growth = legs().map(|(_, sup)| 1.0 + sup[2] * gains_s / sup[1]).fold(1.0, f64::max);
    let (mut pace, mut jerk) = (f64::INFINITY, f64::INFINITY);
    for (leg, sup) in legs() {
        let speed = sup[1] * growth;
        pace = pace.min((leg.acceleration_m_s2 - sup[2] * growth * growth) / speed);
        jerk = jerk.min(leg.jerk_m_s3 / speed);
    }
    // The braking time falls as pace and jerk rise, so their smallest give the longest.
    let brake_s = if pace * pace <= jerk { 1.0 / pace + pace / jerk } else { 2.0 / jerk.sqrt() };
    let onward_s2 = 0.5 * delay * delay + delay * easing + easing * easing / 3.0;
    let reach = Reach { before_s: delay + easing, onward_s2, gains_s, brake_s };
    (pace > 0.0 && brake_s.is_finite()).then_some(reach)
}

/// How long the acceleration takes to go: the leg that needs longest at its jerk, s.
fn longest_easing(rig: &Rig, acceleration: &Legs) -> f64 {
    let easing = rig.actuators.iter().zip(acceleration).map(|(leg, a)| a.abs() / leg.jerk_m_s3);
    easing.fold(0.0, f64::max)
}

/// The third part of a stop.
struct Brake {
    time_s: f64,
    leg: usize,
    left_m_s2: f64,
    peak_per_s: f64,
}

impl Brake {
    /// From coordinate rates `from` to rest. Rates all shrink by one factor; in units of that factor, leg i allows a
    /// deceleration of `left_i / speed_i` (1/s) and a jerk of `jerk_i / speed_i` (1/s^2).
    fn of(rig: &Rig, pose: &Pose, gradients: &Gradients, from: &Coordinates) -> Option<Self> {
        let speeds = gradients.legs(from);
        let curving = curving(rig, pose, from, &speeds);
        let load = Load::of(rig, pose, gradients, from)?;
        let mut pace = (f64::INFINITY, 0);
        let mut jerk = (f64::INFINITY, 0);
        for (i, actuator) in rig.actuators.iter().enumerate() {
            let speed = speeds[i].abs();
            let against = (-curving[i] * speeds[i].signum()).max(0.0);
            let left = actuator.acceleration_m_s2 - against;
            let allowed =
                load.pace(i, actuator.thrust_n)?.min(if speed > 0.0 { left / speed } else { f64::INFINITY });
            if left <= 0.0 || allowed <= 0.0 {
                return None;
            }
            pace = if allowed < pace.0 { (allowed, i) } else { pace };
            let allowed = if speed > 0.0 { actuator.jerk_m_s3 / speed } else { f64::INFINITY };
            jerk = if allowed < jerk.0 { (allowed, i) } else { jerk };
        }
        let left = |i: usize| {
            let actuator = rig.actuators.get(i)?;
            let against = (-curving[i] * speeds[i].signum()).max(0.0);
            let by_load = load.pace(i, actuator.thrust_n)? * speeds[i].abs();
            let by_limit = actuator.acceleration_m_s2 - against;
            Some(if by_load.is_finite() && by_load > 0.0 { by_limit.min(by_load) } else { by_limit })
        };
        if !jerk.0.is_finite() && !pace.0.is_finite() {
            return Some(Self { time_s: 0.0, leg: 0, left_m_s2: left(0)?, peak_per_s: 0.0 });
        }
        if pace.0 * pace.0 <= jerk.0 {
            let time_s = 1.0 / pace.0 + pace.0 / jerk.0;
            return Some(Self { time_s, leg: pace.1, left_m_s2: left(pace.1)?, peak_per_s: pace.0 });
        }
        let peak_per_s = jerk.0.sqrt();
        Some(Self { time_s: 2.0 / peak_per_s, leg: jerk.1, left_m_s2: left(jerk.1)?, peak_per_s })
    }
}

/// Each leg's acceleration at constant coordinate rates: v^T H v, by L L'' = |x'|^2 + d . x'' - L'^2.
fn curving(rig: &Rig, pose: &Pose, from: &Coordinates, speeds: &Legs) -> Legs {
    let mut out = Legs::default();
    for (i, actuator) in rig.actuators.iter().enumerate() {
        let anchor = actuator.anchor_p_m;
        let velocity =
            (0..pose.count).map(|j| pose.first(j, anchor) * from[j]).sum::<nalgebra::Vector3<f64>>();
        if let Some(part) = &actuator.crank {
            let stand = part.stand(&pose.point_r_m(anchor));
            out[i] = stand.acceleration_m_s2(&velocity, &pose.curving(from, anchor), speeds[i]);
            continue;
        }
        let along = along_r_m(pose, actuator);
        out[i] = (velocity.norm_squared() + along.dot(&pose.curving(from, anchor)) - speeds[i] * speeds[i])
            / along.norm();
    }
    out
}

/// What thrust the load takes: to hold against gravity and velocity, and for each unit of pace.
struct Load {
    holding: Legs,
    braking: Legs,
}

impl Load {
    fn of(rig: &Rig, pose: &Pose, gradients: &Gradients, from: &Coordinates) -> Option<Self> {
        if rig.actuators.iter().all(|actuator| actuator.thrust_n == f64::INFINITY) {
            return Some(Self { holding: Legs::default(), braking: Legs::default() });
        }
        let still = Coordinates::default();
        let holding = gradients.forces(&generalised(&rig.payload, pose, from, &still, Gravity::On))?;
        let braking = gradients.forces(&generalised(&rig.payload, pose, &still, from, Gravity::Off))?;
        Some(Self { holding, braking })
    }

    /// The largest pace (1/s) at which leg `i` pushes and pulls no more than `thrust_n`: its force is
    /// holding - pace * braking. `None` when holding alone takes all.
    fn pace(&self, i: usize, thrust_n: f64) -> Option<f64> {
        let (holding, braking) = (self.holding[i], self.braking[i]);
        if holding.abs() >= thrust_n {
            return None;
        }
        Some(if braking == 0.0 {
            f64::INFINITY
        } else {
            (thrust_n + holding * braking.signum()) / braking.abs()
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::sample::{lift, two_legs};
    use crate::units::STANDARD_GRAVITY_M_S2;
    use proptest::prelude::*;

    const DELAY_S: f64 = 0.015;

    /// v (delay) + v^2 / 2a + v a / 2j at v = 0.25 m/s, a = 4 m/s^2, j = 200 m/s^3.
    #[test]
    fn one_leg_stops_as_the_closed_form_says() {
        let rig = lift();
        let stop = stop(&rig, &[0.02], &[0.25], &[0.0]).unwrap();
        let distance = 0.25 * DELAY_S + 0.0625 / 8.0 + 0.25 * 4.0 / 400.0;
        assert!((stop.rest[0] - 0.02 - distance).abs() < 1e-12, "{stop:?}");
        assert!((stop.time_s - DELAY_S - 0.25 / 4.0 - 4.0 / 200.0).abs() < 1e-12);
        assert_eq!((stop.slowest_leg, stop.left_m_s2), (0, 4.0));
    }

    /// Below a^2 / j = 80 mm/s the jerk never lets the leg reach a: v sqrt(v / j).
    #[test]
    fn a_slow_leg_is_bound_by_its_jerk() {
        let stop = stop(&lift(), &[0.0], &[-0.02], &[0.0]).unwrap();
        let distance = 0.02 * DELAY_S + 0.02 * (0.02_f64 / 200.0).sqrt();
        assert!((stop.rest[0] + distance).abs() < 1e-12, "{stop:?}");
        assert!((stop.time_s - DELAY_S - 2.0 * (0.02_f64 / 200.0).sqrt()).abs() < 1e-12);
    }

    /// v1 = v + a' (delay) + a'^2 / 2j, and the way there.
    #[test]
    fn a_present_acceleration_goes_on_and_must_be_taken_away() {
        let (v, a, j) = (0.1, 2.0, 200.0);
        let stop = stop(&lift(), &[0.0], &[v], &[a]).unwrap();
        let eased = a / j;
        let v1 = v + a * DELAY_S + a * a / (2.0 * j);
        let before =
            v * DELAY_S + 0.5 * a * DELAY_S * DELAY_S + (v + a * DELAY_S) * eased + a * a * a / (3.0 * j * j);
        let distance = before + v1 * v1 / 8.0 + v1 * 4.0 / 400.0;
        assert!((stop.rest[0] - distance).abs() < 1e-12, "{} and not {distance}", stop.rest[0]);
        let braking = super::stop(&lift(), &[0.0], &[v], &[-a]).unwrap();
        assert_eq!(braking, super::stop(&lift(), &[0.0], &[v], &[0.0]).unwrap());
        // From standstill with an acceleration: it still runs on.
        assert!(super::stop(&lift(), &[0.0], &[0.0], &[-a]).unwrap().rest[0] < -0.5 * a * DELAY_S * DELAY_S);
    }

    /// A lift of 120 kg: going down, gravity takes from the thrust; going up, it helps.
    #[test]
    fn thrust_and_gravity_leave_what_they_leave() {
        let mut rig = lift();
        let weight = 120.0 * STANDARD_GRAVITY_M_S2;
        rig.actuators[0].thrust_n = weight + 240.0;
        let down = stop(&rig, &[0.0], &[0.2], &[0.0]).unwrap();
        assert!((down.left_m_s2 - 2.0).abs() < 1e-12, "{down:?}");
        let up = stop(&rig, &[0.0], &[-0.2], &[0.0]).unwrap();
        assert_eq!(up.left_m_s2, 4.0);
        rig.actuators[0].thrust_n = weight;
        assert_eq!(stop(&rig, &[0.0], &[0.2], &[0.0]), None);
    }

    #[test]
    fn the_weakest_leg_sets_the_pace_and_the_direction_is_kept() {
        let mut rig = two_legs();
        rig.actuators[1].acceleration_m_s2 = 1.0;
        rig.actuators[1].jerk_m_s3 = 1e6;
        rig.actuators[0].jerk_m_s3 = 1e6;
        let stop = stop(&rig, &[0.0, 0.0], &[0.3, 0.0], &[0.0, 0.0]).unwrap();
        assert_eq!(stop.slowest_leg, 1);
        assert!((stop.left_m_s2 - 1.0).abs() < 0.2, "less what the curve takes: {stop:?}");
        assert_eq!(stop.rest[1], 0.0, "pitch stays pitch");
        assert!(stop.rest[0] > 0.3 * DELAY_S + 0.135 * 0.135 / 2.0 / 0.45);
    }

    #[test]
    fn nothing_moves_from_rest_and_no_number_no_stop() {
        let rig = two_legs();
        let still = stop(&rig, &[0.1, 0.1], &[0.0, 0.0], &[0.0, 0.0]).unwrap();
        assert_eq!((still.rest.as_slice(), still.left_m_s2), ([0.1, 0.1].as_slice(), 4.0));
        assert!((still.time_s - DELAY_S).abs() < 1e-15);
        assert_eq!(stop(&rig, &[0.1, 0.1], &[f64::NAN, 0.0], &[0.0, 0.0]), None);
        assert_eq!(stop(&rig, &[0.1, 0.1], &[f64::MAX, 0.0], &[0.0, 0.0]), None);
    }

    proptest! {
        #[test]
        fn faster_runs_further(
            q in prop::array::uniform2(-0.2_f64..0.2), rate in prop::array::uniform2(-0.3_f64..0.3),
            thrust in 400.0_f64..3000.0, more in 1.01_f64..1.3,
        ) {
            let mut rig = two_legs();
            rig.actuators.iter_mut().for_each(|leg| leg.thrust_n = thrust);
            let run = |factor: f64| {
                let rate = rate.map(|rate| rate * factor);
                let stop = stop(&rig, &q, &rate, &[0.0, 0.0])?;
                Some((libm::hypot(stop.rest[0] - q[0], stop.rest[1] - q[1]), stop.time_s))
            };
            if let (Some(slow), Some(fast)) = (run(1.0), run(more)) {
                prop_assert!(fast.0 >= slow.0 && fast.1 >= slow.1, "{slow:?} {fast:?}");
            }
        }

        /// No stop inside bounds runs further than the bounds say.
        #[test]
        fn reach_bounds_every_stop(
            q in prop::array::uniform2(-0.15_f64..0.15), rate in prop::array::uniform2(-0.2_f64..0.2),
            onward in prop::array::uniform2(-2.0_f64..2.0), slack in 1.0_f64..1.5,
        ) {
            let mut rig = two_legs();
            rig.actuators.iter_mut().for_each(|leg| leg.thrust_n = f64::INFINITY);
            let sup: Vec<[f64; 5]> = (0..2).map(|j| [0.2, rate[j].abs(), onward[j].abs(), 0.0, 0.0].map(|v| v * slack)).collect();
            let legs: Vec<_> = (0..2).map(|leg| super::super::kinematics::leg_bound(&rig, leg, &sup, 0.3)).collect();
            if let (Some(reach), Some(stop)) = (reach(&rig, &legs), stop(&rig, &q, &rate, &onward)) {
                for j in 0..2 {
                    let way = (stop.rest[j] - q[j]).abs();
                    prop_assert!(way <= reach.way(sup[j][1], sup[j][2]) + 1e-12, "{way} beyond {reach:?}");
                }
            }
        }

        /// Replays the braking that a stop promises and looks at each leg's acceleration, jerk and thrust.
        #[test]
        fn the_promised_braking_is_within_the_limits(
            rate in prop::array::uniform2(-0.3_f64..0.3), thrust in 400.0_f64..3000.0,
        ) {
            let mut rig = two_legs();
            rig.actuators.iter_mut().for_each(|leg| leg.thrust_n = thrust);
            let (q, still) = ([0.0, 0.0], [0.0, 0.0]);
            if let Some(stop) = stop(&rig, &q, &rate, &still) {
                let time = stop.time_s - DELAY_S;
                let speeds = crate::rig::kinematics::jacobian(&rig, &q) * nalgebra::DVector::from_column_slice(&rate);
                let slowest = speeds[stop.slowest_leg].abs();
                // Peak of the common ramp, from its time and the pace-setting leg's own limits.
                let jerk = rig.actuators[stop.slowest_leg].jerk_m_s3;
                let peak = (stop.left_m_s2).min((slowest * jerk).sqrt()) / slowest;
                prop_assert!(time + 1e-9 >= 1.0 / peak, "no faster than its peak allows");
                let braking = rate.map(|rate| -rate * peak);
                for force in crate::rig::legs_n(&rig, &q, &rate, &braking).unwrap() {
                    prop_assert!(force.abs() <= thrust * (1.0 + 1e-9), "{force} N of {thrust} N");
                }
                for (leg, speed) in speeds.iter().enumerate() {
                    prop_assert!(speed.abs() * peak <= rig.actuators[leg].acceleration_m_s2 * (1.0 + 1e-9));
                }
            }
        }
    }
}
