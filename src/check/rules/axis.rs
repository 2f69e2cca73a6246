//! A layer on an axis that the rig does not have, and plans that cannot be made at all.

use crate::diag::{Diagnostic, Rule, Span};
use crate::motion::PlanError;
use crate::rig::Rig;
use crate::scenario::Scenario;
use std::collections::BTreeSet;

pub(crate) const RULE: Rule = Rule { slug: "axis", text: TEXT };

const TEXT: &str = "\
What it checks: every layer that moves the platform moves an axis that the rig has, and the scene can be sampled.

Why it matters: a motion that the rig cannot make would be dropped in silence, and the cue would not be what you wrote.

Example: `heave pulse(4 mm, 0.2 s)` on a rig that pitches and rolls.

Write instead: the nearest thing that the rig can do, or leave the layer out for this rig.
";

/// What stands in the way of a plan, as diagnostics: one a statement.
pub fn refusals(scenario: &Scenario, rig: &Rig, errors: &[PlanError]) -> Vec<Diagnostic> {
    let mut seen: BTreeSet<Span> = BTreeSet::new();
    let has: Vec<_> = rig.axes.iter().map(|limits| limits.axis.word()).collect();
    errors
        .iter()
        .filter_map(|error| {
            let (span, help) = match error {
                PlanError::NoAxis { layer, .. } => (
                    scenario.layers.get(*layer)?.span,
                    format!(
                        "`{}` has {}; use one of these, or leave the layer out",
                        rig.name,
                        has.join(", ")
                    ),
                ),
                PlanError::TooLong { .. } => (
                    scenario.title_span,
                    "cut the scene into shorter ones, or sample it more slowly".to_string(),
                ),
                PlanError::Gain { .. } => {
                    (scenario.title_span, "give a gain such as 0.5 or -6 dB".to_string())
                }
            };
            seen.insert(span).then(|| Diagnostic::error("axis", span, error.to_string()).help(help))
        })
        .collect()
}
