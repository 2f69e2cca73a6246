//! What the window remembers from one run to the next. A file that cannot be read is as good as none.

use crate::files::{self, FileError, MAX_TOML_BYTES};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Light, dark, or as the system has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Look {
    /// As the system has it.
    #[default]
    System,
    /// Dark on light.
    Light,
    /// Light on dark.
    Dark,
}

impl Look {
    /// The next in the round.
    #[must_use]
    pub fn next(self) -> Self {
        match self {
            Self::System => Self::Light,
            Self::Light => Self::Dark,
            Self::Dark => Self::System,
        }
    }

    /// Its word on a button.
    pub fn word(self) -> &'static str {
        match self {
            Self::System => "Look: as the system",
            Self::Light => "Look: light",
            Self::Dark => "Look: dark",
        }
    }
}

/// What is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Kept {
    /// Width and height of the window, points.
    pub window: Option<[f32; 2]>,
    /// Light or dark.
    pub look: Look,
    /// Files that were open, and which of them was in front.
    pub open: Vec<PathBuf>,
    /// Index into `open`.
    pub front: usize,
    /// Level of all sound, dB.
    pub master_db: f64,
    /// The output that the shaker has for itself, by name; together with the sound where `None`.
    pub shaker: Option<String>,
    /// No sound at all.
    pub silent: bool,
    /// From a sample's leaving the computer's output to its being heard, ms; what comes before is known.
    pub output_to_ear_ms: f64,
    /// What carried set-points to drives last, by its word.
    pub carrier: String,
    /// Where the far end was then.
    pub far_end: String,
    /// The three sentences of the first start are not wanted any more.
    pub hints_done: bool,
}

impl Default for Kept {
    fn default() -> Self {
        Self {
            window: None,
            look: Look::System,
            open: Vec::new(),
            front: 0,
            master_db: -6.0,
            shaker: None,
            silent: false,
            output_to_ear_ms: 0.0,
            carrier: String::new(),
            far_end: String::new(),
            hints_done: false,
        }
    }
}

/// Levels that can be set, dB.
pub const MASTER_DB: (f64, f64) = (-60.0, 0.0);
/// Latencies that can be set, ms; a system may also think its output slower than it is.
pub const LATENCY_MS: (f64, f64) = (-50.0, 500.0);

impl Kept {
    /// Reads what was kept in a folder; what is out of range is put right.
    pub fn read(folder: &Path) -> Self {
        let text = files::read_text(&place(folder), MAX_TOML_BYTES).unwrap_or_default();
        let mut kept: Self = serde_json::from_str(&text).unwrap_or_default();
        let within = |value: f64, (low, high): (f64, f64), otherwise: f64| {
            if value.is_finite() { value.clamp(low, high) } else { otherwise }
        };
        kept.master_db = within(kept.master_db, MASTER_DB, -6.0);
        kept.output_to_ear_ms = within(kept.output_to_ear_ms, LATENCY_MS, 0.0);
        kept.window = kept.window.filter(|size| size.iter().all(|side| (300.0..20_000.0).contains(side)));
        kept
    }

    /// Keeps it.
    ///
    /// # Errors
    /// When the system refuses.
    pub fn write(&self, folder: &Path) -> Result<(), FileError> {
        let place = place(folder);
        files::make_folder_of(&place)?;
        let text = serde_json::to_string_pretty(self).unwrap_or_default();
        files::save(&place, |out| std::io::Write::write_all(out, text.as_bytes()))
    }
}

fn place(folder: &Path) -> PathBuf {
    folder.join("window.json")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_comes_back_and_nonsense_does_not() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(Kept::read(folder.path()), Kept::default());
        let kept = Kept {
            window: Some([1280.0, 800.0]),
            look: Look::Dark,
            open: vec!["a.cues".into()],
            output_to_ear_ms: 42.0,
            ..Kept::default()
        };
        kept.write(folder.path()).unwrap();
        assert_eq!(Kept::read(folder.path()), kept);
        std::fs::write(
            place(folder.path()),
            "{\"output_to_ear_ms\": 1e9, \"window\": [1, 2], \"new_key\": 3}",
        )
        .unwrap();
        let read = Kept::read(folder.path());
        assert_eq!((read.output_to_ear_ms, read.window), (500.0, None));
        std::fs::write(place(folder.path()), "not json").unwrap();
        assert_eq!(Kept::read(folder.path()), Kept::default());
    }
}
