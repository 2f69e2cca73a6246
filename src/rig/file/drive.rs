//! `[drive]`, `[link]` and `[[avoid]]`: how set-points become motion, and which frequencies to keep out of.

use super::joint::axis;
use super::limits::{DELAY, FREQUENCY};
use super::names::{named, own_name, word};
use super::reader::{Placed, Reader, Section, Want};
use super::sections::part;
use super::{judge, keys};
use crate::diag::{Diagnostic, Span};
use crate::rig::{AvoidBand, AxisLimits, Drive, Interpolation};
use crate::units::Dimension;

/// Bands that a file may name at most.
const MOST_BANDS: usize = 32;

pub(super) fn drive(reader: &mut Reader, root: &Section<'_>) -> Option<Drive> {
    let drive = part(reader, root, "drive", "[drive]", keys::DRIVE);
    let link = part(reader, root, "link", "[link]", keys::LINK);
    let drive = drive.map(|section| {
        let cycle = cycle(reader, &section);
        let interpolation = word(reader, &section, "interpolation", &["linear", "cubic"]);
        let delay = reader.quantity(&section, "delay", DELAY);
        let bandwidth = reader.quantity(&section, "bandwidth", FREQUENCY);
        let counts = reader.count(&section, "counts_per_turn", 1..(1 << 24) + 1);
        (cycle, interpolation, delay, bandwidth, counts)
    });
    let link = link.map(|section| {
        (reader.quantity(&section, "detection", DELAY), reader.quantity(&section, "delay", DELAY))
    });
    let ((cycle, interpolation, delay, bandwidth, counts), (detection, link)) = (drive?, link?);
    Some(Drive {
        cycle_us: cycle?,
        interpolation: if interpolation? == "cubic" { Interpolation::Cubic } else { Interpolation::Linear },
        delay_s: delay?.value,
        detection_s: detection?.value,
        link_s: link?.value,
        bandwidth_hz: bandwidth?.value,
        counts_per_turn: counts?,
    })
}

/// The drive's cycle as a time or as a rate, in whole microseconds.
fn cycle(reader: &mut Reader, section: &Section<'_>) -> Option<u32> {
    let value = reader.required(section, "cycle")?;
    let example = section.example("cycle");
    let found = reader.any_quantity(value, "cycle", example)?;
    let cycle_s = match found.value.dimension {
        Dimension::TIME => found.value.value_si,
        Dimension::FREQUENCY => 1.0 / found.value.value_si,
        other => {
            reader.wrong_dimension(value, "cycle", example, other, ("time (s) or a frequency (1/s)", None));
            return None;
        }
    };
    let placed = Placed { value: cycle_s, span: found.span };
    let cycle_us = reader.ranged(placed, "cycle", Want::within(Dimension::TIME, 1e-4, 0.1))?.value * 1e6;
    let whole = cycle_us.round();
    if (cycle_us - whole).abs() > 1e-6 {
        let title = format!("a cycle is a whole number of microseconds; this is {cycle_us:.3} us");
        let (down, up) = (cycle_us.floor() / 1e3, cycle_us.ceil() / 1e3);
        let help = format!("write `cycle = \"{down} ms\"` or `cycle = \"{up} ms\"`");
        reader.push(Diagnostic::error("rig-cycle", found.span, title).help(help));
        return None;
    }
    Some(whole as u32)
}

pub(super) fn avoid(
    reader: &mut Reader,
    root: &Section<'_>,
    axes: Option<&[AxisLimits]>,
    drive: Option<&Drive>,
) -> Vec<AvoidBand> {
    let Some(value) = root.get("avoid") else { return Vec::new() };
    let sections = named(reader, value, ("avoid", MOST_BANDS), keys::AVOID).unwrap_or_default();
    let mut names = Vec::new();
    sections.iter().filter_map(|section| band(reader, section, axes, drive, &mut names)).collect()
}

fn band(
    reader: &mut Reader,
    section: &Section<'_>,
    axes: Option<&[AxisLimits]>,
    drive: Option<&Drive>,
    names: &mut Vec<(String, Span)>,
) -> Option<AvoidBand> {
    let name = own_name(reader, section, names);
    let on = match section.get("axis") {
        None => Some(None),
        Some(value) => {
            let word = reader.as_text(value, "axis", "\"roll\"");
            let axis = word.and_then(|word| Some((axis(reader, word)?, word.span)));
            if let (Some((axis, span)), Some(axes)) = (axis, axes)
                && !axes.iter().any(|limits| limits.axis == axis)
            {
                let title = format!("this rig has no `{}`: it is not in the joint's `order`", axis.word());
                reader.push(Diagnostic::error("rig-axes", span, title));
            }
            axis.map(|(axis, _)| Some(axis))
        }
    };
    let edges = reader.list(section, "band", Some(2)).and_then(|(entries, span)| {
        let [low, high] = entries else { return None };
        let low = reader.as_quantity(low, "band low", "\"11 Hz\"", FREQUENCY);
        let high = reader.as_quantity(high, "band high", "\"13 Hz\"", FREQUENCY);
        judge::band(reader, low?, high?, drive).then_some((low?.value, high?.value, span))
    });
    let share = reader.quantity(section, "share", Want::within(Dimension::NUMBER, 0.0, 1.0));
    let (low_hz, high_hz, span) = edges?;
    Some(AvoidBand { name: name?, axis: on?, low_hz, high_hz, share: share?.value, span })
}
