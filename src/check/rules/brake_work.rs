//! Work of a brake in one stop.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::BrakeWork,
    rule: Rule { slug: "brake-work", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::TORQUE,
    missing,
    gauges,
    measure: Measure::Sampled { every: 8, read },
    title,
    limit_span,
    help: &[
        "model only: run one leg at this speed with the seat empty, cut the power, and measure the travel",
    ],
};

const TEXT: &str = "\
What it checks: whenever the power fails, the work that a brake turns into heat in that one stop stays below `stop_work`
in the rig file, with the weakest brake and the heaviest load. The finding says how many such stops it bears. *Model
only*.

Why it matters: holding brakes are made to hold. Each stop from speed wears them, and too hard a one glazes the lining.

Example: a power failure in the fastest instant of a hard landing.

Write instead: less speed, or the gain that the finding names; in the rig, a brake that bears more work. Test the
brakes' holding torque after every power failure.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    super::lacks_brake(rig)
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let limit = |leg: usize| Some(setup.rig.actuators.get(leg)?.parts.brake?.brake.stop_j);
    super::driven_pairs(setup).filter_map(|(leg, case)| Some(LoadGauge::of(leg, case, limit(leg)?))).collect()
}

fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    let found = sight.stops(gauge).map(|stops| stops.brake_j.value);
    Reading::plain(found.unwrap_or(0.0), gauge.limit)
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    if !extreme.bound.is_finite() {
        let name = setup.leg_name(gauge.leg);
        return format!("when power fails at {:.2} s, the brake of `{name}` slips without end", extreme.at_s);
    }
    let joules = |value: f64| format!("{} J", show(value, Dimension::NUMBER));
    format!(
        "when power fails at {:.2} s, the brake of `{}` takes {}; it bears {} in one stop",
        extreme.at_s,
        setup.leg_name(gauge.leg),
        joules(extreme.bound),
        joules(gauge.limit)
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    Some(rig.actuators.get(gauge.leg?)?.parts.brake?.span)
}
