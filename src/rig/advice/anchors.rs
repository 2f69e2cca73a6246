//! Ends of legs that look swapped, mirrored or mistyped.

use super::{Doubt, length};
use crate::rig::kinematics::lengths_m;
use crate::rig::{Actuator, Rig};
use nalgebra::Vector3;

/// Nearer than this counts as the same, m: a tape and a centre punch.
const SAME_M: f64 = 0.003;
/// Further apart than this is a difference that somebody would see, m.
const SEEN_M: f64 = 0.010;
/// Two legs cross when, exchanged, their ends would be nearer by this share of what they are now. Own choice.
const NEARER: f64 = 0.15;

pub(super) fn look(rig: &Rig) -> Vec<Doubt> {
    let at = |leg: &Actuator, words: String| Doubt::new(leg.spans.table, words);
    let first = rig.actuators.first();
    let mut out: Vec<Doubt> =
        first.zip(all_hang(rig)).map(|(leg, words)| at(leg, words)).into_iter().collect();
    out.extend(rig.actuators.iter().filter_map(|leg| Some(at(leg, wrong_side(leg)?))));
    for (k, one) in rig.actuators.iter().enumerate() {
        for other in rig.actuators.iter().skip(k + 1) {
            let found = crossed(one, other).into_iter().chain(half_mirrored(one, other));
            out.extend(found.map(|words| at(other, words)));
        }
    }
    out
}

/// Legs whose frame ends are all above their platform ends; where only some hang, reading the file warns of it.
fn all_hang(rig: &Rig) -> Option<String> {
    // A crank's shaft may well lie above the platform's point.
    if rig.has_cranks() {
        return None;
    }
    let above = |leg: &Actuator| leg.anchor_p_m.z - leg.base_r_m.z;
    let least = rig.actuators.iter().map(above).fold(f64::INFINITY, f64::min);
    (least > SEEN_M && least.is_finite()).then(|| {
        format!(
            "all legs hang: their ends in the frame are {} or more ABOVE their ends on the platform. z counts down, so \
             legs that stand on the floor have the larger z in `base`; if yours stand, `base` and `platform` are swapped",
            length(least)
        )
    })
}

/// A leg that is called left and stands on the right, and so on.
fn wrong_side(leg: &Actuator) -> Option<String> {
    let name = leg.name.to_lowercase();
    let sides = [
        ("left", 1, -1.0, "right", "y counts to the right, so left is negative"),
        ("right", 1, 1.0, "left", "y counts to the right, so right is positive"),
        ("front", 0, 1.0, "behind", "x counts forward, so the front is positive"),
        ("rear", 0, -1.0, "in front", "x counts forward, so the rear is negative"),
        ("back", 0, -1.0, "in front", "x counts forward, so the back is negative"),
    ];
    sides.into_iter().filter(|(word, ..)| name.contains(word)).find_map(|(_, axis, sign, found, rule)| {
        let foot = if leg.crank.is_some() { "centre" } else { "base" };
        let ends = [(foot, leg.base_r_m), ("platform", leg.anchor_p_m)];
        let (key, point) = ends.into_iter().find(|(_, point)| point[axis] * sign < -SEEN_M)?;
        let place = match axis {
            0 => format!("{} {} of the pivot", length(point[axis].abs()), found.replace("behind", "BEHIND")),
            _ => format!("{} to the {} of the middle", length(point[axis].abs()), found.to_uppercase()),
        };
        Some(format!(
            "`{}` has its `{key}` {place}; {rule}. Either a sign is wrong or two legs have each other's points",
            leg.name
        ))
    })
}

/// Two legs that would both be straighter with their platform ends exchanged.
fn crossed(one: &Actuator, other: &Actuator) -> Option<String> {
    // Of a crank the foot says little about where its rod goes.
    if one.crank.is_some() || other.crank.is_some() {
        return None;
    }
    let flat = |leg: &Actuator, end: &Actuator| {
        let along = end.anchor_p_m - leg.base_r_m;
        Vector3::new(along.x, along.y, 0.0).norm()
    };
    let now = flat(one, one) + flat(other, other);
    let exchanged = flat(one, other) + flat(other, one);
    let apart = (one.anchor_p_m - other.anchor_p_m).norm();
    (now - exchanged > SEEN_M.max(NEARER * now) && now - exchanged > NEARER * apart).then(|| {
        format!(
            "`{}` and `{}` cross: with their `platform` points exchanged they would lean {} less. If yours do not \
             cross, two points are swapped",
            one.name,
            other.name,
            length(now - exchanged)
        )
    })
}

/// Two legs that mirror each other at one end and not at the other.
fn half_mirrored(one: &Actuator, other: &Actuator) -> Option<String> {
    let apart = |a: Vector3<f64>, b: Vector3<f64>| (a - Vector3::new(b.x, -b.y, b.z)).norm();
    let (base, anchor) = (apart(one.base_r_m, other.base_r_m), apart(one.anchor_p_m, other.anchor_p_m));
    let foot = match (one.crank.is_some(), other.crank.is_some()) {
        (true, true) => "centre",
        (false, false) => "base",
        _ => return None,
    };
    let (same, differs, by, ends) = match (base <= SAME_M, anchor <= SAME_M) {
        (true, false) => (foot, "platform", anchor, [one.anchor_p_m, other.anchor_p_m]),
        (false, true) => ("platform", foot, base, [one.base_r_m, other.base_r_m]),
        _ => return None,
    };
    // On the middle line everything mirrors itself.
    let is_pair = one.base_r_m.y.abs() > SEEN_M || one.anchor_p_m.y.abs() > SEEN_M;
    // Neighbours of a six-leg rig that share a foot are no mirror images by mistake.
    (is_pair && by > SAME_M && by < 0.25).then(|| {
        let [a, b] = ends.map(|p| format!("[{}, {}, {}]", length(p.x), length(p.y), length(p.z)));
        format!(
            "`{}` and `{}` mirror each other at `{same}` but are off by {} at `{differs}`: {a} and {b}; measure \
             these again",
            one.name,
            other.name,
            length(by)
        )
    })
}

/// Two legs, by their places, that would both be inside their strokes at level if their platform ends were exchanged,
/// where now one of them is not.
pub fn exchange_that_fits(rig: &Rig) -> Option<(usize, usize)> {
    let outside = |rig: &Rig, of: usize| {
        let length = lengths_m(rig, &[]).get(of).copied().unwrap_or(f64::NAN);
        let is_outside = |(low, high): (f64, f64)| !(low..=high).contains(&length);
        rig.actuators.get(of).is_none_or(|leg| is_outside(leg.soft_ends_m()))
    };
    let count = rig.actuators.len();
    let pairs = (0..count).flat_map(|a| (a + 1..count).map(move |b| (a, b)));
    pairs.filter(|(a, b)| outside(rig, *a) || outside(rig, *b)).find(|(a, b)| {
        let mut exchanged = rig.clone();
        let points = (rig.actuators.get(*a), rig.actuators.get(*b));
        let (Some(one), Some(other)) = points else { return false };
        let (one, other) = (one.anchor_p_m, other.anchor_p_m);
        if let Some(leg) = exchanged.actuators.get_mut(*a) {
            leg.anchor_p_m = other;
        }
        if let Some(leg) = exchanged.actuators.get_mut(*b) {
            leg.anchor_p_m = one;
        }
        !outside(&exchanged, *a) && !outside(&exchanged, *b)
    })
}
