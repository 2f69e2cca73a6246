//! The rig file: TOML with quantities as strings, read with a place for every mistake.
//!
//! The text is read leniently into tables with spans, then section by section; every section reports all that is wrong
//! with it, and what can still be judged about the whole is judged. A rig comes out only when there is no error.

mod can;
mod clearance;
mod crank;
mod drive;
mod joint;
mod judge;
mod keys;
mod legs;
mod limits;
mod loads;
mod motor;
mod names;
mod powertrain;
mod reader;
mod schema;
mod schema_crank;
mod schema_parts;
mod sections;
mod stops;
mod structure;
mod weight;

use super::Rig;
use crate::diag::{Diagnostic, Severity, SourceId, Span, sha256};
use reader::Reader;
use toml::de::DeTable;

pub use schema::schema;

/// The title of the JSON Schema.
pub const SCHEMA_TITLE: &str = "Cueloom rig file";

/// A longer text is no rig file, bytes.
const LONGEST_TEXT: usize = 256 * 1024;
/// Mistakes that one run reports at most.
const MOST_DIAGNOSTICS: usize = 100;

/// What reading a rig file gives.
#[derive(Debug, Clone)]
pub struct Loaded {
    /// The rig; `None` when something that it needs is missing or impossible.
    pub rig: Option<Rig>,
    /// Errors and warnings, in the order of their places.
    pub diagnostics: Vec<Diagnostic>,
}

/// Reads a rig file's text.
pub fn load(source: SourceId, text: &str) -> Loaded {
    let (rig, mut diagnostics) = read(source, text);
    diagnostics.sort_by_key(|diagnostic| (diagnostic.primary.span.start, diagnostic.primary.span.end));
    diagnostics.truncate(MOST_DIAGNOSTICS);
    Loaded { rig, diagnostics }
}

fn read(source: SourceId, text: &str) -> (Option<Rig>, Vec<Diagnostic>) {
    if text.len() > LONGEST_TEXT {
        let title = format!(
            "this text has {} KiB; a rig file has at most {} KiB",
            text.len() / 1024,
            LONGEST_TEXT / 1024
        );
        return (None, vec![Diagnostic::error("rig-size", Span::new(source, 0, 0), title)]);
    }
    let (root, mistakes) = DeTable::parse_recoverable(text);
    if !mistakes.is_empty() {
        let diagnostic = |mistake: &toml::de::Error| {
            let span = mistake.span().unwrap_or(0..0);
            let title = format!("this is not TOML: {}", mistake.message());
            let help = if mistake.message().contains("duplicate key") {
                "a key stands once in its table; of actuators and bands there are several tables, each under a header \
                 in double brackets: `[[actuator]]`"
            } else {
                "each line is `key = value`, with quantities in quotes: `mass = \"130 kg\"`"
            };
            Diagnostic::error("rig-syntax", Span::new(source, span.start, span.end), title).help(help)
        };
        return (None, mistakes.iter().map(diagnostic).collect());
    }
    let mut reader = Reader::new(source);
    let rig = sections::rig(&mut reader, root.get_ref(), sha256(text));
    let errors = reader.diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error);
    (rig.filter(|_| !errors), reader.diagnostics)
}
