//! Life of a screw.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Setup, Window};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::ScrewLife,
    rule: Rule { slug: "screw-life", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::TIME,
    missing,
    gauges,
    measure: Measure::Summed(Window::Life),
    title,
    limit_span,
    help: &[],
};

const TEXT: &str = "\
What it checks: at this duty, under every load, a screw lives as long as `hours` in the rig file wants: (rating / mean
load)^3 million turns, with the cubic mean of the load over the turning, and the preload as it adds to it (ISO 3408-5
form, from memory). Ninety of a hundred equal screws live longer.

Why it matters: life falls with the cube of the load: a screw that is one size too small lasts a fraction.

Example: a rating of 1 kN under a mean load of 800 N.

Write instead: a smaller gain, or a screw with a higher rating. Short strokes to and fro press the grease out: let the
legs move through some turns now and then.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    let life = super::screws_lack(rig, "`life` in [screw]", |screw| screw.life.is_some());
    life.or_else(|| super::lacks_motor(rig))
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let limit = |leg: usize| Some(setup.rig.actuators.get(leg)?.parts.screw.as_ref()?.life?.wanted_s);
    super::driven_pairs(setup).filter_map(|(leg, case)| Some(LoadGauge::of(leg, case, limit(leg)?))).collect()
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    let hours = |time_s: f64| show(time_s / 3600.0, Dimension::NUMBER);
    format!(
        "the screw of `{}` lives {} h of this; the rig file wants {} h",
        setup.leg_name(gauge.leg),
        hours(extreme.peak),
        hours(gauge.limit)
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    Some(rig.actuators.get(gauge.leg?)?.parts.screw.as_ref()?.life?.span)
}
