//! Swing of a leg's end joints.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::{Rig, kinematics};
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::RodEnd,
    rule: Rule { slug: "rod-end", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::ANGLE,
    missing,
    gauges,
    measure: Measure::Sampled { every: 4, read },
    title,
    limit_span,
    help: &[],
};

const TEXT: &str = "\
What it checks: no end joint of a leg swings further from where it stands at level than `base_swing` and
`platform_swing` in the rig file allow.

Why it matters: a rod end at its stop bends its bolt, and breaks it in time. Legs swing furthest where two axes are at
their ends together.

Example: full pitch with full roll, on rod ends that swing 12 deg.

Write instead: a smaller angle, or the gain that the finding names; in the rig, joints that swing further, mounted so
that level is in the middle of their swing.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    let lacks = |leg: &crate::rig::Actuator| {
        leg.parts.base_swing_rad.is_none() && leg.parts.anchor_swing_rad.is_none()
    };
    rig.actuators.iter().any(lacks).then_some("`base_swing` or `platform_swing` for every actuator")
}

fn limit(rig: &Rig, leg: usize, item: usize) -> Option<crate::rig::parts::Measured> {
    let parts = &rig.actuators.get(leg)?.parts;
    if item == 0 { parts.base_swing_rad } else { parts.anchor_swing_rad }
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let legs = 0..setup.rig.actuators.len();
    legs.flat_map(|leg| [0, 1].map(|item| (leg, item)))
        .filter_map(|(leg, item)| {
            let limit = limit(setup.rig, leg, item)?.value;
            Some(LoadGauge { rule: 0, leg: Some(leg), case: None, item, limit })
        })
        .collect()
}

fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    let actuator = gauge.leg.and_then(|leg| sight.setup.rig.actuators.get(leg));
    let swing = actuator.map(|leg| kinematics::swing(leg, &sight.setup.rest.pose, &sight.moment.pose));
    let rad = swing.map_or(0.0, |swing| if gauge.item == 0 { swing.base_rad } else { swing.anchor_rad });
    Reading::plain(rad, gauge.limit)
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    format!(
        "the {} joint of `{}` swings {} from level at {:.2} s; the rig allows {}",
        if gauge.item == 0 { "lower" } else { "upper" },
        setup.leg_name(gauge.leg),
        show(extreme.bound, Dimension::ANGLE),
        extreme.at_s,
        show(gauge.limit, Dimension::ANGLE)
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    Some(limit(rig, gauge.leg?, gauge.item)?.span)
}
