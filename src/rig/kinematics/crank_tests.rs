//! Crank legs: derivatives against differences, lanes against single samples, bounds against samples.

use super::*;
use crate::rig::crank::dead_point::least_transmission;
use crate::rig::sample::{mixed_legs, two_cranks};
use crate::rig::{Rig, stopping};
use crate::signal::{BLOCK, JetBlock};
use proptest::prelude::*;

/// Rigs whose cranks know how near a dead point they come inside this range of the joint.
fn rigs(range: f64) -> [Rig; 2] {
    [two_cranks(), mixed_legs()].map(|mut rig| {
        rig.axes.iter_mut().for_each(|limits| (limits.min, limits.max) = (-range, range));
        let axes = rig.axes.clone();
        for leg in &mut rig.actuators {
            let anchor = leg.anchor_p_m;
            let (low, high) = (leg.min_m, leg.max_m);
            if let Some(part) = &mut leg.crank {
                let travel = (low / part.crank.arm_m, high / part.crank.arm_m);
                part.least_transmission = least_transmission(part, &anchor_region(&axes, anchor), travel);
                assert!(part.least_transmission > 0.3, "{}", part.least_transmission);
            }
        }
        rig
    })
}

fn pair(most: f64) -> impl Strategy<Value = [f64; 2]> {
    prop::array::uniform2(-most..most)
}

fn wave(q: [f64; 2], size: [f64; 2], rate: [f64; 2], t: f64) -> Vec<Jet> {
    (0..2)
        .map(|j| {
            let (a, w) = (size[j], rate[j]);
            let (s, c) = libm::sincos(w * t + 1.0 + j as f64);
            Jet([q[j] + a * s, a * w * c, -a * w * w * s, -a * w * w * w * c])
        })
        .collect()
}

proptest! {
    #[test]
    fn slopes_and_bends_are_those_of_differences(q in pair(0.07), v in pair(1.0)) {
        const STEP: f64 = 1e-5;
        for rig in rigs(0.08) {
            for j in 0..2 {
                let at = |by: f64| { let mut q = q; q[j] += by; q };
                let (before, after) = (at(-STEP), at(STEP));
                let (slopes, bends) = (jacobian(&rig, &q), hessians(&rig, &q));
                let (low, high) = (lengths_m(&rig, &before), lengths_m(&rig, &after));
                let difference = (jacobian(&rig, &after) - jacobian(&rig, &before)) / (2.0 * STEP);
                for leg in 0..2 {
                    let slope = (high[leg] - low[leg]) / (2.0 * STEP);
                    prop_assert!((slopes[(leg, j)] - slope).abs() < 1e-7, "{} {slope}", slopes[(leg, j)]);
                    for i in 0..2 {
                        prop_assert!((bends[leg][(i, j)] - difference[(leg, i)]).abs() < 1e-6 * (1.0 + bends[leg][(i, j)].abs()));
                    }
                }
            }
            // The stop's own way to the same bend: at constant rates.
            let jets: Vec<Jet> = (0..2).map(|j| Jet([q[j], v[j], 0.0, 0.0])).collect();
            for leg in 0..2 {
                let expected = leg_jet(&rig, leg, &jets).0[2];
                let rates = nalgebra::DVector::from_column_slice(&v);
                let found = (rates.transpose() * &hessians(&rig, &q)[leg] * &rates)[0];
                prop_assert!((found - expected).abs() < 1e-9 * (1.0 + expected.abs()));
            }
        }
    }

    #[test]
    fn jets_are_differentiated_right(q in pair(0.04), size in pair(0.03), rate in pair(5.0), t in -1.0_f64..1.0) {
        const STEP: f64 = 1e-4;
        for rig in rigs(0.08) {
            for leg in 0..2 {
                let at = |t: f64| leg_jet(&rig, leg, &wave(q, size, rate, t)).0;
                let (before, now, after) = (at(t - STEP), at(t), at(t + STEP));
                let values: Vec<f64> = wave(q, size, rate, t).iter().map(|jet| jet.0[0]).collect();
                prop_assert!((now[0] - lengths_m(&rig, &values)[leg]).abs() < 1e-13);
                for k in 0..3 {
                    let expected = (after[k] - before[k]) / (2.0 * STEP);
                    prop_assert!((now[k + 1] - expected).abs() < 1e-4 * (1.0 + expected.abs()), "{k}: {} {expected}", now[k + 1]);
                }
            }
        }
    }

    #[test]
    fn a_block_equals_its_samples(q in pair(0.04), size in pair(0.03), rate in pair(30.0), count in 1_usize..=BLOCK) {
        for rig in rigs(0.08) {
            let at = |k: usize| wave(q, size, rate, k as f64 / 500.0);
            let mut blocks = vec![JetBlock::zero(); 2];
            for k in 0..BLOCK {
                for (block, jet) in blocks.iter_mut().zip(at(k)) {
                    (0..4).for_each(|d| block.0[d][k] = jet.0[d]);
                }
            }
            let mut legs = vec![JetBlock::zero(); 2];
            leg_block(&rig, &blocks, count, &mut legs);
            for k in 0..count {
                for (leg, block) in legs.iter().enumerate() {
                    for (found, expected) in block.at(k).0.iter().zip(leg_jet(&rig, leg, &at(k)).0) {
                        prop_assert!((found - expected).abs() <= 1e-11 * (1.0 + expected.abs()), "{found} {expected}");
                    }
                }
            }
        }
    }

    #[test]
    fn newton_finds_the_pose(q in pair(0.07), start in pair(0.07)) {
        for rig in rigs(0.08) {
            let found = forward(&rig, &lengths_m(&rig, &q), &start).unwrap();
            prop_assert!(found.iter().zip(&q).all(|(a, b)| (a - b).abs() < 1e-9), "{found} {q:?}");
        }
    }

    /// Sinusoids have known suprema: no sample passes the bound made from them, however fine.
    #[test]
    fn no_motion_passes_its_bound(q in pair(0.02), size in pair(0.05), rate in prop::array::uniform2(0.5_f64..40.0)) {
        for rig in rigs(0.08) {
            let sup: Vec<[f64; 5]> = (0..2).map(|j| {
                let (a, w) = (size[j].abs(), rate[j]);
                [q[j].abs() + a, a * w, a * w * w, a * libm::pow(w, 3.0), a * libm::pow(w, 4.0)]
            }).collect();
            for leg in 0..2 {
                let (low, high) = (rig.actuators[leg].min_m, rig.actuators[leg].max_m);
                let bound = leg_bound(&rig, leg, &sup, low);
                let at = |t: f64| leg_jet(&rig, leg, &wave(q, size, rate, t)).0;
                for k in 0..300 {
                    let t = f64::from(k) * 0.0137;
                    let jet = at(t);
                    // The bound of a crank holds inside its travel.
                    if jet[0] < low || jet[0] > high {
                        continue;
                    }
                    for order in 1..4 {
                        prop_assert!(jet[order].abs() <= bound[order], "{order}: {} above {}", jet[order], bound[order]);
                    }
                    let step = 1e-4 / rate[0].max(rate[1]);
                    let fourth = (at(t + step)[3] - at(t - step)[3]) / (2.0 * step);
                    prop_assert!(fourth.abs() <= bound[4] * (1.0 + 1e-6), "fourth: {fourth} above {}", bound[4]);
                }
            }
        }
    }

    #[test]
    fn a_stop_comes_to_rest_inside_its_reach(q in pair(0.04), rate in pair(0.1)) {
        for rig in rigs(0.08) {
            let stop = stopping::stop(&rig, &q, &rate, &[0.0, 0.0]);
            let Some(stop) = stop else { continue };
            prop_assert!(stop.time_s.is_finite() && stop.rest.iter().all(|at| at.is_finite()));
        }
    }
}

/// A crank square to a long rod moves as its anchor does, and one that has turned by t needs 1 / cos t of it: the bound
/// comes near that where it can.
#[test]
fn the_bound_is_near_where_it_can_be() {
    let [rig, _] = rigs(0.05);
    let leg = &rig.actuators[0];
    let part = leg.crank.unwrap();
    let speed = 0.2;
    let sup = [[0.05, speed, 0.0, 0.0, 0.0], [0.0; 5]];
    let bound = leg_bound(&rig, 0, &sup, 0.0);
    let at = |q: f64| leg_jet(&rig, 0, &[Jet([q, speed, 0.0, 0.0]), Jet::default()]).0;
    let most = (-50..=50).map(|k| at(f64::from(k) * 1e-3)[1].abs()).fold(0.0, f64::max);
    assert!(most > 0.75 * bound[1], "{most} of {}", bound[1]);
    assert!((part.crank.arm_m * 2.0 - 0.2).abs() < 1e-12);
    assert_eq!(leg_bound(&rig, 0, &[[0.0; 5]; 2], 0.0)[1..], [0.0; 4]);
}

/// Out of reach the coordinate lies outside the travel, and its derivatives are no numbers that could pass for some.
#[test]
fn out_of_reach_fails() {
    let [rig, _] = rigs(0.08);
    let jet = leg_jet(&rig, 0, &[Jet([0.35, 0.1, 0.0, 0.0]), Jet::default()]).0;
    let leg = &rig.actuators[0];
    assert!(jet[0] < leg.min_m || jet[0] > leg.max_m, "{jet:?}");
    assert!(!jet[1].is_finite() && !jet[2].is_finite() && !jet[3].is_finite(), "{jet:?}");
    assert!(forward(&rig, &[0.3, 0.3], &[0.0, 0.0]).is_err());
}

#[test]
fn rod_ends_swing_with_the_pose() {
    let [rig, _] = rigs(0.08);
    assert!(swings(&rig, &[0.0, 0.0]).iter().all(|swing| swing.base_rad < 1e-12 && swing.anchor_rad < 1e-12));
    // Pitched by 0.05 the pin has gone by 0.03 of 0.1 m: a third of a rad at the pin, where the arm turns.
    let swing = swings(&rig, &[0.05, 0.0])[0];
    assert!(swing.base_rad > 0.25 && swing.base_rad < 0.45 && swing.anchor_rad < 0.1, "{swing:?}");
}
