//! Room for what legs stray from their set-points.

use crate::check::{Finding, Report};
use crate::diag::{Diagnostic, Rule};
use crate::motion::Plan;
use crate::rig::straying::{NoRoom, narrowed};
use crate::units::{Dimension, show};

pub(crate) const RULE: Rule = Rule { slug: "tracking", text: TEXT };

const TEXT: &str = "\
What it checks: that strokes and joints have room for what the legs strayed from their set-points in runs on drives before,
however late all of them together were: the most of all runs in 90 days, since work on the rig was last noted. Where they
have, all limits of strokes and joints are narrower by it, and the paragraph `at most` of the report says by how much. What
was measured at a lower gain is taken in proportion.

Why it matters: what fits by set-points does not fit by legs that are somewhere else.

Example: a leg that was 160 mm beside its set-points, where soft stops leave it 140 mm from level.

Write instead: nothing in the profile mends this. Look at the record of the run (`cueloom log`), and tune the drives. Once
their parameters are others, or `cueloom audition --maintenance` notes what was done, what was before counts for nothing.
";

/// The plan on a rig as narrow as its legs' straying leaves it, or a report that there is no room for that.
pub(in crate::check) fn narrow(plan: Plan) -> Result<Plan, Box<Report>> {
    if plan.stray_m().is_empty() {
        return Ok(plan);
    }
    match narrowed(plan.rig(), plan.stray_m()) {
        Ok(rig) => Ok(plan.on(rig)),
        Err(no_room) => Err(Box::new(Report::refusing(&plan, refusal(&plan, &no_room)))),
    }
}

fn refusal(plan: &Plan, no_room: &NoRoom) -> Finding {
    let title = format!("no room for what legs strayed in runs on drives before: {no_room}");
    Finding {
        diagnostic: Diagnostic::error(RULE.slug, plan.scenario().title_span, title)
            .help("look at the record of the last run (`cueloom log`), and tune the drives"),
        part: Some(no_room.part.clone()),
        at_s: None,
        value: Some(no_room.stray),
        limit: Some(no_room.room),
        dimension: no_room.dimension,
        blame: Vec::new(),
        fits_gain: None,
    }
}

/// By how much limits are narrower, for the bound of a report; empty where by nothing.
pub(in crate::check) fn in_words(plan: &Plan) -> String {
    let by = |(leg, stray_m): (&crate::rig::Actuator, &f64)| {
        format!("{} {}", leg.name, show(*stray_m, Dimension::LENGTH))
    };
    let legs: Vec<String> = plan.rig().actuators.iter().zip(plan.stray_m()).map(by).collect();
    if legs.is_empty() {
        return String::new();
    }
    format!(
        "; strokes and joints narrower by what legs strayed from their set-points in runs on drives before: {}",
        legs.join(", ")
    )
}
