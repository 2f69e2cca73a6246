//! What only a model says of a rig: natural frequencies, and what happens when power fails.

use super::html::Page;
use super::quantity::figures;
use super::torques::{cloud_picture, clouds};
use crate::motion::Plan;
use crate::rig::Rig;
use crate::rig::modes::{Band, LegSpring, Springs, bands};
use crate::rig::survey::{ReachMap, SymmetricBox, power_losses};

/// Natural frequencies as bands, load by load; nothing where the file has no `[stiffness]`.
pub(super) fn frequencies(page: &mut Page, rig: &Rig, biggest: Option<(&ReachMap, SymmetricBox)>) {
    let Some(structure) = &rig.parts.stiffness else { return };
    page.section("Natural frequencies");
    let legs: Vec<LegSpring> = vec![structure.leg; rig.actuators.len()];
    let springs = Springs { legs, joint: structure.joint.clone() };
    let mut poses = vec![vec![0.0; rig.axes.len()]];
    if let Some((map, found)) = biggest {
        for (x, y) in [(1.0, 1.0), (-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)] {
            let mut q = vec![0.0; rig.axes.len()];
            for (axis, value) in [(map.across.index, x * found.across), (map.up.index, y * found.up)] {
                if let Some(slot) = q.get_mut(axis) {
                    *slot = value;
                }
            }
            poses.push(q);
        }
    }
    let mut rows: Vec<Vec<String>> = Vec::new();
    for (name, payload) in rig.load_cases() {
        match bands(rig, &poses, std::slice::from_ref(payload), &springs) {
            Ok(found) => {
                let mut row = vec![format!("`{name}`")];
                row.extend(found.iter().map(band_words));
                rows.push(row);
            }
            Err(error) => {
                page.paragraph(&format!("For `{name}` there are none: {error}."));
            }
        }
    }
    let most = rows.iter().map(Vec::len).max().unwrap_or(1);
    let heads: Vec<String> = (1..most).map(|k| format!("mode {k}, Hz")).collect();
    let mut heads: Vec<&str> = heads.iter().map(String::as_str).collect();
    heads.insert(0, "load");
    page.wide_table(&heads, &rows);
    page.model_only(
        "tap the platform with a rubber mallet, once for each load and with the drives holding, and read the frequency off \
         an accelerometer on the seat; a value that lies outside of its band says that a spring in the file is not what \
         bends",
    );
    page.small(
        "Bands go over the uncertainty of the springs, and over level and the corners of the largest box. A rigid payload \
         on springs; masses of the legs do not count.",
    );
}

fn band_words(band: &Band) -> String {
    match (band.low_hz, band.high_hz) {
        (Some(low), Some(high)) => format!("{} to {}", figures(low), figures(high)),
        (None, Some(high)) => format!("falls over, or up to {}", figures(high)),
        _ => "falls over".to_string(),
    }
}

/// Stops without power; a sentence where the file has no screw and motor.
pub(super) fn power_failure(page: &mut Page, rig: &Rig) {
    page.section("When power fails");
    let losses = power_losses(rig);
    if losses.is_empty() {
        page.paragraph(
            if rig.has_cranks() {
                "The file describes no motors, or not every gearbox, so nothing is worked out here. Cranks run back under load \
                 unless their gearboxes lock themselves: plan for a platform that sinks."
            } else {
                "The file describes no screws and motors, so nothing is worked out here. Ball screws run back under load: plan \
                 for a platform that sinks."
            },
        );
        return;
    }
    let cases: Vec<&str> = rig.load_cases().iter().map(|(name, _)| *name).collect();
    if rig.has_cranks() {
        page.paragraph(
            "Of a crank, travel and jolt are those of its pin along its circle; how its load and its lever change with the \
             angle on the way is not counted.",
        );
    }
    let case = |at: usize| cases.get(at).map_or(String::new(), |name| format!(" (`{name}`)"));
    let rows: Vec<[String; 7]> = losses
        .iter()
        .map(|loss| {
            let name = rig.actuators.get(loss.leg).map_or("", |leg| leg.name.as_str());
            let mm = |value: f64| format!("{} mm", figures(value * 1e3));
            let none = || "no brake".to_string();
            let runs = match loss.runs_back.as_slice() {
                [] => "stays".to_string(),
                names => format!(
                    "runs back with {}",
                    names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ")
                ),
            };
            let stops = loss.stops.as_ref();
            [
                format!("`{name}`"),
                stops.map_or_else(none, |stops| mm(stops.travel_m.value) + &case(stops.travel_m.case)),
                stops.map_or_else(none, |stops| {
                    format!("{} m/s^2{}", figures(stops.jolt_m_s2.value), case(stops.jolt_m_s2.case))
                }),
                stops.map_or_else(none, |stops| {
                    let bears = match loss.bears {
                        Some(count) if count.is_finite() => format!("bears {count:.0} such stops"),
                        Some(_) => "bears any number".to_string(),
                        None => "MORE than it may take".to_string(),
                    };
                    format!("{} J, {bears}", figures(stops.brake_j.value))
                }),
                loss.holding_margin.map_or_else(none, |margin| format!("{} %", figures(margin * 100.0))),
                format!("{runs}; {} J into an end stop", figures(loss.energy_j)),
                format!("{} in {} ms", mm(loss.controlled_m), figures(loss.controlled_s * 1e3)),
            ]
        })
        .collect();
    page.table(
        [
            "leg",
            "travel, weakest brake",
            "<jolt at the leg, strongest brake",
            "<work in the brake",
            "holds at level",
            "<without a brake",
            "stop under control (category 1)",
        ],
        &rows,
    );
    page.model_only(
        "seat empty, platform level, people away: run one leg at a tenth of its speed, cut the power, read the travel off \
         tape on the tube; raise the speed step by step while travel and jolt stay below this table",
    );
    page.small(
        "From each leg's limit of speed, at level, the way its load pushes, the other legs standing; the worst over all \
         loads, with the load in brackets. The weakest brake runs furthest, the strongest stops hardest.",
    );
}

/// Torque over speed of a profile; a sentence where the file has no motors.
pub(super) fn torques(page: &mut Page, plan: &Plan) {
    page.section("Torque and speed of the motors");
    page.paragraph(&format!(
        "Scene `{}` at gain {}, all loads, every sample.",
        plan.scenario().title,
        figures(plan.gain())
    ));
    let Some(clouds) = clouds(plan) else {
        page.paragraph("The rig file describes no motors and screws, so there is nothing to compare with.");
        return;
    };
    for cloud in &clouds {
        if let Some(picture) = cloud_picture(plan, cloud) {
            page.figure(
                &picture,
                &format!(
                    "At most {} % of the peak torque at its speed; {} N m r.m.s. over the scene with the worst load.",
                    figures(cloud.peak_share * 100.0),
                    figures(cloud.rms_nm)
                ),
            );
        }
    }
}
