//! `audition`: shows the ladder, signs a run off, notes work on the rig.

use super::args::Format;
use super::json;
use super::output::{Failure, Outcome, say};
use crate::audition::{Entry, to_sign};
use crate::drives::{DriveError, Records, levels};
use crate::files::SETTINGS_NAME;
use crate::player::today;
use crate::time::date;
use crate::units::{Dimension, show};
use std::fmt::Write as _;
use std::path::Path;

/// Where the ladder that is meant may be.
const ELSEWHERE: &str = "go to the folder of the profiles, or name theirs with --records";

/// Shows the ladder, or adds to it.
///
/// # Errors
/// When there is nothing to sign, work cannot be noted now, or a file cannot be read or written.
pub(super) fn run(
    records: &Path,
    sign: Option<String>,
    maintenance: Option<String>,
    format: Format,
) -> Result<Outcome, Failure> {
    let (records, (day, _)) = (Records::at(records), today());
    let folder = format!("`{}`", records.folder().display());
    if let Some(remark) = maintenance {
        match records.maintain(&remark, day) {
            Err(error @ DriveError::NothingToVoid { .. }) => {
                return Err(Failure(format!("{error}: {ELSEWHERE}")));
            }
            noted => noted?,
        }
        say(&match format {
            Format::Json => json::noted(records.folder(), &remark),
            _ => format!(
                "noted in {folder}: every sign-off before today's work is void; the ladder begins at its lowest level again\n"
            ),
        })?;
        return Ok(Outcome::Clean);
    }
    if let Some(remark) = sign {
        let run = records.sign(&remark, day, None)?;
        say(&match format {
            Format::Json => json::signed(&run),
            _ => format!("signed off in {folder}: {}\n", run.words()),
        })?;
        return Ok(Outcome::Clean);
    }
    let levels = levels(Path::new(SETTINGS_NAME))?;
    let entries = records.entries()?;
    if format == Format::Json {
        say(&json::ladder(&levels, &entries, to_sign(&entries).as_ref()))?;
        return Ok(Outcome::Clean);
    }
    let mut text = String::new();
    for entry in &entries {
        let day = date(entry.day());
        let _ = match entry {
            Entry::Begun { record, .. } => writeln!(text, "{day}  begun       {record}"),
            Entry::Ended { .. } => writeln!(text, "{day}  ended"),
            Entry::Played { rung, record, .. } => {
                writeln!(text, "{day}  played      {}  {record}", rung.words())
            }
            Entry::Strayed { strayed, .. } => {
                let most_um = strayed.legs_um.iter().max().copied().unwrap_or(0);
                let most = show(f64::from(most_um) * 1e-6, Dimension::LENGTH);
                writeln!(text, "{day}  strayed     legs up to {most} off their set-points")
            }
            Entry::Signed { rung, remark, .. } => {
                writeln!(text, "{day}  signed off  {}  {remark}", rung.words())
            }
            Entry::Trip { cause, .. } => writeln!(text, "{day}  TRIP        {cause}"),
            Entry::Maintenance { remark, .. } => writeln!(text, "{day}  maintenance {remark}"),
            Entry::Override { rung, reason, .. } => {
                writeln!(text, "{day}  OVERRIDE    {}  {reason}", rung.words())
            }
        };
    }
    if text.is_empty() {
        let lowest = levels.lowest_db();
        let _ = writeln!(
            text,
            "the ladder in {folder} is empty: begin at {lowest} dB, seat vacant, or {ELSEWHERE}"
        );
    }
    let _ = writeln!(text, "its levels here are {}", levels.words());
    say(&text)?;
    Ok(Outcome::Clean)
}
