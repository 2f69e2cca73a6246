//! Whether the legs hold the platform up at all: every load case, level and still.

use super::reader::Reader;
use crate::diag::{Diagnostic, Span};
use crate::rig::mechanics::screw::BallScrew;
use crate::rig::parts::MotorPart;
use crate::rig::{Actuator, Payload, Rig, gravity_legs_n};
use crate::units::{Dimension, show};

/// Reports the first leg that cannot hold its part of a load, for each kind of limit.
pub(super) fn holds(reader: &mut Reader, rig: &Rig) {
    let cases: Vec<(String, Payload)> =
        rig.load_cases().into_iter().map(|(name, payload)| (name.to_string(), payload.clone())).collect();
    for (name, payload) in cases {
        let loaded = Rig { payload, ..rig.clone() };
        let Some(forces) = gravity_legs_n(&loaded, &[]) else { continue };
        let span = rig.parts.loads.iter().find(|load| load.name == name).map(|load| load.span);
        for (leg, force_n) in rig.actuators.iter().zip(forces) {
            if let Some(diagnostic) = judge(leg, force_n, &name, span) {
                reader.push(diagnostic);
                return;
            }
        }
    }
}

fn judge(leg: &Actuator, force_n: f64, case: &str, load: Option<Span>) -> Option<Diagnostic> {
    // Of a crank the torque, as its file has it.
    let shown = |force_n: f64| match &leg.crank {
        None => show(force_n, Dimension::FORCE),
        Some(part) => show(force_n * part.crank.arm_m, Dimension::TORQUE),
    };
    let force = shown(force_n.abs());
    let limit = if leg.crank.is_some() { "torque" } else { "thrust" };
    let finish = |diagnostic: Diagnostic| {
        let diagnostic = diagnostic.help(
            "move the load's centre nearer to the joint, move the anchors outwards, or take a stronger drive",
        );
        match load {
            Some(span) => diagnostic.also(span, "this load"),
            None => diagnostic,
        }
    };
    if force_n.abs() > leg.thrust_n {
        let title = format!(
            "`{}` cannot hold the platform level: load `{case}` needs {force}, its {limit} is {}",
            leg.name,
            shown(leg.thrust_n)
        );
        return Some(finish(Diagnostic::error("rig-weight", leg.spans.table, title)));
    }
    let (reduction, motor) = (leg.reduction()?, leg.parts.motor.as_ref()?);
    let (needed_nm, held_nm) = (still_nm(&reduction.screw, force_n), most_nm(motor));
    (needed_nm > held_nm).then(|| {
        let title = format!(
            "`{}` cannot hold the platform level: load `{case}` presses with {force}, which takes {} at the motor \
             even with friction's help; it has {} without end",
            leg.name,
            show(needed_nm, Dimension::TORQUE),
            show(held_nm, Dimension::TORQUE)
        );
        finish(Diagnostic::error("rig-weight", motor.continuous_span, title))
    })
}

/// Torque that keeps a load from sinking: friction helps here, as it does when one only just holds.
fn still_nm(screw: &BallScrew, force_n: f64) -> f64 {
    screw.back_driving_nm(force_n).abs() - screw.drag_nm
}

fn most_nm(motor: &MotorPart) -> f64 {
    motor.motor.continuous.at_nm(0.0).unwrap_or(0.0)
}
