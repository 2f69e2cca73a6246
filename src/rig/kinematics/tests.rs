//! Kinematics against worked values, against differences, and against itself by another way.

use super::*;
use crate::rig::sample::{actuator, lift, rig, six_legs, two_legs};
use crate::rig::{Axis, gravity_legs_n};
use crate::signal::{BLOCK, JetBlock};
use proptest::prelude::*;

/// Pitch and roll in deg (nose up is positive here, theirs is nose down), leg lengths in m, leg forces in N.
/// Source: worked example computed independently, printed to 1e-6 m and 1e-3 N, with g = 9.81 m/s^2; repeated by
/// MuJoCo in tests/kinematics_peers.rs.
const WORKED: [([f64; 2], [f64; 2], [f64; 2]); 4] = [
    ([0.0, 0.0], [0.550_000, 0.550_000], [-65.400, -65.400]),
    ([-10.0, 0.0], [0.628_904, 0.628_904], [-120.717, -120.717]),
    ([0.0, 10.0], [0.602_868, 0.498_841], [-150.063, 19.266]),
    ([12.0, 7.0], [0.493_833, 0.423_128], [-55.666, 66.775]),
];

#[test]
fn the_worked_example_comes_out() {
    let rig = two_legs();
    for (degrees, lengths, forces) in WORKED {
        let q = degrees.map(f64::to_radians);
        for (found, expected) in lengths_m(&rig, &q).iter().zip(lengths) {
            assert!((found - expected).abs() < 6e-7, "{degrees:?}: {found} and not {expected}");
        }
        let standard = crate::units::STANDARD_GRAVITY_M_S2 / 9.81;
        for (found, expected) in gravity_legs_n(&rig, &q).unwrap().iter().zip(forces) {
            assert!((found - expected * standard).abs() < 6e-4, "{degrees:?}: {found} and not {expected}");
        }
    }
}

/// Common practice: a 300 mm stroke with 6 deg of pitch and 11 deg of roll, one at a time, allows lever arms of at
/// most 1.43 m and 0.79 m; together a sin 6 + b sin 11 may be 150 mm.
#[test]
fn lever_arms_follow_from_a_stroke() {
    // Legs so long that they stay upright: then a leg moves by arm sin(angle).
    let (a, b) = (1.435, 0.786);
    let rig = rig(
        &[Axis::Pitch, Axis::Roll],
        vec![actuator("left", [-a, -b, 1e5], [-a, -b, 0.0]), actuator("right", [-a, b, 1e5], [-a, b, 0.0])],
    );
    let moved = |pitch: f64, roll: f64| lengths_m(&rig, &[pitch.to_radians(), roll.to_radians()])[1] - 1e5;
    assert!((moved(6.0, 0.0) - -0.150).abs() < 1e-4, "{}", moved(6.0, 0.0));
    assert!((moved(0.0, 11.0) - -0.150).abs() < 1e-4, "{}", moved(0.0, 11.0));
    // Both at once need twice the half stroke.
    assert!((moved(6.0, 11.0) - -0.300).abs() < 1e-2, "{}", moved(6.0, 11.0));
}

fn coordinates() -> impl Strategy<Value = [f64; 6]> {
    prop::array::uniform6(-0.3_f64..0.3)
}

fn difference(rig: &Rig, q: &[f64], j: usize, f: impl Fn(&[f64]) -> DMatrix<f64>) -> DMatrix<f64> {
    const STEP: f64 = 1e-5;
    let shifted = |by: f64| {
        let mut q = q[..rig.axes.len()].to_vec();
        q[j] += by;
        f(&q)
    };
    (shifted(STEP) - shifted(-STEP)) / (2.0 * STEP)
}

/// A polynomial motion's jet of each coordinate at time t.
fn motion(axes: usize, a: &[f64; 6], b: &[f64; 6], c: &[f64; 6], t: f64) -> Vec<Jet> {
    let jet = |j: usize| {
        let (a, b, c) = (a[j], b[j] * 3.0, c[j] * 30.0);
        Jet([
            a + b * t + 3.0 * a * t * t + c * t * t * t,
            b + 6.0 * a * t + 3.0 * c * t * t,
            6.0 * a + 6.0 * c * t,
            6.0 * c,
        ])
    };
    (0..axes).map(jet).collect()
}

proptest! {
    #[test]
    fn derivatives_equal_differences(q in coordinates()) {
        for rig in [two_legs(), six_legs(), lift()] {
            let q = &q[..rig.axes.len()];
            let (jacobian_at, hessians_at) = (jacobian(&rig, q), hessians(&rig, q));
            for j in 0..q.len() {
                let lengths = |q: &[f64]| DMatrix::from_vec(rig.actuators.len(), 1, lengths_m(&rig, q));
                let column = difference(&rig, q, j, lengths);
                prop_assert!((jacobian_at.column(j) - column.column(0)).amax() < 1e-9);
                let slope = difference(&rig, q, j, |q| jacobian(&rig, q));
                for (leg, hessian) in hessians_at.iter().enumerate() {
                    prop_assert!((hessian.row(j) - slope.row(leg)).amax() < 1e-8);
                }
            }
        }
    }

    #[test]
    fn jets_equal_jacobian_hessian_and_differences(
        a in coordinates(), b in coordinates(), c in coordinates(),
    ) {
        for rig in [two_legs(), six_legs(), lift()] {
            let n = rig.axes.len();
            let at = |t: f64| motion(n, &a, &b, &c, t);
            let now = at(0.0);
            let take = |k: usize| nalgebra::DVector::from_iterator(n, now.iter().map(|jet| jet.0[k]));
            let (jacobian, hessians) = (jacobian(&rig, take(0).as_slice()), hessians(&rig, take(0).as_slice()));
            let lengths = lengths_m(&rig, take(0).as_slice());
            let speeds = &jacobian * take(1);
            for leg in 0..rig.actuators.len() {
                let jet = leg_jet(&rig, leg, &now).0;
                prop_assert!((jet[0] - lengths[leg]).abs() < 1e-14);
                prop_assert!((jet[1] - speeds[leg]).abs() < 1e-13);
                let curve = (take(1).transpose() * &hessians[leg] * take(1))[0];
                prop_assert!((jet[2] - (&jacobian * take(2))[leg] - curve).abs() < 1e-12);
                const STEP: f64 = 1e-5;
                let (after, before) = (leg_jet(&rig, leg, &at(STEP)).0, leg_jet(&rig, leg, &at(-STEP)).0);
                let jerk = (after[2] - before[2]) / (2.0 * STEP);
                prop_assert!((jet[3] - jerk).abs() < 1e-6 * (1.0 + jerk.abs()), "{} {}", jet[3], jerk);
            }
        }
    }

    /// The fast path takes other formulas; the angles go beyond pi/4 so that both kernels are seen.
    #[test]
    fn blocks_equal_jets(a in coordinates(), b in coordinates(), c in coordinates(), count in 0..=BLOCK) {
        let swapped = { let mut rig = two_legs(); rig.axes.swap(0, 1); rig };
        let yawing = { let mut rig = two_legs(); rig.axes[0].axis = Axis::Yaw; rig };
        for rig in [two_legs(), swapped, yawing, six_legs(), lift()] {
            let n = rig.axes.len();
            let mut q = vec![JetBlock::zero(); n];
            for k in 0..BLOCK {
                for (block, jet) in q.iter_mut().zip(motion(n, &a, &b, &c, k as f64 / 300.0)) {
                    (0..4).for_each(|d| block.0[d][k] = jet.0[d]);
                }
            }
            let mut legs = vec![JetBlock::zero(); rig.actuators.len()];
            leg_block(&rig, &q, count, &mut legs);
            for k in 0..count {
                let now: Vec<Jet> = q.iter().map(|block| block.at(k)).collect();
                for (leg, block) in legs.iter().enumerate() {
                    for (found, expected) in block.at(k).0.iter().zip(leg_jet(&rig, leg, &now).0) {
                        prop_assert!((found - expected).abs() <= 1e-12 * (1.0 + expected.abs()), "{found} {expected}");
                    }
                }
            }
        }
    }

    #[test]
    fn forward_undoes_inverse(q in coordinates(), start in coordinates()) {
        for rig in [two_legs(), six_legs(), lift()] {
            let n = rig.axes.len();
            let start: Vec<f64> = (0..n).map(|j| q[j] + 0.2 * start[j]).collect();
            let wanted = lengths_m(&rig, &q[..n]);
            let found = forward(&rig, &wanted, &start).unwrap();
            for (found, wanted) in lengths_m(&rig, found.as_slice()).iter().zip(&wanted) {
                prop_assert!((found - wanted).abs() <= FORWARD_TOLERANCE_M);
            }
            for (found, wanted) in found.iter().zip(&q) {
                prop_assert!((found - wanted).abs() < 1e-9, "another pose: {found} and not {wanted}");
            }
        }
    }

    /// Sinusoids have known suprema; no sample of any leg may pass the bound made from them.
    #[test]
    fn no_motion_passes_its_bound(
        amplitude in coordinates(), second in coordinates(), rate in prop::array::uniform6(0.5_f64..40.0),
        phase in prop::array::uniform6(0.0_f64..6.3),
    ) {
        for rig in [two_legs(), six_legs(), lift()] {
            let n = rig.axes.len();
            let wave = |j: usize, t: f64| {
                let (w, v) = (rate[j], rate[j] * 0.37);
                let (s, c) = libm::sincos(w * t + phase[j]);
                let (s2, c2) = libm::sincos(v * t);
                let (a, b) = (amplitude[j], second[j] * 0.3);
                Jet([a * s + b * s2, a * w * c + b * v * c2, -a * w * w * s - b * v * v * s2,
                    -a * w * w * w * c - b * v * v * v * c2])
            };
            let sup: Vec<[f64; 5]> = (0..n).map(|j| {
                let (a, b, w) = (amplitude[j].abs(), second[j].abs() * 0.3, rate[j]);
                [0.0, 1.0, 2.0, 3.0, 4.0].map(|k| a * libm::pow(w, k) + b * libm::pow(w * 0.37, k))
            }).collect();
            let at = |leg: usize, t: f64| leg_jet(&rig, leg, &(0..n).map(|j| wave(j, t)).collect::<Vec<_>>()).0;
            for leg in 0..rig.actuators.len() {
                let times: Vec<f64> = (0..200).map(|k| k as f64 * 0.0137).collect();
                let shortest = times.iter().map(|t| at(leg, *t)[0]).fold(f64::INFINITY, f64::min) * 0.999;
                let bound = leg_bound(&rig, leg, &sup, shortest);
                for t in times {
                    let jet = at(leg, t);
                    for k in 0..4 {
                        prop_assert!(jet[k].abs() <= bound[k], "derivative {k}: {} above {}", jet[k], bound[k]);
                    }
                    let step = 1e-4 / rate.iter().fold(1.0_f64, |most, w| most.max(*w));
                    let fourth = (at(leg, t + step)[3] - at(leg, t - step)[3]) / (2.0 * step);
                    prop_assert!(fourth.abs() <= bound[4] * (1.0 + 1e-6), "fourth: {fourth} above {}", bound[4]);
                }
            }
        }
    }
}

/// Largest |derivative| of leg 0 over `motion(t)`, t from -2 to 2 s, each over its bound. The fourth by differences.
fn used(rig: &Rig, sup: [f64; 5], motion: impl Fn(f64) -> Jet) -> [f64; 5] {
    const STEP: f64 = 1e-4;
    let at = |t: f64| leg_jet(rig, 0, &[motion(t)]).0;
    let mut most = [0.0_f64; 5];
    let mut shortest = f64::INFINITY;
    for k in -2000..=2000 {
        let t = f64::from(k) * 1e-3;
        let [value, first, second, third] = at(t);
        let fourth = (at(t + STEP)[3] - at(t - STEP)[3]) / (2.0 * STEP);
        shortest = shortest.min(value);
        for (most, found) in most.iter_mut().zip([value, first, second, third, fourth]) {
            *most = most.max(found.abs());
        }
    }
    let bound = leg_bound(rig, 0, &[sup], shortest);
    std::array::from_fn(|k| most[k] / bound[k])
}

/// Motions that come near their bounds: a bound that is wrong by a term or a factor would be passed here.
#[test]
fn the_bound_is_near_where_it_can_be() {
    let near = |found: [f64; 5], least: [f64; 5]| {
        for (k, (found, least)) in found.into_iter().zip(least).enumerate() {
            assert!(found >= least && found <= 1.0 + 1e-6, "derivative {k} uses {found} of its bound");
        }
    };
    let steady = |t: f64| Jet([3.0 * t, 3.0, 0.0, 0.0]);
    // Round and round, the other end so far away that the leg sees a plain sinusoid.
    let far = rig(&[Axis::Pitch], vec![actuator("one", [0.0, 0.3, 1e4], [-0.7, -0.4, 0.0])]);
    near(used(&far, [6.0, 3.0, 0.0, 0.0, 0.0], steady), [0.9, 0.99, 0.99, 0.99, 0.99]);
    // Past the other end at a constant speed: L^2 = h^2 + v^2 t^2. The third derivative has a peak of
    // 0.858 v^3 / h^2, the fourth one of 3 v^4 / h^3.
    let past = rig(&[Axis::Surge], vec![actuator("one", [0.0, 0.0, 0.5], [0.0, 0.0, 0.0])]);
    near(used(&past, [6.0, 3.0, 0.0, 0.0, 0.0], steady), [0.9, 0.98, 0.99, 0.74, 0.39]);
    // Straight towards it: the leg does what the axis does.
    let swinging = |t: f64| {
        let (s, c) = libm::sincos(3.0 * t);
        Jet([0.1 * s, 0.3 * c, -0.9 * s, -2.7 * c])
    };
    near(used(&lift(), [0.1, 0.3, 0.9, 2.7, 8.1], swinging), [0.9, 0.99, 0.7, 0.5, 0.1]);
    assert!(leg_bound(&lift(), 0, &[[0.0; 5]], 0.5)[1..].iter().all(|value| *value == 0.0));
    assert_eq!(leg_bound(&lift(), 0, &[[0.0; 5]], 0.0)[2], f64::INFINITY);
}

#[test]
fn forward_refuses_what_no_pose_fits() {
    let rig = two_legs();
    let error = forward(&rig, &[3.0, 0.5], &[0.0, 0.0]).unwrap_err();
    let ForwardError::NoPose { worst_m, .. } = error;
    assert!(worst_m > 0.1, "{error}");
    assert!(forward(&rig, &[f64::NAN, 0.5], &[0.0, 0.0]).is_err());
    assert!(forward(&rig, &[0.5], &[0.0, 0.0]).is_err());
}

#[test]
fn end_joints_swing_with_the_pose() {
    let rig = two_legs();
    assert!(swings(&rig, &[0.0, 0.0]).iter().all(|swing| swing.base_rad < 1e-12 && swing.anchor_rad < 1e-12));
    let swung = swings(&rig, &[0.2, 0.0])[0];
    // The leg hardly leans; the platform end sees the whole pitch.
    assert!(swung.base_rad < 0.05 && (swung.anchor_rad - 0.2).abs() < 0.05, "{swung:?}");
}
