//! Motion near a natural frequency of the rig.

use crate::check::Finding;
use crate::check::band_share::{Worst, watched};
use crate::check::blame::shares;
use crate::diag::{Diagnostic, Rule};
use crate::motion::Plan;
use crate::rig::modes::{Model, Side, Springs, bands};
use crate::rig::{AvoidBand, Payload, Rig};
use crate::units::{Dimension, show};

pub(crate) const RULE: Rule = Rule { slug: "resonance", text: TEXT };

const TEXT: &str = "\
What it checks: in every stretch of about four seconds, the share of an axis's r.m.s. acceleration within a tenth of a
natural frequency stays below `share` in `[stiffness]`. The frequencies come from a small model of the platform on its
springs, over all loads, the uncertainty of the springs and poses up to half the range: bands, not lines. *Model only*.

Why it matters: near its natural frequency a rig answers a small push with a large swing, and the drive fights it.

Example: a buffet at 9 Hz on legs whose mounts bend.

Write instead: a band that keeps away from it; the finding says how much stiffer the softest part must be to move the
frequency above the cue. Measure it: tap the platform and read the frequency off an accelerometer, for each load; then
write it as an `[[avoid]]` band.
";

/// What the names of bands that come from the model begin with; quotes cannot stand in a rig file's own names.
const MODE: &str = "\"natural frequency\"";
/// How far around a band motion counts as near, as a share of it (chosen: a rig with a twentieth of critical damping
/// still doubles there).
const NEAR: f64 = 0.1;
/// A mode that moves an axis with less of its kinetic energy is not shaken by it (chosen).
const MOVES: f64 = 0.1;

/// Whether a band comes from the model.
pub(super) fn is_mode(band: &AvoidBand) -> bool {
    band.name.starts_with(MODE)
}

/// The plan with the natural frequencies of its rig among the bands to watch.
pub(in crate::check) fn watch(plan: &Plan) -> Plan {
    let modes = modes(plan.rig());
    if modes.is_empty() {
        return plan.clone();
    }
    let avoid = plan.rig().avoid.iter().cloned().chain(modes).collect();
    plan.on(Rig { avoid, ..Rig::clone(plan.rig()) })
}

fn modes(rig: &Rig) -> Vec<AvoidBand> {
    let Some(structure) = &rig.parts.stiffness else { return Vec::new() };
    let springs = Springs { legs: vec![structure.leg; rig.actuators.len()], joint: structure.joint.clone() };
    let cases: Vec<Payload> = rig.load_cases().into_iter().map(|(_, payload)| payload.clone()).collect();
    let mut poses = vec![vec![0.0; rig.axes.len()]];
    for (j, limits) in rig.axes.iter().enumerate() {
        for end in [limits.min, limits.max] {
            let mut pose = vec![0.0; rig.axes.len()];
            pose[j] = end / 2.0;
            poses.push(pose);
        }
    }
    let level = Model::at(rig, &[], &springs, Side::Middle)
        .and_then(|model| Ok((model.axes.clone(), model.modes()?)));
    let (Ok((axes, shapes)), Ok(bands)) = (level, bands(rig, &poses, &cases, &springs)) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    for (k, (shape, band)) in shapes.iter().zip(bands).enumerate() {
        let (Some(low), Some(high)) = (band.low_hz, band.high_hz) else { continue };
        for (axis, _) in axes.iter().zip(&shape.shares).filter(|(_, share)| **share >= MOVES) {
            if rig.axes.iter().any(|limits| limits.axis == *axis) {
                found.push(AvoidBand {
                    name: format!("{MODE} {}", k + 1),
                    axis: Some(*axis),
                    low_hz: low * (1.0 - NEAR),
                    high_hz: high * (1.0 + NEAR),
                    share: structure.share,
                    span: structure.span,
                });
            }
        }
    }
    found
}

pub(in crate::check) fn findings(plan: &Plan, worst: &[Worst]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for ((at, band), worst) in watched(plan.rig()).into_iter().zip(worst) {
        if !is_mode(band) || worst.share <= band.share {
            continue;
        }
        let Some(limits) = plan.rig().axes.get(at) else { continue };
        let axis = limits.axis.word();
        let mut blame = shares(plan, worst.at_s, &mut |coordinate, jet| {
            if coordinate == at { jet.0[2].abs() } else { 0.0 }
        });
        blame.retain(|blame| super::avoid::may_meet(plan, blame.layer, band));
        let span = blame.first().map_or(plan.scenario().title_span, |blame| blame.span);
        let hz = |hz| show(hz, Dimension::FREQUENCY);
        let title = format!(
            "{:.0} % of the {axis} acceleration around {:.1} s lies near a natural frequency of the rig, {} to {}; \
             [stiffness] allows {:.0} %",
            worst.share * 100.0,
            worst.at_s,
            hz(band.low_hz),
            hz(band.high_hz),
            band.share * 100.0
        );
        // Frequency goes with the root of stiffness.
        let times = (band.high_hz / band.low_hz) * (band.high_hz / band.low_hz);
        findings.push(Finding {
            diagnostic: Diagnostic::warning("resonance", span, title)
                .also(band.span, "its springs")
                .help(format!("keep the cue below {} or above {}", hz(band.low_hz), hz(band.high_hz)))
                .help(format!(
                    "or make what is softest {times:.1} times as stiff: then the frequency lies above all of that band"
                ))
                .help("model only: tap the platform and read the frequency off an accelerometer, for each load"),
            part: Some(axis.to_string()),
            at_s: Some(worst.at_s),
            value: Some(worst.share),
            limit: Some(band.share),
            dimension: Dimension::NUMBER,
            blame,
            fits_gain: None,
        });
    }
    findings
}
