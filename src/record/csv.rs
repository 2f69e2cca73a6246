//! Rows and notes as text: `# key: value` lines, one line of column names, one line a cycle, `# event: time words`.
//!
//! Every line is complete in itself, so that a log that was cut off is good up to its last line's end. Columns carry
//! their unit in their names. Numbers have fixed decimals: nanometres, tenths of a microradian, microseconds.

use super::check_notes::CheckNotes;
use super::row::{Note, Row};
use crate::safety::Outcome;
use std::io::{self, Write};

/// The version of this layout.
pub(super) const LAYOUT: &str = "1";

/// What stands above the rows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Header {
    /// Keys and values, in order: program version, hashes, gain, link. Line breaks in them become spaces.
    pub entries: Vec<(String, String)>,
    /// A name a leg.
    pub legs: Vec<String>,
    /// A name with its unit a platform coordinate: `pitch_rad`.
    pub axes: Vec<String>,
    /// What the check said of the scene; in containers only.
    pub check: CheckNotes,
}

impl Header {
    /// The columns, in order.
    pub fn columns(&self) -> Vec<String> {
        let mut columns: Vec<String> =
            ["time_s", "path_s", "state", "clock_rate", "gain", "governor", "late_us"]
                .map(String::from)
                .into();
        columns.extend(self.axes.iter().map(|axis| format!("planned {axis}")));
        for leg in &self.legs {
            columns.extend(["planned", "sent", "measured"].map(|what| format!("{leg} {what}_m")));
        }
        columns
    }
}

/// One line, whatever the text holds.
fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// A field of a CSV line (RFC 4180 quoting, from memory).
fn field(text: &str) -> String {
    let text = one_line(text);
    if text.contains([',', '"', '#']) { format!("\"{}\"", text.replace('"', "\"\"")) } else { text }
}

/// Writes the lines above the rows and the column names.
///
/// # Errors
/// Those of `to`.
pub fn write_header(to: &mut dyn Write, header: &Header) -> io::Result<()> {
    writeln!(to, "# layout: {LAYOUT}")?;
    for (key, value) in &header.entries {
        writeln!(to, "# {}: {}", one_line(key).replace(':', " "), one_line(value))?;
    }
    let columns: Vec<String> = header.columns().iter().map(|c| field(c)).collect();
    writeln!(to, "{}", columns.join(","))
}

/// The governor's word for an outcome: `follows`, `tripped`, or what holds it back.
pub(super) fn governor_word(outcome: &Outcome) -> &'static str {
    match outcome {
        Outcome::Followed => "follows",
        Outcome::Held(hold) => hold.word(),
        Outcome::Tripped(_) => "tripped",
    }
}

/// Writes one row with `axes` platform coordinates.
///
/// # Errors
/// Those of `to`.
pub fn write_row(to: &mut dyn Write, row: &Row, axes: usize) -> io::Result<()> {
    // Seconds from whole microseconds without a division that rounds.
    write!(to, "{}.{:06},", row.time_us / 1_000_000, row.time_us % 1_000_000)?;
    write!(
        to,
        "{:.6},{},{:.6},{:.6},{},{}",
        row.path_s,
        row.state.word(),
        row.rate,
        row.gain,
        governor_word(&row.outcome),
        row.late_us
    )?;
    for value in row.platform.iter().take(axes) {
        number(to, *value)?;
    }
    for (leg, (planned, sent)) in row.planned_m.iter().zip(row.sent_m.iter()).enumerate() {
        number(to, *planned)?;
        number(to, *sent)?;
        number(to, row.measured_m.as_ref().and_then(|m| m.get(leg)).copied().unwrap_or(f64::NAN))?;
    }
    writeln!(to)
}

/// A comma and a number; nothing after the comma where there is no number.
fn number(to: &mut dyn Write, value: f64) -> io::Result<()> {
    if value.is_finite() { write!(to, ",{value:.9}") } else { write!(to, ",") }
}

/// Writes one note.
///
/// # Errors
/// Those of `to`.
pub fn write_note(to: &mut dyn Write, note: &Note, leg_names: &[String]) -> io::Result<()> {
    let words = one_line(&note.what.words(leg_names));
    writeln!(to, "# event: {}.{:06} {words}", note.time_us / 1_000_000, note.time_us % 1_000_000)
}
