//! `[supply]`, `[stiffness]`, `[measured]` and the currents of `[drive]`.

use super::keys;
use super::limits::{CURRENT, FREQUENCY, PART, POWER, SHARE, STIFFNESS, WINDOW, most};
use super::reader::{Reader, Section, Want};
use crate::diag::Diagnostic;
use crate::rig::Axis;
use crate::rig::mechanics::drive_power::{BrakeResistor, Supply};
use crate::rig::mechanics::motor::CurrentLimits;
use crate::rig::modes::{JointSpring, LegSpring, Stiffness};
use crate::rig::parts::{DriveCurrents, Measured, Structure, SupplyPart};
use crate::units::Dimension;

/// Currents, when any of the three keys is there: then all must be.
pub(super) fn currents(reader: &mut Reader, root: &Section<'_>) -> Option<DriveCurrents> {
    let names = ["continuous_current", "peak_current", "current_window"];
    let section = reader.quiet_table(root.get("drive")?, "[drive]", keys::DRIVE)?;
    if names.iter().all(|name| section.get(name).is_none()) {
        return None;
    }
    let continuous = reader.quantity(&section, "continuous_current", CURRENT);
    let peak = reader.quantity(&section, "peak_current", CURRENT);
    let window = reader.quantity(&section, "current_window", WINDOW);
    let (continuous, peak) = (continuous?, peak?);
    if continuous.value > peak.value {
        let title = "the continuous current is more than the peak current; are the two swapped?";
        reader.push(Diagnostic::error("rig-part", continuous.span, title).also(peak.span, "the peak"));
        return None;
    }
    Some(DriveCurrents {
        limits: CurrentLimits { continuous_a: continuous.value, peak_a: peak.value },
        window_s: window?.value,
        continuous_span: continuous.span,
        peak_span: peak.span,
    })
}

pub(super) fn supply(reader: &mut Reader, root: &Section<'_>) -> Option<SupplyPart> {
    let section = reader.table(root.get("supply")?, "[supply]", keys::SUPPLY, "[supply]")?;
    let power = reader.quantity(&section, "power", POWER);
    let efficiency = reader.quantity(&section, "efficiency", SHARE);
    let store = reader.quantity(&section, "store", Want::within(Dimension::TORQUE, 0.0, most::ENERGY_J));
    let resistor = match section.get("resistor") {
        None => None,
        Some(value) => {
            let label = "the supply's `resistor`";
            let table = reader.table(value, label, keys::RESISTOR, section.example("resistor"))?;
            let peak = reader.quantity(&table, "peak", POWER);
            let continuous = reader.quantity(&table, "continuous", POWER);
            let (peak, continuous) = (peak?, continuous?);
            if continuous.value > peak.value {
                let title = "the resistor bears more without end than for a moment; are the two swapped?";
                reader.push(Diagnostic::error("rig-part", continuous.span, title).also(peak.span, "peak"));
                return None;
            }
            Some(BrakeResistor { peak_w: peak.value, continuous_w: continuous.value })
        }
    };
    let supply =
        Supply { most_w: power?.value, efficiency: efficiency?.value, store_j: store?.value, resistor };
    Some(SupplyPart { supply, span: section.span })
}

pub(super) fn stiffness(reader: &mut Reader, root: &Section<'_>) -> Option<Structure> {
    let section = reader.table(root.get("stiffness")?, "[stiffness]", keys::STIFFNESS, "[stiffness]")?;
    let sure = Want { low_allowed: true, ..Want::within(Dimension::NUMBER, 0.0, 0.9) };
    let uncertainty = reader.quantity(&section, "uncertainty", sure);
    let share = reader.quantity(&section, "share", PART);
    let leg = reader.required(&section, "leg").and_then(|value| {
        reader.table(value, "the `leg` of [stiffness]", keys::LEG_SPRING, section.example("leg"))
    });
    let uncertain = uncertainty.map_or(0.0, |share| share.value);
    let leg = leg.and_then(|table| {
        let mut spring = |name: &str| {
            let value = reader.optional(&table, name, STIFFNESS);
            (table.get(name).is_some() == value.is_some())
                .then_some(value.map(|placed| Stiffness { value: placed.value, share: uncertain }))
        };
        let (mount, screw, servo) = (spring("mount"), spring("screw"), spring("servo"));
        let leg = LegSpring { mount: mount?, screw: screw?, servo: servo? };
        if leg == LegSpring::default() {
            let title = "a leg without any spring is rigid, and there is nothing to work out";
            let help = "give at least one of `mount`, `screw` and `servo`";
            reader.push(Diagnostic::error("rig-part", table.span, title).help(help));
            return None;
        }
        Some(leg)
    });
    let joint = match section.get("joint") {
        None => Some(Vec::new()),
        Some(value) => joint(reader, &section, value, uncertain),
    };
    uncertainty?;
    Some(Structure { leg: leg?, joint: joint?, share: share?.value, span: section.span })
}

fn joint(
    reader: &mut Reader,
    section: &Section<'_>,
    value: &toml::Spanned<toml::de::DeValue<'_>>,
    share: f64,
) -> Option<Vec<JointSpring>> {
    let label = "the `joint` of [stiffness]";
    let table = reader.table(value, label, keys::JOINT_SPRING, section.example("joint"))?;
    let turning = Want::above_zero(Dimension::TURNING_STIFFNESS, most::TURNING_STIFFNESS_NM_RAD);
    let mut springs = Vec::new();
    for axis in Axis::ALL {
        if table.get(axis.word()).is_none() {
            continue;
        }
        let want = if axis.is_rotation() { turning } else { STIFFNESS };
        let value = reader.quantity(&table, axis.word(), want)?.value;
        springs.push(JointSpring { axis, stiffness: Stiffness { value, share } });
    }
    Some(springs)
}

/// Backlash (m) and bandwidth (Hz).
pub(super) fn measured(reader: &mut Reader, root: &Section<'_>) -> (Option<Measured>, Option<Measured>) {
    let Some(value) = root.get("measured") else { return (None, None) };
    let Some(section) = reader.table(value, "[measured]", keys::MEASURED, "[measured]") else {
        return (None, None);
    };
    let backlash = Want::within(Dimension::LENGTH, 0.0, 0.1);
    let backlash = reader.optional(&section, "backlash", backlash);
    let bandwidth = reader.optional(&section, "bandwidth", FREQUENCY);
    let measured = |placed: super::reader::Placed<f64>| Measured { value: placed.value, span: placed.span };
    (backlash.map(measured), bandwidth.map(measured))
}
