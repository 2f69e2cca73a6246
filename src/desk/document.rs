//! A text that is being written: where it is saved, whether it is, and whether the file changed meanwhile.

use crate::files::{self, FileError, MAX_PROFILE_BYTES, Stamp};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// How the file on disk stands to what was read from it or saved to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OnDisk {
    /// As it was.
    Same,
    /// Somebody else wrote it.
    Changed,
    /// Gone.
    Gone,
}

/// One text.
#[derive(Debug, Clone)]
pub struct Document {
    path: PathBuf,
    /// The text as it is now; the editor writes here.
    pub text: String,
    saved: Arc<str>,
    stamp: Option<Stamp>,
    /// How the file stands, as last looked.
    pub on_disk: OnDisk,
    /// Never saved, so there is no file to compare with.
    is_new: bool,
}

impl Document {
    /// Reads a file.
    ///
    /// # Errors
    /// When it is missing, too large, no text, or the system refuses.
    pub fn open(path: &Path) -> Result<Self, FileError> {
        let text = files::read_text(path, MAX_PROFILE_BYTES)?;
        Ok(Self {
            path: path.to_path_buf(),
            saved: text.as_str().into(),
            text,
            stamp: files::stamp(path),
            on_disk: OnDisk::Same,
            is_new: false,
        })
    }

    /// A text without a file, to be saved at `path`.
    pub fn new(path: PathBuf, text: String) -> Self {
        Self { path, text, saved: "".into(), stamp: None, on_disk: OnDisk::Same, is_new: true }
    }

    /// Where it is, or would be.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The file's name.
    pub fn name(&self) -> String {
        self.path.file_name().map_or("untitled".to_string(), |name| name.to_string_lossy().into_owned())
    }

    /// Whether it differs from its file as last read or saved.
    pub fn is_unsaved(&self) -> bool {
        self.is_new || *self.saved != *self.text
    }

    /// The text as last read or saved; of no letters when it never was.
    pub fn saved(&self) -> Arc<str> {
        self.saved.clone()
    }

    /// Whether there is no saved text to compare with.
    pub fn was_never_saved(&self) -> bool {
        self.is_new
    }

    /// Saves it in one step. `over` allows to write over what somebody else wrote.
    ///
    /// # Errors
    /// Words for the author, when the system refuses or the file changed meanwhile; the text stays unsaved.
    pub fn save(&mut self, over: bool) -> Result<(), String> {
        if !over && self.look() == OnDisk::Changed {
            return Err(format!(
                "`{}` was changed by another program; choose which one to keep",
                self.path.display()
            ));
        }
        self.save_to(&self.path.clone())
    }

    /// Saves it in one step at `path`, where it lives from then on.
    ///
    /// # Errors
    /// As [`Document::save`].
    pub fn save_to(&mut self, path: &Path) -> Result<(), String> {
        let bytes = self.text.as_bytes();
        files::save(path, |out| std::io::Write::write_all(out, bytes))
            .map_err(|error| format!("not saved: {error}"))?;
        self.path = path.to_path_buf();
        self.saved = self.text.as_str().into();
        self.stamp = files::stamp(path);
        self.on_disk = OnDisk::Same;
        self.is_new = false;
        Ok(())
    }

    /// Looks at the file.
    pub fn look(&mut self) -> OnDisk {
        self.on_disk = match (self.is_new, files::stamp(&self.path)) {
            (true, _) => OnDisk::Same,
            (false, None) => OnDisk::Gone,
            (false, now) if now == self.stamp => OnDisk::Same,
            // Touched, or saved with the same text: nothing to decide.
            (false, now) => match files::read_text(&self.path, MAX_PROFILE_BYTES) {
                Ok(text) if *text == *self.saved => {
                    self.stamp = now;
                    OnDisk::Same
                }
                _ => OnDisk::Changed,
            },
        };
        self.on_disk
    }

    /// Takes the file's text, what was written here is lost.
    ///
    /// # Errors
    /// As [`Document::open`].
    pub fn reload(&mut self) -> Result<(), FileError> {
        *self = Self::open(&self.path)?;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn saving_is_refused_where_somebody_else_wrote_and_nothing_is_lost() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.cues");
        std::fs::write(&path, "one").unwrap();
        let mut document = Document::open(&path).unwrap();
        assert!(!document.is_unsaved());
        document.text.push_str(" more");
        assert!(document.is_unsaved());
        document.save(false).unwrap();
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "one more");

        std::fs::write(&path, "somebody else's, longer").unwrap();
        document.text.push('!');
        let said = document.save(false).unwrap_err();
        assert!(said.contains("changed by another program"), "{said}");
        assert_eq!((document.on_disk, document.is_unsaved()), (OnDisk::Changed, true));
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "somebody else's, longer");
        document.save(true).unwrap();
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "one more!");
        assert_eq!(document.look(), OnDisk::Same);

        std::fs::remove_file(&path).unwrap();
        assert_eq!(document.look(), OnDisk::Gone);
        document.save(false).unwrap();
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "one more!");
    }

    #[test]
    fn a_file_that_was_only_touched_is_the_same() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.cues");
        std::fs::write(&path, "one").unwrap();
        let mut document = Document::open(&path).unwrap();
        let later = std::fs::metadata(&path).unwrap().modified().unwrap() + std::time::Duration::from_secs(5);
        std::fs::File::options().write(true).open(&path).unwrap().set_modified(later).unwrap();
        assert_eq!(document.look(), OnDisk::Same);
        std::fs::write(&path, "two!").unwrap();
        assert_eq!(document.look(), OnDisk::Changed);
        document.reload().unwrap();
        assert_eq!(document.text, "two!");
    }

    #[test]
    fn a_new_text_is_unsaved_until_it_is_saved() {
        let folder = tempfile::tempdir().unwrap();
        let mut document = Document::new(folder.path().join("new.cues"), String::new());
        assert!(document.is_unsaved() && document.name() == "new.cues");
        let nowhere = folder.path().join("no/such/folder/a.cues");
        assert!(document.save_to(&nowhere).unwrap_err().starts_with("not saved: "));
        assert!(document.is_unsaved());
        document.save(false).unwrap();
        assert!(!document.is_unsaved());
    }
}
