//! A record on disk as it passes by, with progress where a person waits for it.

use super::output::Failure;
use super::progress::Progress;
use crate::files::LongFile;
use crate::record::{RunHead, Tape, Told};
use std::io::{BufReader, Read};
use std::path::{Path, PathBuf};

/// Shorter ones are read before a bar is seen, bytes.
const LONG: u64 = 16 << 20;

/// A file that moves a bar.
pub(super) struct Watched {
    file: LongFile,
    progress: Option<Progress>,
}

impl Watched {
    /// Opens a file; `word` stands before the bar.
    ///
    /// # Errors
    /// When it cannot be opened.
    pub(super) fn open(path: &Path, word: &'static str) -> Result<Self, Failure> {
        let file = LongFile::open(path)?;
        let progress = (file.length() > LONG).then(|| Progress::new(word));
        Ok(Self { file, progress })
    }
}

impl Read for Watched {
    fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
        let read = self.file.read(to)?;
        if let Some(progress) = &self.progress {
            progress.set(self.file.share()());
        }
        Ok(read)
    }
}

impl Drop for Watched {
    fn drop(&mut self) {
        self.progress.take().into_iter().for_each(Progress::finish);
    }
}

/// A record that passes by.
pub(super) struct Reading {
    tape: Tape<BufReader<Watched>>,
    file: PathBuf,
}

impl Reading {
    /// Reads its head.
    ///
    /// # Errors
    /// When the file cannot be read, or is no record.
    pub(super) fn begin(file: &Path) -> Result<Self, Failure> {
        let from = BufReader::with_capacity(1 << 17, Watched::open(file, "log")?);
        let tape = Tape::begin(from).map_err(|words| is_none(file, &words))?;
        Ok(Self { tape, file: file.to_path_buf() })
    }

    pub(super) fn head(&self) -> &RunHead {
        self.tape.head()
    }

    /// What comes next; `None` at the end.
    ///
    /// # Errors
    /// When it cannot be read on.
    pub(super) fn told(&mut self) -> Result<Option<Told>, Failure> {
        self.tape.told().map_err(|words| is_none(&self.file, &words))
    }

    /// Known at the end.
    pub(super) fn is_cut_off(&self) -> bool {
        self.tape.is_cut_off()
    }
}

fn is_none(file: &Path, words: &str) -> Failure {
    Failure(format!("`{}` is no record of a run: {words}", file.display()))
}
