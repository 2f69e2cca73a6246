//! Sweeps of a leg that is worked out here: a motor that pushes a load through a spring with backlash, against friction of
//! its own and of the load (Coulomb's), by small steps.

use super::swept::TURNED;
use super::*;

const STEP_S: f64 = 0.002;

/// What the leg is like.
#[derive(Clone, Copy)]
struct Steel {
    /// Friction at the nut and beyond the backlash, N.
    nut_n: f64,
    beyond_n: f64,
    backlash_m: f64,
    /// Of what lies between, N/m.
    stiffness_n_m: f64,
}

const GOOD: Steel = Steel { nut_n: 20.0, beyond_n: 15.0, backlash_m: 0.0, stiffness_n_m: 2e6 };

/// A leg that is moved there and back, slowly, and the force that its drive gives; nothing is predicted.
fn swept(steel: Steel, noise_n: f64) -> Logged {
    let mut random = crate::signal::SplitMix64(5);
    let mut load_m = 0.6;
    let row = |k: u64, at_m: f64, force_n: f64| LoggedCycle {
        tick: k,
        time_s: k as f64 * STEP_S,
        path: "following".to_string(),
        measured_m: vec![at_m],
        sent_m: vec![at_m],
        force_n: vec![force_n],
        predicted_n: vec![0.0],
        ..LoggedCycle::default()
    };
    let cycles = (0..40_000_u64).map(|k| {
        let t_s = k as f64 * STEP_S;
        let angle = std::f64::consts::TAU * 0.05 * t_s;
        let (motor_m, speed) = (0.6 + 0.03 * libm::sin(angle), libm::cos(angle));
        // The load stays where it is until the spring overcomes its friction; play takes up the rest.
        let half = 0.5 * steel.backlash_m + steel.beyond_n / steel.stiffness_n_m;
        load_m = f64::clamp(load_m, motor_m - half, motor_m + half);
        let wound_m = motor_m - load_m;
        let spring_n =
            steel.stiffness_n_m * (wound_m.abs() - 0.5 * steel.backlash_m).max(0.0).copysign(wound_m);
        let force_n = spring_n + steel.nut_n.copysign(speed) + noise_n * (2.0 * random.next_unit() - 1.0);
        row(k, motor_m, force_n)
    });
    let entries = [("answers", "a bench"), ("drives", "7 8")].map(|(key, value)| (key.into(), value.into()));
    Logged {
        entries: entries.to_vec(),
        legs: vec!["left".to_string()],
        cycles: cycles.collect(),
        ..Logged::default()
    }
}

fn found(logged: &Logged) -> (f64, f64) {
    let sweep = Sweep::of(logged);
    let [leg] = &sweep.legs[..] else { panic!("{sweep:?}") };
    assert_eq!((leg.leg.as_str(), sweep.tap_hz, sweep.of.as_str()), ("left", None, "a bench 7 8"));
    (leg.friction_n.unwrap(), leg.turn_m.unwrap())
}

#[test]
fn friction_is_half_of_what_directions_differ_by() {
    for (steel, noise_n) in [(GOOD, 0.0), (GOOD, 10.0), (Steel { nut_n: 5.0, beyond_n: 60.0, ..GOOD }, 3.0)] {
        let (friction_n, _) = found(&swept(steel, noise_n));
        let wanted = steel.nut_n + steel.beyond_n;
        assert!((friction_n - wanted).abs() < 0.02 * wanted + 0.1 * noise_n, "{friction_n} N of {wanted}");
    }
}

#[test]
fn backlash_and_wind_up_show_where_a_leg_turns_round() {
    // The load's friction turns after the play and twice the winding; that is 30 of 70 N, so 90 % lie inside it.
    let way_m = |steel: Steel| {
        let part =
            (TURNED * 2.0 * (steel.nut_n + steel.beyond_n) - 2.0 * steel.nut_n) / (2.0 * steel.beyond_n);
        // The first half of unwinding comes before the play.
        let winding_m = steel.beyond_n / steel.stiffness_n_m;
        2.0 * winding_m * part + steel.backlash_m
    };
    for steel in [
        GOOD,
        Steel { backlash_m: 0.0002, ..GOOD },
        Steel { stiffness_n_m: 1e5, ..GOOD },
        Steel { backlash_m: 0.0001, stiffness_n_m: 3e5, ..GOOD },
    ] {
        let (_, turn_m) = found(&swept(steel, 0.0));
        let wanted = way_m(steel);
        assert!((turn_m - wanted).abs() < 0.1 * wanted + 1.5e-5, "{turn_m} of {wanted}");
    }
}

/// A damped swing at its own frequency in the forces of two legs, one pulling where the other pushes; before it, silence.
fn tapped(hz: f64, damping: f64, size_n: f64) -> Logged {
    let mut random = crate::signal::SplitMix64(9);
    let cycles = (0..5000_u64).map(|k| {
        let since_s = (k as f64 - 1500.0) * STEP_S;
        let angle = std::f64::consts::TAU * hz * since_s;
        let ring = if since_s < 0.0 { 0.0 } else { libm::exp(-damping * angle) * libm::sin(angle) };
        let mut noise = || 0.5 * (2.0 * random.next_unit() - 1.0);
        LoggedCycle {
            tick: k,
            time_s: k as f64 * STEP_S,
            path: "following".to_string(),
            measured_m: vec![0.6, 0.6],
            // The scene moves before, and then stands.
            sent_m: vec![0.6 + 1e-5 * (1000.0 - k as f64).max(0.0), 0.6],
            force_n: vec![-400.0 + size_n * ring + noise(), -380.0 - 0.7 * size_n * ring + noise()],
            predicted_n: vec![0.0, 0.0],
            ..LoggedCycle::default()
        }
    });
    let legs = ["left", "right"].map(String::from).to_vec();
    Logged { legs, cycles: cycles.collect(), ..Logged::default() }
}

#[test]
fn a_tap_rings_at_the_frequency_of_the_platform() {
    for (hz, damping) in [(4.3, 0.03), (11.7, 0.02), (23.1, 0.05)] {
        let sweep = Sweep::of(&tapped(hz, damping, 60.0));
        let tap_hz = sweep.tap_hz.unwrap();
        assert!((tap_hz / hz - 1.0).abs() < 0.01, "{tap_hz} Hz of {hz}");
        assert!(sweep.legs.iter().all(|leg| leg.friction_n.is_none() && leg.turn_m.is_none()));
    }
    assert_eq!(Sweep::of(&tapped(11.7, 0.02, 0.0)).tap_hz, None, "nobody tapped");
}

#[test]
fn nothing_is_told_of_what_was_not_swept() {
    assert_eq!(Sweep::of(&Logged::default()), Sweep::default());
    let mut one_way = swept(GOOD, 0.0);
    one_way.cycles.truncate(2000);
    let sweep = Sweep::of(&one_way);
    assert_eq!((sweep.legs[0].friction_n, sweep.legs[0].turn_m), (None, None));
    let mut blind = swept(GOOD, 0.0);
    blind.cycles.iter_mut().for_each(|cycle| cycle.force_n = vec![f64::NAN]);
    assert_eq!(Sweep::of(&blind).legs[0].friction_n, None);
}
