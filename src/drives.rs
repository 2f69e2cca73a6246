//! A run on drives as every shell begins and ends it: the link from its words, what is vouched for, what is kept
//! afterwards, and where the run is, in words.
//!
//! Cannot: decide whether legs move (`safety::operation` does); know a terminal or a window.

mod carrier;
mod head;
mod levels;
mod outcome;
mod records;
mod standing;
mod vouching;

pub use carrier::{Carrier, Opened, open};
pub use head::Head;
pub use levels::{level_of, levels};
pub use outcome::{Kept, Left, Unfit, begin, keep, never_begun};
pub use records::{Records, UnderWay};
pub use standing::{AT_ONCE, Standing, Waits, refused, stands, waits};
pub use vouching::{Asked, Vouched, vouch};

use crate::files::FileError;
use crate::player::PlayError;
use std::path::PathBuf;

/// What is said wherever a link is engaged, one sentence each.
pub const CAUTIONS: [&str; 4] = [
    "legs will move",
    "This program is not a safety function: a hard-wired stop, the drives' own limits and the controller's watchdog must hold without it",
    "Keep everybody outside the fence; keep a hand at the stop",
    "Follow local rules; have guards, stops and wiring looked at by somebody licensed for it",
];

/// Why a run on drives does not begin, or is not kept: words for a person.
#[derive(Debug, thiserror::Error)]
pub enum DriveError {
    /// The link cannot be opened.
    #[error("{0}")]
    Link(String),
    /// A file of the records cannot be read or written.
    #[error(transparent)]
    File(#[from] FileError),
    /// A file of the records holds what is no entry of it.
    #[error("{}{}: {why}", path.display(), line.map(|line| format!(" line {line}")).unwrap_or_default())]
    Entry {
        /// Which file.
        path: PathBuf,
        /// Which line, from 1, where it has lines.
        line: Option<usize>,
        /// What is wrong, and what to do.
        why: String,
    },
    /// The settings that name the levels have mistakes.
    #[error("the levels of the ladder are not known, because of mistakes in the settings:\n{0}")]
    Settings(String),
    /// The ladder has no such level.
    #[error("{0}: choose one of them, or name others in `cueloom.toml` (`cueloom explain settings`)")]
    NoLevel(String),
    /// What is to be kept for good was not said.
    #[error("{0} is empty: say in a few words what a reader of the records must know")]
    NoWords(&'static str),
    /// A run is under way.
    #[error(
        "not noted: a run on drives is under way with the records in `{}`, and would not hear of it: end it (its word \
         `end`), then note the work",
        folder.display()
    )]
    UnderWay {
        /// The folder of the records.
        folder: PathBuf,
    },
    /// Nothing that could be made void.
    #[error("no run is noted in `{}`, so there is nothing to void", folder.display())]
    NothingToVoid {
        /// The folder of the records.
        folder: PathBuf,
    },
    /// There is no run that could be signed off.
    #[error("there is no run to sign off: play a level to its end first, without a fault")]
    NothingToSign,
    /// The run that waits cannot be signed off any more.
    #[error("{0}: play the level again, then sign it off")]
    NotSigned(String),
    /// There is no commissioning record.
    #[error("there is no commissioning record yet: commission first")]
    NotCommissioned,
    /// The commissioning record does not hold.
    #[error("the commissioning record is void: {0}")]
    Void(String),
    /// The player refuses.
    #[error(transparent)]
    Play(#[from] PlayError),
}
