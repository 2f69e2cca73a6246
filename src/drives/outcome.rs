//! What a run on drives leaves in the ladder's file: a word before anything moves, so that a run whose end nobody wrote down
//! is known; and what came of it when it is over: a trip takes the ladder back, a whole run can be signed off.

use super::{DriveError, Records, Vouched};
use crate::audition::{Entry, Strayed};
use crate::player::{PlayError, Played};
use crate::safety::operation::State;
use std::path::Path;

/// Why a run that was played to its end cannot be signed off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unfit {
    /// It did not end parked.
    NotParked,
    /// The governor held back in so many cycles: that was not the scene.
    HeldBack(u64),
    /// Its record is not whole.
    RecordBroken,
}

impl Unfit {
    fn words(self) -> String {
        match self {
            Unfit::NotParked => "it did not end parked; after the scene, park it before the end".to_string(),
            Unfit::HeldBack(cycles) => format!(
                "the governor held back in {cycles} cycles, so that what moved was not the scene; see its record, and \
                 `cueloom check`"
            ),
            Unfit::RecordBroken => "its record is not whole; make room on the disk".to_string(),
        }
    }
}

/// What a run has left in the ladder's file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kept {
    /// A fault or an emergency stop came up: the ladder begins anew.
    Tripped,
    /// It was played to its end and parked, and can be signed off.
    Played,
    /// It was played to its end and parked, but weaker than its level: the least factor on the gain.
    Lowered(f64),
    /// It was played to its end and parked, but the ladder was overridden for it.
    Overridden,
    /// It was played to its end, but so that it counts for nothing.
    Unfit(Unfit),
    /// Nothing: it was not played to its end.
    Nothing,
}

impl Kept {
    /// In a word, for programs.
    pub fn word(self) -> &'static str {
        match self {
            Kept::Tripped => "tripped",
            Kept::Played => "played",
            Kept::Lowered(_) => "lowered",
            Kept::Overridden => "overridden",
            Kept::Unfit(_) => "unfit",
            Kept::Nothing => "nothing",
        }
    }

    /// In words; empty for nothing.
    pub fn words(self) -> String {
        match self {
            Kept::Tripped => "this run was tripped: the ladder begins at its lowest level, seat vacant, again".to_string(),
            Kept::Played => "played to its end".to_string(),
            Kept::Lowered(gain) => format!(
                "played to its end, but with the gain lowered to {gain} of its level: that is not this level, and cannot be \
                 signed off"
            ),
            Kept::Overridden => {
                "played to its end, but by an override: that cannot be signed off; begin where the ladder is open".to_string()
            }
            Kept::Unfit(why) => format!(
                "played to its end, but it cannot be signed off (a sign-off now would be of a run before it): {}",
                why.words()
            ),
            Kept::Nothing => String::new(),
        }
    }
}

/// What is left of a run, and why some of it could not be kept.
#[derive(Debug)]
pub struct Left {
    /// What the ladder's file has of it.
    pub kept: Kept,
    /// Why the ladder's file has nothing of it: it then has a run that was begun, which counts as a trip.
    pub not_kept: Option<DriveError>,
    /// Why its wear was not counted.
    pub not_counted: Option<DriveError>,
}

impl Left {
    /// What could not be kept, in words.
    pub fn failed(&self) -> Vec<String> {
        let not_kept = |error| {
            format!(
                "what came of this run could not be written into the ladder's file, where it counts as a trip now: {error}"
            )
        };
        let not_counted = |error| format!("the wear of this run was not counted: {error}");
        let ladder = self.not_kept.as_ref().map(not_kept);
        ladder.into_iter().chain(self.not_counted.as_ref().map(not_counted)).collect()
    }
}

/// Writes down that a run is about to begin, its record at `log`. To be done before anything can move.
///
/// # Errors
/// When it cannot be written: then nothing may begin.
pub fn begin(records: &Records, vouched: &Vouched, day: u64, log: &Path) -> Result<(), DriveError> {
    let (drives, record) = (vouched.key.drives.clone(), log.display().to_string());
    records.add(Entry::Begun { drives, day, record })
}

/// Takes back that a run was about to begin, where `error` says that nothing can have moved.
///
/// # Errors
/// When it cannot be written: then it counts as tripped.
pub fn never_begun(
    records: &Records,
    vouched: &Vouched,
    day: u64,
    error: &PlayError,
) -> Result<(), DriveError> {
    match error {
        // A thread that failed may have moved legs before.
        PlayError::Thread(_) => Ok(()),
        _ => records.add(Entry::Ended { drives: vouched.key.drives.clone(), day }),
    }
}

/// Writes down what a run at `gain` (a factor) leaves on a day, all of it or nothing. Whether a fault or an emergency stop
/// came up at any time is not in its last state alone; so it was counted.
pub fn keep(
    records: &Records,
    played: &Played,
    vouched: &Vouched,
    (day, gain): (u64, f64),
    log: &Path,
) -> Left {
    let not_counted = records.worn(&played.wear).err();
    let (key, drives) = (vouched.key.clone(), vouched.key.drives.clone());
    let kept = kept(played, vouched);
    let mut entries = Vec::new();
    // Which of it came at which gain is not known, and taken for the level's it would be too little.
    if let Some(strayed_m) = played.strayed_m.as_ref().filter(|_| played.least_gain == 1.0) {
        let strayed = Strayed::of(gain, strayed_m.iter().copied());
        entries.push(Entry::Strayed { key: key.clone(), day, strayed });
    }
    match kept {
        Kept::Tripped => {
            let cause = played.tripped.map_or("", |cause| cause.words()).to_string();
            entries.push(Entry::Trip { drives: drives.clone(), day, cause });
        }
        Kept::Played => {
            let record = log.display().to_string();
            entries.push(Entry::Played { rung: vouched.rung, key, day, record });
        }
        Kept::Lowered(_) | Kept::Overridden | Kept::Unfit(_) | Kept::Nothing => {}
    }
    entries.push(Entry::Ended { drives, day });
    match records.add_all(entries) {
        Ok(()) => Left { kept, not_kept: None, not_counted },
        Err(error) => Left { kept: Kept::Tripped, not_kept: Some(error), not_counted },
    }
}

fn kept(played: &Played, vouched: &Vouched) -> Kept {
    if played.tripped.is_some() {
        return Kept::Tripped;
    }
    let parked = played.run.is_some_and(|run| run.state() == State::Parked);
    match played {
        Played { played_out: false, .. } => Kept::Nothing,
        Played { log_error: Some(_), .. } => Kept::Unfit(Unfit::RecordBroken),
        Played { interventions: cycles @ 1.., .. } => Kept::Unfit(Unfit::HeldBack(*cycles)),
        _ if !parked => Kept::Unfit(Unfit::NotParked),
        _ if played.least_gain != 1.0 => Kept::Lowered(played.least_gain),
        _ if vouched.overridden.is_some() => Kept::Overridden,
        _ => Kept::Played,
    }
}

#[cfg(test)]
mod tests;
