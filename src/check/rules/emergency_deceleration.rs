//! What the head feels of a stop under control.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::EmergencyDeceleration,
    rule: Rule { slug: "emergency-deceleration", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::ACCELERATION,
    missing,
    gauges,
    measure: Measure::Sampled { every: 8, read },
    title,
    limit_span,
    help: &[
        "model only: an accelerometer where the head is, seat empty, press the button at low speed first, compare",
    ],
};

const TEXT: &str = "\
What it checks: at every instant the hard-wired stop may be pressed, the deceleration with which the drives then brake
stays below `deceleration` in [emergency_stop] at `head` (at the seat's point where there is no `head`), under every
load. Legs brake together with what the drives have left, so a light load may be braked harder. *Model only*.

Why it matters: the head is far above the joint and feels more than any leg: its height over the leg's lever.

Example: a leg that brakes with 4 m/s^2 at 0.7 m from the joint gives a head at 0.9 m above it 5.1 m/s^2.

Write instead: less speed, or the gain that the finding names: a slow platform is at rest before the deceleration has
risen; in the rig, a smaller `acceleration` of the legs makes every stop softer and longer. To measure: an
accelerometer (a phone will do) where the head is, seat empty, slow first.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    match rig.parts.emergency {
        None => Some("[emergency_stop]"),
        Some(part) => part.deceleration_m_s2.is_none().then_some("`deceleration` in [emergency_stop]"),
    }
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let limit = setup.rig.parts.emergency.and_then(|part| part.deceleration_m_s2);
    super::one_a_case(setup, limit.map(|limit| limit.value))
}

/// What cannot be braked is the matter of travel and time.
fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    Reading::plain(sight.controlled(gauge).map_or(0.0, |stop| stop.deceleration_m_s2), gauge.limit)
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    format!(
        "an emergency stop that begins at {:.2} s brakes the {} with {}; {} is accepted",
        extreme.at_s,
        super::emergency_point(setup.rig),
        show(extreme.bound, Dimension::ACCELERATION),
        show(gauge.limit, Dimension::ACCELERATION)
    )
}

fn limit_span(rig: &Rig, _: &LoadGauge) -> Option<Span> {
    Some(rig.parts.emergency?.deceleration_m_s2?.span)
}
