//! Force of a leg.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::Thrust,
    rule: Rule { slug: "thrust", text: TEXT },
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
What it checks: under every load, no leg has to push or pull harder than its `thrust` in the rig file, and no crank to turn
harder than its `torque`, while it moves the platform as the profile wants.

Why it matters: a drive that lacks the force falls behind its set-points and trips, mostly at the hardest instant.

Example: `pitch pulse(6 deg, 0.4 s)` with the heaviest pilot.

Write instead: a longer pulse, a smaller one, or the gain that the finding names. Force grows with acceleration, and a
part of it is the load's weight, which no gain takes away.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    rig.actuators.iter().any(|leg| leg.thrust_n.is_infinite()).then_some("`thrust` for every actuator")
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let limit = |leg: usize| setup.rig.actuators.get(leg).map_or(f64::INFINITY, |leg| leg.thrust_n);
    setup
        .pairs()
        .map(|(leg, case)| LoadGauge::of(leg, case, limit(leg)))
        .filter(|g| g.limit.is_finite())
        .collect()
}

fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    Reading::plain(super::of_pair(&sight.moment.forces_n, gauge), gauge.limit)
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    let leg = gauge.leg.and_then(|leg| setup.rig.actuators.get(leg));
    if let Some(part) = leg.and_then(|leg| leg.crank) {
        return format!(
            "the crank of `{}` must turn with {} at {:.3} s; its torque is {}",
            setup.leg_name(gauge.leg),
            show(extreme.bound.abs() * part.crank.arm_m, Dimension::TORQUE),
            extreme.at_s,
            show(gauge.limit * part.crank.arm_m, Dimension::TORQUE)
        );
    }
    let way = if extreme.bound < 0.0 { "pull" } else { "push" };
    format!(
        "actuator `{}` must {way} with {} at {:.3} s; its thrust is {}",
        setup.leg_name(gauge.leg),
        show(extreme.bound.abs(), Dimension::FORCE),
        extreme.at_s,
        show(gauge.limit, Dimension::FORCE)
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    Some(rig.actuators.get(gauge.leg?)?.spans.table)
}
