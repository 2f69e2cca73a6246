//! `rig`: what a rig file describes.

use super::args::Format;
use super::compile::read_rig;
use super::json;
use super::output::{Failure, Outcome, say};
use crate::diag::{Severity, Sources};
use crate::rig::summary::{summarise, text};
use std::path::Path;

/// Reads `file` and prints its mistakes and its summary.
///
/// # Errors
/// When it cannot be read.
pub(super) fn run(file: &Path, format: Format) -> Result<Outcome, Failure> {
    let (mut sources, mut diagnostics) = (Sources::new(), Vec::new());
    let (_, rig) = read_rig(file, &mut sources, &mut diagnostics)?;
    let summary = rig.as_deref().map(summarise);
    match format {
        Format::Json => say(&json::rig(&diagnostics, &sources, summary.as_ref()))?,
        _ => super::print_mistakes(&diagnostics, &sources, format)?,
    }
    if let (Some(summary), Format::Human) = (&summary, format) {
        say(&text(summary))?;
    }
    let errors = diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error);
    Ok(if errors || rig.is_none() { Outcome::Findings } else { Outcome::Clean })
}
