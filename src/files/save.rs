//! Saving in one step: a reader finds the old file or the new one, never a half.

use super::FileError;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// Writes what `write` gives into a file beside `path`, then puts it in `path`'s place. Permissions of a file that
/// was there are kept, a link is followed, and on any error the old file stays as it was.
///
/// # Errors
/// When the folder cannot be written or `write` fails.
pub fn save(
    path: &Path,
    write: impl FnOnce(&mut BufWriter<&std::fs::File>) -> std::io::Result<()>,
) -> Result<(), FileError> {
    let target = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let failed = |source| FileError::system("write", path, source);
    let before = std::fs::metadata(&target).ok();
    if before.as_ref().is_some_and(std::fs::Metadata::is_dir) {
        return Err(FileError::NotAFile { path: path.to_path_buf() });
    }
    if before.as_ref().is_some_and(|about| !about.is_file()) {
        // A pipe or a device (`/dev/stdout`) is written to; there is nothing to put in its place.
        let file = std::fs::OpenOptions::new().write(true).open(&target).map_err(failed)?;
        let mut out = BufWriter::new(&file);
        return write(&mut out).and_then(|()| out.flush()).map_err(failed);
    }
    if before.as_ref().is_some_and(|about| about.permissions().readonly()) {
        let source = std::io::Error::from(std::io::ErrorKind::PermissionDenied);
        return Err(failed(source));
    }
    let mut builder = tempfile::Builder::new();
    builder.prefix(".cueloom-").suffix(".part");
    if let Some(about) = &before {
        builder.permissions(about.permissions());
    } else {
        new_file_permissions(&mut builder);
    }
    let part = builder.tempfile_in(folder_of(&target)).map_err(failed)?;
    let mut out = BufWriter::with_capacity(1 << 16, part.as_file());
    write(&mut out).and_then(|()| out.flush()).map_err(failed)?;
    drop(out);
    if let Some(about) = before {
        // The mask of the process applies when a file is made, so say it again.
        part.as_file().set_permissions(about.permissions()).map_err(failed)?;
    }
    part.as_file().sync_all().map_err(failed)?;
    part.persist(&target).map_err(|error| failed(error.error))?;
    keep_name(&target);
    Ok(())
}

/// Asks the disk for the name of a file that is new, or that another one took: it stands in its folder, and without this a
/// power cut can bring the old file back. Where the folder cannot be opened or kept, it is kept when the system likes:
/// what was written is in its place all the same. `false` then.
pub(super) fn keep_name(path: &Path) -> bool {
    // Other systems give folders no such thing.
    !cfg!(unix) || std::fs::File::open(folder_of(path)).and_then(|folder| folder.sync_all()).is_ok()
}

/// Whether two paths are of one file, through links and whatever else is in a path; of files that are not there yet, whether
/// the paths are the same from the root on.
pub fn is_same(one: &Path, other: &Path) -> bool {
    let whole = |path: &Path| {
        std::fs::canonicalize(path)
            .or_else(|_| std::path::absolute(path))
            .unwrap_or_else(|_| path.to_path_buf())
    };
    whole(one) == whole(other)
}

/// Makes the folder that `path` stands in, with those above it, where there is none.
///
/// # Errors
/// When the system refuses.
pub fn make_folder_of(path: &Path) -> Result<(), FileError> {
    let folder = folder_of(path);
    std::fs::create_dir_all(&folder).map_err(|source| FileError::system("write", &folder, source))
}

/// Temporary files are private by default; a render that replaces nothing gets what any new file gets.
#[cfg(unix)]
fn new_file_permissions(builder: &mut tempfile::Builder<'_, '_>) {
    use std::os::unix::fs::PermissionsExt;
    builder.permissions(std::fs::Permissions::from_mode(0o666));
}

#[cfg(not(unix))]
fn new_file_permissions(_: &mut tempfile::Builder<'_, '_>) {}

fn folder_of(path: &Path) -> PathBuf {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_path_buf(),
        _ => PathBuf::from("."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_write_leaves_the_old_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        save(&path, |out| out.write_all(b"old")).unwrap();
        let failed = save(&path, |out| {
            out.write_all(b"new")?;
            Err(std::io::ErrorKind::StorageFull.into())
        });
        assert!(failed.is_err());
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "no part is left behind");
    }

    #[cfg(unix)]
    #[test]
    fn the_folder_of_a_file_is_asked_for_whatever_its_path_looks_like() {
        let folder = tempfile::tempdir().unwrap();
        assert!(keep_name(&folder.path().join("a")) && keep_name(Path::new("a")));
        assert!(!keep_name(&folder.path().join("none/a")));
    }

    #[cfg(unix)]
    #[test]
    fn permissions_and_links_survive() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let (path, link) = (folder.path().join("a"), folder.path().join("b"));
        std::fs::write(&path, "old").unwrap();
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o604)).unwrap();
        std::os::unix::fs::symlink(&path, &link).unwrap();
        save(&link, |out| out.write_all(b"new")).unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"new");
        assert_eq!(std::fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o604);
        assert!(std::fs::symlink_metadata(&link).unwrap().is_symlink());
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o444)).unwrap();
        assert!(save(&path, |out| out.write_all(b"newer")).is_err(), "a file made read-only stays");
    }
}
