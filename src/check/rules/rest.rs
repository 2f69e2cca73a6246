//! Rest at the start and at the end.

use crate::check::Finding;
use crate::diag::{Diagnostic, Rule};
use crate::motion::Plan;
use crate::signal::Jet;
use crate::units::Dimension;

pub(crate) const RULE: Rule = Rule { slug: "rest", text: TEXT };

const TEXT: &str = "\
What it checks: the platform is level and at rest, with no acceleration and no jerk, when the scene starts and when it
has played out.

Why it matters: whatever is left at the end would have to stop at once, and a start from anything else is a jump.

Example: a layer that is cut off without a `fall`.

Write instead: a `fall`, or a layer that ends by itself (`ring`, `pulse`, `hold`).
";

/// Rad (m), rad/s, rad/s^2 and rad/s^3 that rounding may leave: far below one count of an encoder.
const LEFT_OVER: [f64; 4] = [1e-9, 1e-7, 1e-5, 1e-3];

pub(in crate::check) fn findings(plan: &Plan) -> Vec<Finding> {
    let scenario = plan.scenario();
    let mut platform = vec![Jet::default(); plan.rig().axes.len()];
    let mut findings = Vec::new();
    for (at_s, when) in [(0.0, "starts"), (plan.length_s(), "ends")] {
        plan.platform_at(at_s, &mut platform);
        for (jet, limits) in platform.iter().zip(&plan.rig().axes) {
            let moves = jet.0.iter().zip(LEFT_OVER).any(|(value, most)| value.abs() > most);
            if !moves {
                continue;
            }
            let axis = limits.axis.word();
            let blame =
                crate::check::blame::shares(plan, at_s, &mut |_, jet| jet.0.iter().map(|v| v.abs()).sum());
            let span = blame.first().map_or(scenario.title_span, |blame| blame.span);
            let title = format!("the scene {when} with {axis} not at rest");
            findings.push(Finding {
                diagnostic: Diagnostic::error("rest", span, title)
                    .help("add a `rise` or a `fall` to this layer"),
                part: Some(axis.to_string()),
                at_s: Some(at_s),
                value: Some(jet.0[0]),
                limit: Some(0.0),
                dimension: if limits.axis.is_rotation() { Dimension::ANGLE } else { Dimension::LENGTH },
                blame,
                fits_gain: None,
            });
        }
    }
    findings
}
