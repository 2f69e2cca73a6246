//! Unsaved texts, kept beside so that a crash loses none.
//!
//! One file a text: a first line with the path, then the text. It goes when the text is saved or closed on purpose.

use super::document::Document;
use crate::files::{self, FileError, MAX_PROFILE_BYTES};
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};

const SUFFIX: &str = "unsaved";

/// A text that was not saved when the program ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Unsaved {
    /// Where it was to be saved.
    pub path: PathBuf,
    /// The text.
    pub text: String,
    /// Where it is kept.
    pub kept: PathBuf,
}

/// Where a text of `path` is kept in `folder`. The name comes from the path, so that a text has one place.
pub fn place(folder: &Path, path: &Path) -> PathBuf {
    let hash = Sha256::digest(path.display().to_string().as_bytes());
    let name: String = hash.iter().take(8).map(|byte| format!("{byte:02x}")).collect();
    folder.join(format!("{name}.{SUFFIX}"))
}

/// Keeps a text if it is unsaved, and lets go of it when it is not.
///
/// # Errors
/// When the system refuses.
pub fn keep(folder: &Path, document: &Document) -> Result<(), FileError> {
    let place = place(folder, document.path());
    if !document.is_unsaved() {
        return files::remove(&place);
    }
    files::make_folder_of(&place)?;
    files::save(&place, |out| {
        use std::io::Write;
        writeln!(out, "{}", document.path().display())?;
        out.write_all(document.text.as_bytes())
    })
}

/// What was left behind in `folder`.
pub fn found(folder: &Path) -> Vec<Unsaved> {
    let read = |kept: PathBuf| {
        let text = files::read_text(&kept, MAX_PROFILE_BYTES).ok()?;
        let (path, text) = text.split_once('\n')?;
        Some(Unsaved { path: path.into(), text: text.to_string(), kept })
    };
    files::files_in(folder, SUFFIX).into_iter().filter_map(read).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unsaved_text_is_found_again_and_a_saved_one_is_let_go() {
        let folder = tempfile::tempdir().unwrap();
        let (kept, path) = (folder.path().join("kept"), folder.path().join("a.cues"));
        std::fs::write(&path, "old\n").unwrap();
        let mut document = Document::open(&path).unwrap();
        keep(&kept, &document).unwrap();
        assert_eq!(found(&kept), []);
        document.text = "new\nlines é\n".to_string();
        keep(&kept, &document).unwrap();
        let unsaved = found(&kept);
        assert_eq!((unsaved.len(), &unsaved[0].path, unsaved[0].text.as_str()), (1, &path, "new\nlines é\n"));
        document.save(false).unwrap();
        keep(&kept, &document).unwrap();
        assert_eq!(found(&kept), []);
    }
}
