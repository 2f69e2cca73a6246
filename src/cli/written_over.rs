//! What no output may be written over: what the command itself reads, and records of drives, which nothing can make again.

use super::output::Failure;
use crate::files::{self, FileError, LongFile};
use crate::record::is_container;
use std::io::Read;
use std::path::Path;

/// Lets `output` be written by a command that reads `inputs`.
///
/// # Errors
/// When it is one of them, by whatever path, or a record of drives.
pub(super) fn may_write<'a>(
    output: &Path,
    inputs: impl IntoIterator<Item = &'a Path>,
) -> Result<(), Failure> {
    if let Some(input) = inputs.into_iter().find(|input| files::is_same(output, input)) {
        return Err(Failure(format!(
            "`{}` is not written: it is the same file as `{}`, which this command reads or writes besides; name another file",
            output.display(),
            input.display()
        )));
    }
    match is_record_of_drives(output) {
        true => Err(FileError::Taken { path: output.to_path_buf() }.into()),
        false => Ok(()),
    }
}

/// Whether a record of drives is there, by its first bytes.
pub(super) fn is_record_of_drives(path: &Path) -> bool {
    let mut first = Vec::new();
    let read = files::is_taken(path)
        && LongFile::open(path).is_ok_and(|file| file.take(64).read_to_end(&mut first).is_ok());
    read && is_container(&first)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neither_an_input_by_any_path_nor_a_record_of_drives_is_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::create_dir(at("below")).unwrap();
        std::fs::write(at("a.cues"), "scene").unwrap();
        std::fs::write(at("run.mcap"), b"\x89MCAP0\r\n and more").unwrap();
        std::fs::write(at("old.html"), "old").unwrap();
        let said = |output: &str| match may_write(&at(output), [at("other.toml").as_path(), &at("a.cues")]) {
            Ok(()) => String::new(),
            Err(Failure(words)) => words,
        };
        for own in ["a.cues", "below/../a.cues"] {
            assert!(
                said(own).contains("which this command reads or writes besides; name another file"),
                "{own}: {}",
                said(own)
            );
        }
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink(at("a.cues"), at("link.html")).unwrap();
            assert!(said("link.html").contains("is the same file as"), "{}", said("link.html"));
        }
        // One that is not there yet has a path all the same.
        assert!(said("other.toml").contains("is the same file as"), "{}", said("other.toml"));
        assert!(said("run.mcap").contains("no record is written over"), "{}", said("run.mcap"));
        assert_eq!([said("old.html"), said("new.html"), said("none/new.html")], [""; 3]);
    }
}
