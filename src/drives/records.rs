//! The folder in which commissioning, audition, wear and sweeps are kept: files that are read whole or not at all.

use super::{Carrier, DriveError};
use crate::audition::{Entry, Unsigned, expected_m, to_sign};
use crate::commissioning::{BrakeTest, CommissioningRecord};
use crate::files::{self, FileError, Lock, MAX_TOML_BYTES, Sharing};
use crate::link::FarEnd;
use crate::motion::Plan;
use crate::player::wait;
use crate::record::{Sweep, Wear};
use crate::rig::Rig;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// A lock that others hold is looked at again after so long, so often: 5 s in all (own choice: whoever writes has read
/// before, and is done in far less).
const LOOK: (Duration, u32) = (Duration::from_millis(10), 500);

/// The folder of the records.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Records(PathBuf);

impl Records {
    /// In `folder`, which need not be there yet.
    pub fn at(folder: &Path) -> Self {
        Self(folder.to_path_buf())
    }

    /// In `folder`, for what `carrier` carries. Those of simulated drives are kept apart, in `simulated` in it: what was
    /// tried there says nothing of steel, and must not take the place of what was.
    pub fn of(folder: &Path, carrier: Carrier) -> Self {
        match carrier {
            Carrier::Sim => Self(folder.join("simulated")),
            _ => Self::at(folder),
        }
    }

    /// Where they are.
    pub fn folder(&self) -> &Path {
        &self.0
    }

    /// Between reading a file here and writing it anew nobody else may: of two who do, the first would lose its word.
    fn alone(&self) -> Result<Lock, DriveError> {
        Ok(patient(&self.0.join("writing.lock"), Sharing::Alone)?)
    }

    fn runs_lock(&self) -> PathBuf {
        self.0.join("runs.lock")
    }

    /// Says, as long as what is returned is kept, that a run on drives is under way: nothing can be noted meanwhile that
    /// would make void what it goes by. Runs do not keep each other out.
    ///
    /// # Errors
    /// When somebody is just noting such a thing and is not done in 5 s, or nothing can be locked here.
    pub fn under_way(&self) -> Result<UnderWay<'_>, DriveError> {
        let lock = patient(&self.runs_lock(), Sharing::Together)?;
        Ok(UnderWay { records: self, _lock: lock })
    }

    fn ladder_file(&self) -> PathBuf {
        self.0.join("audition.jsonl")
    }

    fn commissioning_file(&self) -> PathBuf {
        self.0.join("commissioning.json")
    }

    fn wear_file(&self) -> PathBuf {
        self.0.join("wear.json")
    }

    /// What legs and brakes have done in all runs on these drives.
    ///
    /// # Errors
    /// When the file is there and cannot be read.
    pub fn wear(&self) -> Result<Wear, DriveError> {
        let path = self.wear_file();
        match files::read_text(&path, MAX_TOML_BYTES) {
            Ok(text) => {
                let why = |e: serde_json::Error| format!("{e}; move the file away to count anew");
                serde_json::from_str(&text).map_err(|e| DriveError::Entry { path, line: None, why: why(e) })
            }
            Err(FileError::Missing { .. }) => Ok(Wear::default()),
            Err(e) => Err(e.into()),
        }
    }

    /// Adds what a run did; nothing where there was none.
    ///
    /// # Errors
    /// When the file cannot be read or written.
    pub fn worn(&self, run: &Wear) -> Result<(), DriveError> {
        if run.runs == 0 {
            return Ok(());
        }
        let _alone = self.alone()?;
        let mut wear = self.wear()?;
        wear.add(run);
        let path = self.wear_file();
        files::make_folder_of(&path)?;
        Ok(files::save(&path, |out| serde_json::to_writer_pretty(out, &wear).map_err(std::io::Error::from))?)
    }

    fn sweeps_file(&self) -> PathBuf {
        self.0.join("sweeps.jsonl")
    }

    /// The sweeps that were kept, with their days; the first is what others are held against.
    ///
    /// # Errors
    /// When the file is there and cannot be read.
    pub fn sweeps(&self) -> Result<Vec<(u64, Sweep)>, DriveError> {
        lines(&self.sweeps_file())
    }

    /// Keeps a sweep of a day.
    ///
    /// # Errors
    /// When the file cannot be read or written.
    pub fn keep_sweep(&self, day: u64, sweep: &Sweep) -> Result<(), DriveError> {
        let _alone = self.alone()?;
        let mut sweeps = self.sweeps()?;
        sweeps.push((day, sweep.clone()));
        save_lines(&self.sweeps_file(), &sweeps)
    }

    /// The ladder's entries; none where there is no file.
    ///
    /// # Errors
    /// When the file cannot be read or holds what is no entry: a ladder that is half understood is none.
    pub fn entries(&self) -> Result<Vec<Entry>, DriveError> {
        lines(&self.ladder_file())
    }

    /// A plan that is checked on `day` with what its rig's legs strayed by in runs before, where that is known.
    ///
    /// # Errors
    /// When the ladder's file cannot be read.
    pub fn straying(&self, plan: &Plan, day: u64) -> Result<Plan, DriveError> {
        let expected_m = expected_m(&self.entries()?, &plan.rig().hash, plan.gain(), day);
        Ok(plan.with_stray(expected_m))
    }

    /// Adds an entry at the end.
    ///
    /// # Errors
    /// When the file cannot be read or written.
    pub fn add(&self, entry: Entry) -> Result<(), DriveError> {
        self.add_all([entry])
    }

    /// Adds entries at the end, all of them or none.
    ///
    /// # Errors
    /// When the file cannot be read or written.
    pub fn add_all(&self, more: impl IntoIterator<Item = Entry>) -> Result<(), DriveError> {
        let _alone = self.alone()?;
        self.add_to(self.entries()?, more)
    }

    /// Only with the lock, held since `entries` were read.
    fn add_to(
        &self,
        mut entries: Vec<Entry>,
        more: impl IntoIterator<Item = Entry>,
    ) -> Result<(), DriveError> {
        entries.extend(more);
        save_lines(&self.ladder_file(), &entries)
    }

    /// Signs the last run off with what was noticed; which run that was. Where somebody was `shown` which run is meant, that
    /// one and no other.
    ///
    /// # Errors
    /// When nothing was noticed in words, there is no run to sign, another than was shown, or only one that is too old, or
    /// the file cannot be read or written.
    pub fn sign(&self, remark: &str, day: u64, shown: Option<&Unsigned>) -> Result<Unsigned, DriveError> {
        let remark = in_words(remark, "what was noticed of the run")?;
        let _alone = self.alone()?;
        let entries = self.entries()?;
        let run = to_sign(&entries).ok_or(DriveError::NothingToSign)?;
        if shown.is_some_and(|shown| *shown != run) {
            return Err(DriveError::NotSigned(format!(
                "another run was played since: {}; look again",
                run.words()
            )));
        }
        if let Some(why) = run.too_old(day) {
            return Err(DriveError::NotSigned(why));
        }
        let Unsigned { rung, key, day: played, .. } = run.clone();
        self.add_to(entries, [Entry::Signed { rung, key, played, day, remark }])?;
        Ok(run)
    }

    /// Notes that somebody worked on the rig, which makes every sign-off before it void. Not while a run is under way, for
    /// that goes by what was vouched for when it began. One that was killed is under way no more.
    ///
    /// # Errors
    /// When it does not say what was done, a run is under way, no run was ever noted here, or the file cannot be read or
    /// written.
    pub fn maintain(&self, remark: &str, day: u64) -> Result<(), DriveError> {
        let remark = in_words(remark, "what was done to the rig")?;
        // Noted where nobody looks it would void nothing.
        if self.entries()?.is_empty() {
            return Err(DriveError::NothingToVoid { folder: self.0.clone() });
        }
        let _nobody = match files::lock(&self.runs_lock(), Sharing::Alone) {
            Ok(lock) => lock,
            Err(FileError::Held { .. }) => return Err(DriveError::UnderWay { folder: self.0.clone() }),
            Err(error) => return Err(error.into()),
        };
        self.add(Entry::Maintenance { day, remark })
    }

    /// The commissioning record, where there is one.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn commissioning(&self) -> Result<Option<CommissioningRecord>, DriveError> {
        let path = self.commissioning_file();
        match files::read_text(&path, MAX_TOML_BYTES) {
            Ok(text) => serde_json::from_str(&text).map(Some).map_err(|e| DriveError::Entry {
                path,
                line: None,
                why: format!("{e}; commission anew"),
            }),
            Err(FileError::Missing { .. }) => Ok(None),
            Err(e) => Err(e.into()),
        }
    }

    /// The record to which a test of the brakes on `day` would be added.
    ///
    /// # Errors
    /// When there is none, or it does not hold for this rig and these drives whatever its brakes, or cannot be read.
    pub fn before_brakes(
        &self,
        rig: &Rig,
        far: &FarEnd,
        day: u64,
    ) -> Result<CommissioningRecord, DriveError> {
        let record = self.commissioning()?.ok_or(DriveError::NotCommissioned)?;
        match record.void_but_for_brakes(rig, far, day) {
            Some(why) => Err(DriveError::Void(why)),
            None => Ok(record),
        }
    }

    /// Keeps what the brakes held, in the place of what they held the last time; where.
    ///
    /// # Errors
    /// When there is no record, or it does not hold for this rig and these drives even so, or cannot be written.
    pub fn brakes_tested(&self, rig: &Rig, far: &FarEnd, test: BrakeTest) -> Result<PathBuf, DriveError> {
        let _alone = self.alone()?;
        let (before, day) = (self.before_brakes(rig, far, test.day)?, test.day);
        let record = CommissioningRecord { brakes: test, ..before };
        match record.void(rig, far, day) {
            Some(why) => Err(DriveError::Void(why)),
            None => self.save_commissioning(&record),
        }
    }

    /// Keeps a commissioning record; where.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn keep_commissioning(&self, record: &CommissioningRecord) -> Result<PathBuf, DriveError> {
        let _alone = self.alone()?;
        self.save_commissioning(record)
    }

    /// Only with the lock.
    fn save_commissioning(&self, record: &CommissioningRecord) -> Result<PathBuf, DriveError> {
        let path = self.commissioning_file();
        files::make_folder_of(&path)?;
        files::save(&path, |out| serde_json::to_writer_pretty(out, record).map_err(std::io::Error::from))?;
        Ok(path)
    }
}

/// A run on drives that is under way with these records; over when dropped.
#[derive(Debug)]
pub struct UnderWay<'a> {
    records: &'a Records,
    _lock: Lock,
}

impl UnderWay<'_> {
    /// The records.
    pub fn records(&self) -> &Records {
        self.records
    }
}

/// A lock for which one waits, and not for ever.
fn patient(path: &Path, sharing: Sharing) -> Result<Lock, FileError> {
    let (pause, times) = LOOK;
    for _ in 0..times {
        match files::lock(path, sharing) {
            Err(FileError::Held { .. }) => wait(pause),
            locked => return locked,
        }
    }
    files::lock(path, sharing)
}

/// `text` without the space around it; `what` it is, where it is empty.
pub(super) fn in_words(text: &str, what: &'static str) -> Result<String, DriveError> {
    match text.trim() {
        "" => Err(DriveError::NoWords(what)),
        words => Ok(words.to_string()),
    }
}

/// A file of one a line may be so large: ten runs a day for ten years and more.
const MAX_LINES_BYTES: u64 = 64_000_000;

/// What stands in a file, one a line; nothing where there is no file.
fn lines<T: DeserializeOwned>(path: &Path) -> Result<Vec<T>, DriveError> {
    let text = match files::read_text(path, MAX_LINES_BYTES) {
        Ok(text) => text,
        Err(FileError::Missing { .. }) => return Ok(Vec::new()),
        Err(e) => return Err(e.into()),
    };
    let read = |(at, line): (usize, &str)| {
        serde_json::from_str(line).map_err(|e| {
            // It names a line too, of the one that it was given.
            let what = e.to_string();
            let what = what.rsplit_once(" at line ").map_or(what.as_str(), |(what, _)| what);
            let why = format!(
                "{what} (column {}): it was written by another version or by hand; take that line out, or move the file \
                 away, to keep it, and begin anew",
                e.column()
            );
            entry_error(path, Some(at + 1), why)
        })
    };
    text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()).map(read).collect()
}

fn entry_error(path: &Path, line: Option<usize>, why: String) -> DriveError {
    DriveError::Entry { path: path.to_path_buf(), line, why }
}

/// Writes a file of one a line, whole or not at all.
fn save_lines<T: Serialize>(path: &Path, all: &[T]) -> Result<(), DriveError> {
    let mut text = Vec::new();
    for one in all {
        serde_json::to_writer(&mut text, one).map_err(|e| entry_error(path, None, e.to_string()))?;
        text.push(b'\n');
    }
    // What could not be read again is not written: the run would count as one that never ended.
    if text.len() as u64 > MAX_LINES_BYTES {
        let why = "it is full (64 MB): move it away, to keep it; then everything in it begins anew";
        return Err(entry_error(path, None, why.to_string()));
    }
    files::make_folder_of(path)?;
    Ok(files::save(path, |out| out.write_all(&text))?)
}

#[cfg(test)]
mod tests;
