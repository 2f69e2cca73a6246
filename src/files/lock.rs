//! Who may write, and who is at it: locks on files of their own. The system lets a lock go when the program that holds it
//! ends, in whatever way; so none is left behind by one that was killed.
//!
//! Cannot: keep a program out that does not ask; wait.

use super::{FileError, make_folder_of};
use std::fs::{File, OpenOptions, TryLockError};
use std::path::Path;

/// With whom a lock is shared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sharing {
    /// Nobody.
    Alone,
    /// All who share it too.
    Together,
}

/// A lock; let go when dropped.
#[derive(Debug)]
pub struct Lock(#[allow(dead_code, reason = "held, not read: closing the file lets the lock go")] File);

/// Locks the file at `path`, which is made where there is none, with its folder, and holds nothing. Does not wait.
///
/// # Errors
/// When others hold it, or the file cannot be made or locked.
pub fn lock(path: &Path, sharing: Sharing) -> Result<Lock, FileError> {
    make_folder_of(path)?;
    let file = OpenOptions::new().read(true).append(true).create(true).open(path);
    let file = file.map_err(|source| FileError::system("write", path, source))?;
    let tried = match sharing {
        Sharing::Alone => file.try_lock(),
        Sharing::Together => file.try_lock_shared(),
    };
    match tried {
        Ok(()) => Ok(Lock(file)),
        Err(TryLockError::WouldBlock) => Err(FileError::Held { path: path.to_path_buf() }),
        Err(TryLockError::Error(source)) => Err(FileError::NoLock { path: path.to_path_buf(), source }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_alone_or_many_together() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("new/a.lock");
        let alone = lock(&path, Sharing::Alone).unwrap();
        for sharing in [Sharing::Alone, Sharing::Together] {
            let refused = lock(&path, sharing).unwrap_err().to_string();
            assert!(refused.contains("a.lock` is held by another program"), "{refused}");
        }
        drop(alone);
        let together = [(); 2].map(|()| lock(&path, Sharing::Together).unwrap());
        assert!(lock(&path, Sharing::Alone).is_err());
        drop(together);
        assert!(lock(&path, Sharing::Alone).is_ok());
        // A folder cannot be opened as a file, and what is a file cannot be a folder.
        assert!(
            lock(folder.path(), Sharing::Alone).is_err() && lock(&path.join("b"), Sharing::Alone).is_err()
        );
    }
}
