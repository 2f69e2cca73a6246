use super::*;
use crate::diag::SourceId;
use crate::rig::kinematics::forward;
use crate::rig::load;
use crate::safety::{Governor, Hold, within_joints};

/// The demo rig, with its side table moved so that the armrest comes at it in a roll, and its floor higher.
fn rig() -> Rig {
    let text = include_str!("../../../profiles/rigs/club-two-axis.toml");
    let text = text.replace("at = [\"0 m\", \"0 m\", \"0.62 m\"]", "at = [\"0 m\", \"0 m\", \"0.17 m\"]");
    let text = text.replace("min = [\"-0.20 m\", \"0.60 m\"", "min = [\"-0.20 m\", \"0.475 m\"");
    load(SourceId(0), &text).rig.expect("the rig loads")
}

fn limits(rig: &Rig) -> Limits {
    within_clearances(rig, within_joints(rig, Limits::of(rig).unwrap()).unwrap()).unwrap()
}

fn sums(limits: &Limits) -> usize {
    limits.rows().iter().filter(|row| row.keeps == Keeps::Clearance).count()
}

#[test]
fn what_cannot_come_near_has_no_bound() {
    let text = include_str!("../../../profiles/rigs/club-two-axis.toml");
    let far = text
        .replace("distance = \"50 mm\"", "distance = \"1 mm\"")
        .replace("distance = \"40 mm\"", "distance = \"1 mm\"");
    let far = far.replace("at = [\"0 m\", \"0 m\", \"0.62 m\"]", "at = [\"0 m\", \"0 m\", \"3 m\"]");
    let far = far.replace("min = [\"-0.20 m\", \"0.60 m\"", "min = [\"-0.20 m\", \"1.1 m\"");
    assert_eq!(sums(&limits(&load(SourceId(0), &far).rig.unwrap())), 0);
    assert!(sums(&limits(&rig())) >= 2, "{}", sums(&limits(&rig())));
}

/// Wherever a stream wants to go it comes no nearer than the distance but for a little: the free poses before a floor and
/// a table's face are nearly a half of all.
#[test]
fn a_hostile_stream_keeps_clear() {
    let rig = rig();
    let limits = limits(&rig);
    let level = kinematics::lengths_m(&rig, &[0.0; 2]);
    let mut governor = Governor::start(limits.clone(), &level).unwrap();
    let (mut least_m, mut near) = (f64::INFINITY, vec![0.0; 2]);
    let mut unguarded_m = f64::INFINITY;
    let ends: Vec<(f64, f64)> = limits.legs().iter().map(|leg| (leg.low_m, leg.high_m)).collect();
    for corner in [[0, 1], [1, 1], [1, 0], [0, 0], [1, 0], [0, 1]] {
        let wanted: Vec<f64> =
            ends.iter().zip(corner).map(|((low, high), up)| if up == 1 { *high } else { *low }).collect();
        for _ in 0..4000 {
            let (out, _) = governor.step(&wanted, None);
            near = forward(&rig, &out, &near).unwrap().as_slice().to_vec();
            least_m = room_m(&rig, &near).into_iter().fold(least_m, f64::min);
        }
        if let Ok(q) = forward(&rig, &wanted, &near) {
            unguarded_m = room_m(&rig, q.as_slice()).into_iter().fold(unguarded_m, f64::min);
        }
    }
    assert!(unguarded_m < -0.03, "{unguarded_m}");
    assert!(least_m > -0.01, "{least_m}");
    // A step that only a clearance speaks against is said to be held by it.
    let mut governor = Governor::start(limits, &level).unwrap();
    let mut creeping = level;
    let hold = (0..200_000).find_map(|_| {
        creeping.iter_mut().for_each(|length_m| *length_m += 1e-6);
        governor.step(&creeping, None);
        governor.would_hold(&creeping.iter().map(|length_m| length_m + 1e-6).collect::<Vec<_>>())
    });
    assert!(matches!(hold, Some(Hold::Bound { keeps: Keeps::Clearance, .. })), "{hold:?}");
}

#[test]
fn no_pose_that_keeps_clear_is_held_back() {
    let rig = rig();
    let limits = limits(&rig);
    let (mut free, mut near) = (0, 0);
    for pitch in 0..=90 {
        for roll in 0..=90 {
            let at = |axis: usize, part: i32| {
                rig.axes[axis].min + f64::from(part) / 90.0 * (rig.axes[axis].max - rig.axes[axis].min)
            };
            let point = Point::at(&rig, &limits, vec![at(0, pitch), at(1, roll)]);
            if point.is_free() {
                Governor::start(limits.clone(), &point.lengths_m).unwrap();
                free += 1;
            } else if point.inside {
                near += 1;
            }
        }
    }
    assert!(free > 1000 && near > 100, "{free} {near}");
    let park: Vec<f64> = rig.actuators.iter().map(|leg| leg.park_m).collect();
    Governor::start(limits, &park).unwrap();
}
