//! Acceleration of a leg.

use super::GaugeRule;
use crate::check::Quantity;
use crate::check::gauge::{Gauge, Part};
use crate::diag::{Rule, Span};
use crate::rig::Rig;

pub(crate) const ACCELERATION: GaugeRule = GaugeRule {
    quantity: Quantity::Acceleration,
    rule: Rule { slug: "acceleration", text: TEXT },
    gauges,
    title: super::leg_asks_more,
    limit_span,
};

const TEXT: &str = "\
What it checks: no leg is asked to accelerate more than its `acceleration` in the rig file, on the exact motion and
on the drive's own curve between set-points.

Why it matters: acceleration is motor torque. Past its limit the drive falls behind, and the cue is not what you wrote.

Example: `pitch ring(0.5 deg, 9 Hz)` on a leg 0.7 m behind the pivot asks for about 20 m/s^2.

Write instead: a smaller amplitude or a lower frequency; acceleration grows with the square of the frequency.
";

fn gauges(rig: &Rig) -> Vec<Gauge> {
    super::legs_up_to(rig, Quantity::Acceleration, |actuator| actuator.acceleration_m_s2)
}

fn limit_span(rig: &Rig, gauge: &Gauge) -> Option<Span> {
    let Part::Leg(leg) = gauge.part else { return None };
    Some(rig.actuators[leg].spans.acceleration)
}
