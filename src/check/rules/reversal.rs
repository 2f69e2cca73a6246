//! Legs that turn from push to pull.

use crate::check::Finding;
use crate::check::loads::Setup;
use crate::diag::{Diagnostic, Rule};
use crate::motion::Plan;
use crate::units::{Dimension, show};

pub(crate) const RULE: Rule = Rule { slug: "force-reversal", text: TEXT };

const TEXT: &str = "\
What it checks: whether the force in a leg changes its sign while the profile plays, for each load. It is a note, not
an error.

Why it matters: each time the force turns, the leg moves through its lost motion (`backlash` in `[measured]`) and
knocks. The heaviest load is not always the worst: an empty seat can hang on legs that a pilot presses.

Example: a rig whose load stands nearly over its joint, so that every cue turns the force.

Write instead: nothing in the profile, mostly. In the rig: a load centre further before or behind the joint, a
preloaded nut, spherical joints without play.
";

/// One note for each load in which some leg's force turns.
pub(in crate::check) fn findings(plan: &Plan, setup: &Setup<'_>, forces: &[[(f64, f64); 2]]) -> Vec<Finding> {
    let Some(backlash) = setup.rig.parts.backlash_m else { return Vec::new() };
    let cases = setup.demands.cases().len();
    let mut found = Vec::new();
    for (case, (name, _)) in setup.demands.cases().iter().enumerate() {
        let turns: Vec<(&str, [(f64, f64); 2])> = setup
            .rig
            .actuators
            .iter()
            .enumerate()
            .filter_map(|(leg, actuator)| Some((actuator.name.as_str(), *forces.get(leg * cases + case)?)))
            .filter(|(_, [low, high])| low.0 < 0.0 && high.0 > 0.0)
            .collect();
        let Some((_, [low, high])) = turns.first() else { continue };
        let legs: Vec<String> = turns.iter().map(|(leg, _)| format!("`{leg}`")).collect();
        let title = format!(
            "under load `{name}` the force in {} turns between pull and push ({} to {})",
            legs.join(" and "),
            show(low.0, Dimension::FORCE),
            show(high.0, Dimension::FORCE)
        );
        let size = show(backlash.value, Dimension::LENGTH);
        let mut diagnostic = Diagnostic::error("force-reversal", plan.scenario().title_span, title)
            .also(backlash.span, "the backlash")
            .help(format!("each time it turns, the leg moves through its backlash of {size} and knocks"));
        diagnostic.severity = crate::diag::Severity::Note;
        found.push(Finding {
            diagnostic,
            part: None,
            at_s: Some(high.1),
            value: Some(high.0),
            limit: None,
            dimension: Dimension::FORCE,
            blame: Vec::new(),
            fits_gain: None,
        });
    }
    found
}
