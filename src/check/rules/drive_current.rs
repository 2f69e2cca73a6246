//! R.m.s. current of a drive.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Setup, Window};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::DriveCurrent,
    rule: Rule { slug: "drive-current", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::CURRENT,
    missing,
    gauges,
    measure: Measure::Summed(Window::DriveCurrent),
    title,
    limit_span,
    help: &[],
};

const TEXT: &str = "\
What it checks: over every stretch as long as `current_window`, the r.m.s. current of a drive (torque by the motor's
torque constant) stays within `continuous_current`, under every load.

Why it matters: drives take a mean of the current's square over seconds and cut off, or fold back, when it is too high.

Example: a long strong buffet: each swing fits, and all together they do not.

Write instead: pauses between strong stretches, a smaller amplitude, or the gain that the finding names.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    if rig.parts.currents.is_none() { Some("currents in [drive]") } else { super::lacks_motor(rig) }
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let Some(currents) = setup.rig.parts.currents else { return Vec::new() };
    super::driven_pairs(setup)
        .map(|(leg, case)| LoadGauge::of(leg, case, currents.limits.continuous_a))
        .collect()
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    let window_s = setup.rig.parts.currents.map_or(0.0, |currents| currents.window_s);
    format!(
        "the drive of `{}` gives {} r.m.s. over the {} up to {:.1} s; it bears {} without end",
        setup.leg_name(gauge.leg),
        show(extreme.bound, Dimension::CURRENT),
        show(window_s, Dimension::TIME),
        extreme.at_s,
        show(gauge.limit, Dimension::CURRENT)
    )
}

fn limit_span(rig: &Rig, _gauge: &LoadGauge) -> Option<Span> {
    Some(rig.parts.currents?.continuous_span)
}
