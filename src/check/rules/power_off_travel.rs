//! Where a leg comes to rest when the power fails.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::PowerOffTravel,
    rule: Rule { slug: "power-off-travel", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::LENGTH,
    missing,
    gauges,
    measure: Measure::Sampled { every: 8, read },
    title,
    limit_span,
    help: &[
        "model only: run one leg at this speed with the seat empty, cut the power, and measure the travel",
    ],
};

const TEXT: &str = "\
What it checks: whenever the power fails, under every load and with the weakest and the strongest brake, each leg comes
to rest before its mechanical end: it runs on until its brake drops, and then slides. *Model only*: one leg by itself,
with as little and as much of the platform's mass as it may feel. Of a crank, the way of its pin, with load and lever as they
are at that instant.

Why it matters: a brake needs time to drop, and while it does, the platform runs free. What hits the end stop must be
taken by rubber.

Example: a fast swing through a pose near the end of a stroke.

Write instead: less speed near the ends, or the gain that the finding names; in the rig, brakes that drop faster.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    super::lacks_brake(rig)
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let gauge = |(leg, case): (usize, usize)| {
        let actuator = setup.rig.actuators.get(leg)?;
        actuator.parts.brake?;
        Some(LoadGauge::of(leg, case, actuator.max_m))
    };
    super::driven_pairs(setup).filter_map(gauge).collect()
}

/// Shortest and longest that the leg gets.
fn reach(sight: &Sight<'_>, gauge: &LoadGauge) -> Option<(f64, f64)> {
    let now_m = sight.moment.legs.get(gauge.leg?)?.length_m;
    let stops = sight.stops(gauge)?;
    Some((now_m + stops.shorter_m, now_m + stops.longer_m))
}

fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    let found = reach(sight, gauge).and_then(|reach| super::between_ends(sight, gauge, reach));
    found.unwrap_or(Reading { value: 0.0, used: 0.0 })
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    let ends = gauge.leg.and_then(|leg| setup.rig.actuators.get(leg));
    let (min, max) = ends.map_or((0.0, 0.0), |leg| (leg.min_m, leg.max_m));
    let name = setup.leg_name(gauge.leg);
    if !extreme.peak.is_finite() {
        return format!("when power fails at {:.2} s the brake of `{name}` does not stop it", extreme.at_s);
    }
    format!(
        "when power fails at {:.2} s, `{name}` runs on to {}, beyond its mechanical ends of {} to {}",
        extreme.at_s,
        show(extreme.peak, Dimension::LENGTH),
        show(min, Dimension::LENGTH),
        show(max, Dimension::LENGTH)
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    Some(rig.actuators.get(gauge.leg?)?.spans.stroke)
}
