//! A motor on its curve of torque over speed.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::TorqueAtSpeed,
    rule: Rule { slug: "torque-speed", text: TEXT },
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
What it checks: at every instant, the torque that a motor must give lies under its peak curve at the speed that it has
just then, and its speed does not pass the curve's end.

Why it matters: near full speed the supply's voltage is used up, and torque falls off. A motion that is strong and fast
at once can fail though its largest torque and its largest speed each fit.

Example: a fast sweep that is braked hard near its top speed.

Write instead: a softer edge where it is fast, or the gain that the finding names. A screw with a larger lead turns
slower and needs more torque.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    super::lacks_motor(rig)
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let limit = |leg: usize| setup.rig.actuators.get(leg)?.parts.motor.as_ref()?.motor.peak.at_nm(0.0);
    super::driven_pairs(setup).filter_map(|(leg, case)| Some(LoadGauge::of(leg, case, limit(leg)?))).collect()
}

fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    let torque_nm = super::of_pair(&sight.moment.torques_nm, gauge);
    let rate = super::motor_rad_s(sight, gauge).abs();
    // Beyond the curve's end there is no torque to compare with: there the speed counts.
    let used = super::motor(sight.setup.rig, gauge).map_or(0.0, |part| {
        let curve = &part.motor.peak;
        if rate > curve.most_rad_s() { rate / curve.most_rad_s() } else { curve.share(torque_nm, rate) }
    });
    Reading { value: torque_nm, used }
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    format!(
        "the motor of `{}` must give {} at {:.3} s: {:.0} % of what its curve of torque over speed allows",
        setup.leg_name(gauge.leg),
        show(extreme.peak.abs(), Dimension::TORQUE),
        extreme.at_s,
        extreme.used * 100.0
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    Some(super::motor(rig, gauge)?.peak_span)
}
