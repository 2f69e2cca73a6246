//! The jolt when brakes drop.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::PowerOffJolt,
    rule: Rule { slug: "power-off-jolt", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::ACCELERATION,
    missing,
    gauges,
    measure: Measure::Sampled { every: 8, read },
    title,
    limit_span,
    help: &["model only: fix an accelerometer to the seat, cut the power at low speed first, and compare"],
};

const TEXT: &str = "\
What it checks: whenever the power fails, the acceleration with which the strongest brake stops a leg under the
lightest load stays below `jolt` in the rig file. *Model only*.

Why it matters: a brake grabs; the head of whoever sits there goes on. The seat feels the leg's acceleration by the
ratio of its height above the joint to the leg's lever.

Example: an empty seat or a light pilot on brakes that are sized for the heaviest.

Write instead: less speed does not help, a brake gives its torque at any speed; choose a weaker brake, a stop under
control before the brakes drop, or accept a larger `jolt`.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    super::lacks_brake(rig)
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let limit = |leg: usize| Some(setup.rig.actuators.get(leg)?.parts.brake?.jolt_m_s2);
    super::driven_pairs(setup).filter_map(|(leg, case)| Some(LoadGauge::of(leg, case, limit(leg)?))).collect()
}

fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    let found = sight.stops(gauge).map(|stops| stops.peak_m_s2.value);
    Reading::plain(found.unwrap_or(0.0), gauge.limit)
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    format!(
        "when power fails at {:.2} s, the strongest brake stops `{}` with {}; {} is accepted",
        extreme.at_s,
        setup.leg_name(gauge.leg),
        show(extreme.bound, Dimension::ACCELERATION),
        show(gauge.limit, Dimension::ACCELERATION)
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    Some(rig.actuators.get(gauge.leg?)?.parts.brake?.span)
}
