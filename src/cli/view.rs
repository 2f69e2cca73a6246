//! What a check has to tell, gathered once for every form of output.

use crate::check::{Finding, LayerSummary, Margin, Report, Unchecked};
use crate::diag::{Severity, Sources, Span};
use crate::lang::tree::Line;
use crate::rig::advice::RULES;
use crate::scenario::Scenario;
use crate::units::Dimension;
use std::path::Path;

/// A profile and what was found in it.
pub(super) struct View {
    /// The profile as typed.
    pub(super) profile: String,
    /// The scene's title, when there is one.
    pub(super) scene: Option<String>,
    /// All texts.
    pub(super) sources: Sources,
    /// The rig, when it could be read.
    pub(super) rig: Option<RigView>,
    /// The gain asked for, a factor.
    pub(super) gain: f64,
    /// Samples a second.
    pub(super) rate_hz: u32,
    /// Errors first; of each severity, mistakes in the texts first, then what the check found, worst first.
    pub(super) findings: Vec<Finding>,
    /// What the check measured; `None` when the texts' mistakes kept it from running.
    pub(super) measured: Option<Measured>,
}

/// Which rig.
pub(super) struct RigView {
    /// Its file.
    pub(super) file: String,
    /// Its name.
    pub(super) name: String,
    /// SHA-256 of its text.
    pub(super) hash: String,
}

/// Numbers of a check that ran.
pub(super) struct Measured {
    /// The scene's length, s.
    pub(super) duration_s: f64,
    /// Placed statements, repetitions one by one.
    pub(super) placements: usize,
    /// Most used first.
    pub(super) margins: Vec<Margin>,
    /// In the scene's order.
    pub(super) layers: Vec<LayerView>,
    /// The largest gain from 0 to which all fits.
    pub(super) fits_gain: Option<f64>,
    /// How the check holds between samples.
    pub(super) bound: String,
    /// What was not checked, for want of data.
    pub(super) not_checked: Vec<Unchecked>,
}

/// One layer's strength.
pub(super) struct LayerView {
    /// Its label.
    pub(super) label: String,
    /// Its channel's word.
    pub(super) channel: &'static str,
    /// Its statement.
    pub(super) span: Span,
    /// Largest value, SI or a part of full scale.
    pub(super) peak: f64,
    /// Root of the mean square; `None` for a sound file.
    pub(super) rms: Option<f64>,
    /// What both measure.
    pub(super) dimension: Dimension,
}

impl View {
    /// Takes away what looks odd in the rig file: it was said under another profile.
    pub(super) fn forget_doubts(&mut self) {
        let is_doubt = |finding: &Finding| RULES.iter().any(|rule| rule.slug == finding.diagnostic.rule);
        self.findings.retain(|finding| !is_doubt(finding));
    }

    /// The files that were read: profile, libraries, settings, rig file.
    pub(super) fn inputs(&self) -> impl Iterator<Item = &Path> {
        self.sources.iter().map(|(_, text)| Path::new(text.name()))
    }

    /// Whether something must be changed before it can be played; `strict` counts warnings.
    pub(super) fn has_findings(&self, strict: bool) -> bool {
        let least = if strict { Severity::Warning } else { Severity::Error };
        self.findings.iter().any(|finding| finding.diagnostic.severity >= least)
    }
}

impl Measured {
    /// The numbers of a report on `scenario`.
    pub(super) fn of(report: &Report, scenario: &Scenario) -> Self {
        Self {
            duration_s: report.duration_s,
            placements: scenario.placements.len(),
            margins: report.margins.clone(),
            layers: report.layers.iter().filter_map(|summary| layer(summary, scenario)).collect(),
            fits_gain: report.fits_gain,
            bound: report.bound.clone(),
            not_checked: report.not_checked.clone(),
        }
    }
}

fn layer(summary: &LayerSummary, scenario: &Scenario) -> Option<LayerView> {
    let layer = scenario.layers.get(summary.layer)?;
    let (channel, dimension) = (layer.line.word(), dimension(layer.line));
    let (peak, rms) = (summary.peak, summary.rms);
    Some(LayerView { label: layer.label.clone(), channel, span: layer.span, peak, rms, dimension })
}

/// What a channel measures.
fn dimension(line: Line) -> Dimension {
    match line {
        Line::Pitch | Line::Roll | Line::Yaw => Dimension::ANGLE,
        Line::Surge | Line::Sway | Line::Heave => Dimension::LENGTH,
        Line::Sound | Line::Shaker => Dimension::NUMBER,
    }
}
