//! Bands of frequencies that the rig file wants avoided.

use crate::check::Finding;
use crate::check::band_share::{Worst, watched};
use crate::check::blame::shares;
use crate::diag::{Diagnostic, Rule};
use crate::motion::Plan;
use crate::rig::AvoidBand;
use crate::scenario::Content;
use crate::units::{Dimension, show};

pub(crate) const RULE: Rule = Rule { slug: "avoided-band", text: TEXT };

const TEXT: &str = "\
What it checks: in every stretch of about four seconds, the share of an axis's r.m.s. acceleration inside a band of the
rig file's `[[avoid]]` stays below the share that the file allows. Stretches too quiet to shake anything are left out.

Why it matters: a frame or a joint that is soft at some frequency answers a small push there with a large swing.

Example: `roll noise(0.05 deg, 8 Hz..14 Hz)` on a frame that sways at 12 Hz.

Write instead: a band that ends below or starts above the one to avoid. A smaller gain does not help: it is a share.
";

/// The band of a layer as played meets the band to avoid; pulses and edges have no band of their own and may meet any.
pub(super) fn may_meet(plan: &Plan, layer: usize, band: &AvoidBand) -> bool {
    match &plan.scenario().layers[layer].content {
        Content::Signal(signal) => {
            plan.band_hz(signal).is_none_or(|(low, high)| low <= band.high_hz && high >= band.low_hz)
        }
        Content::SoundFile { .. } => false,
    }
}

pub(in crate::check) fn findings(plan: &Plan, worst: &[Worst]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for ((at, band), worst) in watched(plan.rig()).into_iter().zip(worst) {
        if worst.share <= band.share || super::resonance::is_mode(band) {
            continue;
        }
        let axis = plan.rig().axes[at].axis.word();
        // Acceleration over the window around it: what each layer does there in its middle, by size.
        let meets = |layer: usize| may_meet(plan, layer, band);
        let mut blame = shares(plan, worst.at_s, &mut |coordinate, jet| {
            if coordinate == at { jet.0[2].abs() } else { 0.0 }
        });
        blame.retain(|blame| meets(blame.layer));
        let span = blame.first().map_or(plan.scenario().title_span, |blame| blame.span);
        let hz = |hz| show(hz, Dimension::FREQUENCY);
        let title = format!(
            "{:.0} % of the {axis} acceleration around {:.1} s lies in `{}`, {} to {}; the rig file allows {:.0} %",
            worst.share * 100.0,
            worst.at_s,
            band.name,
            hz(band.low_hz),
            hz(band.high_hz),
            band.share * 100.0
        );
        findings.push(Finding {
            diagnostic: Diagnostic::error("avoided-band", span, title)
                .also(band.span, "the band to avoid")
                .help(format!(
                    "end the band below {}, or start it above {}",
                    hz(band.low_hz),
                    hz(band.high_hz)
                )),
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
