//! What the check said of a scene before it was played, for the head of its record.

use crate::check::Report;
use crate::diag::Sources;

/// Something that the check found or did not look at.
#[derive(Debug, Clone, PartialEq)]
pub struct FindingNote {
    /// `error`, `warning`, `note`, or `not checked`.
    pub severity: &'static str,
    /// The rule's slug.
    pub rule: &'static str,
    /// What was found; what the rig file lacks.
    pub words: String,
    /// File and line.
    pub place: Option<(String, u32)>,
    /// Leg or axis.
    pub part: Option<String>,
    /// When, s of the scene.
    pub at_s: Option<f64>,
    /// Found, in `unit`.
    pub value: Option<f64>,
    /// Allowed, in `unit`.
    pub limit: Option<f64>,
    /// SI; `None` where nothing was measured.
    pub unit: Option<String>,
}

/// How near a scene comes to a limit.
#[derive(Debug, Clone, PartialEq)]
pub struct MarginNote {
    /// Leg or axis.
    pub part: String,
    /// What is measured.
    pub quantity: &'static str,
    /// Largest value, in `unit`.
    pub peak: f64,
    /// What it cannot exceed between samples, in `unit`.
    pub bound: f64,
    /// In `unit`.
    pub limit: f64,
    /// Part of the way to the limit.
    pub used: f64,
    /// SI.
    pub unit: String,
    /// When, s of the scene.
    pub at_s: f64,
}

/// What the check said; nothing where a run was not checked, as in tests.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CheckNotes {
    /// Worst first, what was not looked at last.
    pub findings: Vec<FindingNote>,
    /// Most used first.
    pub margins: Vec<MarginNote>,
}

impl CheckNotes {
    /// By a report; `sources` are the texts that its places are in.
    pub fn of(report: &Report, sources: &Sources) -> Self {
        let found = report.findings.iter().map(|finding| {
            let (file, at) = sources.place(finding.diagnostic.primary.span);
            let is_measured = finding.value.is_some() || finding.limit.is_some();
            FindingNote {
                severity: finding.diagnostic.severity.word(),
                rule: finding.diagnostic.rule,
                words: finding.diagnostic.title.clone(),
                place: Some((file.to_string(), at.line)),
                part: finding.part.clone(),
                at_s: finding.at_s,
                value: finding.value,
                limit: finding.limit,
                unit: is_measured.then(|| finding.dimension.si_unit()),
            }
        });
        let left_out = report.not_checked.iter().map(|unchecked| FindingNote {
            severity: "not checked",
            rule: unchecked.rule,
            words: unchecked.missing.to_string(),
            place: None,
            part: None,
            at_s: None,
            value: None,
            limit: None,
            unit: None,
        });
        let margins = report.margins.iter().map(|margin| MarginNote {
            part: margin.part.clone(),
            quantity: margin.quantity.word(),
            peak: margin.peak,
            bound: margin.bound,
            limit: margin.limit,
            used: margin.used,
            unit: margin.dimension.si_unit(),
            at_s: margin.at_s,
        });
        Self { findings: found.chain(left_out).collect(), margins: margins.collect() }
    }
}
