//! Where the weight lies: said so that it can be seen on the rig, because a wrong sign cannot be seen in the file.

use super::{Doubt, joined, length};
use crate::diag::Span;
use crate::rig::parts::ONLY_CASE;
use crate::rig::{Axis, Payload, Rig, gravity_legs_n};

/// Less than this is as good as on the line, m.
const SEEN_M: f64 = 0.005;

/// People who sit on one seat have their centres of mass nearer together than this, m. Own choice.
const SAME_PERSON_M: f64 = 0.10;
/// Loads that differ by less say nothing of what the difference is, kg. Own choice.
const PERSON_KG: f64 = 20.0;

pub(super) fn look(rig: &Rig) -> Vec<Doubt> {
    let cases = rig.load_cases();
    let lightest = cases.iter().map(|(_, payload)| payload.mass_kg).fold(f64::INFINITY, f64::min);
    let mut out = Vec::new();
    for (name, payload) in &cases {
        // The lightest of several may be the empty seat, whose centre is where the steel is.
        let is_manned = cases.len() == 1 || payload.mass_kg > lightest;
        let words = look_at(rig, name, payload, is_manned);
        out.extend(words.into_iter().map(|words| Doubt::new(span_of(rig, name), words)));
    }
    out.extend(persons(rig));
    out
}

fn span_of(rig: &Rig, case: &str) -> Option<Span> {
    let load = rig.parts.loads.iter().find(|load| load.name == case);
    load.map(|load| load.span).or(rig.parts.payload_span)
}

/// `the payload's centre`, `the centre of load `heavy pilot``
fn centre_of(case: &str) -> String {
    if case == ONLY_CASE {
        "the payload's centre".to_string()
    } else {
        format!("the centre of load `{case}`")
    }
}

fn look_at(rig: &Rig, case: &str, payload: &Payload, is_manned: bool) -> Vec<String> {
    let (centre, which) = (payload.centre_p_m, centre_of(case));
    let mut out = Vec::new();
    if is_manned && centre.z > SEEN_M && rig.seat_p_m.z < -SEEN_M {
        out.push(format!(
            "{which} is {} BELOW the pivot, yet the seat's point is {} above it. z counts down: a centre above the \
             pivot has a negative z",
            length(centre.z),
            length(-rig.seat_p_m.z)
        ));
    }
    if centre.y.abs() > SEEN_M && is_symmetric(rig) && rig.seat_p_m.y.abs() <= SEEN_M {
        let side = if centre.y > 0.0 { "RIGHT" } else { "LEFT" };
        out.push(format!(
            "{which} is {} to the {side} of the middle, though seat and legs stand the same on both sides; on the rig as \
             described the {} side would be the heavier one",
            length(centre.y.abs()),
            side.to_lowercase()
        ));
    }
    let away = centre.x - rig.seat_p_m.x;
    if is_manned && away.abs() > 0.30 {
        let side = if away > 0.0 { "in front of" } else { "behind" };
        out.push(format!(
            "{which} is {} {side} the seat's point; an occupant is most of the weight, so look at the sign of x in both",
            length(away.abs())
        ));
    }
    let loaded = rig.carrying(payload);
    if has(rig, Axis::Heave)
        && let Some(forces) = gravity_legs_n(&loaded, &[])
    {
        for (leg, force) in rig.actuators.iter().zip(forces).filter(|(_, force)| *force < 0.0) {
            out.push(format!(
                "level, `{}` is PULLED with {:.0} N: {which} is outside of the legs, so the platform would tip over if \
                 it only stood on them; look at the signs of `centre`",
                leg.name, -force
            ));
        }
    }
    out
}

/// What two loads have more than the lightest is a person each, and people sit where the seat is: a sign that is wrong in
/// one load shows beside the others.
fn persons(rig: &Rig) -> Vec<Doubt> {
    let cases = rig.load_cases();
    let Some((base, empty)) = cases.iter().min_by(|(_, a), (_, b)| a.mass_kg.total_cmp(&b.mass_kg)).copied()
    else {
        return Vec::new();
    };
    let person_x_m = |(name, payload): &(&str, &Payload)| {
        let more_kg = payload.mass_kg - empty.mass_kg;
        let moment = payload.centre_p_m.x * payload.mass_kg - empty.centre_p_m.x * empty.mass_kg;
        (more_kg >= PERSON_KG).then(|| ((*name).to_string(), moment / more_kg))
    };
    let mut persons: Vec<(String, f64)> = cases.iter().filter_map(person_x_m).collect();
    persons.sort_by(|a, b| a.1.total_cmp(&b.1));
    let (Some((rear, rear_m)), Some((front, front_m))) = (persons.first(), persons.last()) else {
        return Vec::new();
    };
    if front_m - rear_m <= SAME_PERSON_M {
        return Vec::new();
    }
    let place = |x_m: f64| {
        format!("{} {} the pivot", length(x_m.abs()), if x_m < 0.0 { "behind" } else { "in front of" })
    };
    let words = format!(
        "what `{rear}` carries more than `{base}` has its centre {}, what `{front}` carries more {}: people on one seat \
         do not sit {} apart. Look at the sign of x in their centres",
        place(*rear_m),
        place(*front_m),
        length(front_m - rear_m)
    );
    vec![Doubt::new(span_of(rig, rear), words)]
}

/// What a builder sees when the file is right, load by load.
pub(super) fn words(rig: &Rig) -> Vec<String> {
    let cases = rig.load_cases();
    let mut out: Vec<String> = cases
        .iter()
        .flat_map(|(name, payload)| words_of(&rig.carrying(payload), name, cases.len() > 1))
        .collect();
    if !has(rig, Axis::Heave) && cases.iter().any(|(_, payload)| payload.centre_p_m.z < 0.0) {
        out.push(
            "the centre is above the joint: the further it tilts, the more it wants to fall, and only the legs hold it"
                .to_string(),
        );
    }
    out
}

/// The same of one load; it is named where there are several.
fn words_of(rig: &Rig, case: &str, is_named: bool) -> Vec<String> {
    let with = if is_named { format!("with `{case}` ") } else { String::new() };
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
        out.push(format!("{with}the centre of all that moves is {} the pivot", joined(&places)));
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
    out.push(format!("{with}level and at rest, {}", joined(&held)));
    if !has(rig, Axis::Heave) && has(rig, Axis::Pitch) && centre.x.abs() >= 0.001 {
        let (falls, other) = if centre.x > 0.0 { ("nose", "tail") } else { ("tail", "nose") };
        let and = if is_named { "and " } else { "with " };
        let whose = if case == ONLY_CASE { "the payload's `centre`" } else { "its `centre`" };
        out.push(format!(
            "so {with}{and}the legs unhooked and a hand on the platform, the {falls} is the end that wants to drop. If on your \
             rig it is the {other}, the sign of x in {whose} is wrong"
        ));
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
            leg.crank.is_some() == other.crank.is_some()
                && mirrors(&leg.base_r_m, &other.base_r_m)
                && mirrors(&leg.anchor_p_m, &other.anchor_p_m)
        };
        rig.actuators.iter().any(|other| image(&other))
    })
}
