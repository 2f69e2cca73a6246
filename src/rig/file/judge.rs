//! Whether what a rig file says can be: numbers against each other, and the geometry as a whole.

use super::legs::{Draft, Stroke};
use super::reader::{Placed, Reader, Section, shown};
use crate::diag::{Diagnostic, Span};
use crate::rig::advice::exchange_that_fits;
use crate::rig::crank::Assembly;
use crate::rig::kinematics::{forward, jacobian, lengths_m};
use crate::rig::{Actuator, Axis, AxisLimits, Drive, Rig};
use crate::units::{Dimension, show};
use nalgebra::{DMatrix, Matrix3};

/// Points nearer than this are one point, m.
const SAME_POINT_M: f64 = 1e-3;
/// A Jacobian is singular when its determinant, rows scaled to length 1, is below this (chosen: then some leg force
/// is hundreds of times what the others are).
const SINGULAR: f64 = 1e-3;

/// Whether a matrix can be the moment of inertia of a body, reported at `span` if not.
///
/// With P = tr(I)/2 - I, the second moments of mass: both I and P must be positive definite (P may be flat). For
/// principal moments that is the triangle rule. Source: rigid-body mechanics (from memory); tests by Sylvester.
pub(super) fn inertia(reader: &mut Reader, matrix: &Matrix3<f64>, span: Span) -> bool {
    let trace = matrix.trace();
    let flat = Matrix3::identity() * (1e-9 * trace);
    if !positive(matrix) {
        let title = "these moments belong to no body: turned about some axis it would have no inertia";
        let help = "make the products xy, xz, yz smaller: xy^2 < xx * yy, and so on";
        reader.push(Diagnostic::error("rig-inertia", span, title).help(help));
        return false;
    }
    if !positive(&(Matrix3::identity() * (0.5 * trace) - matrix + flat)) {
        let title = "these moments belong to no body: one of them is larger than the two others together";
        let help = "for any body xx <= yy + zz, yy <= xx + zz and zz <= xx + yy about its principal axes";
        reader.push(Diagnostic::error("rig-inertia", span, title).help(help));
        return false;
    }
    true
}

/// Positive definite, by the leading minors.
fn positive(m: &Matrix3<f64>) -> bool {
    m[(0, 0)] > 0.0 && m[(0, 0)] * m[(1, 1)] - m[(0, 1)] * m[(1, 0)] > 0.0 && m.determinant() > 0.0
}

/// Whether a leg has lengths to move between; where it parks is reported but does not count.
pub(super) fn stroke(
    reader: &mut Reader,
    section: &Section<'_>,
    stroke: Option<Stroke>,
    soft_stop: Option<Placed<f64>>,
    park: Option<Placed<f64>>,
) -> bool {
    let Some(stroke) = stroke else { return false };
    let length = |value: f64| show(value, Dimension::LENGTH);
    if stroke.min_m >= stroke.max_m {
        let title = format!(
            "{} is longest at {} and shortest at {}",
            section.label,
            length(stroke.max_m),
            length(stroke.min_m)
        );
        reader
            .push(Diagnostic::error("rig-stroke", stroke.span, title).help("`min` must be the smaller one"));
        return false;
    }
    let mut sound = true;
    if let Some(soft) = soft_stop.filter(|soft| 2.0 * soft.value >= stroke.max_m - stroke.min_m) {
        let title = format!(
            "two soft stops of {} leave nothing of a stroke of {}",
            length(soft.value),
            length(stroke.max_m - stroke.min_m)
        );
        reader.push(Diagnostic::error("rig-stroke", soft.span, title).also(stroke.span, "the stroke"));
        sound = false;
    }
    let Some(park) = park else { return sound };
    if park.value < stroke.min_m || park.value > stroke.max_m {
        let title = format!(
            "{} parks at {}, outside its lengths of {} to {}",
            section.label,
            length(park.value),
            length(stroke.min_m),
            length(stroke.max_m)
        );
        reader.push(Diagnostic::error("rig-park", park.span, title).also(stroke.span, "its lengths"));
    } else if let Some(soft) = soft_stop.filter(|soft| {
        sound && (park.value < stroke.min_m + soft.value || park.value > stroke.max_m - soft.value)
    }) {
        let title = format!("{} parks at {}, inside its soft stop", section.label, length(park.value));
        let (low, high) = (length(stroke.min_m + soft.value), length(stroke.max_m - soft.value));
        let help = format!("park between {low} and {high}, or make `soft_stop` smaller");
        reader.push(
            Diagnostic::error("rig-park", park.span, title).also(soft.span, "the soft stop").help(help),
        );
    }
    sound
}

/// Whether a band has two edges in order; one that no profile can reach on this drive is a warning.
pub(super) fn band(reader: &mut Reader, low: Placed<f64>, high: Placed<f64>, drive: Option<&Drive>) -> bool {
    if low.value >= high.value {
        let title = "a band goes from its lower to its upper edge, and here the first is not the smaller one";
        reader.push(Diagnostic::error("rig-band", low.span, title).also(high.span, "the upper edge"));
        return false;
    }
    if let Some(drive) = drive {
        let half_hz = 0.5e6 / f64::from(drive.cycle_us);
        if high.value > half_hz {
            let title = format!(
                "a band up to {} goes beyond what a cycle of {} can carry",
                show(high.value, Dimension::FREQUENCY),
                shown(f64::from(drive.cycle_us) * 1e-6, Dimension::TIME),
            );
            let help = format!("half the rate is {}", show(half_hz, Dimension::FREQUENCY));
            reader.push(Diagnostic::warning("rig-band", high.span, title).help(help));
        }
    }
    true
}

/// Judges the legs together: their number, the level pose, singular poses, the parked pose.
pub(super) fn legs(reader: &mut Reader, axes: &[AxisLimits], drafts: &[Draft], all: Span) {
    if drafts.len() != axes.len() {
        let words: Vec<_> = axes.iter().map(|limits| limits.axis.word()).collect();
        let title = format!(
            "{} for {} ({})",
            count(drafts.len(), "actuator"),
            count(axes.len(), "axis"),
            words.join(", ")
        );
        let help = if drafts.len() < axes.len() {
            "it is held by too little: an axis without an actuator of its own falls. Add actuators, or take the axes out \
             of `order` that a joint or a guide holds"
        } else {
            "it is held by too much: actuators that have no axis of their own fight each other, and how they share the \
             load cannot be told from geometry. Take actuators away, or name in `order` what the platform is free to do"
        };
        reader.push(Diagnostic::error("rig-leg-count", all, title).help(help));
        return;
    }
    let Some(actuators) = drafts.iter().map(|draft| draft.geometry.clone()).collect::<Option<Vec<_>>>()
    else {
        return;
    };
    let rig = super::sections::placeholder(axes, actuators);
    if apart(reader, &rig) && level(reader, &rig) && regular(reader, &rig, all) {
        parked(reader, &rig, drafts);
    }
}

fn count(number: usize, word: &str) -> String {
    match (number, word) {
        (1, _) => format!("1 {word}"),
        (_, "axis") => format!("{number} axes"),
        _ => format!("{number} {word}s"),
    }
}

/// No leg without length, no two legs between the same points.
fn apart(reader: &mut Reader, rig: &Rig) -> bool {
    let mut fine = true;
    for (k, leg) in rig.actuators.iter().enumerate() {
        if leg.crank.is_none() && (leg.anchor_p_m - leg.base_r_m).norm() < SAME_POINT_M {
            let title = format!("both ends of `{}` are at one point when level", leg.name);
            let help =
                "`base` is measured in the frame and `platform` on the platform, both from the pivot, z down";
            reader.push(Diagnostic::error("rig-anchor", leg.spans.table, title).help(help));
            fine = false;
        }
        let above = |leg: &crate::rig::Actuator| leg.anchor_p_m.z - leg.base_r_m.z;
        if leg.crank.is_none()
            && above(leg) > SAME_POINT_M
            && rig.actuators.iter().any(|other| above(other) < 0.0)
        {
            let title = format!(
                "`{}` hangs, while others stand: `base` is {} above `platform`",
                leg.name,
                shown(above(leg), Dimension::LENGTH)
            );
            let help = "z counts down, so a leg that stands on the floor has the larger z in `base`; look whether \
                        `base` and `platform` are swapped";
            reader.push(Diagnostic::warning("rig-anchor", leg.spans.table, title).help(help));
        }
        let twin = rig.actuators[..k].iter().find(|other| {
            (leg.anchor_p_m - other.anchor_p_m).norm() < SAME_POINT_M
                && (leg.base_r_m - other.base_r_m).norm() < SAME_POINT_M
        });
        if let Some(twin) = twin {
            let title = format!("`{}` runs between the same two points as `{}`", leg.name, twin.name);
            reader.push(
                Diagnostic::error("rig-anchor", leg.spans.table, title).also(twin.spans.table, "the other"),
            );
            fine = false;
        }
    }
    fine
}

/// Every leg inside its stroke, soft stops kept free, when the platform is level.
fn level(reader: &mut Reader, rig: &Rig) -> bool {
    let mut fine = true;
    let name = |leg: usize| rig.actuators.get(leg).map(|leg| leg.name.as_str());
    let exchange = exchange_that_fits(rig).and_then(|(one, other)| name(one).zip(name(other)));
    for (leg, length) in rig.actuators.iter().zip(lengths_m(rig, &[])) {
        let show = |value: f64| leg.shown(value);
        let (low, high) = leg.soft_ends_m();
        if (low..=high).contains(&length) {
            continue;
        }
        let title = if leg.crank.is_some() {
            format!(
                "level, the crank of `{}` would have to stand at {}; it can from {} to {}",
                leg.name,
                show(length),
                show(low),
                show(high)
            )
        } else if (leg.min_m..=leg.max_m).contains(&length) {
            format!(
                "level, `{}` is {} long and stands in its soft stop: it should be {} to {}",
                leg.name,
                show(length),
                show(low),
                show(high)
            )
        } else {
            format!(
                "level, `{}` would have to be {} long; it can be {} to {}",
                leg.name,
                show(length),
                show(leg.min_m),
                show(leg.max_m)
            )
        };
        let help = if leg.crank.is_some() {
            "the level pose is where every profile starts and ends: move the shaft or `platform`, or correct `zero`, `angle` \
             or `assembly`"
        } else {
            "the level pose is where every profile starts and ends: move an anchor, or correct the lengths"
        };
        let mut diagnostic = Diagnostic::error("rig-level-pose", leg.spans.stroke, title)
            .also(leg.spans.table, "its anchors")
            .help(help);
        if let Some(words) = otherwise_assembled(leg) {
            diagnostic = diagnostic.help(words);
        }
        if let Some((one, other)) = exchange {
            diagnostic = diagnostic.help(format!(
                "with the `platform` points of `{one}` and `{other}` exchanged both would fit: look whether they are \
                 swapped"
            ));
        }
        reader.push(diagnostic);
        fine = false;
    }
    fine
}

/// Where a crank would stand level if it were put together the other way, when that is inside its travel.
fn otherwise_assembled(leg: &Actuator) -> Option<String> {
    let mut part = leg.crank?;
    part.crank.assembly = match part.crank.assembly {
        Assembly::Ahead => Assembly::Behind,
        Assembly::Behind => Assembly::Ahead,
    };
    let coordinate = part.coordinate_m(&leg.anchor_p_m);
    let (low, high) = leg.soft_ends_m();
    (low..=high).contains(&coordinate).then(|| {
        let word = part.crank.assembly.word();
        format!("with `assembly = \"{word}\"` it would stand at {}: look which it is", leg.shown(coordinate))
    })
}

/// The determinant of the Jacobian with rows scaled to length 1, and rotations to their lever arms.
fn regularity(rig: &Rig, q: &[f64]) -> f64 {
    let arms: Vec<f64> = rig.actuators.iter().map(|leg| leg.anchor_p_m.norm()).collect();
    let arm = (arms.iter().sum::<f64>() / arms.len().max(1) as f64).max(SAME_POINT_M);
    let mut matrix: DMatrix<f64> = jacobian(rig, q);
    for (j, _) in rig.axes.iter().enumerate().filter(|(_, limits)| limits.axis.is_rotation()) {
        matrix.column_mut(j).scale_mut(1.0 / arm);
    }
    for mut row in matrix.row_iter_mut() {
        let norm = row.norm();
        if norm > 1e-9 {
            row.unscale_mut(norm);
        }
    }
    matrix.determinant()
}

/// Not a number counts as singular.
fn is_singular(regularity: f64) -> bool {
    regularity.is_nan() || regularity < SINGULAR
}

/// A grid over the joint's ranges, corners included: at most about a thousand poses.
fn grid(axes: &[AxisLimits]) -> impl Iterator<Item = Vec<f64>> {
    let steps: usize = match axes.len() {
        0 | 1 => 41,
        2 => 21,
        3 => 9,
        4 => 5,
        _ => 3,
    };
    let most = u32::try_from(axes.len().min(6)).unwrap_or(6);
    (0..steps.pow(most)).map(move |mut index| {
        let place = |limits: &AxisLimits| {
            let at = (index % steps) as f64 / (steps - 1) as f64;
            index /= steps;
            limits.min + (limits.max - limits.min) * at
        };
        axes.iter().map(place).collect()
    })
}

/// No pose that the legs reach lets the platform slip between them.
fn regular(reader: &mut Reader, rig: &Rig, all: Span) -> bool {
    let at_level = regularity(rig, &[]);
    let help = "at a singular pose the platform can move though no leg does, and leg forces have no bound; \
                spread the anchors, each axis needs a lever arm of its own";
    if is_singular(at_level.abs()) {
        let title = "level is a singular pose: the legs do not hold every axis";
        reader.push(Diagnostic::error("rig-singular-pose", all, title).help(help));
        return false;
    }
    let reached = |q: &[f64]| {
        rig.actuators
            .iter()
            .zip(lengths_m(rig, q))
            .all(|(leg, length)| (leg.min_m..=leg.max_m).contains(&length))
    };
    let slips = |q: &Vec<f64>| is_singular(regularity(rig, q) * at_level.signum()) && reached(q);
    if let Some(q) = grid(&rig.axes).find(slips) {
        let title = format!("the joint's range holds a singular pose, near {}", pose(&rig.axes, &q));
        reader.push(
            Diagnostic::error("rig-singular-pose", all, title).help(help).help("or narrow the joint's range"),
        );
        return false;
    }
    true
}

/// `pitch 3 deg, roll -2 deg`, heave up as in the file.
fn pose(axes: &[AxisLimits], q: &[f64]) -> String {
    let words = axes.iter().zip(q).map(|(limits, value)| {
        let dimension = if limits.axis.is_rotation() { Dimension::ANGLE } else { Dimension::LENGTH };
        let value = if limits.axis == Axis::Heave { -value } else { *value };
        format!("{} {}", limits.axis.word(), show(value, dimension))
    });
    words.collect::<Vec<_>>().join(", ")
}

/// The parked legs hold the platform somewhere inside the joint's ranges.
fn parked(reader: &mut Reader, rig: &Rig, drafts: &[Draft]) {
    let (Some(spans), parks) = (
        drafts.iter().map(|draft| draft.park_span).collect::<Option<Vec<_>>>(),
        rig.actuators.iter().map(|leg| leg.park_m).collect::<Vec<_>>(),
    ) else {
        return;
    };
    let inside = |leg: &crate::rig::Actuator| (leg.min_m..=leg.max_m).contains(&leg.park_m);
    let Some(first) = spans.first().filter(|_| rig.actuators.iter().all(inside)) else { return };
    let report = |title: String| {
        let others = spans.iter().skip(1);
        others.fold(Diagnostic::error("rig-park", *first, title), |diagnostic, span| {
            diagnostic.also(*span, "and here")
        })
    };
    match forward(rig, &parks, &vec![0.0; rig.axes.len()]) {
        Err(_) => reader.push(report("parked at these lengths the legs hold no pose".to_string())),
        Ok(q) => {
            let out = rig
                .axes
                .iter()
                .zip(q.iter())
                .any(|(limits, value)| *value < limits.min - 1e-9 || *value > limits.max + 1e-9);
            if out {
                let title = format!(
                    "parked at these lengths the platform is outside its joint's range, at {}",
                    pose(&rig.axes, q.as_slice())
                );
                reader.push(report(title));
            }
        }
    }
}
