//! What ends each axis, and what would give more of it.

use super::names;
use crate::rig::kinematics::{jacobian, lengths_m};
use crate::rig::survey::{Limit, Limits, ReachMap, SymmetricBox, together};
use crate::rig::{Axis, AxisLimits, Rig, gravity_legs_n};
use crate::units::{Dimension, show};

/// Legs are followed up to this beyond the range: angles that no such platform reaches, m or rad.
const FURTHEST: f64 = 1.2;

pub(super) fn words(rig: &Rig, map: Option<&ReachMap>, biggest: Option<SymmetricBox>) -> Vec<String> {
    let mut out: Vec<String> = rig.axes.iter().enumerate().map(|(j, axis)| alone(rig, j, axis)).collect();
    if let (Some(map), Some(biggest)) = (map, biggest) {
        let (across, up) = (map.across.axis, map.up.axis);
        out.push(format!(
            "count on {} +-{} together with {} +-{}: the largest box around level that is all within reach{}",
            up.word(),
            shown(up, biggest.up),
            across.word(),
            shown(across, biggest.across),
            if rig.axes.len() > 2 { ", the other axes level" } else { "" }
        ));
    }
    let share = together(rig);
    if share <= 0.0 {
        out.push("level itself is beyond a limit".to_string());
    } else if share < 1.0 {
        out.push(format!("all axes at once reach {:.0} % of their ranges", (share * 100.0).floor()));
    }
    out.extend(holding(rig));
    out
}

/// Both ways alike from level, until `ends` says so.
fn until(ends: impl Fn(f64) -> bool, most: f64) -> f64 {
    const STEPS: usize = 240;
    const HALVINGS: u32 = 30;
    let step = |k: usize| most * k as f64 / STEPS as f64;
    let Some(first) = (1..=STEPS).find(|k| ends(step(*k))) else { return most };
    let (mut inside, mut outside) = (step(first - 1), step(first));
    for _ in 0..HALVINGS {
        let middle = 0.5 * (inside + outside);
        if ends(middle) { outside = middle } else { inside = middle }
    }
    inside
}

/// What ends axis `j` when it moves alone.
fn alone(rig: &Rig, j: usize, axis: &AxisLimits) -> String {
    let pose = |value: f64| {
        let mut q = vec![0.0; rig.axes.len()];
        if let Some(slot) = q.get_mut(j) {
            *slot = value;
        }
        q
    };
    let range = axis.max.min(-axis.min);
    let limits = Limits::of(rig);
    let beyond =
        |value: f64| [value, -value].into_iter().map(|v| limits.used(&pose(v))).find(|used| !used.fits());
    let reached = until(|value| beyond(value).is_some(), range);
    let (word, reached_words) = (axis.axis.word(), shown(axis.axis, reached));
    match beyond(reached * (1.0 + 1e-6) + 1e-9).map(|used| used.limit) {
        Some(Limit::Stroke(leg)) if rig.actuators.get(leg).is_some_and(|leg| leg.crank.is_some()) => format!(
            "{word} is limited by the travel of the crank of {}, not by the joint: it reaches +-{reached_words} of +-{}",
            names(rig.actuators.get(leg).into_iter().map(|leg| leg.name.as_str())),
            shown(axis.axis, range)
        ),
        Some(Limit::Stroke(leg)) => {
            let leg = rig.actuators.get(leg);
            let needed = missing_stroke_m(rig, &[pose(range), pose(-range)]);
            format!(
                "{word} is limited by the stroke of {}, not by the joint: it reaches +-{reached_words} of +-{}; {} more \
                 stroke would give all of it",
                names(leg.into_iter().map(|leg| leg.name.as_str())),
                shown(axis.axis, range),
                show((needed * 1e3).ceil() * 1e-3, Dimension::LENGTH)
            )
        }
        Some(Limit::Force(leg)) => format!(
            "{word} is limited by the thrust of {}, not by joint or stroke: beyond +-{reached_words} holding still takes \
             more than it has",
            names(rig.actuators.get(leg).into_iter().map(|leg| leg.name.as_str()))
        ),
        Some(Limit::Swing(leg)) => format!(
            "{word} is limited by an end joint of {}, not by the stroke: beyond +-{reached_words} it swings further than \
             the file allows it",
            names(rig.actuators.get(leg).into_iter().map(|leg| leg.name.as_str()))
        ),
        Some(Limit::Clearance(point)) => format!(
            "{word} is limited by clearance, not by joint or stroke: beyond +-{reached_words} the point {} comes too near \
             to something",
            names(rig.parts.points.get(point).into_iter().map(|point| point.name.as_str()))
        ),
        _ => {
            let out_of_stroke =
                |value: f64| [value, -value].iter().any(|value| missing_stroke_m(rig, &[pose(*value)]) > 0.0);
            let legs_alone = until(out_of_stroke, FURTHEST.max(range));
            let more = if legs_alone >= FURTHEST {
                "the legs would follow much further".to_string()
            } else {
                format!("the legs would allow +-{}", shown(axis.axis, legs_alone))
            };
            format!("{word} is limited by the joint, not by the stroke: +-{reached_words}, where {more}")
        }
    }
}

/// How much stroke the legs lack at the worst of some poses, soft stops kept free, m.
fn missing_stroke_m(rig: &Rig, poses: &[Vec<f64>]) -> f64 {
    let lacks = |q: &Vec<f64>| {
        let each = rig.actuators.iter().zip(lengths_m(rig, q)).map(|(leg, length)| {
            (leg.min_m + leg.soft_stop_m - length).max(length - leg.max_m + leg.soft_stop_m)
        });
        each.fold(0.0_f64, f64::max)
    };
    // Beyond its dead points a crank has no angle that would do.
    let beyond = |q: &Vec<f64>| rig.has_cranks() && !jacobian(rig, q).iter().all(|slope| slope.is_finite());
    if poses.iter().any(beyond) {
        return f64::INFINITY;
    }
    poses.iter().map(lacks).fold(0.0, f64::max)
}

/// How much of its thrust the leg that holds most spends at level, under the load that asks most.
fn holding(rig: &Rig) -> Option<String> {
    let cases = rig.load_cases();
    let mut worst: Option<(f64, &str, &str)> = None;
    for (case, payload) in &cases {
        let forces = gravity_legs_n(&rig.carrying(payload), &[])?;
        for (leg, force) in rig.actuators.iter().zip(&forces).filter(|(leg, _)| leg.thrust_n.is_finite()) {
            let share = force.abs() / leg.thrust_n;
            if worst.is_none_or(|(most, ..)| share > most) {
                worst = Some((share, &leg.name, case));
            }
        }
    }
    let (share, leg, case) = worst?;
    let with = if cases.len() > 1 { format!(" with `{case}`") } else { String::new() };
    Some(format!("holding it level{with} takes {:.0} % of the thrust of `{leg}`", share * 100.0))
}

/// Two decimals of a degree, tenths of a millimetre.
fn shown(axis: Axis, value: f64) -> String {
    if axis.is_rotation() {
        let deg = std::f64::consts::PI / 180.0;
        show((value / deg * 100.0).round() / 100.0 * deg, Dimension::ANGLE)
    } else {
        super::length(value)
    }
}
