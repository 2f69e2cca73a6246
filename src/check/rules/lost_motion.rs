//! Cues that are smaller than the rig's lost motion.

use crate::check::{Finding, LayerSummary};
use crate::diag::{Diagnostic, Rule};
use crate::motion::{Plan, axis};
use crate::rig::kinematics::jacobian;
use crate::rig::parts::Measured;
use crate::units::{Dimension, show};
use std::collections::BTreeSet;

pub(crate) const RULE: Rule = Rule { slug: "lost-motion", text: TEXT };

const TEXT: &str = "\
What it checks: the largest travel of a leg that a layer asks for by itself is more than the measured `backlash`.

Why it matters: what is smaller than the lost motion moves the motors and not the platform. It is paid for in wear, and
nobody feels it.

Example: `pitch noise(0.001 deg, 8 Hz..14 Hz)` on legs with 0.1 mm of play.

Write instead: a larger cue, or none.
";

/// One warning for each statement whose layers drown.
pub(in crate::check) fn findings(plan: &Plan, layers: &[LayerSummary]) -> Vec<Finding> {
    let rig = plan.rig();
    let lost: Option<Vec<Measured>> = rig.actuators.iter().map(|leg| rig.lost_motion_m(leg)).collect();
    let Some(lost) = lost else { return Vec::new() };
    let slopes = jacobian(rig, &[]);
    let mut found = Vec::new();
    let mut seen = BTreeSet::new();
    for summary in layers {
        let Some(layer) = plan.scenario().layers.get(summary.layer) else { continue };
        let column = axis(layer.line).and_then(|axis| rig.axes.iter().position(|limits| limits.axis == axis));
        let Some(column) = column else { continue };
        // The leg that moves most, counted in what it loses: where all lose the same, the one that moves furthest.
        let slopes = slopes.column(column);
        let each = slopes.iter().map(|slope| slope.abs() * summary.peak).zip(&lost);
        let most = each.max_by(|a, b| (a.0 / a.1.value).total_cmp(&(b.0 / b.1.value)));
        let Some((travel_m, backlash)) = most else { continue };
        if travel_m >= backlash.value || summary.peak == 0.0 || !seen.insert(layer.span) {
            continue;
        }
        let (travel, lost) = (show(travel_m, Dimension::LENGTH), show(backlash.value, Dimension::LENGTH));
        let title =
            format!("`{}` moves no leg by more than {travel}, and {lost} is lost motion", layer.label);
        found.push(Finding {
            diagnostic: Diagnostic::warning("lost-motion", layer.span, title)
                .also(backlash.span, "the backlash")
                .help("make it larger, or leave it out: it will not be felt"),
            part: None,
            at_s: None,
            value: Some(travel_m),
            limit: Some(backlash.value),
            dimension: Dimension::LENGTH,
            blame: Vec::new(),
            fits_gain: None,
        });
    }
    found
}
