//! Whether a stop under control is over before power goes.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::EmergencyTime,
    rule: Rule { slug: "emergency-time", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::TIME,
    missing,
    gauges,
    measure: Measure::Sampled { every: 8, read },
    title,
    limit_span,
    help: &[
        "model only: film the platform and the button in slow motion, seat empty, and count the frames until it stands",
    ],
};

const TEXT: &str = "\
What it checks: at every instant the hard-wired stop may be pressed, the platform is at rest before the relay takes
power away, `power_off` in [emergency_stop] after the button, under every load. *Model only*.

Why it matters: a relay with a fixed delay does not look whether anything still moves. What is not at rest by then is
stopped by its brakes from speed: category 0 with all its jolt, travel and wear.

Example: `power_off = \"150 ms\"` and a swing that takes 200 ms to brake.

Write instead: less speed, or the gain that the finding names; in the rig, a longer delay of the relay, where your
risk assessment allows it. To measure: film button and platform in slow motion, seat empty, and count the frames.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    rig.parts.emergency.is_none().then_some("[emergency_stop]")
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    super::one_a_case(setup, setup.rig.parts.emergency.map(|part| part.power_s))
}

fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    Reading::plain(sight.controlled(gauge).map_or(f64::INFINITY, |stop| stop.rest_s), gauge.limit)
}

fn title(_: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    let power = show(gauge.limit, Dimension::TIME);
    if !extreme.bound.is_finite() {
        return format!(
            "an emergency stop that begins at {:.2} s never ends; power goes after {power}",
            extreme.at_s
        );
    }
    format!(
        "an emergency stop that begins at {:.2} s takes {} from the button to rest, and power goes after {power}: \
         brakes would drop at speed",
        extreme.at_s,
        show(extreme.bound, Dimension::TIME)
    )
}

fn limit_span(rig: &Rig, _: &LoadGauge) -> Option<Span> {
    Some(rig.parts.emergency?.span)
}
