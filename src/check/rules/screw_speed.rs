//! Whirling of a screw.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::Dimension;

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::ScrewSpeed,
    rule: Rule { slug: "screw-speed", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::SPEED,
    missing,
    gauges,
    measure: Measure::Sampled { every: 1, read },
    title,
    limit_span,
    help: &[],
};

const TEXT: &str = "\
What it checks: no screw turns faster than the share of its critical speed that `whirl` in the rig file allows (80 % in
catalogues). The critical speed is that of a bending beam: root diameter, free length, and how its ends are held.

Why it matters: a screw that turns at its bending frequency bows out, beats and wrecks its nut.

Example: a long screw on a free end, in a profile that needs the motor's full speed.

Write instead: slower edges, or the gain that the finding names; in the rig, a support at the free end, a shorter
free length, or a larger lead.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    super::screws_lack(rig, "`whirl` in [screw]", |screw| screw.shaft.is_some())
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let of_leg = |(leg, actuator): (usize, &crate::rig::Actuator)| {
        let (shaft, _) = actuator.parts.screw.as_ref()?.shaft?;
        let limit = shaft.allowed_m_s(actuator.lead_m);
        Some(LoadGauge { rule: 0, leg: Some(leg), case: None, item: 0, limit })
    };
    setup.rig.actuators.iter().enumerate().filter_map(of_leg).collect()
}

fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    let leg = gauge.leg.and_then(|leg| sight.moment.legs.get(leg));
    Reading::plain(leg.map_or(0.0, |leg| leg.speed_m_s), gauge.limit)
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    let lead_m = gauge.leg.and_then(|leg| setup.rig.actuators.get(leg)).map_or(f64::NAN, |leg| leg.lead_m);
    let rpm = |speed: f64| speed.abs() / lead_m * 60.0;
    format!(
        "the screw of `{}` turns at {:.0} rpm at {:.3} s; it may turn at {:.0} rpm before it whirls",
        setup.leg_name(gauge.leg),
        rpm(extreme.bound),
        extreme.at_s,
        rpm(gauge.limit)
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    Some(rig.actuators.get(gauge.leg?)?.parts.screw.as_ref()?.shaft?.1)
}
