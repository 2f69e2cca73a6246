//! Cues that are faster than the platform follows.

use crate::check::Finding;
use crate::diag::{Diagnostic, Rule};
use crate::motion::{Plan, axis};
use crate::scenario::Content;
use crate::units::{Dimension, show};
use std::collections::BTreeSet;

pub(crate) const RULE: Rule = Rule { slug: "bandwidth", text: TEXT };

const TEXT: &str = "\
What it checks: no layer has its whole band above the measured `bandwidth` of the platform, and none reaches above it
by more than half.

Why it matters: above its bandwidth the platform follows late and less. A cue there comes out weaker than written, and
the check of forces is made for what was written.

Example: `roll sine(0.05 deg, 30 Hz)` on a rig measured to 14 Hz.

Write instead: a lower band, or give that frequency to a shaker.
";

/// One warning for each statement.
pub(in crate::check) fn findings(plan: &Plan) -> Vec<Finding> {
    let Some(bandwidth) = plan.rig().parts.bandwidth_hz else { return Vec::new() };
    let mut found = Vec::new();
    let mut seen = BTreeSet::new();
    for layer in plan.scenario().layers.iter().filter(|layer| axis(layer.line).is_some()) {
        let Content::Signal(signal) = &layer.content else { continue };
        let Some((low, high)) = plan.band_hz(signal) else { continue };
        if (low <= bandwidth.value && high <= 1.5 * bandwidth.value) || !seen.insert(layer.span) {
            continue;
        }
        let hz = |hz: f64| show(hz, Dimension::FREQUENCY);
        let band = if low == high { hz(low) } else { format!("{} to {}", hz(low), hz(high)) };
        let title = format!(
            "`{}` moves at {band}; the platform was measured to follow up to {}",
            layer.label,
            hz(bandwidth.value)
        );
        found.push(Finding {
            diagnostic: Diagnostic::warning("bandwidth", layer.span, title)
                .also(bandwidth.span, "the bandwidth")
                .help("lower the band, or give it to a shaker"),
            part: None,
            at_s: None,
            value: Some(high),
            limit: Some(bandwidth.value),
            dimension: Dimension::FREQUENCY,
            blame: Vec::new(),
            fits_gain: None,
        });
    }
    found
}
