//! Whether a file is still the one that was read.

use std::path::Path;
use std::time::SystemTime;

/// What changes when a file is written: its length and its time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stamp {
    length: u64,
    modified: Option<SystemTime>,
}

impl Stamp {
    /// When it was written last, s since 1970-01-01; 0 where the system does not say.
    pub fn written_s(&self) -> u64 {
        let since = self.modified.and_then(|time| time.duration_since(SystemTime::UNIX_EPOCH).ok());
        since.map_or(0, |since| since.as_secs())
    }
}

/// The stamp of a file; `None` when there is none (or it cannot be looked at).
pub fn stamp(path: &Path) -> Option<Stamp> {
    let about = std::fs::metadata(path).ok().filter(std::fs::Metadata::is_file)?;
    Some(Stamp { length: about.len(), modified: about.modified().ok() })
}
