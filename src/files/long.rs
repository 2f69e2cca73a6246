//! Files that are read as they pass by, however long.

use super::FileError;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// A file, and how much of it has been read.
#[derive(Debug)]
pub struct LongFile {
    file: File,
    length: u64,
    read: Arc<AtomicU64>,
}

impl LongFile {
    /// Opens it.
    ///
    /// # Errors
    /// When it is missing, no file, or the system refuses.
    pub fn open(path: &Path) -> Result<Self, FileError> {
        let failed = |source| FileError::system("read", path, source);
        let about = std::fs::metadata(path).map_err(failed)?;
        if about.is_dir() {
            return Err(FileError::NotAFile { path: path.to_path_buf() });
        }
        Ok(Self { file: File::open(path).map_err(failed)?, length: about.len(), read: Arc::default() })
    }

    /// Its length in bytes; 0 where it has none, as a pipe.
    pub fn length(&self) -> u64 {
        self.length
    }

    /// What says how much of it has been read, 0 to 1, whoever reads it.
    pub fn share(&self) -> impl Fn() -> f64 + Send + use<> {
        let (read, length) = (self.read.clone(), self.length.max(1));
        move || (read.load(Ordering::Relaxed) as f64 / length as f64).min(1.0)
    }
}

impl Read for LongFile {
    fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
        let count = self.file.read(to)?;
        self.read.fetch_add(count as u64, Ordering::Relaxed);
        Ok(count)
    }
}

impl Seek for LongFile {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        self.file.seek(to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_says_how_much_is_read() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("long");
        std::fs::write(&path, [7; 40]).unwrap();
        let mut file = LongFile::open(&path).unwrap();
        let share = file.share();
        assert_eq!((file.length(), share()), (40, 0.0));
        file.read_exact(&mut [0; 10]).unwrap();
        assert_eq!(share(), 0.25);
        assert!(matches!(LongFile::open(folder.path()), Err(FileError::NotAFile { .. })));
        assert!(matches!(LongFile::open(&folder.path().join("none")), Err(FileError::Missing { .. })));
    }
}
