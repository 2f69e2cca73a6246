//! Heat of a motor.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Setup, Window};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::MotorHeat,
    rule: Rule { slug: "motor-heat", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::TEMPERATURE,
    missing,
    gauges,
    measure: Measure::Summed(Window::Heat),
    title,
    limit_span,
    help: &["model only: measure the winding's resistance at rest and right after play"],
};

const TEXT: &str = "\
What it checks: from the temperature at `start`, the winding stays below its limit while the profile plays, and also
when it is played again and again without a break (then it is a warning that says how many plays fit). First-order
heating with the motor's time constant; (torque / continuous torque at that speed)^2 heats. *Model only*.

Why it matters: a demonstration day is one play after the other. A winding that is too hot ages fast, or its drive
stops it in the middle of a flight.

Example: a rough ten-minute flight, repeated all afternoon.

Write instead: a calmer stretch, a break between plays, or the gain that the finding names. Measure it: the winding's
resistance at rest and right after play tells its rise (0.39 % for each kelvin, copper; from memory).
";

fn missing(rig: &Rig) -> Option<&'static str> {
    super::lacks_motor(rig)
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let limit = |leg: usize| Some(setup.rig.actuators.get(leg)?.parts.motor.as_ref()?.winding.limit_degc);
    super::driven_pairs(setup).filter_map(|(leg, case)| Some(LoadGauge::of(leg, case, limit(leg)?))).collect()
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    format!(
        "played again and again, the winding of `{}` reaches {}; its limit is {}",
        setup.leg_name(gauge.leg),
        show(extreme.bound, Dimension::TEMPERATURE),
        show(gauge.limit, Dimension::TEMPERATURE)
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    Some(super::motor(rig, gauge)?.span)
}
