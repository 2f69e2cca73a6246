//! Speed of a leg.

use super::GaugeRule;
use crate::check::Quantity;
use crate::check::gauge::{Gauge, Part};
use crate::diag::{Rule, Span};
use crate::rig::Rig;

pub(crate) const SPEED: GaugeRule = GaugeRule {
    quantity: Quantity::Speed,
    rule: Rule { slug: "speed", text: TEXT },
    gauges,
    title: super::leg_asks_more,
    limit_span,
};

const TEXT: &str = "\
What it checks: no leg is asked to move faster than its `speed` in the rig file, neither on the exact motion
nor on the drive's own curve between set-points, and not between two samples either.

Why it matters: a drive that is asked for more speed than it has falls behind, and then either trips on its
following error or catches up with a lurch. With power, the speed of a motor is its voltage: it does not bend.

Example: `pitch noise(0.15 deg, 8 Hz..14 Hz)` on a leg 0.7 m behind the pivot asks for about 250 mm/s at its peaks.

Write instead: a smaller amplitude or a lower band, or the gain that the finding names. Speed grows with amplitude
times frequency.
";

fn gauges(rig: &Rig) -> Vec<Gauge> {
    super::legs_up_to(rig, Quantity::Speed, |actuator| actuator.speed_m_s)
}

fn limit_span(rig: &Rig, gauge: &Gauge) -> Option<Span> {
    let Part::Leg(leg) = gauge.part else { return None };
    Some(rig.actuators[leg].spans.speed)
}
