//! `[[actuator]]`: the legs.

use super::limits::{COORDINATE, SIZE, most};
use super::names::{named, own_name, word};
use super::reader::{Placed, Reader, Section, Want};
use super::{crank, judge, keys};
use crate::diag::{Diagnostic, Span};
use crate::rig::dynamics::MAX_LEGS;
use crate::rig::parts::{LegParts, Measured};
use crate::rig::{Actuator, ActuatorSpans, AxisLimits};
use crate::units::Dimension;

/// What was read of an actuator: its whole if nothing is missing, and its geometry as soon as that is complete.
#[derive(Debug, Clone)]
pub(super) struct Draft {
    /// As messages name it.
    pub(super) name: String,
    pub(super) actuator: Option<Actuator>,
    /// With placeholders for whatever geometry does not need.
    pub(super) geometry: Option<Actuator>,
    pub(super) park_span: Option<Span>,
    /// Whether it is read as a crank and not as a ball screw.
    pub(super) is_crank: bool,
}

pub(super) fn actuators(
    reader: &mut Reader,
    root: &Section<'_>,
    axes: Option<&[AxisLimits]>,
) -> Option<Vec<Draft>> {
    let value = reader.required(root, "actuator")?;
    let sections = named(reader, value, ("actuator", MAX_LEGS), keys::ACTUATOR)?;
    let mut names = Vec::new();
    let leg = |section: &Section<'_>| {
        let name = own_name(reader, section, &mut names);
        let kind = word(reader, section, "kind", &["ball screw", "crank"]);
        // A leg without a kind is read as what its keys speak of; it is no leg without it all the same.
        let is_crank = kind.map_or(section.get("crank").is_some(), |kind| kind == "crank");
        if kind.is_some() {
            crank::one_kind(reader, section, is_crank);
        }
        let mut draft =
            if is_crank { crank::leg(reader, section, name, axes) } else { screw_leg(reader, section, name) };
        draft.actuator = draft.actuator.filter(|_| kind.is_some());
        draft
    };
    Some(sections.iter().map(leg).collect())
}

fn screw_leg(reader: &mut Reader, section: &Section<'_>, name: Option<String>) -> Draft {
    let base = reader.point(section, "base", COORDINATE);
    let platform = reader.point(section, "platform", COORDINATE);
    let stroke = stroke(reader, section);
    let soft_stop =
        reader.quantity(section, "soft_stop", Want::within(Dimension::LENGTH, 0.0, most::LENGTH_M));
    let park = reader.quantity(section, "park", SIZE);
    let lead = reader.quantity(section, "lead", Want::above_zero(Dimension::LENGTH, 0.5));
    let speed = reader.quantity(section, "speed", Want::above_zero(Dimension::SPEED, most::SPEED_M_S));
    let acceleration = reader.quantity(
        section,
        "acceleration",
        Want::above_zero(Dimension::ACCELERATION, most::ACCELERATION_M_S2),
    );
    let jerk = reader.quantity(section, "jerk", Want::above_zero(Dimension::JERK, most::JERK_M_S3));
    let asked = section.get("thrust").is_some();
    let thrust = reader.optional(section, "thrust", Want::above_zero(Dimension::FORCE, most::THRUST_N));
    let parts = joints(reader, section);
    let complete = (thrust.is_some() || !asked) && parts.is_some();

    let sound = judge::stroke(reader, section, stroke, soft_stop, park);
    let table = section.span;
    let place = |placed: Option<Placed<f64>>| placed.map_or(table, |placed| placed.span);
    let value = |placed: Option<Placed<f64>>| placed.map_or(f64::NAN, |placed| placed.value);
    let geometry = match (base, platform, stroke, soft_stop, sound) {
        (Some(base), Some(platform), Some(stroke), Some(soft_stop), true) => Some(Actuator {
            name: name.clone().unwrap_or_else(|| section.label.clone()),
            base_r_m: base.value,
            anchor_p_m: platform.value,
            min_m: stroke.min_m,
            max_m: stroke.max_m,
            soft_stop_m: soft_stop.value,
            park_m: value(park),
            lead_m: value(lead),
            speed_m_s: value(speed),
            acceleration_m_s2: value(acceleration),
            jerk_m_s3: value(jerk),
            thrust_n: thrust.map_or(f64::INFINITY, |thrust| thrust.value),
            crank: None,
            parts: parts.unwrap_or_default(),
            spans: ActuatorSpans {
                table,
                stroke: stroke.span,
                speed: place(speed),
                acceleration: place(acceleration),
                jerk: place(jerk),
            },
        }),
        _ => None,
    };
    let numbers = [park, lead, speed, acceleration, jerk].iter().all(Option::is_some);
    let actuator = geometry.clone().filter(|_| complete && numbers && name.is_some());
    let name = name.unwrap_or_else(|| section.label.clone());
    Draft { name, actuator, geometry, park_span: park.map(|park| park.span), is_crank: false }
}

/// How far the end joints may swing; `None` when one stands there and cannot be read.
fn joints(reader: &mut Reader, section: &Section<'_>) -> Option<LegParts> {
    let mut swing = |name: &str| {
        let found = reader.optional(section, name, Want::above_zero(Dimension::ANGLE, most::ANGLE_RAD));
        (section.get(name).is_some() == found.is_some())
            .then_some(found.map(|placed| Measured { value: placed.value, span: placed.span }))
    };
    let (base, anchor) = (swing("base_swing"), swing("platform_swing"));
    Some(LegParts { base_swing_rad: base?, anchor_swing_rad: anchor?, ..LegParts::default() })
}

/// The shortest and longest length, and where they stand.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stroke {
    pub(super) min_m: f64,
    pub(super) max_m: f64,
    pub(super) span: Span,
}

/// Either `length = { min, max }` or `stroke` with `shortest`.
fn stroke(reader: &mut Reader, section: &Section<'_>) -> Option<Stroke> {
    let (length, stroke, shortest) = (section.get("length"), section.get("stroke"), section.get("shortest"));
    if let (Some(length), Some(other)) = (length, stroke.or(shortest)) {
        let title = format!("{} gives its lengths twice", section.label);
        let help = "keep either `length = { min, max }` or `stroke` and `shortest`";
        let (first, second) = (reader.span(length.span()), reader.span(other.span()));
        reader.push(Diagnostic::error("rig-stroke", second, title).also(first, "and here").help(help));
        return None;
    }
    if let (None, Some(stroke_value)) = (length, stroke.or(shortest)) {
        let span = reader.span(stroke_value.span());
        let (stroke, shortest) =
            (reader.quantity(section, "stroke", SIZE), reader.quantity(section, "shortest", SIZE));
        let (stroke, shortest) = (stroke?.value, shortest?.value);
        return Some(Stroke { min_m: shortest, max_m: shortest + stroke, span });
    }
    let value = reader.required(section, "length")?;
    let label = format!("the `length` of {}", section.label);
    let table = reader.table(value, label, keys::LENGTH, section.example("length"))?;
    let (min, max) = (reader.quantity(&table, "min", SIZE), reader.quantity(&table, "max", SIZE));
    Some(Stroke { min_m: min?.value, max_m: max?.value, span: reader.span(value.span()) })
}
