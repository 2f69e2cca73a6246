//! The crank against brute force, differences and hand work.

use super::*;
use proptest::prelude::*;

/// In the x-z plane, arm 0.1 m, rod 0.4 m; the axis along y, so angles run from x (forward) to -z (up).
fn crank() -> Crank {
    Crank {
        centre_r_m: Vector3::new(0.2, -0.1, 0.5),
        axis_r: Vector3::y(),
        zero_r: Vector3::x(),
        arm_m: 0.1,
        rod_m: 0.4,
        assembly: Assembly::Ahead,
    }
}

/// A right triangle 0.3, 0.4, 0.5 by hand: arm 0.3 and rod 0.4 reach 0.5 with cos = 0.6.
#[test]
fn the_law_of_cosines_by_hand() {
    let crank = Crank { arm_m: 0.3, ..crank() };
    assert!((crank.triangle_rad(0.5).unwrap() - libm::acos(0.6)).abs() < 1e-12);
    let up = crank.centre_r_m + Vector3::new(0.0, 0.0, -0.5);
    assert!((crank.angle_rad(up).unwrap() - (PI / 2.0 + libm::acos(0.6))).abs() < 1e-12);
    let behind = Crank { assembly: Assembly::Behind, ..crank };
    let angle = behind.angle_rad(up).unwrap();
    assert!((angle - (PI / 2.0 - libm::acos(0.6))).abs() < 1e-12);
    // Crank and rod stand square: all of the rod's force turns the crank.
    assert!((behind.transmission(angle, up) - 1.0).abs() < 1e-12);
    assert!((behind.torque_nm(100.0, angle, up) - 30.0).abs() < 1e-9);
}

#[test]
fn out_of_reach_says_by_how_much() {
    let crank = crank();
    let at = |distance: f64| crank.centre_r_m + Vector3::new(0.0, 0.0, -distance);
    let Err(CrankError::TooFar { short_m }) = crank.angle_rad(at(0.52)) else { panic!("reached") };
    assert!((short_m - 0.02).abs() < 1e-12);
    let Err(CrankError::TooNear { long_m }) = crank.angle_rad(at(0.25)) else { panic!("reached") };
    assert!((long_m - 0.05).abs() < 1e-12);
    let on_shaft = crank.centre_r_m + Vector3::new(0.0, (0.16_f64 - 0.01).sqrt(), 0.0);
    assert!(crank.angle_rad(on_shaft).is_err(), "every angle or none");
    let dead = at(0.5);
    assert_eq!(crank.gradient_rad_m(dead, 1e-6), Err(CrankError::DeadPoint));
    assert!(crank.gradient_rad_m(at(0.45), 1e-6).is_ok());
    assert_eq!(crank.gradient_rad_m(at(0.45), 0.99), Err(CrankError::DeadPoint));
}

#[test]
fn impossible_cranks_are_refused() {
    assert_eq!(crank().check(), Ok(()));
    assert!(Crank { arm_m: 0.0, ..crank() }.check().is_err());
    assert!(Crank { axis_r: Vector3::new(0.0, 2.0, 0.0), ..crank() }.check().is_err());
    assert!(Crank { zero_r: Vector3::new(0.0, 1.0, 0.0), ..crank() }.check().is_err());
    assert!(Crank { zero_r: Vector3::new(f64::NAN, 0.0, 0.0), ..crank() }.check().is_err());
}

#[test]
fn an_angle_runs_on_past_half_a_turn() {
    // The anchor circles the shaft once; the angle follows it round without a jump.
    let crank = Crank { rod_m: 0.25, ..crank() };
    let mut before = crank.angle_rad(crank.centre_r_m + Vector3::new(0.3, 0.0, 0.0)).unwrap();
    let start = before;
    for k in 1..=720 {
        let (sin, cos) = libm::sincos(f64::from(k) * PI / 360.0);
        let anchor = crank.centre_r_m + Vector3::new(0.3 * cos, 0.0, -0.3 * sin);
        let now = crank.angle_near_rad(anchor, before).unwrap();
        assert!((now - before).abs() < 0.01, "step {k}");
        before = now;
    }
    assert!((before - start - 2.0 * PI).abs() < 1e-9);
}

/// A crank anywhere, and an anchor that it reaches well away from its dead points.
fn reachable() -> impl Strategy<Value = (Crank, Vector3<f64>)> {
    let vector = || prop::array::uniform3(-1.0..1.0_f64).prop_map(Vector3::from);
    let lengths = (0.05..0.3_f64, 0.3..0.8_f64);
    (vector(), vector(), vector(), lengths, any::<bool>(), 0.0..2.0 * PI, vector()).prop_filter_map(
        "square enough and away from dead points",
        |(centre, axis, other, (arm_m, rod_m), ahead, angle, rod)| {
            let axis_r = axis.try_normalize(0.2)?;
            let zero_r = (other - axis_r * other.dot(&axis_r)).try_normalize(0.2)?;
            let assembly = if ahead { Assembly::Ahead } else { Assembly::Behind };
            let crank = Crank { centre_r_m: centre, axis_r, zero_r, arm_m, rod_m, assembly };
            let anchor = crank.pin_r_m(angle) + rod.try_normalize(0.2)? * rod_m;
            let found = crank.angle_rad(anchor).ok()?;
            (crank.transmission(found, anchor).abs() > 0.15).then_some((crank, anchor))
        },
    )
}

proptest! {
    #[test]
    fn both_assemblies_are_all_that_brute_force_finds((crank, anchor) in reachable()) {
        let gap = |angle: f64| (anchor - crank.pin_r_m(angle)).norm() - crank.rod_m;
        let mut found = Vec::new();
        let steps = 720;
        for k in 0..steps {
            let (mut low, mut high) = (f64::from(k), f64::from(k + 1));
            let at = |k: f64| gap(k * 2.0 * PI / f64::from(steps));
            if at(low) * at(high) > 0.0 {
                continue;
            }
            for _ in 0..60 {
                let middle = (low + high) / 2.0;
                if at(low) * at(middle) <= 0.0 { high = middle } else { low = middle }
            }
            found.push(low * 2.0 * PI / f64::from(steps));
        }
        prop_assert_eq!(found.len(), 2);
        for assembly in [Assembly::Ahead, Assembly::Behind] {
            let angle = Crank { assembly, ..crank }.angle_rad(anchor).unwrap();
            let off = |other: f64| ((angle - other + PI).rem_euclid(2.0 * PI) - PI).abs();
            prop_assert!(found.iter().any(|other| off(*other) < 1e-8), "{angle} {found:?}");
            let ahead = crank.axis_r.dot(&(crank.pin_r_m(angle) - crank.centre_r_m).cross(&(anchor - crank.centre_r_m)));
            prop_assert_eq!(ahead < 0.0, assembly == Assembly::Ahead, "the pin is on its side of the anchor's line");
        }
    }

    #[test]
    fn derivatives_are_those_of_differences(
        (crank, anchor) in reachable(), v in prop::array::uniform3(-0.3..0.3_f64), a in prop::array::uniform3(-3.0..3.0_f64),
    ) {
        let (v, a) = (Vector3::from(v), Vector3::from(a));
        let now = AnchorMotion { at_r_m: anchor, velocity_r_m_s: v, acceleration_r_m_s2: a };
        let before = crank.angle_rad(anchor).unwrap();
        let motion = crank.motion(&now, before, 0.01).unwrap();
        prop_assert!((motion.angle_rad - before).abs() < 1e-12);
        let at = |t: f64| crank.angle_near_rad(anchor + v * t + a * (t * t / 2.0), before).unwrap();
        let h = 1e-4;
        let rate = (at(h) - at(-h)) / (2.0 * h);
        let up = (at(h) - 2.0 * before + at(-h)) / (h * h);
        let size = 1.0 + v.norm() / crank.arm_m;
        prop_assert!((rate - motion.rate_rad_s).abs() < 1e-4 * size * size * size, "{rate} {motion:?}");
        prop_assert!((up - motion.acceleration_rad_s2).abs() < 2e-3 * (1.0 + motion.acceleration_rad_s2.abs()), "{up} {motion:?}");
        let slope = crank.gradient_rad_m(anchor, 0.01).unwrap().dot(&v);
        prop_assert!((slope - motion.rate_rad_s).abs() < 1e-9 * size);
    }

    /// Virtual work: what the motor gives is what the rod's force does at the anchor.
    #[test]
    fn torque_does_the_work_of_the_rod((crank, anchor) in reachable(), v in prop::array::uniform3(-0.3..0.3_f64)) {
        let v = Vector3::from(v);
        let angle = crank.angle_rad(anchor).unwrap();
        let rate = crank.gradient_rad_m(anchor, 0.01).unwrap().dot(&v);
        let rod = (anchor - crank.pin_r_m(angle)) / crank.rod_m;
        let work_w = 700.0 * rod.dot(&v);
        prop_assert!((crank.torque_nm(700.0, angle, anchor) * rate - work_w).abs() < 1e-9 * 1000.0);
    }
}
