//! `[actuator.crank]`: a leg whose motor turns a crank, with a rod from its pin to the platform.
//!
//! A builder gives angles, as his data sheets do; the leg's coordinate is the way of its pin, arm times angle, so every
//! number of an angle is multiplied by the arm here and by nobody else.

use super::keys;
use super::legs::Draft;
use super::limits::{COORDINATE, PART, SHARE, SIZE, most};
use super::names::word;
use super::reader::{Placed, Reader, Section, Want};
use crate::diag::{Diagnostic, Span};
use crate::rig::crank::dead_point::least_transmission;
use crate::rig::crank::{Assembly, Crank, CrankError, Gearbox};
use crate::rig::kinematics::anchor_region;
use crate::rig::parts::{CrankPart, GearboxPart, LegParts, Measured};
use crate::rig::{Actuator, ActuatorSpans, AxisLimits};
use crate::units::{Dimension, show};
use nalgebra::Vector3;
use std::f64::consts::{FRAC_PI_2, PI, TAU};
use toml::de::DeValue;

/// Points that give a direction are at least so far apart, m: nearer, a tape cannot give one.
const APART_M: f64 = 0.02;
/// A `dead_point` below this asks for legs that jam, rad (chosen: forces are then eleven times those of a good rod).
const LEAST_DEAD_RAD: f64 = 5.0 * PI / 180.0;

const ANGLE: Want = Want::within(Dimension::ANGLE, -most::CRANK_RAD, most::CRANK_RAD);

/// Reports keys of the other kind of leg.
pub(super) fn one_kind(reader: &mut Reader, section: &Section<'_>, is_crank: bool) {
    let foreign = |word: &str| if is_crank { keys::SCREW_ONLY.contains(&word) } else { word == "crank" };
    for (word, range) in section.found().filter(|(word, _)| foreign(word)) {
        let span = reader.span(range);
        let (title, help) = if is_crank {
            (
                format!("`{word}` belongs to a ball screw, and {} is a crank", section.label),
                "take the line out: a crank's limits stand under `[actuator.crank]`; or write `kind = \"ball screw\"` and \
                 take that table out",
            )
        } else {
            (
                format!("`crank` belongs to a crank, and {} is a ball screw", section.label),
                "take the table out, or write `kind = \"crank\"` and take the keys of a ball screw out",
            )
        };
        reader.push(Diagnostic::error("rig-leg-kind", span, title).help(help));
    }
}

/// A leg with `kind = "crank"`.
pub(super) fn leg(
    reader: &mut Reader,
    section: &Section<'_>,
    name: Option<String>,
    axes: Option<&[AxisLimits]>,
) -> Draft {
    let label = name.clone().unwrap_or_else(|| section.label.clone());
    let nothing = Draft { name: label, actuator: None, geometry: None, park_span: None, is_crank: true };
    let platform = reader.point(section, "platform", COORDINATE);
    let swing =
        reader.optional(section, "platform_swing", Want::above_zero(Dimension::ANGLE, most::ANGLE_RAD));
    let swing_read = section.get("platform_swing").is_some() == swing.is_some();
    let Some(value) = section.get("crank") else {
        let title = format!("{} is a crank and has no `crank`", section.label);
        reader.push(Diagnostic::error("rig-missing-value", section.span, title).help(
            "add a table under the header `[actuator.crank]`, below the other keys of this leg and above the next \
             `[[actuator]]`",
        ));
        return nothing;
    };
    let label = format!("the `crank` of {}", section.label);
    let Some(table) = reader.table(value, label, keys::CRANK, section.example("crank")) else {
        return nothing;
    };
    let numbers = Numbers::read(reader, &table);
    let crank = geometry(reader, &table);
    let travel = travel(reader, &table, &numbers);
    let gearbox = gearbox(reader, &table, numbers.ratio);
    let (Some(crank), Some(platform), Some(travel)) = (crank, platform, travel) else { return nothing };
    let mut part = CrankPart {
        crank,
        middle_rad: f64::midpoint(travel.0, travel.1),
        least_transmission: f64::NAN,
        gearbox: gearbox.unwrap_or_default(),
    };
    if !reaches(reader, section, &part, platform) {
        return nothing;
    }
    let live = axes.is_some_and(|axes| {
        live(reader, &table, &mut part, platform.value, (axes, travel), numbers.dead_point)
    });
    let actuator = actuator(section, &nothing.name, part, platform.value, (travel, &table), &numbers, reader);
    let actuator = Actuator {
        parts: LegParts {
            anchor_swing_rad: swing.map(|placed| Measured { value: placed.value, span: placed.span }),
            ..LegParts::default()
        },
        ..actuator
    };
    let complete = live && swing_read && gearbox.is_some() && numbers.complete && name.is_some();
    Draft {
        actuator: complete.then(|| actuator.clone()),
        geometry: live.then_some(actuator),
        park_span: numbers.park.map(|park| park.span),
        ..nothing
    }
}

/// What stands as a number each.
struct Numbers {
    soft_stop: Option<Placed<f64>>,
    park: Option<Placed<f64>>,
    dead_point: Option<Placed<f64>>,
    ratio: Option<f64>,
    speed: Option<Placed<f64>>,
    acceleration: Option<Placed<f64>>,
    jerk: Option<Placed<f64>>,
    torque: Option<Placed<f64>>,
    /// None is missing or out of its range.
    complete: bool,
}

impl Numbers {
    fn read(reader: &mut Reader, table: &Section<'_>) -> Self {
        let soft_stop = reader.quantity(table, "soft_stop", Want::within(Dimension::ANGLE, 0.0, FRAC_PI_2));
        let park = reader.quantity(table, "park", ANGLE);
        let dead = Want::within(Dimension::ANGLE, LEAST_DEAD_RAD, 80.0 * PI / 180.0);
        let dead_point = reader.quantity(table, "dead_point", dead);
        let ratio = ratio(reader, table);
        let rate = Want::above_zero(Dimension::ANGULAR_RATE, most::CRANK_RAD_S);
        let speed = reader.quantity(table, "speed", rate);
        let rise = Want::above_zero(Dimension::ANGULAR_ACCELERATION, most::CRANK_RAD_S2);
        let acceleration = reader.quantity(table, "acceleration", rise);
        let jerk = Want::above_zero(Dimension::ANGULAR_JERK, most::CRANK_RAD_S3);
        let jerk = reader.quantity(table, "jerk", jerk);
        let torque = reader.optional(table, "torque", super::limits::TORQUE);
        let complete = [soft_stop, park, speed, acceleration, jerk].iter().all(Option::is_some)
            && ratio.is_some()
            && table.get("torque").is_some() == torque.is_some();
        Self { soft_stop, park, dead_point, ratio, speed, acceleration, jerk, torque, complete }
    }
}

/// Turns of the motor for one of the crank: a number without a unit.
fn ratio(reader: &mut Reader, table: &Section<'_>) -> Option<f64> {
    let value = reader.required(table, "ratio")?;
    let span = reader.span(value.span());
    let number = match value.get_ref() {
        DeValue::Integer(number) if number.radix() == 10 => number.as_str().parse::<f64>().ok(),
        DeValue::Float(number) => number.as_str().parse::<f64>().ok(),
        _ => {
            let title =
                "`ratio` must be a number without quotes: turns of the motor for one turn of the crank";
            reader.push(Diagnostic::error("rig-value", span, title).help("such as `ratio = 50`"));
            return None;
        }
    };
    let number = number.filter(|ratio| *ratio > 0.0 && *ratio <= most::RATIO);
    if number.is_none() {
        let title = format!("`ratio` must be above 0 and at most {}", most::RATIO);
        reader.push(Diagnostic::error("rig-range", span, title));
    }
    number
}

/// Centre, directions and lengths.
fn geometry(reader: &mut Reader, table: &Section<'_>) -> Option<Crank> {
    let centre = reader.point(table, "centre", COORDINATE);
    let shaft = reader.point(table, "shaft", COORDINATE);
    let zero = reader.point(table, "zero", COORDINATE);
    let (arm, rod) = (reader.quantity(table, "arm", SIZE), reader.quantity(table, "rod", SIZE));
    let assembly = word(reader, table, "assembly", &Assembly::ALL.map(Assembly::word));
    let (centre, shaft, zero) = (centre?, shaft?, zero?);
    let along = shaft.value - centre.value;
    if along.norm() < APART_M {
        let title = format!("`shaft` is {} from `centre`, which gives no direction", length(along.norm()));
        let help = "`shaft` is another point on the shaft's line, best a metre from `centre`, on the side from which \
                    growing angles turn against the clock";
        reader.push(
            Diagnostic::error("rig-crank", shaft.span, title).also(centre.span, "the centre").help(help),
        );
        return None;
    }
    let axis_r = along.normalize();
    let towards = zero.value - centre.value;
    let across = towards - axis_r * towards.dot(&axis_r);
    if across.norm() < APART_M {
        let title =
            format!("`zero` is {} from the shaft's line, which gives no direction", length(across.norm()));
        let help = "`zero` is a point that the crank points at when its angle is zero, best a metre away";
        reader
            .push(Diagnostic::error("rig-crank", zero.span, title).also(shaft.span, "the shaft").help(help));
        return None;
    }
    Some(Crank {
        centre_r_m: centre.value,
        axis_r,
        zero_r: across.normalize(),
        arm_m: arm?.value,
        rod_m: rod?.value,
        assembly: Assembly::from_word(assembly?)?,
    })
}

/// Smallest and largest angle, rad; stops and parking reported where they do not fit.
fn travel(reader: &mut Reader, table: &Section<'_>, numbers: &Numbers) -> Option<(f64, f64)> {
    let value = reader.required(table, "angle")?;
    let span = reader.span(value.span());
    let label = format!("the `angle` of {}", table.label);
    let section = reader.table(value, label, keys::RANGE, table.example("angle"))?;
    let (min, max) = (reader.quantity(&section, "min", ANGLE), reader.quantity(&section, "max", ANGLE));
    let (min, max) = (min?, max?);
    let (low, high) = (min.value, max.value);
    if low >= high || high - low > TAU - 0.1 {
        let title = format!("a crank cannot turn from {} to {}", angle(low), angle(high));
        let help = "`min` is the smaller one, and between the two lies less than a turn: crank and rod end at their dead \
                    points";
        reader.push(Diagnostic::error("rig-stroke", span, title).help(help));
        return None;
    }
    let soft = numbers.soft_stop?;
    if 2.0 * soft.value >= high - low {
        let title = format!(
            "two soft stops of {} leave nothing of a travel of {}",
            angle(soft.value),
            angle(high - low)
        );
        reader.push(Diagnostic::error("rig-stroke", soft.span, title).also(span, "the travel"));
        return None;
    }
    if let Some(park) = numbers.park {
        let free = (low + soft.value, high - soft.value);
        if park.value < free.0 || park.value > free.1 {
            let title = format!(
                "it parks at {}, and soft stops leave it {} to {}",
                angle(park.value),
                angle(free.0),
                angle(free.1)
            );
            reader.push(Diagnostic::error("rig-park", park.span, title).also(span, "its travel"));
        }
    }
    Some((low, high))
}

/// What is said of the gearbox besides its ratio: `Some(None)` for nothing, `None` for something that cannot be.
fn gearbox(reader: &mut Reader, table: &Section<'_>, ratio: Option<f64>) -> Option<Option<GearboxPart>> {
    let Some(value) = table.get("gearbox") else { return Some(None) };
    let label = format!("the `gearbox` of {}", table.label);
    let section = reader.table(value, label, keys::GEARBOX, table.example("gearbox"))?;
    let forward = reader.quantity(&section, "efficiency", SHARE);
    let back = reader.quantity(&section, "efficiency_back", PART);
    let drag = reader.quantity(&section, "drag", Want::within(Dimension::TORQUE, 0.0, most::TORQUE_NM));
    let inertia = Want::within(Dimension::INERTIA, 0.0, most::SMALL_INERTIA_KG_M2);
    let inertia = reader.quantity(&section, "inertia", inertia);
    let backlash = reader.quantity(&section, "backlash", Want::within(Dimension::ANGLE, 0.0, 0.2));
    let pin = reader.quantity(&section, "pin_mass", Want::within(Dimension::MASS, 0.0, most::MASS_KG));
    let backlash = backlash?;
    Some(Some(GearboxPart {
        gearbox: Gearbox {
            ratio: ratio?,
            backlash_rad: backlash.value,
            efficiency_forward: forward?.value,
            efficiency_back: back?.value,
            drag_nm: drag?.value,
            inertia_kg_m2: inertia?.value,
        },
        pin_kg: pin?.value,
        backlash_span: backlash.span,
    }))
}

/// Whether crank and rod reach the platform's point while it is level.
fn reaches(
    reader: &mut Reader,
    section: &Section<'_>,
    part: &CrankPart,
    platform: Placed<Vector3<f64>>,
) -> bool {
    let Err(error) = part.crank.angle_rad(platform.value) else { return true };
    let why = match error {
        CrankError::TooFar { short_m } => {
            format!("`platform` is {} beyond the reach of arm and rod", length(short_m))
        }
        CrankError::TooNear { long_m } => {
            format!("`platform` is {} too near for arm and rod", length(long_m))
        }
        CrankError::DeadPoint => "`platform` lies on the shaft's line, where no crank moves it".to_string(),
    };
    let title = format!("level, {} does not fit together: {why}", section.label);
    let help =
        "level is where every profile starts and ends: measure `centre`, `platform`, `arm` and `rod` again";
    reader.push(Diagnostic::error("rig-level-pose", platform.span, title).help(help));
    false
}

/// Whether it keeps away from its dead points inside the joint's ranges and its own travel, all poses between included.
fn live(
    reader: &mut Reader,
    table: &Section<'_>,
    part: &mut CrankPart,
    anchor_p_m: Vector3<f64>,
    (axes, travel): (&[AxisLimits], (f64, f64)),
    wanted: Option<Placed<f64>>,
) -> bool {
    let Some(wanted) = wanted else { return false };
    part.least_transmission = least_transmission(part, &anchor_region(axes, anchor_p_m), travel);
    let found = libm::asin(part.least_transmission);
    if found >= wanted.value {
        return true;
    }
    let title = format!(
        "{} may come within {} of a dead point, where it does not move the platform; `dead_point` asks for {}",
        table.label,
        angle((found * 180.0 / PI).floor() * PI / 180.0),
        angle(wanted.value)
    );
    let help = "narrow `angle` or the joint's ranges, take a longer rod, or set the crank so that it stands square to \
                the rod when level; all poses inside the joint's ranges and the travel count, the corners too";
    let place = table.get("angle").map_or(table.span, |value| reader.span(value.span()));
    reader.push(
        Diagnostic::error("rig-dead-point", place, title).also(wanted.span, "asked for here").help(help),
    );
    false
}

/// The leg, with angles as ways of the pin. What is missing stays no number and never leaves this module as a leg.
fn actuator(
    section: &Section<'_>,
    name: &str,
    part: CrankPart,
    anchor_p_m: Vector3<f64>,
    (travel, table): ((f64, f64), &Section<'_>),
    numbers: &Numbers,
    reader: &Reader,
) -> Actuator {
    let arm = part.crank.arm_m;
    let at_pin = |placed: Option<Placed<f64>>| placed.map_or(f64::NAN, |placed| placed.value * arm);
    let place = |placed: Option<Placed<f64>>| placed.map_or(section.span, |placed| placed.span);
    let stroke = table.get("angle").map_or(section.span, |value| reader.span(value.span()));
    Actuator {
        name: name.to_string(),
        base_r_m: part.crank.centre_r_m,
        anchor_p_m,
        min_m: travel.0 * arm,
        max_m: travel.1 * arm,
        soft_stop_m: at_pin(numbers.soft_stop),
        park_m: at_pin(numbers.park),
        lead_m: numbers.ratio.map_or(f64::NAN, |ratio| TAU * arm / ratio),
        speed_m_s: at_pin(numbers.speed),
        acceleration_m_s2: at_pin(numbers.acceleration),
        jerk_m_s3: at_pin(numbers.jerk),
        thrust_n: numbers.torque.map_or(f64::INFINITY, |torque| torque.value / arm),
        crank: Some(part),
        parts: LegParts::default(),
        spans: ActuatorSpans {
            table: section.span,
            stroke,
            speed: place(numbers.speed),
            acceleration: place(numbers.acceleration),
            jerk: place(numbers.jerk),
        },
    }
}

fn angle(value_rad: f64) -> String {
    show(value_rad, Dimension::ANGLE)
}

fn length(value_m: f64) -> String {
    show(value_m, Dimension::LENGTH)
}

/// Reports what a rig with cranks cannot have. `span` is the place of each table that is there.
pub(super) fn not_for_cranks(reader: &mut Reader, root: &Section<'_>, drafts: &[Draft]) {
    let Some(crank) = drafts.iter().find(|draft| draft.is_crank) else { return };
    let refused = [
        (
            "can",
            "how a crank is homed and counted on a bus is not known to this program yet",
            "take [can] out",
        ),
        (
            "stiffness",
            "springs of a crank and its rod change with its angle, and are not worked out yet",
            "take [stiffness] out: natural frequencies are then not checked, and a report says so",
        ),
    ];
    for (word, why, help) in refused {
        if let Some(value) = root.get(word) {
            let title = format!("[{word}] is not for a rig with cranks, and `{}` is one: {why}", crank.name);
            let span = reader.span(value.span());
            reader.push(Diagnostic::error("rig-leg-kind", span, title).help(help));
        }
    }
    let Some(value) = root.get("measured").filter(|_| drafts.iter().all(|draft| draft.is_crank)) else {
        return;
    };
    if let Some(section) = reader.quiet_table(value, "[measured]", keys::MEASURED)
        && let Some(backlash) = section.get("backlash")
    {
        let span: Span = reader.span(backlash.span());
        let title = "`backlash` in [measured] is along a ball screw, and every leg is a crank";
        let help = "give the angle that a crank plays with its motor held, as `backlash` in its `gearbox`";
        reader.push(Diagnostic::error("rig-leg-kind", span, title).help(help));
    }
}
