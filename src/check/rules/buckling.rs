//! Buckling of a screw.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::Buckling,
    rule: Rule { slug: "buckling", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::FORCE,
    missing,
    gauges,
    measure: Measure::Sampled { every: 1, read },
    title,
    limit_span,
    help: &[],
};

const TEXT: &str = "\
What it checks: under every load, the push on a screw stays below the share of Euler's load that `buckling` in the rig
file allows (50 % in catalogues), at its longest, whatever its length at that instant. The tube's mass counts too.

Why it matters: a slender screw that is pushed too hard bends out at once and does not come back.

Example: a hard landing under a heavy pilot, on a thin screw with a long stroke.

Write instead: a softer landing, or the gain that the finding names; in the rig, a thicker screw or a guided tube.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    super::screws_lack(rig, "`buckling` in [screw]", |screw| screw.column.is_some())
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let limit =
        |leg: usize| Some(setup.rig.actuators.get(leg)?.parts.screw.as_ref()?.column.as_ref()?.0.allowed_n());
    setup.pairs().filter_map(|(leg, case)| Some(LoadGauge::of(leg, case, limit(leg)?))).collect()
}

fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    let slide_n = gauge.leg.map_or(0.0, |leg| {
        let sliding_kg = sight.setup.rig.actuators.get(leg).and_then(|leg| leg.parts.screw.as_ref());
        let sliding_kg = sliding_kg.map_or(0.0, |screw| screw.sliding_kg);
        sight.moment.legs.get(leg).map_or(0.0, |leg| sliding_kg * (leg.acceleration_m_s2 - leg.gravity_m_s2))
    });
    let push_n = super::of_pair(&sight.moment.forces_n, gauge) + slide_n;
    Reading::plain(push_n.max(0.0), gauge.limit)
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    format!(
        "the screw of `{}` is pushed with {} at {:.3} s; {} is allowed before it buckles",
        setup.leg_name(gauge.leg),
        show(extreme.bound, Dimension::FORCE),
        extreme.at_s,
        show(gauge.limit, Dimension::FORCE)
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    Some(rig.actuators.get(gauge.leg?)?.parts.screw.as_ref()?.column?.1)
}
