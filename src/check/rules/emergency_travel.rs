//! Where a stop under control and then the brakes leave a leg.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::EmergencyTravel,
    rule: Rule { slug: "emergency-travel", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::LENGTH,
    missing,
    gauges,
    measure: Measure::Sampled { every: 8, read },
    title,
    limit_span,
    help: &[
        "model only: seat empty, press the button at this speed in mid-stroke; a ring on each tube shows how far",
    ],
};

const TEXT: &str = "\
What it checks: at every instant the hard-wired stop may be pressed. The drives follow the profile until the button
has reached them, `delay` of [emergency_stop] later, and then brake all legs together with the acceleration that they
have left at that pose and load (stop category 1 of IEC 60204-1); once at rest, power goes, and each leg gives way
until its brake holds. No leg meets its mechanical end on the way, under any load. *Model only*.

Why it matters: between power and brake nothing holds, and a leg that is short already has little way to give.

Example: a platform held nose up near the end of its legs, and brakes that need 600 ms to drop.

Write instead: less speed near the ends, or the gain that the finding names; in the rig, brakes that drop faster, or
drives that hold until the brakes do. To measure: seat empty, platform swinging slowly at first, press the button; a
rubber ring on each tube keeps the furthest point. Compare at three speeds.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    if rig.parts.emergency.is_none() { Some("[emergency_stop]") } else { super::lacks_brake(rig) }
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let gauge = |(leg, case): (usize, usize)| {
        setup.rig.parts.emergency?;
        let actuator = setup.rig.actuators.get(leg)?;
        actuator.parts.brake?;
        Some(LoadGauge::of(leg, case, actuator.max_m))
    };
    super::driven_pairs(setup).filter_map(gauge).collect()
}

fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    let reach = sight.controlled(gauge).and_then(|stop| stop.legs_m.get(gauge.leg?).copied());
    let found = reach.and_then(|reach| super::between_ends(sight, gauge, reach));
    // Nothing left to brake with.
    found.unwrap_or(Reading { value: f64::INFINITY, used: f64::INFINITY })
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    let ends = gauge.leg.and_then(|leg| setup.rig.actuators.get(leg));
    let (min, max) = ends.map_or((0.0, 0.0), |leg| (leg.min_m, leg.max_m));
    let name = setup.leg_name(gauge.leg);
    if !extreme.peak.is_finite() {
        return format!(
            "an emergency stop that begins at {:.2} s cannot brake `{name}` to rest",
            extreme.at_s
        );
    }
    format!(
        "an emergency stop that begins at {:.2} s leaves `{name}` at {}, beyond its mechanical ends of {} to {}",
        extreme.at_s,
        show(extreme.peak, Dimension::LENGTH),
        show(min, Dimension::LENGTH),
        show(max, Dimension::LENGTH)
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    Some(rig.actuators.get(gauge.leg?)?.spans.stroke)
}
