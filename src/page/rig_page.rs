//! The page of a rig: what it is, what it can do, what to look at again.

use super::drawing::drawing;
use super::forces::force_picture;
use super::html::Page;
use super::polygons::polygon_picture;
use super::quantity::{Shown, figures};
use super::reach::{box_words, reach_picture};
use crate::motion::Plan;
use crate::rig::advice::{Advice, advise};
use crate::rig::summary::{AxisSummary, Summary, summarise};
use crate::rig::survey::{
    ReachMap, acceleration_reach, force_map, largest_box, map_axes, reach_map, speed_reach,
};
use crate::rig::{Axis, Rig};
use crate::units::{Dimension, show};

/// Where a rig came from.
#[derive(Debug, Clone, Copy)]
pub struct RigFile<'a> {
    /// Its path as typed.
    pub path: &'a str,
    /// Warnings and notes about the file, one line each.
    pub remarks: &'a [String],
    /// A profile on this rig, whose torques are held against the motors' curves.
    pub plan: Option<&'a Plan>,
}

/// A rig as a page of HTML.
pub fn rig_page(rig: &Rig, file: RigFile<'_>) -> String {
    let summary = summarise(rig);
    let axes = map_axes(rig);
    let map = axes.and_then(|axes| reach_map(rig, axes, &[]));
    let biggest = map.as_ref().and_then(largest_box);
    let advice = advise(rig, map.as_ref(), biggest);

    let mut page = Page::new(&rig.name);
    head(&mut page, rig, file);
    in_short(&mut page, &advice);
    page.section("The rig to scale");
    let (picture, scale) = drawing(rig);
    page.figure(
        &picture,
        &format!(
            "Level, 1:{} when printed at 100 %. Squares: ends of the legs in the frame; circles: on the platform; cross \
             bars: the shortest and the longest that a leg can be. Hold a tape against it: what looks wrong here is wrong \
             in the file.",
            figures(scale)
        ),
    );
    if rig.has_cranks() {
        page.small("Of a crank, dashes show where it points at the two ends of its travel.");
    }
    if let Some(map) = &map {
        reach(&mut page, rig, map);
    }
    if let Some(axes) = axes {
        speeds(&mut page, rig, axes);
    }
    numbers(&mut page, &summary);
    if let Some(map) = &map {
        page.section("Holding forces");
        for (case, payload) in rig.load_cases() {
            let loaded = rig.carrying(payload);
            page.figure(
                &force_picture(&loaded, map, &force_map(&loaded, map)),
                &format!(
                    "Newtons that each leg holds with, at rest, under the load `{case}`: blue pushes, orange and hatched \
                     pulls, the darker the more; grey is out of reach. Where the sign turns, backlash is felt as a knock."
                ),
            );
        }
    }
    super::model::frequencies(&mut page, rig, map.as_ref().zip(biggest));
    super::model::power_failure(&mut page, rig);
    if let Some(plan) = file.plan {
        super::model::torques(&mut page, plan);
    }
    page.section("Cautions");
    page.list(summary.cautions.iter().map(String::as_str));
    page.finish()
}

fn head(page: &mut Page, rig: &Rig, file: RigFile<'_>) {
    let words: Vec<&str> = rig.axes.iter().map(|limits| limits.axis.word()).collect();
    page.paragraph(&format!(
        "{} free axes ({}), {} legs, {} of payload, set-points every {}.",
        rig.axes.len(),
        words.join(", "),
        rig.actuators.len(),
        show(rig.payload.mass_kg, Dimension::MASS),
        crate::units::show_in(f64::from(rig.drive.cycle_us) * 1e-6, "ms", 1e-3),
    ));
    page.small(&format!("Rig file `{}`, SHA-256 `{}`.", file.path, rig.hash));
    if !file.remarks.is_empty() {
        page.heavy("The file itself", file.remarks.iter().map(String::as_str));
    }
}

fn in_short(page: &mut Page, advice: &Advice) {
    if !advice.look_again.is_empty() {
        page.heavy(
            "Look again: this may be a mistake in the file",
            advice.look_again.iter().map(String::as_str),
        );
    }
    page.section("In short");
    page.list(advice.limits.iter().map(String::as_str));
    page.part("Weight");
    page.list(advice.balance.iter().map(String::as_str));
}

fn reach(page: &mut Page, rig: &Rig, map: &ReachMap) {
    page.section("Reach");
    let biggest = largest_box(map);
    let others = if rig.axes.len() > 2 { " with the other axes level" } else { "" };
    let found = biggest.map_or("level itself is out of reach".to_string(), |found| {
        format!("the largest box that is all within reach is {}", box_words(map, found))
    });
    page.figure(
        &reach_picture(rig, map, biggest, 380.0),
        &format!(
            "{} against {}{others}, in steps of {}: {found}. Outside, the hatching says what ends the motion first, and the \
             name which leg.",
            capital(map.up.axis.word()),
            map.across.axis.word(),
            {
                let shown = Shown::axis(map.up.axis);
                format!("{} {}", figures(shown.of(map.up.step).abs()), shown.unit)
            }
        ),
    );
    // Going up or down costs the legs stroke: the same map there.
    let Some(heave) = rig.axes.iter().position(|limits| limits.axis == Axis::Heave) else { return };
    if heave == map.across.index || heave == map.up.index {
        return;
    }
    let Some(limits) = rig.axes.get(heave) else { return };
    for (value, word) in [(0.5 * limits.min, "up"), (0.5 * limits.max, "down")] {
        let mut held = vec![0.0; rig.axes.len()];
        if let Some(slot) = held.get_mut(heave) {
            *slot = value;
        }
        if let Some(there) = reach_map(rig, (map.across.index, map.up.index), &held) {
            let biggest = largest_box(&there);
            let found =
                biggest.map_or("level is out of reach there".to_string(), |found| box_words(&there, found));
            page.figure(
                &reach_picture(rig, &there, biggest, 240.0),
                &format!("The same, {} {word}: {found}.", show(value.abs(), Dimension::LENGTH)),
            );
        }
    }
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().collect::<String>() + letters.as_str())
}

fn speeds(page: &mut Page, rig: &Rig, axes: (usize, usize)) {
    page.section("Speed and acceleration at level");
    let rates = speed_reach(rig, axes).and_then(|polygon| polygon_picture(rig, axes, &polygon, 1));
    if let Some(picture) = rates {
        page.figure(
            &picture,
            "Rates that both axes can have at once; each edge is a leg at its limit of speed.",
        );
    }
    match acceleration_reach(rig, axes) {
        Some(polygon) if polygon.corners.is_empty() => {
            page.paragraph("Holding the platform level already takes more thrust than some leg has.");
        }
        Some(polygon) => {
            if let Some(picture) = polygon_picture(rig, axes, &polygon, 2) {
                page.figure(
                    &picture,
                    "Accelerations that both axes can have at once from rest: by each leg's limit of acceleration and, where \
                     the file gives one, by its thrust with the payload of the file.",
                );
            }
        }
        None => {}
    }
}

fn numbers(page: &mut Page, summary: &Summary) {
    page.section("Numbers");
    let rows: Vec<[String; 6]> = summary.axes.iter().map(axis_row).collect();
    page.table(["axis", "range", "alone", "<ended by", "rate at level", "stop from that rate"], &rows);
    page.model_only(
        "with the seat empty, run the axis alone at that rate, press the stop in mid-range, and read from the drive's own \
         trace how far each leg ran on; begin at a tenth of the rate",
    );
    let mut heads =
        vec!["leg", "level", "lengths", "room longer", "room shorter", "holds", "thrust", "motor"];
    let arms: Vec<String> = summary.axes.iter().map(|axis| format!("arm {}", axis.axis)).collect();
    heads.extend(arms.iter().map(String::as_str));
    let rows: Vec<Vec<String>> = summary
        .legs
        .iter()
        .map(|leg| {
            let mm = |value: f64| format!("{} mm", figures(value * 1e3));
            let at = |value: f64| match leg.crank_arm_m {
                None => mm(value),
                Some(arm_m) => format!("{} deg", figures((value / arm_m).to_degrees())),
            };
            let mut row = vec![
                format!("`{}`", leg.name),
                at(leg.level_m),
                format!("{} to {}", at(leg.min_m), at(leg.max_m)),
                at(leg.longer_m),
                at(leg.shorter_m),
                leg.holding_n.map_or("-".to_string(), |force| format!("{} N", figures(force))),
                leg.thrust_n.map_or("not given".to_string(), |force| format!("{} N", figures(force))),
                format!("{} rpm", figures(leg.motor_rpm)),
            ];
            row.extend(leg.arms.iter().zip(&summary.axes).map(|(arm, axis)| match axis.unit {
                "rad" => format!("{}/rad", mm(*arm)),
                _ => figures(*arm),
            }));
            row
        })
        .collect();
    page.wide_table(&heads, &rows);
    page.small(
        "Lengths are between the centres of a leg's ends; room is what is left before the soft stops. Holding force is at \
         level and at rest: positive pushes. An arm is how far the leg moves for a radian, or for a unit, of the axis.",
    );
    if summary.legs.iter().any(|leg| leg.crank_arm_m.is_some()) {
        page.small(
            "A crank has angles in the place of lengths. Its forces act on the pin along its circle, the torque at the crank \
             over its arm, and its arms say how far the pin goes.",
        );
    }
}

fn axis_row(axis: &AxisSummary) -> [String; 6] {
    let (factor, unit) = if axis.unit == "rad" { (180.0 / std::f64::consts::PI, "deg") } else { (1e3, "mm") };
    let value = |value: f64| figures(value * factor);
    let stop = axis.stop.as_ref().map_or("cannot be braked".to_string(), |stop| {
        format!("{} {unit} in {} ms", value(stop.distance), figures(stop.time_s * 1e3))
    });
    [
        axis.axis.to_string(),
        format!("{} to {} {unit}", value(axis.min), value(axis.max)),
        format!("\u{b1}{} {unit}", value(axis.alone.value)),
        axis.alone.limited_by.clone(),
        format!("{} {unit}/s", value(axis.rate)),
        stop,
    ]
}
