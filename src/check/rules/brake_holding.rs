//! Brakes hold at every pose.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::BrakeHolding,
    rule: Rule { slug: "brake-holding", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::TORQUE,
    missing,
    gauges,
    measure: Measure::Sampled { every: 4, read },
    title,
    limit_span,
    help: &[],
};

const TEXT: &str = "\
What it checks: at every pose that the profile goes through, under every load, the brake's holding torque is as many
times what the load needs as `margin` in the rig file says. The screw's friction does not count as help: shaking sets it
free.

Why it matters: a ball screw is driven back by its load. When power goes at the worst pose, the brakes alone hold.

Example: a deep bank held for seconds under a heavy pilot whose centre is off to the side.

Write instead: a smaller bank, or the gain that the finding names; in the rig, a stronger brake or a smaller lead.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    super::lacks_brake(rig)
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let limit = |leg: usize| {
        let brake = setup.rig.actuators.get(leg)?.parts.brake?;
        Some(brake.holding_nm / brake.margin)
    };
    super::driven_pairs(setup).filter_map(|(leg, case)| Some(LoadGauge::of(leg, case, limit(leg)?))).collect()
}

fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    let needed = gauge.leg.zip(gauge.case).and_then(|(leg, case)| {
        let ([light, _], _) = sight.setup.unpowered(sight.moment, leg, case)?;
        Some(light.screw.ideal_nm(light.load_n))
    });
    Reading::plain(needed.unwrap_or(0.0), gauge.limit)
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    format!(
        "the brake of `{}` must hold {} at the pose of {:.2} s; with its margin it may be asked for {}",
        setup.leg_name(gauge.leg),
        show(extreme.bound.abs(), Dimension::TORQUE),
        extreme.at_s,
        show(gauge.limit, Dimension::TORQUE)
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    Some(rig.actuators.get(gauge.leg?)?.parts.brake?.span)
}
