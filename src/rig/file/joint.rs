//! `[joint]`: which axes in which order, and how far each may go.

use super::keys;
use super::limits::{COORDINATE, most};
use super::reader::{Placed, Reader, Section, Want, clip};
use crate::diag::{Diagnostic, nearest};
use crate::rig::{Axis, AxisLimits};
use crate::units::Dimension;

pub(super) fn axes(reader: &mut Reader, joint: &Section<'_>) -> Option<Vec<AxisLimits>> {
    let (entries, order_span) = reader.list(joint, "order", None)?;
    let mut order: Vec<Axis> = Vec::new();
    let mut complete = true;
    for entry in entries {
        let word = reader.as_text(entry, "axis", "\"pitch\"");
        let axis = word.and_then(|word| axis(reader, word));
        match axis {
            Some(axis) if order.contains(&axis) => {
                let title = format!("`{}` stands twice in `order`", axis.word());
                let span = reader.span(entry.span());
                reader.push(Diagnostic::error("rig-axes", span, title));
                complete = false;
            }
            Some(axis) => order.push(axis),
            None => complete = false,
        }
    }
    if entries.is_empty() {
        let title = "`order` names no axis; it must name at least one";
        reader.push(
            Diagnostic::error("rig-axes", order_span, title).help("such as `order = [\"pitch\", \"roll\"]`"),
        );
    }
    for (word, range) in joint.found() {
        let stray = Axis::from_word(word).filter(|axis| !order.contains(axis));
        if let (Some(axis), true) = (stray, complete) {
            let title = format!("`{}` has a range but is not in `order`", axis.word());
            let help = format!("add \"{}\" to `order`, or take the range out", axis.word());
            let span = reader.span(range);
            reader.push(Diagnostic::error("rig-axes", span, title).also(order_span, "the order").help(help));
        }
    }
    let limits: Vec<_> = order.iter().map(|axis| limits(reader, joint, *axis)).collect();
    let limits = limits.into_iter().collect::<Option<Vec<_>>>()?;
    (complete && !limits.is_empty()).then_some(limits)
}

pub(super) fn axis(reader: &mut Reader, word: Placed<&str>) -> Option<Axis> {
    let axis = Axis::from_word(word.value);
    if axis.is_none() {
        let title = format!("there is no axis `{}`", clip(word.value));
        let diagnostic = Diagnostic::error("rig-axes", word.span, title);
        reader.push(match nearest(word.value, Axis::ALL.map(Axis::word)) {
            Some(near) => diagnostic.help(format!("did you mean `{near}`?")).fix(
                format!("use `{near}`"),
                word.span,
                format!("\"{near}\""),
            ),
            None => diagnostic.help("the axes are pitch, roll, yaw, surge, sway and heave"),
        });
    }
    axis
}

/// An axis's range. In the file heave counts up, as in profiles; inside it counts down.
fn limits(reader: &mut Reader, joint: &Section<'_>, axis: Axis) -> Option<AxisLimits> {
    let value = reader.required(joint, axis.word())?;
    let label = format!("the range of `{}`", axis.word());
    let section = reader.table(value, label, keys::RANGE, joint.example(axis.word()))?;
    let want = if axis.is_rotation() {
        Want::within(Dimension::ANGLE, -most::ANGLE_RAD, most::ANGLE_RAD)
    } else {
        COORDINATE
    };
    let span = reader.span(value.span());
    let (min, max) =
        (range_end(reader, &section, axis, "min", want), range_end(reader, &section, axis, "max", want));
    let (min, max) = (min?, max?);
    if min.value >= max.value {
        let title =
            format!("`{}` goes from `min` to `max`, and here `min` is not the smaller one", axis.word());
        reader.push(Diagnostic::error("rig-joint-range", min.span, title).also(max.span, "max"));
        return None;
    }
    if min.value > 0.0 || max.value < 0.0 {
        let title = format!("the range of `{}` leaves level (zero) out", axis.word());
        let help = "`min` is zero or below and `max` zero or above: every profile starts and ends level";
        reader.push(Diagnostic::error("rig-joint-range", span, title).help(help));
        return None;
    }
    let (min, max) = if axis == Axis::Heave { (-max.value, -min.value) } else { (min.value, max.value) };
    Some(AxisLimits { axis, min, max, span })
}

fn range_end(
    reader: &mut Reader,
    section: &Section<'_>,
    axis: Axis,
    name: &str,
    want: Want,
) -> Option<Placed<f64>> {
    let value = reader.required(section, name)?;
    let example = match (axis.is_rotation(), name) {
        (true, "min") => "\"-10 deg\"",
        (true, _) => "\"10 deg\"",
        (false, "min") => "\"-100 mm\"",
        (false, _) => "\"100 mm\"",
    };
    reader.as_quantity(value, &format!("{} {name}", axis.word()), example, want)
}
