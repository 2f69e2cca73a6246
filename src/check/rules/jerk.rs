//! Jerk of a leg.

use super::GaugeRule;
use crate::check::Quantity;
use crate::check::gauge::{Gauge, Part};
use crate::diag::{Rule, Span};
use crate::rig::Rig;

pub(crate) const JERK: GaugeRule = GaugeRule {
    quantity: Quantity::Jerk,
    rule: Rule { slug: "jerk", text: TEXT },
    gauges,
    title: super::leg_asks_more,
    limit_span,
};

const TEXT: &str = "\
What it checks: no leg's acceleration changes faster than its `jerk` in the rig file, on the exact motion.

Why it matters: jerk is how suddenly the torque comes. It rings the frame and knocks whatever has play.

Example: `pitch pulse(0.5 deg, 80 ms)`: short pulses are mostly jerk.

Write instead: a longer width or edge, a lower frequency, or a smaller amplitude; jerk grows with the cube of the
frequency. On the drive's cubic curve the acceleration also steps a little at each set-point; its size is that of
the jerk times the cycle, which the acceleration check includes.
";

fn gauges(rig: &Rig) -> Vec<Gauge> {
    super::legs_up_to(rig, Quantity::Jerk, |actuator| actuator.jerk_m_s3)
}

fn limit_span(rig: &Rig, gauge: &Gauge) -> Option<Span> {
    let Part::Leg(leg) = gauge.part else { return None };
    Some(rig.actuators[leg].spans.jerk)
}
