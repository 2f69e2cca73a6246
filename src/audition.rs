//! The audition ladder: a motion is played on a rig at -12, -6, -3 and 0 dB, the seat vacant, then ballasted, then
//! occupied, and a rung is open only when those below it were played to their end and signed off.
//!
//! Pure: entries in, words out. Levels in steps below full strength are vibration-test practice (common practice).
//! A rung is keyed to what was played on what: anything that could make it another motion voids it, and why is said.

mod straying;

pub use straying::{Strayed, expected_m};

use crate::motion::Plan;
use crate::signal::BLOCK;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

/// The levels, dB below full gain, lowest first.
pub const LEVELS_DB: [i32; 4] = [-12, -6, -3, 0];

/// A sign-off is void after so many days (own choice).
pub const MOST_DAYS: u64 = 90;

/// What sits in the seat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Load {
    /// Nothing.
    Vacant,
    /// Dead weight, belted, about a person's.
    Ballasted,
    /// A person.
    Occupied,
}

impl Load {
    /// All, in the order of the ladder.
    pub const ALL: [Load; 3] = [Load::Vacant, Load::Ballasted, Load::Occupied];

    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            Load::Vacant => "vacant",
            Load::Ballasted => "ballasted",
            Load::Occupied => "occupied",
        }
    }
}

/// What a sign-off holds for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Key {
    /// Hash of the motion at full gain: of leg lengths, not of text.
    pub motion: String,
    /// Hash of the rig file.
    pub rig: String,
    /// Hash of the tune; empty where there is none.
    pub tune: String,
    /// Hash of the commissioning record.
    pub commissioning: String,
    /// The drives: name, serial numbers, parameters, firmware.
    pub drives: String,
    /// Version of this program.
    pub program: String,
}

/// A place on the ladder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Rung {
    /// dB below full gain.
    pub level_db: i32,
    /// What sits in the seat.
    pub load: Load,
}

impl Rung {
    /// Its part of full gain: 20 log10 of an amplitude's ratio is its level (ISO 80000-1, annex C).
    pub fn part(self) -> f64 {
        libm::pow(10.0, f64::from(self.level_db) / 20.0)
    }
}

/// What happened, in the order of a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum Entry {
    /// A rung was played to its end without a fault.
    Played {
        /// Which.
        rung: Rung,
        /// Of what.
        key: Key,
        /// Days since 1970-01-01.
        day: u64,
        /// The record of the run.
        record: String,
    },
    /// How far legs strayed from their set-points in a run that moved them along a scene, however it ended.
    Strayed {
        /// Of what.
        key: Key,
        /// Days since 1970-01-01.
        day: u64,
        /// How far.
        strayed: Strayed,
    },
    /// An operator signed the run before it off.
    Signed {
        /// Which.
        rung: Rung,
        /// Of what.
        key: Key,
        /// Days since 1970-01-01.
        day: u64,
        /// What the operator noticed: "knock in the left rod end".
        remark: String,
    },
    /// A fault or an emergency stop ended a run on these drives.
    Trip {
        /// Which drives.
        drives: String,
        /// Days since 1970-01-01.
        day: u64,
        /// Why.
        cause: String,
    },
    /// Somebody worked on the rig.
    Maintenance {
        /// Days since 1970-01-01.
        day: u64,
        /// What was done.
        remark: String,
    },
    /// A rung was played although the ladder did not let it.
    Override {
        /// Which.
        rung: Rung,
        /// Days since 1970-01-01.
        day: u64,
        /// The reason given.
        reason: String,
    },
}

/// A hash of the legs' motion at full gain, so that a comment changes nothing and an amplitude does: lengths in whole
/// nanometres, all samples.
pub fn motion_hash(plan: &Plan) -> String {
    let mut sum = Sha256::new();
    sum.update(plan.rate().hz().to_le_bytes());
    sum.update(plan.samples().to_le_bytes());
    let mut frames = plan.frames();
    for block in 0..plan.blocks() {
        plan.render(block, &mut frames);
        for leg in &frames.legs {
            for sample in 0..frames.count.min(BLOCK) {
                sum.update(((leg.at(sample).0[0] * 1e9).round() as i64).to_le_bytes());
            }
        }
    }
    sum.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Rungs that must be signed off before `rung`: the level below with the same load, and the same level with the load
/// before it.
pub fn below(rung: Rung) -> Vec<Rung> {
    let level = LEVELS_DB.iter().position(|level| *level == rung.level_db);
    let load = Load::ALL.iter().position(|load| *load == rung.load);
    let level_below = level.and_then(|at| at.checked_sub(1)).and_then(|at| LEVELS_DB.get(at));
    let load_before = load.and_then(|at| at.checked_sub(1)).and_then(|at| Load::ALL.get(at));
    let mut rungs = Vec::new();
    rungs.extend(level_below.map(|level_db| Rung { level_db: *level_db, ..rung }));
    rungs.extend(load_before.map(|load| Rung { load: *load, ..rung }));
    rungs
}

/// Why `rung` may not be played; empty when it may.
pub fn missing(entries: &[Entry], rung: Rung, key: &Key, day: u64) -> Vec<String> {
    if !LEVELS_DB.contains(&rung.level_db) {
        return vec![format!("{} dB is no level of the ladder: -12, -6, -3 or 0 dB", rung.level_db)];
    }
    below(rung).into_iter().filter_map(|below| why_not_signed(entries, below, key, day)).collect()
}

/// Why `rung` does not count as signed off; `None` when it does.
pub fn why_not_signed(entries: &[Entry], rung: Rung, key: &Key, day: u64) -> Option<String> {
    let name = format!("{} dB {}", rung.level_db, rung.load.word());
    let signed = entries.iter().enumerate().rev().filter_map(|(at, entry)| match entry {
        Entry::Signed { rung: found, key, day, .. } if *found == rung => Some((at, key, *day)),
        _ => None,
    });
    let mut why = None;
    for (at, found, signed_day) in signed {
        let void = void(entries.get(at + 1..).unwrap_or(&[]), found, key, signed_day, day);
        match void {
            None => return None,
            // The newest one says best what is wrong.
            Some(void) => why = why.or(Some(void)),
        }
    }
    Some(match why {
        Some(why) => format!("{name}: the sign-off is void: {why}"),
        None => format!("{name}: not signed off"),
    })
}

/// Why a sign-off does not hold any more.
fn void(later: &[Entry], found: &Key, key: &Key, signed_day: u64, day: u64) -> Option<String> {
    let parts = [
        (&found.motion, &key.motion, "the motion is another (an amplitude, a time or a cue was changed)"),
        (&found.rig, &key.rig, "the rig file is another"),
        (&found.tune, &key.tune, "the tune is another"),
        (&found.commissioning, &key.commissioning, "the rig was commissioned anew"),
        (&found.drives, &key.drives, "other drives answer, or a drive's parameters were changed"),
        (&found.program, &key.program, "it was made with another version of this program"),
    ];
    if let Some((_, _, why)) = parts.into_iter().find(|(found, now, _)| found != now) {
        return Some(why.to_string());
    }
    for entry in later {
        match entry {
            Entry::Trip { drives, cause, .. } if *drives == key.drives => {
                return Some(format!("a run was tripped after it: {cause}"));
            }
            Entry::Maintenance { remark, .. } => {
                return Some(format!("the rig was worked on after it: {remark}"));
            }
            _ => {}
        }
    }
    if day < signed_day {
        return Some("it is dated in the future: see this computer's clock".to_string());
    }
    let age = day - signed_day;
    (age > MOST_DAYS).then(|| format!("it is {age} days old, and {MOST_DAYS} are the most"))
}

/// The newest run that can be signed off: played to its end, and neither signed nor followed by a trip.
pub fn to_sign(entries: &[Entry]) -> Option<(Rung, Key)> {
    for entry in entries.iter().rev() {
        match entry {
            Entry::Played { rung, key, .. } => return Some((*rung, key.clone())),
            Entry::Signed { .. } | Entry::Trip { .. } | Entry::Maintenance { .. } => return None,
            Entry::Override { .. } | Entry::Strayed { .. } => {}
        }
    }
    None
}

#[cfg(test)]
mod tests;
