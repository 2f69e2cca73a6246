use super::*;
use crate::rig::kinematics::{forward, lengths_m};
use crate::rig::playable::two_legs;
use crate::safety::Governor;

/// How far past its end a coordinate still keeps the bound in some sampled pose, rad or m.
fn excess(rig: &Rig, at: usize, bound: &Bound) -> f64 {
    let axis = &rig.axes[at / 2];
    let (end, sign) = if at % 2 == 1 { (axis.max, 1.0) } else { (axis.min, -1.0) };
    let kept = |past: f64| {
        let sums = face(rig, at / 2, end + sign * past, &bound.weight);
        sums.iter().any(|sum| *sum <= bound.at_most_m)
    };
    let (mut low, mut high) = (0.0, 0.25 * (axis.max - axis.min));
    for _ in 0..12 {
        let middle = 0.5 * (low + high);
        if kept(middle) { low = middle } else { high = middle }
    }
    high
}

#[test]
fn a_hostile_stream_stays_inside_the_joints_but_for_the_measured_excess() {
    let rig = two_legs();
    let bounds = bounds(&rig);
    assert_eq!(bounds.len(), 4);
    let limits = within_joints(&rig, Limits::of(&rig).unwrap()).unwrap();
    let mut governor = Governor::start(limits, &lengths_m(&rig, &[0.0, 0.0])).unwrap();
    let mut reached = [[0.0f64; 2]; 2];
    let mut near = vec![0.0; 2];
    for corner in [[0.89, 0.61], [0.89, 0.89], [0.61, 0.89], [0.61, 0.61], [0.75, 0.61]].repeat(2) {
        for _ in 0..3000 {
            let (out, _) = governor.step(&corner, None);
            near = forward(&rig, &out, &near).unwrap().as_slice().to_vec();
            for (reached, angle) in reached.iter_mut().zip(&near) {
                *reached = [reached[0].min(*angle), reached[1].max(*angle)];
            }
        }
    }
    for (at, (angle, bound)) in reached.iter().flatten().zip(&bounds).enumerate() {
        let excess = excess(&rig, at, bound);
        assert!(angle.abs() - 0.3 <= excess && excess < 0.02, "{angle} {excess}");
    }
    // The roll is what the strokes would let go too far: 0.28 / 0.8 is 0.35 rad.
    assert!(reached[1][1] > 0.299 && reached[1][0] < -0.299, "{reached:?}");
}

#[test]
fn no_pose_inside_the_joints_is_held_back() {
    let rig = two_legs();
    let limits = within_joints(&rig, Limits::of(&rig).unwrap()).unwrap();
    let mut inside = 0;
    for pitch in -30..=30 {
        for roll in [-0.3, -0.21, 0.0, 0.3] {
            let lengths = lengths_m(&rig, &[f64::from(pitch) / 100.0, roll]);
            if lengths.iter().all(|l| (0.61..=0.89).contains(l)) {
                Governor::start(limits.clone(), &lengths).unwrap();
                inside += 1;
            }
        }
    }
    assert!(inside > 60, "{inside}");
}
