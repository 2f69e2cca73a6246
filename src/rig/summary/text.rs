//! A summary as plain text.

use super::{AxisSummary, LegSummary, Summary};
use crate::units::{Dimension, show, show_in};
use std::fmt::Write;

/// The summary as plain text: a head, a table of axes, a table of legs, cautions. Lines stay below about 110 columns.
pub fn text(summary: &Summary) -> String {
    let mut out = format!("{}\n", summary.name);
    let height = summary.pivot_height_m.map(|height| format!("joint {} above the floor, ", length(height)));
    // Writing to a string cannot fail.
    let _ = writeln!(
        out,
        "{}set-points every {}, {} between them\n",
        height.unwrap_or_default(),
        milliseconds(summary.cycle_s),
        summary.interpolation,
    );
    out += &table(axes(summary));
    out.push('\n');
    out += &table(legs(summary));
    out.push('\n');
    out += &table(motors(summary));
    out += "\ncautions\n";
    for caution in &summary.cautions {
        let _ = writeln!(out, "  - {caution}");
    }
    out
}

fn axes(summary: &Summary) -> Vec<Vec<String>> {
    let head =
        ["axis", "joint range", "alone", "ended by", "rate at level", "stop from that rate", "leg runs on"];
    let row = |axis: &AxisSummary| {
        let (value, rate) = match axis.unit {
            "rad" => (Dimension::ANGLE, Dimension::ANGULAR_RATE),
            _ => (Dimension::LENGTH, Dimension::SPEED),
        };
        let (stop, leg) = match &axis.stop {
            Some(stop) => (
                format!("{} in {}", short(stop.distance, value), milliseconds(stop.time_s)),
                length(stop.leg_m),
            ),
            None => ("cannot be braked".to_string(), "-".to_string()),
        };
        vec![
            axis.axis.to_string(),
            format!("{} to {}", show(axis.min, value), show(axis.max, value)),
            format!("+-{}", short(axis.alone.value, value)),
            axis.alone.limited_by.clone(),
            short(axis.rate, rate),
            stop,
            leg,
        ]
    };
    with_head(&head, summary.axes.iter().map(row))
}

fn legs(summary: &Summary) -> Vec<Vec<String>> {
    let mut head = vec!["leg", "level", "lengths", "soft stop", "left longer", "left shorter", "park"];
    let arms: Vec<String> = summary.axes.iter().map(|axis| format!("arm {}", axis.axis)).collect();
    head.extend(arms.iter().map(String::as_str));
    let row = |leg: &LegSummary| {
        let arm = |(arm, axis): (&f64, &AxisSummary)| match axis.unit {
            "rad" => length(*arm),
            _ => show(*arm, Dimension::NUMBER),
        };
        let at = |value_m: f64| match leg.crank_arm_m {
            None => length(value_m),
            Some(arm_m) => short(value_m / arm_m, Dimension::ANGLE),
        };
        let mut cells = vec![
            leg.name.clone(),
            at(leg.level_m),
            format!("{} to {}", at(leg.min_m), at(leg.max_m)),
            at(leg.soft_stop_m),
            at(leg.longer_m),
            at(leg.shorter_m),
            at(leg.park_m),
        ];
        cells.extend(leg.arms.iter().zip(&summary.axes).map(arm));
        cells
    };
    with_head(&head, summary.legs.iter().map(row))
}

fn motors(summary: &Summary) -> Vec<Vec<String>> {
    let head = ["leg", "speed", "motor", "motor acceleration", "holds at level", "thrust"];
    let row = |leg: &LegSummary| {
        vec![
            leg.name.clone(),
            match leg.crank_arm_m {
                None => show(leg.speed_m_s, Dimension::SPEED),
                Some(arm_m) => show(leg.speed_m_s / arm_m, Dimension::ANGULAR_RATE),
            },
            format!("{:.0} rpm", leg.motor_rpm),
            format!("{:.2} krad/s^2", leg.motor_rad_s2 * 1e-3),
            leg.holding_n.map_or("-".to_string(), holding),
            leg.thrust_n.map_or("not given".to_string(), |thrust| format!("{thrust:.0} N")),
        ]
    };
    with_head(&head, summary.legs.iter().map(row))
}

fn holding(force_n: f64) -> String {
    let way = if force_n < 0.0 { "pull" } else { "push" };
    format!("{:.1} N {way}", force_n.abs())
}

fn milliseconds(time_s: f64) -> String {
    show_in((time_s * 1e5).round() * 1e-5, "ms", 1e-3)
}

/// To a tenth of a millimetre.
fn length(length_m: f64) -> String {
    show((length_m * 1e4).round() * 1e-4, Dimension::LENGTH)
}

/// Three figures are enough for what is a result and not a setting.
fn short(value: f64, dimension: Dimension) -> String {
    if value == 0.0 || !value.is_finite() {
        return show(value, dimension);
    }
    let scale = if dimension.angle == 1 { std::f64::consts::PI / 180.0 } else { 1e-3 };
    show((value / scale * 100.0).round() / 100.0 * scale, dimension)
}

fn with_head(head: &[&str], rows: impl Iterator<Item = Vec<String>>) -> Vec<Vec<String>> {
    std::iter::once(head.iter().map(ToString::to_string).collect()).chain(rows).collect()
}

/// Columns two spaces apart, without spaces at line ends.
fn table(rows: Vec<Vec<String>>) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |k: usize| rows.iter().filter_map(|row| row.get(k)).map(|cell| cell.chars().count()).max();
    let widths: Vec<usize> = (0..columns).map(|k| width(k).unwrap_or(0)).collect();
    let line = |row: &Vec<String>| {
        let cells: String =
            row.iter().zip(&widths).map(|(cell, width)| format!("{cell:<width$}  ")).collect();
        cells.trim_end().to_string() + "\n"
    };
    rows.iter().map(line).collect()
}
