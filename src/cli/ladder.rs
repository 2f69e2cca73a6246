//! `audition`: shows the ladder, signs a run off, notes work on the rig.

use super::output::{Failure, Outcome, say};
use crate::audition::Entry;
use crate::drives::Records;
use crate::player::today;
use crate::units::{Dimension, show};
use std::fmt::Write as _;
use std::path::Path;

/// Where the ladder that is meant may be.
const ELSEWHERE: &str = "go to the folder of the profiles, or name theirs with --records";

/// Shows the ladder, or adds to it.
///
/// # Errors
/// When there is nothing to sign, or a file cannot be read or written.
pub(super) fn run(
    records: &Path,
    sign: Option<String>,
    maintenance: Option<String>,
) -> Result<Outcome, Failure> {
    let (records, (day, _)) = (Records::at(records), today());
    let folder = format!("`{}`", records.folder().display());
    if let Some(remark) = maintenance {
        // Noted where nobody looks it would void nothing.
        if records.entries()?.is_empty() {
            return Err(Failure(format!(
                "no run is noted in {folder}, so there is nothing to void: {ELSEWHERE}"
            )));
        }
        records.add(Entry::Maintenance { day, remark })?;
        say(&format!(
            "noted in {folder}: every sign-off before today's work is void; the ladder begins at -12 dB again\n"
        ))?;
        return Ok(Outcome::Clean);
    }
    if let Some(remark) = sign {
        let rung = records.sign(&remark, day)?;
        say(&format!("signed off in {folder}: {} dB {}\n", rung.level_db, rung.load.word()))?;
        return Ok(Outcome::Clean);
    }
    let entries = records.entries()?;
    let mut text = String::new();
    for entry in &entries {
        let _ = match entry {
            Entry::Begun { day, record, .. } => writeln!(text, "day {day}  begun       {record}"),
            Entry::Ended { day, .. } => writeln!(text, "day {day}  ended"),
            Entry::Played { rung, day, record, .. } => {
                writeln!(text, "day {day}  played      {} dB {}  {record}", rung.level_db, rung.load.word())
            }
            Entry::Strayed { day, strayed, .. } => {
                let most_um = strayed.legs_um.iter().max().copied().unwrap_or(0);
                let most = show(f64::from(most_um) * 1e-6, Dimension::LENGTH);
                writeln!(text, "day {day}  strayed     legs up to {most} off their set-points")
            }
            Entry::Signed { rung, day, remark, .. } => {
                writeln!(text, "day {day}  signed off  {} dB {}  {remark}", rung.level_db, rung.load.word())
            }
            Entry::Trip { day, cause, .. } => writeln!(text, "day {day}  TRIP        {cause}"),
            Entry::Maintenance { day, remark } => writeln!(text, "day {day}  maintenance {remark}"),
            Entry::Override { rung, day, reason } => {
                writeln!(text, "day {day}  OVERRIDE    {} dB {}  {reason}", rung.level_db, rung.load.word())
            }
        };
    }
    if text.is_empty() {
        let _ =
            writeln!(text, "the ladder in {folder} is empty: begin at -12 dB, seat vacant, or {ELSEWHERE}");
    }
    say(&text)?;
    Ok(Outcome::Clean)
}
