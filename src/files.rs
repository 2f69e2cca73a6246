//! Reading and writing paths; the only place that names `std::fs`.
//!
//! Cannot: know what a text means; it reads, bounds, writes and says what went wrong in words.

mod keep;
mod lock;
mod long;
mod recording;
mod save;
mod series;
mod settings;
mod sound;
mod stamp;
mod text;
mod world;

pub use keep::{files_in, kept_folder, remove};
pub use lock::{Lock, Sharing, lock};
pub use long::LongFile;
pub use recording::{create, create_new, create_numbered, is_taken};
pub use save::{is_same, make_folder_of, save};
pub use series::{SeriesKind, column_names, write_series};
pub use settings::{RULES, SETTINGS_NAME, Setting, Settings, find_settings, parse_settings, records_folder};
pub use sound::{SoundSamples, read_sound};
pub use stamp::{Stamp, stamp};
pub use text::{MAX_PROFILE_BYTES, MAX_RECORDING_BYTES, MAX_TOML_BYTES, read_bytes, read_text, to_text};
pub use world::Disk;

use std::path::PathBuf;

/// Why a file could not be read or written: words with the path in them.
#[derive(Debug, thiserror::Error)]
pub enum FileError {
    /// There is none.
    #[error("there is no file `{}`", path.display())]
    Missing {
        /// Which.
        path: PathBuf,
    },
    /// The system refused.
    #[error("cannot {act} `{}`: {}", path.display(), words(source))]
    System {
        /// `read` or `write`.
        act: &'static str,
        /// Which.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// A folder, a device, anything without an end.
    #[error("`{}` is not a file", path.display())]
    NotAFile {
        /// Which.
        path: PathBuf,
    },
    /// One is there, and is not written over.
    #[error("`{}` is there already, and no record is written over: name another file, or move that one away", path.display())]
    Taken {
        /// Which.
        path: PathBuf,
    },
    /// Others hold the lock on it.
    #[error(
        "`{}` is held by another program: let it end what it does in this folder, then try again",
        path.display()
    )]
    Held {
        /// Which.
        path: PathBuf,
    },
    /// It cannot be locked.
    #[error(
        "`{}` cannot be locked, and two programs could write over each other: {}; keep this folder on a disk of this \
         computer that knows locks",
        path.display(), words(source)
    )]
    NoLock {
        /// Which.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// Larger than is taken.
    #[error("`{}` is larger than {} MB, the most that is read of such a file", path.display(), limit / 1_000_000)]
    TooLarge {
        /// Which.
        path: PathBuf,
        /// Bytes.
        limit: u64,
    },
    /// Not text.
    #[error("`{}` is not UTF-8 text: line {line}, byte {byte} is 0x{value:02x}; save it as UTF-8", path.display())]
    NotUtf8 {
        /// Which.
        path: PathBuf,
        /// Line, from 1.
        line: u64,
        /// Byte in the file, from 0.
        byte: u64,
        /// The byte.
        value: u8,
    },
    /// A render that its format cannot hold.
    #[error("`{}`: {what}", path.display())]
    Unfit {
        /// Which.
        path: PathBuf,
        /// Why, and what to do.
        what: String,
    },
}

impl FileError {
    fn system(act: &'static str, path: &std::path::Path, source: std::io::Error) -> Self {
        match source.kind() {
            std::io::ErrorKind::NotFound if act == "read" => Self::Missing { path: path.to_path_buf() },
            _ => Self::System { act, path: path.to_path_buf(), source },
        }
    }
}

/// The system's words without its number: `permission denied`.
fn words(error: &std::io::Error) -> String {
    let text = error.to_string();
    let text = text.split(" (os error").next().unwrap_or(&text);
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}
