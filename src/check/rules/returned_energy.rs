//! Energy that comes back from the motors.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Setup, Window};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::Dimension;

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::ReturnedEnergy,
    rule: Rule { slug: "returned-energy", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::TORQUE,
    missing,
    gauges,
    measure: Measure::Summed(Window::Returned),
    title,
    limit_span,
    help: &[],
};

const TEXT: &str = "\
What it checks: what the motors give back while they brake, less what the bus keeps and uses again, is taken by the
brake resistor: its peak power and, over the whole profile, its power without end. Without a resistor nothing may be
left over.

Why it matters: energy that nobody takes raises the voltage of the bus until the drives trip, mostly in a descent with a
heavy pilot.

Example: repeated fast reversals with a supply that has no resistor.

Write instead: softer reversals, or a resistor (or a larger bus capacitor) in the rig and its file.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    if rig.parts.supply.is_none() { Some("[supply]") } else { super::lacks_motor(rig) }
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let Some(part) = setup.rig.parts.supply.filter(|_| super::lacks_motor(setup.rig).is_none()) else {
        return Vec::new();
    };
    let limit = part.supply.store_j;
    let gauge = |case| LoadGauge { rule: 0, leg: None, case: Some(case), item: 1, limit };
    (0..setup.demands.cases().len()).map(gauge).collect()
}

fn title(_setup: &Setup<'_>, _gauge: &LoadGauge, extreme: &Extreme) -> String {
    let energy = format!("{:.0} J", extreme.peak);
    if extreme.used.is_finite() {
        let used = extreme.used * 100.0;
        format!(
            "the motors give back {energy} more than the bus keeps, {used:.0} % of what the resistor bears"
        )
    } else {
        format!("the motors give back {energy} more than the bus keeps, and there is no resistor to take it")
    }
}

fn limit_span(rig: &Rig, _gauge: &LoadGauge) -> Option<Span> {
    Some(rig.parts.supply?.span)
}
