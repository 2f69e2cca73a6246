//! The tables of a rig file, one after the other.

use super::drive::{avoid, drive};
use super::joint::axes;
use super::legs::actuators;
use super::limits::{COORDINATE, SIZE};
use super::loads::loads;
use super::names::proper_name;
use super::powertrain::powertrain;
use super::reader::{Reader, Section};
use super::{can, clearance, crank, judge, keys, stops, structure, weight};
use crate::rig::parts::RigParts;
use crate::rig::{Actuator, AxisLimits, Drive, Interpolation, Payload, Rig};
use nalgebra::{Matrix3, Vector3};
use toml::de::DeTable;

/// Reads the whole file. `None` when a part is missing; a rig that comes out may still have errors in the reader.
pub(super) fn rig(reader: &mut Reader, root: &DeTable<'_>, hash: String) -> Option<Rig> {
    let root = reader.section(root, 0..0, "the rig file", keys::ROOT);
    let name = name(reader, &root);
    let pivot_height_m = pivot(reader, &root);
    let joint = part(reader, &root, "joint", "[joint]", keys::JOINT);
    let axes = joint.and_then(|section| axes(reader, &section));
    let loads = loads(reader, &root);
    let seat = part(reader, &root, "seat", "[seat]", keys::SEAT);
    let seat = seat.and_then(|section| reader.point(&section, "point", COORDINATE));
    let mut drafts = actuators(reader, &root, axes.as_deref());
    powertrain(reader, &root, drafts.as_deref_mut().unwrap_or_default());
    crank::not_for_cranks(reader, &root, drafts.as_deref().unwrap_or_default());
    let drive = drive(reader, &root);
    let avoid = avoid(reader, &root, axes.as_deref(), drive.as_ref());

    if let (Some(axes), Some(drafts)) = (&axes, &drafts) {
        let header = root.get("actuator").map_or(0..0, |value| value.span());
        let header = reader.span(header);
        judge::legs(reader, axes, drafts, header);
    }
    let (backlash_m, bandwidth_hz) = structure::measured(reader, &root);
    // What a rig with cranks cannot have is refused above, and not read.
    let has_cranks = drafts.iter().flatten().any(|draft| draft.is_crank);
    let parts = RigParts {
        loads: Vec::new(),
        payload_span: root.get("payload").map(|value| reader.span(value.span())),
        currents: structure::currents(reader, &root),
        supply: structure::supply(reader, &root),
        stiffness: if has_cranks { None } else { structure::stiffness(reader, &root) },
        backlash_m,
        bandwidth_hz,
        emergency: stops::emergency(reader, &root),
        points: clearance::points(reader, &root),
        obstacles: clearance::obstacles(reader, &root),
        can: if has_cranks { None } else { can::can(reader, &root, drafts.as_deref().unwrap_or_default()) },
    };
    let actuators = drafts?.into_iter().map(|draft| draft.actuator).collect::<Option<Vec<_>>>();
    let (payload, loads) = loads?;
    let rig = Rig {
        name: name?,
        axes: axes?,
        payload,
        seat_p_m: seat?.value,
        actuators: actuators?,
        avoid,
        drive: drive?,
        pivot_height_m,
        parts: RigParts { loads, ..parts },
        hash,
    };
    weight::holds(reader, &rig);
    Some(rig)
}

/// A table of the file that must be there.
pub(super) fn part<'t>(
    reader: &mut Reader,
    root: &Section<'t>,
    name: &str,
    label: &str,
    keys: &'static [keys::Key],
) -> Option<Section<'t>> {
    let value = reader.required(root, name)?;
    reader.table(value, label, keys, label)
}

fn name(reader: &mut Reader, root: &Section<'_>) -> Option<String> {
    let name = reader.text(root, "name")?;
    proper_name(reader, name, 80)
}

fn pivot(reader: &mut Reader, root: &Section<'_>) -> Option<f64> {
    let section = reader.table(root.get("pivot")?, "[pivot]", keys::PIVOT, "[pivot]")?;
    reader.quantity(&section, "height", SIZE).map(|height| height.value)
}

/// A rig of axes and legs alone, for judging their geometry.
pub(super) fn placeholder(axes: &[AxisLimits], actuators: Vec<Actuator>) -> Rig {
    Rig {
        name: String::new(),
        axes: axes.to_vec(),
        payload: Payload { mass_kg: 1.0, centre_p_m: Vector3::zeros(), inertia_kg_m2: Matrix3::identity() },
        seat_p_m: Vector3::zeros(),
        actuators,
        avoid: Vec::new(),
        drive: Drive {
            cycle_us: 1000,
            interpolation: Interpolation::Linear,
            delay_s: 0.0,
            detection_s: 0.0,
            link_s: 0.0,
            bandwidth_hz: 1.0,
            counts_per_turn: 1,
        },
        pivot_height_m: None,
        parts: RigParts::default(),
        hash: String::new(),
    }
}
