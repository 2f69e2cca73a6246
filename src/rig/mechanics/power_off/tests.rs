//! Stops without power against hand work and against integration in small steps.

use super::*;
use proptest::prelude::*;

/// No friction, 5 mm lead, 6e-5 kg m^2 (94.748 kg at the nut), 60 kg that pull the leg shorter with 600 N.
fn leg() -> Unpowered {
    Unpowered {
        screw: BallScrew {
            lead_m: 0.005,
            efficiency_forward: 1.0,
            efficiency_back: 1.0,
            drag_nm: 0.0,
            inertia_kg_m2: 2e-5,
        },
        turning_kg_m2: 6e-5,
        carried_kg: 60.0,
        load_n: -600.0,
        brake_nm: 1.3,
        delay_s: 0.03,
    }
}

/// By hand: mass 154.748 kg; coast a = -3.87727; from -0.2 m/s over 0.03 s: v = -0.316318, way -0.00774477;
/// brake 1.3 N m = 1633.628 N: a = +6.679414, way 0.316318^2/(2 x 6.679414) = 0.00749003.
#[test]
fn a_fall_by_hand() {
    let stop = leg().stop(-0.2);
    assert!(stop.stops);
    assert_eq!(stop.stages.len(), 2);
    assert!((stop.stages[0].acceleration_m_s2 + 3.877_27).abs() < 1e-4, "{stop:?}");
    assert!((stop.stages[1].acceleration_m_s2 - 6.679_41).abs() < 1e-4, "{stop:?}");
    assert!((stop.furthest_m().0 + 0.007_744_77 + 0.007_490_03).abs() < 1e-7, "{:?}", stop.furthest_m());
    assert_eq!(stop.furthest_m().1, 0.0);
    assert!((stop.rest_s() - (0.03 + 0.316_318 / 6.679_414)).abs() < 1e-6);
    assert!((stop.peak_m_s2() - 6.679_41).abs() < 1e-4);
    assert!((stop.jolt_m_s2(0.0) - 10.556_68).abs() < 2e-4, "coast to brake: {}", stop.jolt_m_s2(0.0));
    // All of the energy at the brake's start and the fall during braking goes into the brake.
    let expected_j = leg().energy_j(0.316_318) + 600.0 * 0.007_490_03;
    assert!((stop.brake_j(&leg()) - expected_j).abs() < 1e-3, "{} {expected_j}", stop.brake_j(&leg()));
}

#[test]
fn a_leg_on_its_way_up_turns_round_before_the_brake() {
    let leg = Unpowered { delay_s: 0.1, ..leg() };
    let stop = leg.stop(0.1);
    let up_m = 0.01 / (2.0 * 3.877_27);
    assert_eq!(stop.stages.len(), 3);
    assert!((stop.furthest_m().1 - up_m).abs() < 1e-7);
    assert!(stop.furthest_m().0 < -0.005 && stop.stops);
    assert_eq!(stop.speed_at_m_s(0.01), None);
    assert!((stop.speed_at_m_s(up_m / 2.0).unwrap() - 0.1 / std::f64::consts::SQRT_2).abs() < 1e-5);
}

#[test]
fn without_a_brake_it_runs_to_the_end_stop_or_holds_by_friction() {
    let bare = Unpowered { brake_nm: 0.0, ..leg() };
    let stop = bare.stop(0.0);
    assert!(!stop.stops);
    assert_eq!(stop.furthest_m(), (f64::NEG_INFINITY, 0.0));
    assert_eq!((stop.rest_s(), stop.brake_j(&bare)), (f64::INFINITY, 0.0));
    let speed = stop.speed_at_m_s(-0.1).unwrap();
    assert!((speed + (2.0 * 3.877_27 * 0.1_f64).sqrt()).abs() < 1e-5, "{speed}");
    assert_eq!(stop.speed_at_m_s(0.1), None);
    let dry = Unpowered { screw: BallScrew { efficiency_back: 0.0, ..bare.screw }, ..bare };
    assert_eq!(dry.stop(0.0), PowerOff { stages: Stages::new(), stops: true });
    let weak = Unpowered { brake_nm: 0.2, ..bare };
    assert!(!weak.stop(-0.1).stops, "600 N need 0.477 N m");
}

/// The same equations stepped in small times, friction chosen anew at each.
fn stepped(leg: &Unpowered, speed: f64) -> (f64, f64) {
    let step = 2e-6;
    let k = leg.screw.turn_rad_m();
    let (mut x, mut v, mut t) = (0.0, speed, 0.0);
    loop {
        let friction = leg.screw.drag_nm + if t >= leg.delay_s { leg.brake_nm } else { 0.0 };
        let free = leg.screw.back_driving_nm(leg.load_n).abs() > friction;
        if v == 0.0 && !free {
            return (x, t);
        }
        let s = if v == 0.0 { leg.load_n.signum() } else { v.signum() };
        // Solve for the nut force by bisection: shaft and load must agree on the acceleration.
        let gap = |n: f64| {
            let e = if n * s > 0.0 { 1.0 / leg.screw.efficiency_forward } else { leg.screw.efficiency_back };
            let shaft = (-n * e / k - friction * s) / leg.turning_kg_m2 / k;
            (n + leg.load_n) / leg.carried_kg - shaft
        };
        let (mut low, mut high) = (-1e5, 1e5);
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            if gap(middle) > 0.0 { high = middle } else { low = middle }
        }
        let a = (low + leg.load_n) / leg.carried_kg;
        let next = v + a * step;
        x += (v + next) / 2.0 * step;
        v = if next * v < 0.0 { 0.0 } else { next };
        t += step;
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]
    #[test]
    fn agrees_with_small_steps(
        speed in -0.25..0.25_f64, load in -900.0..900.0_f64, eta in 0.7..1.0_f64, back in 0.5..1.0_f64,
        drag in 0.0..0.1_f64, delay in 0.0..0.06_f64,
    ) {
        let screw = BallScrew { efficiency_forward: eta, efficiency_back: back, drag_nm: drag, ..leg().screw };
        let leg = Unpowered { screw, load_n: load, delay_s: delay, brake_nm: 1.5, ..leg() };
        let stop = leg.stop(speed);
        prop_assert!(stop.stops);
        let (x, t) = stepped(&leg, speed);
        let end = stop.stages.last().map_or(0.0, Stage::end_m);
        prop_assert!((end - x).abs() < 2e-6, "{end} {x}");
        prop_assert!((stop.rest_s() - t).abs() < 2e-4, "{} {t}", stop.rest_s());
    }

    /// A stop never gains: kinetic energy and the load's work are the heat of the brake and more.
    #[test]
    fn a_stop_never_gains(speed in -0.25..0.25_f64, load in -900.0..900.0_f64) {
        let leg = Unpowered { load_n: load, ..leg() };
        let stop = leg.stop(speed);
        let end = stop.stages.last().map_or(0.0, Stage::end_m);
        let given = leg.energy_j(speed) + load * end;
        prop_assert!((stop.brake_j(&leg) - given).abs() < 1e-9 * given.abs().max(1.0), "frictionless: all of it");
    }
}
