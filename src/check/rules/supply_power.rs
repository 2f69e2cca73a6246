//! Power from the supply.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::SupplyPower,
    rule: Rule { slug: "supply-power", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::POWER,
    missing,
    gauges,
    measure: Measure::Sampled { every: 1, read },
    title,
    limit_span,
    help: &[],
};

const TEXT: &str = "\
What it checks: the power that all motors together take at any instant, by the efficiency of drive and motor, stays
below what the supply gives. What one motor gives back at that instant another may use.

Why it matters: a supply that is overdrawn drops its voltage, and all drives trip at once.

Example: a heavy touchdown, in which all legs lift and accelerate together.

Write instead: a softer edge, a smaller amplitude, or the gain that the finding names.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    if rig.parts.supply.is_none() { Some("[supply]") } else { super::lacks_motor(rig) }
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let Some(part) = setup.rig.parts.supply.filter(|_| super::lacks_motor(setup.rig).is_none()) else {
        return Vec::new();
    };
    let gauge = |case| LoadGauge { rule: 0, leg: None, case: Some(case), item: 0, limit: part.supply.most_w };
    (0..setup.demands.cases().len()).map(gauge).collect()
}

fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    let Some(part) = sight.setup.rig.parts.supply else { return Reading::plain(0.0, gauge.limit) };
    let legs = 0..sight.moment.legs.len();
    let drawn_w: f64 = legs
        .map(|leg| {
            let at = LoadGauge { leg: Some(leg), ..gauge.clone() };
            part.supply.bus_w(super::of_pair(&sight.moment.torques_nm, &at) * super::motor_rad_s(sight, &at))
        })
        .sum();
    Reading::plain(drawn_w.max(0.0), gauge.limit)
}

fn title(_setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    format!(
        "the motors together take {} at {:.3} s; the supply gives {}",
        show(extreme.bound, Dimension::POWER),
        extreme.at_s,
        show(gauge.limit, Dimension::POWER)
    )
}

fn limit_span(rig: &Rig, _gauge: &LoadGauge) -> Option<Span> {
    Some(rig.parts.supply?.span)
}
