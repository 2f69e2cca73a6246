use super::super::limits::{Bound, LegLimits};
use super::*;

const T: f64 = 0.001;
const LEG: LegLimits =
    LegLimits { low_m: 0.6, high_m: 0.9, speed_m_s: 0.3, acceleration_m_s2: 3.0, window_m: 0.01 };

fn governor(at: &[f64]) -> Governor {
    Governor::start(Limits::new(&vec![LEG; at.len()], T).unwrap(), at).unwrap()
}

fn tilt() -> Bound {
    Bound { weight: vec![1.0, -1.0], at_most_m: 0.05 }
}

#[test]
fn follows_what_fits_bit_for_bit() {
    let mut g = governor(&[0.75, 0.75]);
    for k in 0..3000 {
        let t = k as f64 * T;
        // 40 mm at 1 Hz: 0.251 m/s and 1.58 m/s^2, eased in over a second.
        let ease = t.min(1.0) * t.min(1.0);
        let wanted = [
            0.75 + ease * 0.04 * libm::sin(std::f64::consts::TAU * t),
            0.75 - ease * 0.03 * libm::sin(std::f64::consts::TAU * t),
        ];
        let (out, outcome) = g.step(&wanted, Some(&wanted));
        assert_eq!(outcome, Outcome::Followed, "{k}");
        assert_eq!(&*out, &wanted);
    }
}

#[test]
fn goes_to_a_far_target_in_the_time_of_the_trapezium_and_stays() {
    let mut g = governor(&[0.65]);
    let cycles = (0..2000).take_while(|_| g.step(&[0.85], None).0[0] != 0.85 || !g.is_at_rest()).count();
    assert_eq!(g.set_points_m()[0], 0.85);
    // d / v + v / a = 0.7667 s (trapezium of speed, common practice).
    assert!((766..=772).contains(&cycles), "{cycles}");
}

#[test]
fn a_coordinated_stop_keeps_the_ratio_of_the_legs_and_ends_at_rest() {
    let mut g = governor(&[0.75, 0.75]);
    for k in 0..200 {
        let x = 1e-6 * f64::from(k) * f64::from(k);
        g.step(&[0.75 + x, 0.75 - x / 4.0], None);
    }
    g.brake();
    let from = *g.set_points_m();
    let speed = g.speed_m_s()[0];
    let mut cycles = 0;
    loop {
        let before = *g.set_points_m();
        let (out, outcome) = g.step(&[0.75, 0.75], None);
        assert_eq!(outcome, Outcome::Held(Hold::Braking));
        let (a, b) = (out[0] - before[0], out[1] - before[1]);
        assert!((a + 4.0 * b).abs() < 1e-12, "{a} {b}");
        if g.is_at_rest() {
            break;
        }
        cycles += 1;
    }
    // v^2 / 2a less the half cycle's share, and v / a.
    assert!((g.set_points_m()[0] - from[0] - speed * speed / 6.0).abs() < speed * T);
    assert!((f64::from(cycles) - speed / 3.0 / T).abs() < 2.0, "{cycles}");
    assert!(g.reset());
    assert_eq!(g.step(&[out_of(&g, 0), out_of(&g, 1)], None).1, Outcome::Followed);
}

fn out_of(g: &Governor, leg: usize) -> f64 {
    g.set_points_m()[leg]
}

#[test]
fn says_what_held_it_back() {
    let held = |at: f64, wanted: f64| match governor(&[0.75, at]).step(&[0.75, wanted], None).1 {
        Outcome::Held(hold) => (hold.word(), hold.leg()),
        other => panic!("{other:?}"),
    };
    assert_eq!(held(0.75, f64::NAN), ("not-a-number", Some(1)));
    assert_eq!(held(0.75, f64::INFINITY), ("not-a-number", Some(1)));
    assert_eq!(held(0.75, 0.95), ("stroke", Some(1)));
    assert_eq!(held(0.75, 0.76), ("speed", Some(1)));
    assert_eq!(held(0.75, 0.7501), ("acceleration", Some(1)));
    let mut g = governor(&[0.75]);
    assert_eq!(g.step(&[], None).1, Outcome::Held(Hold::NotANumber { leg: 0 }));
    // Running at the end of the stroke: it is held before it gets there, for the stop's sake.
    let mut g = governor(&[0.85]);
    let mut x = 0.85;
    let first = (0..1000).find_map(|k| {
        x += (f64::from(k) * 3e-6).min(0.0003);
        match g.step(&[x], None).1 {
            Outcome::Followed => None,
            Outcome::Held(hold) => Some((hold.word(), x)),
            other => panic!("{other:?}"),
        }
    });
    let (word, x) = first.unwrap();
    assert_eq!(word, "stopping");
    assert!((x - (0.9 - 0.015)).abs() < 0.001, "{x}");
}

#[test]
fn a_measured_jump_trips_and_stays_tripped_and_never_re_anchors() {
    let mut g = governor(&[0.75, 0.75]);
    assert_eq!(g.step(&[0.75, 0.75], Some(&[0.7599, 0.75])).1, Outcome::Followed);
    let (out, outcome) = g.step(&[0.75, 0.75], Some(&[0.75, 0.7701]));
    let trip = Trip { leg: 1, measured_m: 0.7701, set_point_m: 0.75, window_m: 0.01 };
    assert_eq!(outcome, Outcome::Tripped(trip));
    assert_eq!(&*out, &[0.75, 0.75]);
    let (out, outcome) = g.step(&[0.7500001, 0.75], Some(&[0.75, 0.75]));
    assert_eq!(outcome, Outcome::Tripped(trip));
    assert_eq!(&*out, &[0.75, 0.75]);
    assert!(g.reset());
    assert_eq!(g.step(&[0.75, 0.75], Some(&[0.75, 0.75])).1, Outcome::Followed);
    assert!(matches!(g.step(&[0.75, 0.75], Some(&[f64::NAN, 0.75])).1, Outcome::Tripped(t) if t.leg == 0));
    assert!(matches!(governor(&[0.75]).step(&[0.75], Some(&[])).1, Outcome::Tripped(_)));
}

#[test]
fn refuses_a_start_outside() {
    let limits = Limits::new(&[LEG, LEG], T).unwrap();
    let refuse = |at: &[f64]| Governor::start(limits.clone(), at).err();
    assert_eq!(
        refuse(&[0.7, 0.5999]),
        Some(StartError::Outside { leg: 1, at_m: 0.5999, low_m: 0.6, high_m: 0.9 })
    );
    assert!(refuse(&[0.7, f64::NAN]).is_some());
    assert_eq!(refuse(&[0.7]), Some(StartError::Count { found: 1, expected: 2 }));
    assert_eq!(refuse(&[0.7, 0.6]), None);
    let tilted = limits.bounded(Keeps::Joint, &tilt()).unwrap();
    assert!(matches!(
        Governor::start(tilted, &[0.8, 0.7]),
        Err(StartError::Bound { keeps: Keeps::Joint, bound: 0, .. })
    ));
}

#[test]
fn a_joint_bound_holds_like_a_stroke() {
    let limits = Limits::new(&[LEG, LEG], T).unwrap().bounded(Keeps::Clearance, &tilt()).unwrap();
    let mut g = Governor::start(limits, &[0.75, 0.75]).unwrap();
    let mut worst: f64 = 0.0;
    for _ in 0..2000 {
        let (out, _) = g.step(&[0.85, 0.65], None);
        worst = worst.max(out[0] - out[1]);
    }
    assert!((worst - 0.05).abs() < TOLERANCE, "{worst}");
}
