//! `[emergency_stop]` and `[end_stop]`: how a rig is stopped from outside, and what takes a leg that nothing stopped.

use super::keys;
use super::limits::{COORDINATE, DELAY, most};
use super::reader::{Placed, Reader, Section, Want};
use crate::diag::Diagnostic;
use crate::rig::parts::{EmergencyStop, EndStop, Measured};
use crate::units::Dimension;

/// Safety relays with a delay go up to half a minute (from memory), s.
const LONGEST_S: f64 = 30.0;

pub(super) fn emergency(reader: &mut Reader, root: &Section<'_>) -> Option<EmergencyStop> {
    let label = "[emergency_stop]";
    let section = reader.table(root.get("emergency_stop")?, label, keys::EMERGENCY_STOP, label)?;
    let delay = reader.quantity(&section, "delay", DELAY);
    let power = reader.quantity(&section, "power_off", Want::above_zero(Dimension::TIME, LONGEST_S));
    let hardest = Want::above_zero(Dimension::ACCELERATION, most::ACCELERATION_M_S2);
    let measured = |placed: Placed<f64>| Measured { value: placed.value, span: placed.span };
    let deceleration = reader.optional(&section, "deceleration", hardest).map(measured);
    let jolt = reader.optional(&section, "jolt", hardest).map(measured);
    let head = section.get("head").and_then(|_| reader.point(&section, "head", COORDINATE));
    let (delay, power) = (delay?, power?);
    if delay.value >= power.value {
        let title = "power is taken away before the drives begin to brake; are the two swapped?";
        reader.push(Diagnostic::error("rig-part", power.span, title).also(delay.span, "they begin here"));
        return None;
    }
    Some(EmergencyStop {
        delay_s: delay.value,
        power_s: power.value,
        deceleration_m_s2: deceleration,
        jolt_m_s2: jolt,
        head_p_m: head.map(|head| head.value),
        span: section.span,
    })
}

pub(super) fn end_stop(reader: &mut Reader, section: &Section<'_>) -> Option<EndStop> {
    let energy = reader.quantity(section, "energy", Want::above_zero(Dimension::TORQUE, most::ENERGY_J))?;
    Some(EndStop { energy_j: energy.value, span: section.span })
}
