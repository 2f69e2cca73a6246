//! Where the weight lies: said so that it can be seen on the rig, because a wrong sign cannot be seen in the file.

use super::{joined, length};
use crate::rig::{Axis, Rig, gravity_legs_n};

/// Less than this is as good as on the line, m.
const SEEN_M: f64 = 0.005;

pub(super) fn look(rig: &Rig) -> Vec<String> {
    let centre = rig.payload.centre_p_m;
    let mut out = Vec::new();
    if centre.z > SEEN_M && rig.seat_p_m.z < -SEEN_M {
        out.push(format!(
            "the payload's centre is {} BELOW the pivot, yet the seat's point is {} above it. z counts down: a centre \
             above the pivot has a negative z",
            length(centre.z),
            length(-rig.seat_p_m.z)
        ));
    }
    if centre.y.abs() > SEEN_M && is_symmetric(rig) && rig.seat_p_m.y.abs() <= SEEN_M {
        let side = if centre.y > 0.0 { "RIGHT" } else { "LEFT" };
        out.push(format!(
            "the payload's centre is {} to the {side} of the middle, though seat and legs stand the same on both sides; \
             on the rig as described the {} side would be the heavier one",
            length(centre.y.abs()),
            side.to_lowercase()
        ));
    }
    let away = centre.x - rig.seat_p_m.x;
    if away.abs() > 0.30 {
        let side = if away > 0.0 { "in front of" } else { "behind" };
        out.push(format!(
            "the payload's centre is {} {side} the seat's point; an occupant is most of the weight, so look at the sign \
             of x in both",
            length(away.abs())
        ));
    }
    if has(rig, Axis::Heave)
        && let Some(forces) = gravity_legs_n(rig, &[])
    {
        for (leg, force) in rig.actuators.iter().zip(forces).filter(|(_, force)| *force < 0.0) {
            out.push(format!(
                "level, `{}` is PULLED with {:.0} N: the payload's centre is outside of the legs, so the platform would \
                 tip over if it only stood on them; look at the signs of `centre`",
                leg.name, -force
            ));
        }
    }
    out
}

/// What a builder sees when the file is right.
pub(super) fn words(rig: &Rig) -> Vec<String> {
    let centre = rig.payload.centre_p_m;
    let mut out = Vec::new();
    let mut places = Vec::new();
    for (value, plus, minus) in [
        (centre.x, "in front of", "behind"),
        (centre.y, "to the right of", "to the left of"),
        (centre.z, "below", "above"),
    ] {
        if value.abs() >= 0.0005 {
            places.push(format!("{} {}", length(value.abs()), if value > 0.0 { plus } else { minus }));
        }
    }
    if !places.is_empty() {
        out.push(format!("the centre of all that moves is {} the pivot", joined(&places)));
    }
    let Some(forces) = gravity_legs_n(rig, &[]) else { return out };
    let held: Vec<String> = rig
        .actuators
        .iter()
        .zip(&forces)
        .map(|(leg, force)| {
            let way = if *force < 0.0 { "is pulled" } else { "is pushed" };
            format!("`{}` {way} with {:.0} N", leg.name, force.abs())
        })
        .collect();
    out.push(format!("level and at rest, {}", joined(&held)));
    if !has(rig, Axis::Heave) && has(rig, Axis::Pitch) && centre.x.abs() >= 0.001 {
        let (falls, other) = if centre.x > 0.0 { ("nose", "tail") } else { ("tail", "nose") };
        out.push(format!(
            "so with the legs unhooked and a hand on the platform, the {falls} is the end that wants to drop. If on your \
             rig it is the {other}, the sign of x in the payload's `centre` is wrong"
        ));
    }
    if !has(rig, Axis::Heave) && centre.z < 0.0 {
        out.push(
            "the centre is above the joint: the further it tilts, the more it wants to fall, and only the legs hold it"
                .to_string(),
        );
    }
    out
}

fn has(rig: &Rig, axis: Axis) -> bool {
    rig.axes.iter().any(|limits| limits.axis == axis)
}

/// Whether every leg has a mirror image on the other side, or stands in the middle.
fn is_symmetric(rig: &Rig) -> bool {
    let mirrors = |a: &nalgebra::Vector3<f64>, b: &nalgebra::Vector3<f64>| {
        (a - nalgebra::Vector3::new(b.x, -b.y, b.z)).norm() < 0.01
    };
    rig.actuators.iter().all(|leg| {
        let image = |other: &&crate::rig::Actuator| {
            mirrors(&leg.base_r_m, &other.base_r_m) && mirrors(&leg.anchor_p_m, &other.anchor_p_m)
        };
        rig.actuators.iter().any(|other| image(&other))
    })
}
