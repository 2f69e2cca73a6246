//! A layer that moves faster than set-points can say.

use crate::check::{Blame, Finding};
use crate::diag::{Diagnostic, Rule, Span};
use crate::motion::{Plan, axis};
use crate::scenario::Content;
use crate::units::{Dimension, show};
use std::collections::BTreeSet;

pub(crate) const RULE: Rule = Rule { slug: "sample-band", text: TEXT };

const TEXT: &str = "\
What it checks: the highest frequency of every layer that moves the platform is below half the rate of the samples and
of the set-points.

Why it matters: above half the rate a wave comes out as another, slower one (common practice: the sampling theorem).

Example: `pitch sine(0.01 deg, 300 Hz) for 1 s` with set-points every 2 ms.

Write instead: a lower frequency, or let the shaker do it.
";

pub(in crate::check) fn findings(plan: &Plan) -> Vec<Finding> {
    let set_points_hz = 1e6 / f64::from(plan.rig().drive.cycle_us);
    let most_hz = set_points_hz.min(f64::from(plan.rate().hz())) / 2.0;
    let mut seen: BTreeSet<Span> = BTreeSet::new();
    let mut findings = Vec::new();
    for (at, layer) in plan.scenario().layers.iter().enumerate() {
        let (Some(_), Content::Signal(signal)) = (axis(layer.line), &layer.content) else { continue };
        let Some((_, high_hz)) = plan.band_hz(signal).filter(|(_, high)| *high > most_hz) else { continue };
        if !seen.insert(layer.span) {
            continue;
        }
        let (found, allowed) = (show(high_hz, Dimension::FREQUENCY), show(most_hz, Dimension::FREQUENCY));
        let title =
            format!("this layer goes up to {found}; half the rate of samples and set-points is {allowed}");
        findings.push(Finding {
            diagnostic: Diagnostic::error("sample-band", layer.span, title)
                .help("write a lower frequency, or put the layer on the shaker"),
            part: None,
            at_s: Some(signal.start_s / plan.tempo()),
            value: Some(high_hz),
            limit: Some(most_hz),
            dimension: Dimension::FREQUENCY,
            blame: vec![Blame { layer: at, label: layer.label.clone(), span: layer.span, share: 1.0 }],
            fits_gain: None,
        });
    }
    findings
}
