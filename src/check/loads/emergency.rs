//! A stop under control from some instant, and what the brakes do when power goes after it (category 1).
//!
//! All legs brake together with what the drives have left, as in [`crate::rig::stopping`]; at rest power goes, and every
//! leg is free until its brake drops. Pose, load and gradients are those of the call. *Model only.*

use super::Setup;
use crate::rig::demand::Moment;
use crate::rig::kinematics::{MAX_AXES, Pose, coordinate_m, jacobian};
use crate::rig::mechanics::stop_loads::{WorstDrop, worst_drop};
use crate::rig::stopping::{Onset, StopNow};
use crate::rig::{MAX_LEGS, Payload, Rig};
use arrayvec::ArrayVec;
use nalgebra::{DMatrix, Vector3};
use std::cell::LazyCell;

/// One a leg.
type OfLegs<T> = ArrayVec<T, MAX_LEGS>;

/// What comes of a stop under one load.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::check) struct Controlled {
    /// From the button to rest, s.
    pub(in crate::check) rest_s: f64,
    /// One a leg: shortest and longest on the way and while its brake drops, m.
    pub(in crate::check) legs_m: OfLegs<(f64, f64)>,
    /// Largest deceleration of the head by braking, m/s^2.
    pub(in crate::check) deceleration_m_s2: f64,
    /// Largest sudden change of the head's acceleration when all brakes drop, m/s^2; `None` without screw, motor or
    /// brake on some leg.
    pub(in crate::check) jolt_m_s2: Option<f64>,
}

/// A rig with one load that brakes at once: until the button has reached them, drives follow the profile, and every
/// instant of that is looked at.
pub(super) fn braked(rig: &Rig, payload: &Payload) -> Rig {
    let mut braked = Rig { payload: payload.clone(), ..rig.clone() };
    (braked.drive.detection_s, braked.drive.link_s, braked.drive.delay_s) = (0.0, 0.0, 0.0);
    braked
}

/// The stops from a moment, one a case; `None` where some leg has nothing left to brake with.
pub(super) fn stops(setup: &Setup<'_>, moment: &Moment) -> Vec<Option<Controlled>> {
    let axes = setup.rig.axes.len().min(MAX_AXES);
    let [q, rate, up] = &moment.state;
    let onset = setup.braked.first().and_then(|rig| Onset::of(rig, &q[..axes], &rate[..axes], &up[..axes]));
    let levers = LazyCell::new(|| levers(setup, moment));
    // Where thrust is no limit, all loads stop alike.
    let mut last: Option<Braking> = None;
    let stop = |(case, rig): (usize, &Rig)| {
        let part = setup.rig.parts.emergency?;
        let stop = onset.as_ref()?.stop(rig)?;
        let braking = match last.take() {
            Some(braking) if braking.stop == stop => braking,
            _ => Braking::of(rig, moment, stop, head_p_m(setup)?),
        };
        let braking = &*last.insert(braking);
        let drops: OfLegs<Option<WorstDrop>> =
            (0..moment.legs.len()).map(|leg| dropping(setup, moment, leg, case)).collect();
        let reach = |((short, long), drop): (&(f64, f64), &Option<WorstDrop>)| {
            drop.map_or((*short, *long), |drop| (short + drop.shorter_m, long + drop.longer_m))
        };
        Some(Controlled {
            rest_s: part.delay_s + braking.stop.time_s,
            legs_m: braking.legs_m.iter().zip(&drops).map(reach).collect(),
            deceleration_m_s2: braking.deceleration_m_s2,
            jolt_m_s2: jolt(&drops, || levers.clone()),
        })
    };
    setup.braked.iter().enumerate().map(stop).collect()
}

/// What braking does, before brakes drop.
struct Braking {
    stop: StopNow,
    /// One a leg: shortest and longest on the way, m.
    legs_m: OfLegs<(f64, f64)>,
    /// Largest deceleration of the head, m/s^2.
    deceleration_m_s2: f64,
}

impl Braking {
    fn of(rig: &Rig, moment: &Moment, stop: StopNow, head_p_m: Vector3<f64>) -> Self {
        Self {
            legs_m: on_the_way_m(rig, moment, &stop),
            deceleration_m_s2: braking(moment, &stop, head_p_m).norm(),
            stop,
        }
    }
}

/// The platform point that must not be jolted.
fn head_p_m(setup: &Setup<'_>) -> Option<Vector3<f64>> {
    Some(setup.rig.parts.emergency?.head_p_m.unwrap_or(setup.rig.seat_p_m))
}

/// Shortest and longest that each leg gets on the straight way to rest: of the parabola through start, middle and end.
fn on_the_way_m(rig: &Rig, moment: &Moment, stop: &StopNow) -> OfLegs<(f64, f64)> {
    let mut half = stop.rest;
    half.iter_mut().zip(&moment.state[0]).for_each(|(half, q)| *half = f64::midpoint(*half, *q));
    let (middle, end) = (Pose::at(rig, &half[..stop.axes]), Pose::at(rig, stop.rest()));
    let legs = rig.actuators.iter().zip(&moment.legs);
    legs.map(|(leg, now)| {
        let (l0, l1, l2) = (now.length_m, coordinate_m(&middle, leg), coordinate_m(&end, leg));
        let (bend, slope) = (2.0 * (l0 - 2.0 * l1 + l2), 4.0 * l1 - 3.0 * l0 - l2);
        let top = -slope / (2.0 * bend);
        let (short, long) = (l0.min(l2), l0.max(l2));
        if top > 0.0 && top < 1.0 {
            let turned = l0 + slope * top / 2.0;
            (short.min(turned), long.max(turned))
        } else {
            (short, long)
        }
    })
    .collect()
}

/// A leg at rest whose power goes: it gives way until its brake holds.
fn dropping(setup: &Setup<'_>, moment: &Moment, leg: usize, case: usize) -> Option<WorstDrop> {
    let (cases, brake) = setup.unpowered(moment, leg, case)?;
    worst_drop(&cases, &brake.brake)
}

/// Acceleration of a platform point when deceleration has risen to its largest and speed has hardly fallen, m/s^2.
fn braking(moment: &Moment, stop: &StopNow, point_p_m: Vector3<f64>) -> Vector3<f64> {
    let along = |j: usize| moment.pose.first(j, point_p_m) * (-stop.onset[j] * stop.peak_per_s);
    if stop.peak_per_s == 0.0 {
        return Vector3::zeros();
    }
    (0..moment.pose.count).map(along).sum::<Vector3<f64>>() + moment.pose.curving(&stop.onset, point_p_m)
}

/// What the legs' jolts make of the head's acceleration if all of them add up, m/s^2.
fn jolt(drops: &[Option<WorstDrop>], levers: impl FnOnce() -> Option<OfLegs<f64>>) -> Option<f64> {
    let legs: OfLegs<f64> = drops.iter().map(|drop| Some((*drop)?.felt_m_s2)).collect::<Option<_>>()?;
    if legs.iter().all(|jolt| *jolt == 0.0) {
        return Some(0.0);
    }
    Some(levers()?.iter().zip(&legs).map(|(lever, jolt)| lever * jolt).sum())
}

/// How far the head moves for each leg's way, one a leg; `None` at a singular pose.
fn levers(setup: &Setup<'_>, moment: &Moment) -> Option<OfLegs<f64>> {
    let (rig, head_p_m) = (setup.rig, head_p_m(setup)?);
    let q = &moment.state[0][..rig.axes.len().min(MAX_AXES)];
    let inverse: DMatrix<f64> = jacobian(rig, q).try_inverse()?;
    let moved = |leg: usize| -> Vector3<f64> {
        (0..moment.pose.count).map(|j| moment.pose.first(j, head_p_m) * inverse[(j, leg)]).sum()
    };
    Some((0..moment.legs.len()).map(|leg| moved(leg).norm()).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diag::SourceId;
    use crate::rig::load;
    use crate::rig::mechanics::controlled_stop::StopLimits;

    const LIFT: &str = include_str!("../../../tests/cases/mechanics/lift.toml");
    const STOPS: &str = r#"
[brake]
holding = "1.3 N*m"
margin = "150 %"
weakest = "1.0 N*m"
strongest = "2.0 N*m"
release = "18 V"
delay = "50 ms"
stop_work = "20 J"
stops = 1000
jolt = "25 m/s^2"

[emergency_stop]
delay = "30 ms"
power_off = "500 ms"
"#;

    fn lift(more: &str) -> Rig {
        let loaded = load(SourceId(0), &format!("{LIFT}{more}"));
        loaded.rig.unwrap_or_else(|| panic!("{:?}", loaded.diagnostics))
    }

    fn rising(rig: &Rig, speed_m_s: f64) -> Controlled {
        let setup = Setup::new(rig);
        let mut moment = setup.demands.moment();
        assert!(setup.demands.at(&[0.0], &[-speed_m_s], &[0.0], &mut moment));
        stops(&setup, &moment)[0].clone().unwrap()
    }

    /// One leg under 100 kg and 2.5 kg of its own, by hand. It falls with (1005.2 x 0.88 - 0.03 k) / (5e-5 k^2 +
    /// 102.5 x 0.88) = 5.006 m/s^2 for 50 ms: 0.2503 m/s after 6.26 mm; the brake of 1 N m stops it with 2.422 m/s^2 in
    /// 12.93 mm, the one of 2 N m with 9.851 m/s^2. k is 2 pi / 5 mm.
    #[test]
    fn a_lift_by_hand() {
        let rig = lift(STOPS);
        let found = rising(&rig, 0.2);
        let limits =
            StopLimits { delay_s: 0.03, deceleration_m_s2: 4.0, jerk_m_s3: 200.0, brake_delay_s: 0.0 };
        let alone = limits.stop(0.2);
        assert!((found.rest_s - alone.rest_s).abs() < 1e-12, "{found:?}");
        assert!((found.deceleration_m_s2 - 4.0).abs() < 1e-12, "{found:?}");
        let (short, long) = found.legs_m[0];
        assert!((long - 0.6 - (alone.travel_m - 0.2 * 0.03)).abs() < 1e-4, "{found:?}");
        assert!((0.6 - short - 0.01919).abs() < 1e-4, "{found:?}");
        assert!((found.jolt_m_s2.unwrap() - 14.857).abs() < 2e-3, "{found:?}");
        // Slow, the deceleration has no time to rise: sqrt(v j).
        let slow = rising(&rig, 0.02);
        assert!((slow.deceleration_m_s2 - 2.0).abs() < 1e-12, "{slow:?}");
        // A drive without thrust to spare brakes with what it has left, and a load that takes all leaves nothing.
        let weak = |thrust_n: f64| {
            let mut rig = lift(STOPS);
            rig.actuators[0].thrust_n = thrust_n;
            rig
        };
        let sinking = |rig: &Rig| {
            let setup = Setup::new(rig);
            let mut moment = setup.demands.moment();
            assert!(setup.demands.at(&[0.0], &[0.2], &[0.0], &mut moment));
            stops(&setup, &moment)[0].clone()
        };
        assert!((sinking(&weak(1180.665)).unwrap().deceleration_m_s2 - 2.0).abs() < 1e-9);
        assert_eq!(sinking(&weak(980.0)), None);
    }

    /// Without brakes nothing is said of the jolt, and the travel is that of braking alone.
    #[test]
    fn without_brakes_only_braking_counts() {
        let (_, table) = STOPS.split_once("[emergency_stop]").unwrap();
        let found = rising(&lift(&format!("\n[emergency_stop]{table}")), 0.2);
        assert_eq!(found.jolt_m_s2, None);
        assert!(found.legs_m[0].0 > 0.599, "{found:?}");
    }
}
