//! The jolt when brakes drop after a stop under control.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::EmergencyJolt,
    rule: Rule { slug: "emergency-jolt", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::ACCELERATION,
    missing,
    gauges,
    measure: Measure::Sampled { every: 8, read },
    title,
    limit_span,
    help: &[
        "model only: an accelerometer where the head is, hold a tilt, seat empty, press the button, compare",
    ],
};

const TEXT: &str = "\
What it checks: once a stop under control has come to rest, power goes, the legs give way under the load, and the
brakes catch them. The sudden change of acceleration at `head` (at the seat's point where there is no `head`) stays
below `jolt` in [emergency_stop], under every load, with the weakest and the strongest brake, and with all legs' jolts
added up; what lasts less than 10 ms counts by its share of that. *Model only*.

Why it matters: the drop is short, but it comes when whoever sits there believes that it is over.

Example: a screw without drag under a heavy load at full tilt, brakes that need 60 ms to drop.

Write instead: a smaller tilt, or the gain that the finding names; in the rig, brakes that drop before power goes (the
drive's own brake output does that) or a larger `jolt`. To measure: hold the tilt, seat empty, press the button, and
read an accelerometer where the head is.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    match rig.parts.emergency {
        None => Some("[emergency_stop]"),
        Some(part) if part.jolt_m_s2.is_none() => Some("`jolt` in [emergency_stop]"),
        Some(_) => super::lacks_brake(rig),
    }
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let limit = setup.rig.parts.emergency.and_then(|part| part.jolt_m_s2);
    let limit = limit.filter(|_| super::lacks_brake(setup.rig).is_none());
    super::one_a_case(setup, limit.map(|limit| limit.value))
}

/// What cannot be braked is the matter of travel and time.
fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    let jolt = sight.controlled(gauge).and_then(|stop| stop.jolt_m_s2);
    Reading::plain(jolt.unwrap_or(0.0), gauge.limit)
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    format!(
        "after an emergency stop at {:.2} s the brakes jolt the {} with {}; {} is accepted",
        extreme.at_s,
        super::emergency_point(setup.rig),
        show(extreme.bound, Dimension::ACCELERATION),
        show(gauge.limit, Dimension::ACCELERATION)
    )
}

fn limit_span(rig: &Rig, _: &LoadGauge) -> Option<Span> {
    Some(rig.parts.emergency?.jolt_m_s2?.span)
}
