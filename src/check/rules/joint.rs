//! Angle of the centre joint.

use super::GaugeRule;
use crate::check::Quantity;
use crate::check::gauge::{Extreme, Gauge, Part};
use crate::diag::{Rule, Span};
use crate::rig::Rig;
use crate::units::show;

pub(crate) const JOINT: GaugeRule = GaugeRule {
    quantity: Quantity::JointAngle,
    rule: Rule { slug: "joint-angle", text: TEXT },
    gauges,
    title,
    limit_span,
};

const TEXT: &str = "\
What it checks: pitch, roll and whatever else the platform does stay inside the range that the rig file gives the
centre joint.

Why it matters: a universal joint that is driven past its angle binds, and then something bends.

Example: `pitch hold(11 deg, ease: 2 s) for 5 s` on a joint that allows 10 deg.

Write instead: a smaller amplitude, or the gain that the finding names.
";

fn gauges(rig: &Rig) -> Vec<Gauge> {
    super::axes_in_range(rig, Quantity::JointAngle)
}

fn title(rig: &Rig, gauge: &Gauge, extreme: &Extreme) -> String {
    let dimension = gauge.dimension(rig);
    let shown = |value| show(gauge.signed(rig, value), dimension);
    let (name, found) = (gauge.part_name(rig), shown(extreme.bound));
    let limit = shown(gauge.limit(extreme.bound));
    format!("{name} reaches {found} at {:.3} s; the joint allows {limit}", extreme.at_s)
}

fn limit_span(rig: &Rig, gauge: &Gauge) -> Option<Span> {
    let Part::Axis(axis) = gauge.part else { return None };
    Some(rig.axes[axis].span)
}
