//! The folder in which commissioning and audition are kept, and the command that shows and signs.

use super::output::{Failure, Outcome, say};
use crate::audition::{Entry, to_sign};
use crate::commissioning::CommissioningRecord;
use crate::files::{self, FileError, MAX_TOML_BYTES};
use crate::player::today;
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::{Path, PathBuf};

fn ladder_file(records: &Path) -> PathBuf {
    records.join("audition.jsonl")
}

fn commissioning_file(records: &Path) -> PathBuf {
    records.join("commissioning.json")
}

/// The ladder's entries; none where there is no file.
///
/// # Errors
/// When the file cannot be read or holds what is no entry: a ladder that is half understood is none.
pub(super) fn read_entries(records: &Path) -> Result<Vec<Entry>, Failure> {
    let path = ladder_file(records);
    let text = match files::read_text(&path, MAX_TOML_BYTES) {
        Ok(text) => text,
        Err(FileError::Missing { .. }) => return Ok(Vec::new()),
        Err(e) => return Err(e.into()),
    };
    let entry = |(at, line): (usize, &str)| {
        serde_json::from_str(line).map_err(|e| Failure(format!("{} line {}: {e}", path.display(), at + 1)))
    };
    text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()).map(entry).collect()
}

/// Adds an entry at the end.
///
/// # Errors
/// When the file cannot be read or written.
pub(super) fn add_entry(records: &Path, entry: Entry) -> Result<(), Failure> {
    let mut entries = read_entries(records)?;
    entries.push(entry);
    let path = ladder_file(records);
    files::make_folder_of(&path)?;
    Ok(files::save(&path, |out| {
        for entry in &entries {
            serde_json::to_writer(&mut *out, entry)?;
            out.write_all(b"\n")?;
        }
        Ok(())
    })?)
}

/// The commissioning record, where there is one.
///
/// # Errors
/// When it cannot be read.
pub(super) fn read_commissioning(records: &Path) -> Result<Option<CommissioningRecord>, Failure> {
    let path = commissioning_file(records);
    match files::read_text(&path, MAX_TOML_BYTES) {
        Ok(text) => serde_json::from_str(&text)
            .map(Some)
            .map_err(|e| Failure(format!("{}: {e}; commission anew", path.display()))),
        Err(FileError::Missing { .. }) => Ok(None),
        Err(e) => Err(e.into()),
    }
}

/// Keeps a commissioning record.
///
/// # Errors
/// When it cannot be written.
pub(super) fn keep_commissioning(records: &Path, record: &CommissioningRecord) -> Result<PathBuf, Failure> {
    let path = commissioning_file(records);
    files::make_folder_of(&path)?;
    files::save(&path, |out| serde_json::to_writer_pretty(out, record).map_err(std::io::Error::from))?;
    Ok(path)
}

/// Shows the ladder, or adds to it.
///
/// # Errors
/// When there is nothing to sign, or a file cannot be read or written.
pub(super) fn run(
    records: &Path,
    sign: Option<String>,
    maintenance: Option<String>,
) -> Result<Outcome, Failure> {
    let (day, _) = today();
    if let Some(remark) = maintenance {
        add_entry(records, Entry::Maintenance { day, remark })?;
        say("noted: every sign-off before today's work is void; the ladder begins at -12 dB again\n")?;
        return Ok(Outcome::Clean);
    }
    let entries = read_entries(records)?;
    if let Some(remark) = sign {
        let (rung, key) = to_sign(&entries).ok_or_else(|| {
            Failure("there is no run to sign off: play a level to its end first, without a fault".into())
        })?;
        add_entry(records, Entry::Signed { rung, key, day, remark })?;
        say(&format!("signed off: {} dB {}\n", rung.level_db, rung.load.word()))?;
        return Ok(Outcome::Clean);
    }
    let mut text = String::new();
    for entry in &entries {
        let _ = match entry {
            Entry::Played { rung, day, record, .. } => {
                writeln!(text, "day {day}  played      {} dB {}  {record}", rung.level_db, rung.load.word())
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
    say(if text.is_empty() { "the ladder is empty: begin at -12 dB, seat vacant\n" } else { &text })?;
    Ok(Outcome::Clean)
}
