//! `[motor]`: its curves, its heat.

use super::limits::{POWER, TORQUE, WINDOW, most};
use super::reader::{Placed, Reader, Section, Want};
use crate::diag::{Diagnostic, Span};
use crate::rig::mechanics::DataError;
use crate::rig::mechanics::motor::Motor;
use crate::rig::mechanics::thermal::WindingLimits;
use crate::rig::mechanics::torque_curve::TorqueCurve;
use crate::rig::parts::MotorPart;
use crate::units::{Dimension, show};
use std::f64::consts::TAU;

/// Points that a curve may have at most.
const MOST_POINTS: usize = 64;
/// Temperatures that a winding may have, degC (from memory: enamels end at 240).
const TEMPERATURE: Want = Want::within(Dimension::TEMPERATURE, -50.0, 300.0);

pub(super) fn motor(reader: &mut Reader, section: &Section<'_>) -> Option<MotorPart> {
    let continuous = curve(reader, section, "continuous");
    let peak = curve(reader, section, "peak");
    let rotor = Want::above_zero(Dimension::INERTIA, most::SMALL_INERTIA_KG_M2);
    let rotor = reader.quantity(section, "rotor_inertia", rotor);
    let rated = reader.quantity(section, "rated_power", POWER);
    let constant = Want::above_zero(Dimension::TORQUE_PER_CURRENT, most::TORQUE_NM_A);
    let constant = reader.quantity(section, "torque_constant", constant);
    let time = reader.quantity(section, "time_constant", Want::within(Dimension::TIME, 1.0, 1e5));
    let window = reader.quantity(section, "window", WINDOW);
    let ambient = reader.quantity(section, "rated_ambient", TEMPERATURE);
    let limit = reader.quantity(section, "winding_limit", TEMPERATURE);
    let start = reader.quantity(section, "start", TEMPERATURE);
    let winding = winding(reader, ambient?, limit?, start?)?;
    let (continuous, peak, rated) = (continuous?, peak?, rated?);
    let motor = Motor {
        rotor_kg_m2: rotor?.value,
        continuous: continuous.value,
        peak: peak.value,
        rated_w: rated.value,
        torque_nm_a: constant?.value,
        time_constant_s: time?.value,
    };
    if let Err(error) = motor.check() {
        let (title, span) = match error {
            DataError::PeakBelowContinuous { rate_rad_s, continuous_nm, peak_nm } => {
                let (more, less) = (show(continuous_nm, Dimension::TORQUE), show(peak_nm, Dimension::TORQUE));
                let at = rpm(rate_rad_s);
                let title = format!(
                    "at {at} the continuous torque is {more} and the peak torque {less}; are the curves swapped?"
                );
                (title, peak.span)
            }
            DataError::RatedPower { rated_w, most_w } => {
                let (found, most) = (show(rated_w, Dimension::POWER), show(most_w, Dimension::POWER));
                let title = format!(
                    "the rated power is {found}, but torque times speed is at most {most} on the continuous curve"
                );
                (title, rated.span)
            }
            other => (other.to_string(), section.span),
        };
        reader
            .push(Diagnostic::error("rig-motor", span, title).also(continuous.span, "the continuous curve"));
        return None;
    }
    Some(MotorPart {
        motor,
        winding,
        start_degc: start?.value,
        window_s: window?.value,
        span: section.span,
        peak_span: peak.span,
        continuous_span: continuous.span,
    })
}

fn winding(
    reader: &mut Reader,
    ambient: Placed<f64>,
    limit: Placed<f64>,
    start: Placed<f64>,
) -> Option<WindingLimits> {
    let winding = WindingLimits { ambient_degc: ambient.value, limit_degc: limit.value };
    if limit.value <= ambient.value {
        let title = "the winding's limit is not above the ambient temperature of the rating";
        reader.push(Diagnostic::error("rig-motor", limit.span, title).also(ambient.span, "the ambient"));
        return None;
    }
    if start.value >= limit.value {
        let title = "the winding starts at its limit: no torque is left to play with";
        reader.push(Diagnostic::error("rig-motor", start.span, title).also(limit.span, "the limit"));
        return None;
    }
    Some(winding)
}

/// A list of pairs of speed and torque.
fn curve(reader: &mut Reader, section: &Section<'_>, name: &'static str) -> Option<Placed<TorqueCurve>> {
    let (entries, span) = reader.list(section, name, None)?;
    if entries.len() > MOST_POINTS {
        let title = format!("a curve of {} points; at most {MOST_POINTS} are read", entries.len());
        reader.push(Diagnostic::error("rig-size", span, title));
        return None;
    }
    let turning = Want::within(Dimension::FREQUENCY, 0.0, most::MOTOR_HZ);
    let torque = Want { low_allowed: true, ..TORQUE };
    let mut points: Vec<((f64, f64), Span)> = Vec::new();
    let mut complete = true;
    for entry in entries {
        let place = reader.span(entry.span());
        let Some([speed, nm]) = reader.pair(entry, name, "[\"3000 rpm\", \"1.3 N*m\"]") else {
            complete = false;
            continue;
        };
        let speed = reader.as_quantity(speed, &format!("{name} speed"), "\"3000 rpm\"", turning);
        let nm = reader.as_quantity(nm, &format!("{name} torque"), "\"1.3 N*m\"", torque);
        match speed.zip(nm) {
            Some((speed, nm)) => points.push(((speed.value * TAU, nm.value), place)),
            None => complete = false,
        }
    }
    if !complete {
        return None;
    }
    let plain: Vec<(f64, f64)> = points.iter().map(|(point, _)| *point).collect();
    match TorqueCurve::new(name, plain) {
        Ok(value) => Some(Placed { value, span }),
        Err(error) => {
            let (title, at) = words(name, &error, &points);
            reader.push(
                Diagnostic::error("rig-motor", at.unwrap_or(span), title)
                    .help("points go from standstill to the highest speed, with torque that stays or falls"),
            );
            None
        }
    }
}

fn rpm(rad_s: f64) -> String {
    format!("{:.0} rpm", rad_s / TAU * 60.0)
}

/// A curve's mistake in the units of a data sheet, and the point that it is about.
fn words(name: &str, error: &DataError, points: &[((f64, f64), Span)]) -> (String, Option<Span>) {
    let place = |point: usize| points.get(point.wrapping_sub(1)).map(|(_, span)| *span);
    match error {
        DataError::CurveStart { found_rad_s, .. } => {
            (format!("the {name} torque curve begins at {}, not at standstill", rpm(*found_rad_s)), place(1))
        }
        DataError::CurveOrder { point, found_rad_s, before_rad_s, .. } => (
            format!(
                "point {point} of the {name} torque curve is at {}, not above the {} before it",
                rpm(*found_rad_s),
                rpm(*before_rad_s)
            ),
            place(*point),
        ),
        DataError::CurveRises { point, .. } => (error.to_string(), place(*point)),
        other => (other.to_string(), None),
    }
}
