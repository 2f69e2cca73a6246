//! The audition ladder: a motion is played on a rig at -12, -6, -3 and 0 dB, or at levels that somebody chose, the seat
//! vacant, then ballasted, then occupied, and a rung is open only when all below it, down to the first, were played to their end and signed off.
//!
//! Pure: entries in, words out. Levels in steps below full strength are vibration-test practice (common practice).
//! A rung is keyed to what was played on what: anything that could make it another motion voids it, and why is said.

mod ladder;
mod levels;
mod runs;
mod straying;

pub use ladder::{below, missing, why_not_signed};
pub use levels::{Levels, NoLevels};
pub use runs::{Unsigned, to_sign, without_run_under_way};
pub use straying::{Strayed, expected_m};

use crate::motion::Plan;
use crate::signal::BLOCK;
use crate::units::factor_of_db;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

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
    /// Always empty: rig files that hold a tune have its values in the hash of the rig. Files of the ladder have it.
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
        factor_of_db(f64::from(self.level_db))
    }

    /// Level and load: `-12 dB vacant`.
    pub fn words(self) -> String {
        format!("{} dB {}", self.level_db, self.load.word())
    }
}

impl Entry {
    /// When, days since 1970-01-01.
    pub fn day(&self) -> u64 {
        match self {
            Entry::Begun { day, .. }
            | Entry::Ended { day, .. }
            | Entry::Played { day, .. }
            | Entry::Strayed { day, .. }
            | Entry::Signed { day, .. }
            | Entry::Trip { day, .. }
            | Entry::Maintenance { day, .. }
            | Entry::Override { day, .. } => *day,
        }
    }
}

/// What happened, in the order of a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum Entry {
    /// A run on these drives is about to begin: nothing has moved. While no [`Entry::Ended`] follows, nobody knows how it
    /// ended, and it counts as tripped.
    Begun {
        /// Which drives.
        drives: String,
        /// Days since 1970-01-01.
        day: u64,
        /// The record of the run.
        record: String,
    },
    /// The run on these drives that was begun last has ended, and what came of it stands before this.
    Ended {
        /// Which drives.
        drives: String,
        /// Days since 1970-01-01.
        day: u64,
    },
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
        /// Day of the run, since 1970-01-01: its age counts, not that of the signature. An entry that does not say it is
        /// too old.
        #[serde(default)]
        played: u64,
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
    /// A rung was to be played although the ladder did not let it: that run cannot be signed off.
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

#[cfg(test)]
mod tests;
