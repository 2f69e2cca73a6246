//! Peak torque of a motor.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::MotorTorque,
    rule: Rule { slug: "motor-torque", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::TORQUE,
    missing,
    gauges,
    measure: Measure::Sampled { every: 1, read },
    title,
    limit_span,
    help: &[],
};

const TEXT: &str = "\
What it checks: under every load, the torque that each motor must give at any instant stays below its peak torque at
standstill and below what the drive's peak current makes. Counted are the platform's load, gravity, the sliding mass,
rotor, screw and coupling, and friction: where friction may help or hinder, it hinders.

Why it matters: a motor short of torque lags behind, and the drive trips on its following error in the middle of a cue.

Example: `pitch sine(3 deg, 3 Hz) for 5 s`: most of the torque spins up the rotor.

Write instead: a smaller amplitude or a lower frequency (torque grows with its square), or the gain that the finding
names.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    super::lacks_motor(rig)
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let limit = |leg: usize| {
        let part = setup.rig.actuators.get(leg)?.parts.motor.as_ref()?;
        let peak = part.motor.peak.at_nm(0.0)?;
        let drive = setup.rig.parts.currents.map(|currents| currents.limits.peak_a * part.motor.torque_nm_a);
        Some(drive.map_or(peak, |drive| drive.min(peak)))
    };
    super::driven_pairs(setup).filter_map(|(leg, case)| Some(LoadGauge::of(leg, case, limit(leg)?))).collect()
}

fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    Reading::plain(super::of_pair(&sight.moment.torques_nm, gauge), gauge.limit)
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    format!(
        "the motor of `{}` must give {} at {:.3} s; with its drive it has {} for a moment",
        setup.leg_name(gauge.leg),
        show(extreme.bound.abs(), Dimension::TORQUE),
        extreme.at_s,
        show(gauge.limit, Dimension::TORQUE)
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    let part = rig.actuators.get(gauge.leg?)?.parts.motor.as_ref()?;
    let peak = part.motor.peak.at_nm(0.0)?;
    match rig.parts.currents.filter(|currents| currents.limits.peak_a * part.motor.torque_nm_a < peak) {
        Some(currents) => Some(currents.peak_span),
        None => Some(part.peak_span),
    }
}
