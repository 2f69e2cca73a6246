//! Where the program keeps things of its own between runs: window state, texts not yet saved, the demo.

use super::FileError;
use std::path::{Path, PathBuf};

/// The folder for what is kept: `CUELOOM_STATE` if that is set, else where the system wants it; `None` where it has no
/// such place. It may not exist yet.
pub fn kept_folder() -> Option<PathBuf> {
    let of = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    if let Some(folder) = of("CUELOOM_STATE") {
        return Some(folder);
    }
    // Sources: XDG Base Directory Specification 0.8 (state); Apple's File System Programming Guide (Application
    // Support); Windows known folders (LocalAppData).
    let base = if cfg!(windows) {
        of("LOCALAPPDATA")
    } else if cfg!(target_os = "macos") {
        of("HOME").map(|home| home.join("Library/Application Support"))
    } else {
        of("XDG_STATE_HOME").or_else(|| of("HOME").map(|home| home.join(".local/state")))
    };
    base.map(|base| base.join("cueloom"))
}

/// Files of a folder with this suffix, by name; none when there is no such folder.
pub fn files_in(folder: &Path, suffix: &str) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut paths: Vec<PathBuf> = entries
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|found| found == suffix))
        .collect();
    paths.sort();
    paths
}

/// Takes a file away; there being none is fine.
///
/// # Errors
/// When the system refuses.
pub fn remove(path: &Path) -> Result<(), FileError> {
    match std::fs::remove_file(path) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
            Err(FileError::system("remove", path, error))
        }
        _ => Ok(()),
    }
}
