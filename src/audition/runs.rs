//! Runs in the ladder's file: which of them nobody knows the end of, and which can be signed off.

use super::ladder::too_old;
use super::{Entry, Key, Rung};

/// Whether two fingerprints are of the same drives, by name and serial numbers. Their last two words, parameters and
/// firmware, may differ: a parameter that was changed and set back must not take a trip away.
pub(super) fn are_same(one: &str, other: &str) -> bool {
    fn who(drives: &str) -> &str {
        drives.rsplitn(3, ' ').nth(2).unwrap_or(drives)
    }
    who(one) == who(other)
}

/// Whether the run that begins at `entries[at]` was never ended: the next word of a run on its drives, if there is one, is
/// of another that begins.
pub(super) fn is_open(entries: &[Entry], at: usize) -> bool {
    let Some(Entry::Begun { drives: own, .. }) = entries.get(at) else { return false };
    let later = entries.iter().skip(at + 1).find_map(|entry| match entry {
        Entry::Begun { drives, .. } if are_same(drives, own) => Some(true),
        Entry::Ended { drives, .. } if are_same(drives, own) => Some(false),
        _ => None,
    });
    later.unwrap_or(true)
}

/// What a ladder's file said before the run that is under way on `drives` now: that one has not ended yet, and is no trip.
pub fn without_run_under_way(mut entries: Vec<Entry>, drives: &str) -> Vec<Entry> {
    let is_begun =
        |entry: &Entry| matches!(entry, Entry::Begun { drives: found, .. } if are_same(found, drives));
    if let Some(at) = entries.iter().rposition(is_begun).filter(|at| is_open(&entries, *at)) {
        entries.remove(at);
    }
    entries
}

/// A run that was played to its end and waits to be signed off.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unsigned {
    /// Which rung.
    pub rung: Rung,
    /// Of what.
    pub key: Key,
    /// When, days since 1970-01-01.
    pub day: u64,
    /// The record of the run.
    pub record: String,
}

impl Unsigned {
    /// Which run, in words.
    pub fn words(&self) -> String {
        format!("{}, the run of `{}`", self.rung.words(), self.record)
    }

    /// Why it is too late on `day` to sign it off.
    pub fn too_old(&self, day: u64) -> Option<String> {
        too_old(self.day, day)
    }
}

/// The newest run that waits to be signed off: neither signed nor followed by a trip.
pub fn to_sign(entries: &[Entry]) -> Option<Unsigned> {
    for (at, entry) in entries.iter().enumerate().rev() {
        match entry {
            Entry::Played { rung, key, day, record } => {
                let (key, record) = (key.clone(), record.clone());
                return Some(Unsigned { rung: *rung, key, day: *day, record });
            }
            Entry::Signed { .. } | Entry::Trip { .. } | Entry::Maintenance { .. } => return None,
            // Its end is not known; the one of the run itself is, when it was played out.
            Entry::Begun { .. } if is_open(entries, at) => return None,
            Entry::Begun { .. } | Entry::Ended { .. } | Entry::Override { .. } | Entry::Strayed { .. } => {}
        }
    }
    None
}
