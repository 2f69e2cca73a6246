//! Room to stop in, at every instant.

use super::GaugeRule;
use crate::check::Quantity;
use crate::check::gauge::{Extreme, Gauge, Part};
use crate::diag::{Rule, Span};
use crate::rig::Rig;
use crate::units::show;

pub(crate) const STOPPING: GaugeRule = GaugeRule {
    quantity: Quantity::Stopping,
    rule: Rule { slug: "stopping", text: TEXT },
    gauges,
    title,
    limit_span,
};

const TEXT: &str = "\
What it checks: at every instant the platform can still be braked, all legs together, inside strokes and joint
angles. It runs on at its speed until the stop is noticed and has gone down the link and through the drive, and then
brakes with what the drives have left at that pose and load.

Why it matters: a link that falls silent must not end in an end stop. What fits while it plays may not fit when it is
interrupted at its fastest, near an end.

Example: `pitch sine(7 deg, 0.8 Hz) for 10 s` swings fast through the middle and is never far from an end.

Write instead: a slower edge, a smaller amplitude, or more room. The distance is from a model: measure it on the rig,
with the seat empty, before you trust it. This check is not a safety function.
";

fn gauges(rig: &Rig) -> Vec<Gauge> {
    let mut gauges = super::legs_between_soft_stops(rig, Quantity::Stopping);
    gauges.extend(super::axes_in_range(rig, Quantity::Stopping));
    gauges
}

fn title(rig: &Rig, gauge: &Gauge, extreme: &Extreme) -> String {
    let dimension = gauge.dimension(rig);
    let shown = |value| show(gauge.signed(rig, value), dimension);
    let (found, limit) = (shown(extreme.bound), shown(gauge.limit(extreme.bound)));
    let what = match gauge.part {
        Part::Leg(_) => format!("actuator `{}`", gauge.part_name(rig)),
        Part::Axis(_) => gauge.part_name(rig),
    };
    if !extreme.bound.is_finite() {
        return format!(
            "a stop called at {:.3} s would bring {what} past the dead point of its crank",
            extreme.at_s
        );
    }
    format!("a stop called at {:.3} s would bring {what} to {found}; the limit is {limit}", extreme.at_s)
}

fn limit_span(rig: &Rig, gauge: &Gauge) -> Option<Span> {
    match gauge.part {
        Part::Leg(leg) => Some(rig.actuators[leg].spans.stroke),
        Part::Axis(axis) => Some(rig.axes[axis].span),
    }
}
