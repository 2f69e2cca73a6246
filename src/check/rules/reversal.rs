//! Legs that turn from push to pull.

use crate::check::Finding;
use crate::check::loads::Setup;
use crate::diag::{Diagnostic, Rule, Severity};
use crate::motion::Plan;
use crate::rig::Actuator;
use crate::rig::parts::Measured;
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

/// One note for all loads in which some leg's force turns.
pub(in crate::check) fn findings(plan: &Plan, setup: &Setup<'_>, forces: &[[(f64, f64); 2]]) -> Vec<Finding> {
    let lost = |leg: &Actuator| setup.rig.lost_motion_m(leg);
    if setup.rig.actuators.iter().any(|leg| lost(leg).is_none()) {
        return Vec::new();
    }
    let mut worst: Option<(&Actuator, Measured)> = None;
    let cases = setup.demands.cases();
    let mut lines = Vec::new();
    let mut names = Vec::new();
    let mut last_s = None;
    for (case, (name, _)) in cases.iter().enumerate() {
        for (leg, actuator) in setup.rig.actuators.iter().enumerate() {
            let Some([low, high]) = forces.get(leg * cases.len() + case) else { continue };
            if low.0 >= 0.0 || high.0 <= 0.0 {
                continue;
            }
            let (pull, push) = (show(low.0, Dimension::FORCE), show(high.0, Dimension::FORCE));
            lines.push(format!("`{}` under load `{name}`: from {pull} to {push}", actuator.name));
            if !names.contains(&actuator.name.as_str()) {
                names.push(actuator.name.as_str());
            }
            last_s = last_s.or(Some(high.1));
            let of_leg = lost(actuator).map(|lost| (actuator, lost));
            worst =
                of_leg.filter(|(_, lost)| worst.is_none_or(|(_, most)| lost.value > most.value)).or(worst);
        }
    }
    let Some((most, backlash)) = worst else { return Vec::new() };
    let legs: Vec<String> = names.iter().map(|leg| format!("`{leg}`")).collect();
    let title = format!("the force in {} turns between pull and push", legs.join(" and "));
    let size = most.shown(backlash.value);
    let help = format!("each time it turns, the leg moves through its backlash of {size} and knocks");
    let diagnostic = Diagnostic::error("force-reversal", plan.scenario().title_span, title)
        .also(backlash.span, "the backlash")
        .help(help);
    let mut diagnostic = lines.into_iter().fold(diagnostic, Diagnostic::help);
    diagnostic.severity = Severity::Note;
    vec![Finding {
        diagnostic,
        part: None,
        at_s: last_s,
        value: None,
        limit: None,
        dimension: Dimension::FORCE,
        blame: Vec::new(),
        fits_gain: None,
    }]
}
