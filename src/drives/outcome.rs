//! What is kept of a run on drives when it is over: a trip takes the ladder back, a whole run can be signed off.

use super::{DriveError, Records, Vouched};
use crate::audition::{Entry, Strayed};
use crate::player::Played;
use crate::safety::operation::State;
use std::path::Path;

/// What a run has left in the ladder's file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kept {
    /// A fault or an emergency stop came up: the ladder begins anew.
    Tripped,
    /// It was played to its end and parked, and can be signed off.
    Played,
    /// Nothing.
    Nothing,
}

impl Kept {
    /// In words; empty for nothing.
    pub fn words(self) -> &'static str {
        match self {
            Kept::Tripped => "this run was tripped: the ladder begins at -12 dB, seat vacant, again",
            Kept::Played => "played to its end",
            Kept::Nothing => "",
        }
    }
}

/// What is left of a run, and why some of it could not be kept.
#[derive(Debug)]
pub struct Left {
    /// What the ladder's file has of it.
    pub kept: Kept,
    /// Why its wear was not counted.
    pub not_counted: Option<DriveError>,
}

/// Writes down what a run at `gain` (a factor) leaves on a day. Whether a fault or an emergency stop came up at any time is
/// not in its last state alone; so it was counted.
///
/// # Errors
/// When the ladder's file cannot be read or written.
pub fn keep(
    records: &Records,
    played: &Played,
    vouched: &Vouched,
    (day, gain): (u64, f64),
    log: &Path,
) -> Result<Left, DriveError> {
    let not_counted = records.worn(&played.wear).err();
    if let Some(strayed_m) = &played.strayed_m {
        let (key, strayed) = (vouched.key.clone(), Strayed::of(gain, strayed_m.iter().copied()));
        records.add(Entry::Strayed { key, day, strayed })?;
    }
    Ok(Left { kept: keep_rung(records, played, vouched, day, log)?, not_counted })
}

fn keep_rung(
    records: &Records,
    played: &Played,
    vouched: &Vouched,
    day: u64,
    log: &Path,
) -> Result<Kept, DriveError> {
    if let Some(cause) = played.tripped {
        let (drives, cause) = (vouched.key.drives.clone(), cause.words().to_string());
        records.add(Entry::Trip { drives, day, cause })?;
        return Ok(Kept::Tripped);
    }
    let parked = played.run.is_some_and(|run| run.state() == State::Parked);
    if played.played_out && parked && played.interventions == 0 && played.log_error.is_none() {
        let (rung, key, record) = (vouched.rung, vouched.key.clone(), log.display().to_string());
        records.add(Entry::Played { rung, key, day, record })?;
        return Ok(Kept::Played);
    }
    Ok(Kept::Nothing)
}
