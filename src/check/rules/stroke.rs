//! Length of a leg inside its stroke.

use super::GaugeRule;
use crate::check::Quantity;
use crate::check::gauge::{Extreme, Gauge, Part};
use crate::diag::{Rule, Span};
use crate::rig::Rig;
use crate::units::show;

pub(crate) const STROKE: GaugeRule = GaugeRule {
    quantity: Quantity::Stroke,
    rule: Rule { slug: "stroke", text: TEXT },
    gauges,
    title,
    limit_span,
};

const TEXT: &str = "\
What it checks: every leg stays between its shortest and longest length, and every crank inside its travel, less the
soft-stop margin at either end, at every instant and on the drive's own curve.

Why it matters: past the soft stop the leg runs into its end stop, with whatever speed it has.

Example: `roll hold(14 deg, ease: 2 s) for 10 s` on legs that reach 11 deg.

Write instead: a smaller amplitude, or the gain that the finding names. Pitch and roll share the stroke: what fits
alone may not fit together.
";

fn gauges(rig: &Rig) -> Vec<Gauge> {
    super::legs_between_soft_stops(rig, Quantity::Stroke)
}

fn title(rig: &Rig, gauge: &Gauge, extreme: &Extreme) -> String {
    let dimension = gauge.dimension(rig);
    let shown = |value| show(gauge.signed(rig, value), dimension);
    let (name, found) = (gauge.part_name(rig), shown(extreme.bound));
    let (word, limit) =
        if extreme.bound < gauge.rest { ("shortest", gauge.low) } else { ("longest", gauge.high) };
    let limit = shown(limit);
    if let Part::Leg(leg) = gauge.part
        && rig.actuators.get(leg).is_some_and(|leg| leg.crank.is_some())
    {
        return format!(
            "the crank of `{name}` would have to stand at {found} at {:.3} s; inside its soft stops its travel ends at \
             {limit}",
            extreme.at_s
        );
    }
    format!(
        "actuator `{name}` needs a length of {found} at {:.3} s; the {word} inside its soft stops is {limit}",
        extreme.at_s
    )
}

fn limit_span(rig: &Rig, gauge: &Gauge) -> Option<Span> {
    let Part::Leg(leg) = gauge.part else { return None };
    Some(rig.actuators[leg].spans.stroke)
}
