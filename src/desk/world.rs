//! The disk as a profile sees it while other files are open and not saved: their texts stand for theirs.

use crate::files::Disk;
use crate::scenario::World;
use std::collections::BTreeMap;
use std::sync::Arc;

/// The disk, with the texts of open files (by name as libraries are named) in place of theirs.
#[derive(Debug, Clone, Default)]
pub struct OpenFiles {
    /// Texts by path as shown.
    pub texts: BTreeMap<String, Arc<str>>,
}

impl World for OpenFiles {
    fn library(&self, from: &str, name: &str) -> Result<(String, String), String> {
        let (path, text) = Disk.library(from, name)?;
        let text = self.texts.get(&path).map_or(text, |open| open.to_string());
        Ok((path, text))
    }

    fn recording(&self, from: &str, name: &str) -> Result<Vec<u8>, String> {
        Disk.recording(from, name)
    }

    fn sound_length_s(&self, from: &str, name: &str) -> Result<f64, String> {
        Disk.sound_length_s(from, name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_open_text_stands_for_its_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.cues");
        std::fs::write(&path, "old").unwrap();
        let from = folder.path().join("b.cues").display().to_string();
        let mut world = OpenFiles::default();
        assert_eq!(world.library(&from, "a.cues").unwrap().1, "old");
        world.texts.insert(path.display().to_string(), "new".into());
        assert_eq!(world.library(&from, "a.cues").unwrap().1, "new");
        assert!(world.library(&from, "c.cues").is_err());
    }
}
