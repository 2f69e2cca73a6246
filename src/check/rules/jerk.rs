//! Jerk of a leg.

use super::GaugeRule;
use crate::check::Quantity;
use crate::check::gauge::{Extreme, Gauge, Part};
use crate::diag::{Rule, Span};
use crate::rig::Rig;
use crate::units::show;

pub(crate) const JERK: GaugeRule = GaugeRule {
    quantity: Quantity::Jerk,
    rule: Rule { slug: "jerk", text: TEXT },
    gauges,
    title,
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
    let gauge = |(leg, actuator): (usize, &crate::rig::Actuator)| {
        Gauge::symmetric(Part::Leg(leg), Quantity::Jerk, actuator.jerk_m_s3)
    };
    rig.actuators.iter().enumerate().map(gauge).collect()
}

fn title(rig: &Rig, gauge: &Gauge, extreme: &Extreme) -> String {
    let dimension = gauge.dimension(rig);
    let (found, allowed) = (show(extreme.bound.abs(), dimension), show(gauge.high, dimension));
    format!(
        "actuator `{}` needs {found} at {:.3} s; the rig allows {allowed}",
        gauge.part_name(rig),
        extreme.at_s
    )
}

fn limit_span(rig: &Rig, gauge: &Gauge) -> Option<Span> {
    let Part::Leg(leg) = gauge.part else { return None };
    Some(rig.actuators[leg].spans.jerk)
}
