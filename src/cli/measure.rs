//! `measure`: readings of tape, scales, gauges and drives to lines of a rig file.
//!
//! Every error that is asked for is the half width of what a reading may be off: a scale's last digit, the width of a
//! pencil mark. None is assumed: what is left out is refused.

mod args;
mod reading;

pub(super) use args::Measured;

use super::args::Format;
use super::compile::read_rig;
use super::output::{Failure, Outcome, say};
use crate::diag::Sources;
use crate::rig::measuring::{
    Borne, Estimate, Hanging, Hold, MeasuringError, Support, TapeReading, TorsionArms, Weighing,
    centre_from_holding, centre_from_scales, leg_from_tape, paste_centre, paste_length, paste_mass,
    paste_stiffness, stiffness_n_m, torsion_nm_rad,
};
use crate::units::{Dimension, show};
use args::{HoldingArgs, ScalesArgs, StiffnessArgs, TapeArgs};
use reading::{Reading, list, one, split};
use serde_json::{Value, json};

/// What a measurement tells.
#[derive(Default)]
struct Told {
    /// For people, a sentence each.
    words: Vec<String>,
    /// To paste into the rig file, with the table that they belong into.
    lines: Vec<(&'static str, String)>,
    /// For programs: SI values with their uncertainty.
    values: Vec<(&'static str, Value)>,
}

/// Works it out and prints it.
///
/// # Errors
/// When a reading cannot be understood, or the readings do not tell what was asked.
pub(super) fn run(what: &Measured, format: Format) -> Result<Outcome, Failure> {
    let told = match what {
        Measured::Scales(args) => scales(args)?,
        Measured::Holding(args) => holding(args)?,
        Measured::Tape(args) => tape(args)?,
        Measured::Stiffness(args) => stiffness(args)?,
    };
    if format == Format::Json {
        let values: serde_json::Map<String, Value> =
            told.values.into_iter().map(|(name, value)| (name.to_string(), value)).collect();
        let lines: Vec<&String> = told.lines.iter().map(|(_, line)| line).collect();
        let schema = super::json::SCHEMA_VERSION;
        say(&format!("{}\n", json!({ "schema_version": schema, "values": values, "lines": lines })))?;
        return Ok(Outcome::Clean);
    }
    let mut text: String = told.words.iter().map(|line| format!("{line}\n")).collect();
    let mut table = "";
    for (header, line) in &told.lines {
        if *header != table {
            text.push_str(&format!("\nfor {header}:\n"));
            table = header;
        }
        text.push_str(&format!("{line}\n"));
    }
    say(&text)?;
    Ok(Outcome::Clean)
}

fn failed(error: MeasuringError) -> Failure {
    Failure(error.to_string())
}

/// A value with its uncertainty (k = 2), for programs.
fn value(estimate: Estimate) -> Value {
    json!({ "value": estimate.value, "uncertainty": estimate.expanded() })
}

/// `31.2 mm +- 4 mm`.
fn plus_minus(estimate: Estimate, dimension: Dimension) -> String {
    format!("{} +- {}", show(estimate.value, dimension), show(estimate.expanded(), dimension))
}

fn point_words(centre: [Estimate; 3]) -> String {
    let parts: Vec<String> = centre
        .iter()
        .zip(["x", "y", "z"])
        .map(|(part, axis)| format!("{axis} {}", plus_minus(*part, Dimension::LENGTH)))
        .collect();
    parts.join(", ")
}

fn centre_told(told: &mut Told, centre: [Estimate; 3], left_over_m: f64) {
    told.words.push(format!("centre of mass: {}", point_words(centre)));
    let expected = centre.iter().map(|part| part.expanded()).fold(0.0, f64::max);
    if left_over_m > expected {
        told.words.push(format!(
            "the readings contradict each other by {}, more than their errors allow: repeat the one that stands out",
            show(left_over_m, Dimension::LENGTH)
        ));
    }
    told.values.push(("centre_m", centre.map(value).to_vec().into()));
    told.values.push(("left_over_m", json!(left_over_m)));
    told.lines.push(("[payload]", paste_centre(centre)));
}

fn scales(args: &ScalesArgs) -> Result<Told, Failure> {
    let tape = one(&args.tape_error, Reading::LENGTH, "--tape-error")?;
    let scale = one(&args.scale_error, Reading::MASS, "--scale-error")?;
    let tilt = one(&args.tilt_error, Reading::ANGLE, "--tilt-error")?;
    let support = |text: &String| {
        let [x, y, z] = list(text, &[Reading::LENGTH; 3], "--point")?;
        Ok(Support { at_p_m: [x, y, z].map(|v| Estimate::within(v, tape)) })
    };
    let supports = args.point.iter().map(support).collect::<Result<Vec<_>, Failure>>()?;
    let weighing = |text: &String| {
        let (pose, readings) = split(text, ':', "--weigh", "\"0 deg, 0 deg: 31.2 kg, 30.8 kg\"")?;
        let [pitch, roll] = list(pose, &[Reading::ANGLE; 2], "--weigh")?;
        let kg = reading::many(readings, Reading::MASS, "--weigh")?;
        Ok(Weighing {
            pitch_rad: Estimate::within(pitch, tilt),
            roll_rad: Estimate::within(roll, tilt),
            readings_kg: kg.into_iter().map(|kg| Estimate::within(kg, scale)).collect(),
        })
    };
    let weighings = args.weigh.iter().map(weighing).collect::<Result<Vec<_>, Failure>>()?;
    let borne = match &args.beside_joint {
        Some(mass) => {
            Borne::BesidesJoint(Estimate::within(one(mass, Reading::MASS, "--beside-joint")?, scale))
        }
        None => Borne::All,
    };
    let found = centre_from_scales(&supports, borne, &weighings).map_err(failed)?;
    let mut told = Told::default();
    if borne == Borne::All {
        told.words.push(format!("mass: {}", plus_minus(found.mass_kg, Dimension::MASS)));
        told.lines.push(("[payload]", paste_mass(found.mass_kg)));
    }
    told.values.push(("mass_kg", value(found.mass_kg)));
    centre_told(&mut told, found.centre_p_m, found.left_over_m);
    Ok(told)
}

fn holding(args: &HoldingArgs) -> Result<Told, Failure> {
    let (mut sources, mut diagnostics) = (Sources::new(), Vec::new());
    let (_, rig) = read_rig(&args.rig, &mut sources, &mut diagnostics)?;
    let Some(rig) = rig else {
        let path = args.rig.display();
        return Err(Failure(format!("`{path}` has mistakes; `cueloom rig {path}` lists them")));
    };
    if let Some(leg) = rig.actuators.iter().find(|leg| leg.crank.is_some()) {
        return Err(Failure(format!(
            "`{}` is a crank, and `measure holding` reads forces along ball screws: weigh the platform with `measure scales`",
            leg.name
        )));
    }
    let mass = Estimate::within(
        one(&args.mass, Reading::MASS, "--mass")?,
        one(&args.mass_error, Reading::MASS, "--mass-error")?,
    );
    let force = one(&args.force_error, Reading::FORCE, "--force-error")?;
    let tilt = one(&args.tilt_error, Reading::ANGLE, "--tilt-error")?;
    let tape = match &args.tape_error {
        Some(text) => Some(one(text, Reading::LENGTH, "--tape-error")?),
        None => None,
    };
    let hold = |text: &String| {
        let example = "\"5 deg, 0 deg: 120 N, 118 N / 80 N, 79 N\", the pose, then longer / shorter";
        let (pose, forces) = split(text, ':', "--hold", example)?;
        let (longer, shorter) = split(forces, '/', "--hold", example)?;
        let kinds: Vec<Reading> = rig
            .axes
            .iter()
            .map(|limits| if limits.axis.is_rotation() { Reading::ANGLE } else { Reading::LENGTH })
            .collect();
        let values = reading::each(pose, &kinds, "--hold")?;
        let mut q = Vec::new();
        for (value, limits) in values.into_iter().zip(&rig.axes) {
            let error = if limits.axis.is_rotation() {
                tilt
            } else {
                tape.ok_or_else(|| {
                    Failure(format!("`{}` is a length: give --tape-error too", limits.axis.word()))
                })?
            };
            // Heave is typed upwards, as everywhere.
            q.push(Estimate::within(value * crate::motion::sign(limits.axis), error));
        }
        let of = |text: &str| -> Result<Vec<Estimate>, Failure> {
            let forces = reading::many(text, Reading::FORCE, "--hold")?;
            Ok(forces.into_iter().map(|n| Estimate::within(n, force)).collect())
        };
        Ok(Hold { q, longer_n: of(longer)?, shorter_n: of(shorter)? })
    };
    let holds = args.hold.iter().map(hold).collect::<Result<Vec<_>, Failure>>()?;
    let found = centre_from_holding(&rig, mass, &holds).map_err(failed)?;
    let mut told = Told::default();
    for (leg, friction) in rig.actuators.iter().zip(&found.friction_n) {
        told.words.push(format!("friction of `{}`: {}", leg.name, show(*friction, Dimension::FORCE)));
    }
    told.values.push(("friction_n", json!(found.friction_n)));
    centre_told(&mut told, found.centre_p_m, found.left_over_m);
    Ok(told)
}

fn tape(args: &TapeArgs) -> Result<Told, Failure> {
    let tape = one(&args.tape_error, Reading::LENGTH, "--tape-error")?;
    let encoder = one(&args.encoder_error, Reading::LENGTH, "--encoder-error")?;
    let at = |text: &String| {
        let [counted, length] = list(text, &[Reading::LENGTH; 2], "--at")?;
        Ok(TapeReading {
            encoder_m: Estimate::within(counted, encoder),
            length_m: Estimate::within(length, tape),
        })
    };
    let readings = args.at.iter().map(at).collect::<Result<Vec<_>, Failure>>()?;
    let [first, second] = readings.as_slice() else {
        return Err(Failure(format!("{} times --at, expected two: wound in and wound out", readings.len())));
    };
    let found = leg_from_tape(*first, *second).map_err(failed)?;
    let mut told = Told::default();
    told.words.push(format!("stroke: {}", plus_minus(found.stroke_m, Dimension::LENGTH)));
    told.words
        .push(format!("length where the drive counts 0: {}", plus_minus(found.zero_m, Dimension::LENGTH)));
    told.words.push(format!(
        "travel by tape for travel by drive: {:.4} +- {:.4}",
        found.scale.value,
        found.scale.expanded()
    ));
    if let Some(lead) = &args.lead {
        let lead_m = one(lead, Reading::LENGTH, "--lead")?;
        told.words.push(found.lead_words(lead_m).unwrap_or_else(|| {
            "tape and drive agree, so the lead is right within what was measured".to_string()
        }));
    }
    told.values.extend([
        ("min_m", value(found.min_m)),
        ("max_m", value(found.max_m)),
        ("stroke_m", value(found.stroke_m)),
        ("zero_m", value(found.zero_m)),
        ("scale", value(found.scale)),
    ]);
    told.lines.push(("[[actuator]]", paste_length(found.min_m, found.max_m)));
    Ok(told)
}

fn stiffness(args: &StiffnessArgs) -> Result<Told, Failure> {
    let scale = one(&args.scale_error, Reading::MASS, "--scale-error")?;
    let gauge = one(&args.gauge_error, Reading::LENGTH, "--gauge-error")?;
    let hang = |text: &String| {
        let [kg, travel] = list(text, &[Reading::MASS, Reading::LENGTH], "--hang")?;
        Ok(Hanging { mass_kg: Estimate::within(kg, scale), gauge_m: Estimate::within(travel, gauge) })
    };
    let hangings = args.hang.iter().map(hang).collect::<Result<Vec<_>, Failure>>()?;
    let (found, unit, name) = match (&args.arm, &args.gauge_arm, &args.tape_error) {
        (Some(weight_arm), Some(gauge_arm), Some(tape)) => {
            let tape = one(tape, Reading::LENGTH, "--tape-error")?;
            let arm = |text: &str, flag| {
                Ok::<_, Failure>(Estimate::within(one(text, Reading::LENGTH, flag)?, tape))
            };
            let arms =
                TorsionArms { weight_m: arm(weight_arm, "--arm")?, gauge_m: arm(gauge_arm, "--gauge-arm")? };
            (torsion_nm_rad(&hangings, arms).map_err(failed)?, "N*m/rad", "stiffness_nm_rad")
        }
        (None, None, _) => (stiffness_n_m(&hangings).map_err(failed)?, "N/m", "stiffness_n_m"),
        _ => {
            return Err(Failure(
                "for a torsion give all of --arm, --gauge-arm and --tape-error; for a push along a line none"
                    .to_string(),
            ));
        }
    };
    let mut told = Told::default();
    let share = found.expanded() / found.value;
    told.words.push(format!("stiffness: {:.4e} {unit} +- {:.1} %", found.value, share * 100.0));
    told.values.push((name, value(found)));
    told.lines.push(("[stiffness]", paste_stiffness(&args.key, found, unit)));
    told.lines.push(("[stiffness]", format!("uncertainty = \"{:.0} %\"", (share * 100.0).ceil().max(1.0))));
    Ok(told)
}
