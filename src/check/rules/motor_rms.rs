//! R.m.s. torque of a motor.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Setup, Window};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::MotorRms,
    rule: Rule { slug: "motor-rms-torque", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::TORQUE,
    missing,
    gauges,
    measure: Measure::Summed(Window::MotorTorque),
    title,
    limit_span,
    help: &[],
};

const TEXT: &str = "\
What it checks: over every stretch as long as the motor's `window`, its r.m.s. torque stays within what it bears
without end at standstill, under every load.

Why it matters: heat goes with the square of torque. Servo sizing compares the r.m.s. torque of the duty with the
continuous torque (common practice); the window keeps a quiet hour from hiding two bad minutes.

Example: two minutes of strong buffet at the end of a calm flight.

Write instead: a smaller amplitude over that stretch, or the gain that the finding names.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    super::lacks_motor(rig)
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let limit = |leg: usize| setup.rig.actuators.get(leg)?.parts.motor.as_ref()?.motor.continuous.at_nm(0.0);
    super::driven_pairs(setup).filter_map(|(leg, case)| Some(LoadGauge::of(leg, case, limit(leg)?))).collect()
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    let window_s = super::motor(setup.rig, gauge).map_or(0.0, |part| part.window_s);
    format!(
        "the motor of `{}` gives {} r.m.s. over the {} up to {:.1} s; it bears {} without end",
        setup.leg_name(gauge.leg),
        show(extreme.bound, Dimension::TORQUE),
        show(window_s, Dimension::TIME),
        extreme.at_s,
        show(gauge.limit, Dimension::TORQUE)
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    Some(super::motor(rig, gauge)?.continuous_span)
}
