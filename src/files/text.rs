//! Reading with a bound, and bytes to text with a place for the first that is none.

use super::FileError;
use std::io::Read;
use std::path::Path;

/// Most bytes of a profile or library: a thousand times the largest that a person would write. Own choice.
pub const MAX_PROFILE_BYTES: u64 = 4_000_000;
/// Most bytes of a rig file or settings. Own choice.
pub const MAX_TOML_BYTES: u64 = 4_000_000;
/// Most bytes of a recording: hours of flight at 100 Hz. Own choice.
pub const MAX_RECORDING_BYTES: u64 = 256_000_000;

/// Reads a file of at most `limit` bytes.
///
/// # Errors
/// When it is missing, no file, too large, or the system refuses.
pub fn read_bytes(path: &Path, limit: u64) -> Result<Vec<u8>, FileError> {
    let failed = |source| FileError::system("read", path, source);
    let about = std::fs::metadata(path).map_err(failed)?;
    // A pipe has no length and may be meant (`<(...)`); a folder is a slip.
    if about.is_dir() {
        return Err(FileError::NotAFile { path: path.to_path_buf() });
    }
    let too_large = || FileError::TooLarge { path: path.to_path_buf(), limit };
    if about.len() > limit {
        return Err(too_large());
    }
    let file = std::fs::File::open(path).map_err(failed)?;
    let mut bytes = Vec::with_capacity(about.len() as usize);
    // The length said beforehand may be wrong (devices, growing files), so the bound holds here again.
    file.take(limit + 1).read_to_end(&mut bytes).map_err(failed)?;
    if bytes.len() as u64 > limit { Err(too_large()) } else { Ok(bytes) }
}

/// Reads a text of at most `limit` bytes; a byte order mark at its start is dropped.
///
/// # Errors
/// As [`read_bytes`], and when it is not UTF-8.
pub fn read_text(path: &Path, limit: u64) -> Result<String, FileError> {
    to_text(path, read_bytes(path, limit)?)
}

/// Bytes, named `path` in messages, as text without a byte order mark.
///
/// # Errors
/// When they are not UTF-8: where the first wrong byte is.
pub fn to_text(path: &Path, bytes: Vec<u8>) -> Result<String, FileError> {
    let mut text = String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let bytes = error.as_bytes();
        FileError::NotUtf8 {
            path: path.to_path_buf(),
            line: bytes.iter().take(at).filter(|byte| **byte == b'\n').count() as u64 + 1,
            byte: at as u64,
            value: bytes.get(at).copied().unwrap_or(0),
        }
    })?;
    if text.starts_with('\u{feff}') {
        text.drain(..'\u{feff}'.len_utf8());
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_wrong_byte_has_a_place() {
        let error = to_text(Path::new("a.cues"), b"one\ntw\xff\xfe".to_vec()).unwrap_err();
        assert_eq!(error.to_string(), "`a.cues` is not UTF-8 text: line 2, byte 6 is 0xff; save it as UTF-8");
        assert_eq!(to_text(Path::new("a"), b"\xef\xbb\xbfx".to_vec()).unwrap(), "x");
    }

    #[test]
    fn the_bound_is_a_bound() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        std::fs::write(&path, [b'x'; 100]).unwrap();
        assert_eq!(read_bytes(&path, 100).unwrap().len(), 100);
        assert!(matches!(read_bytes(&path, 99), Err(FileError::TooLarge { .. })));
        assert!(matches!(read_bytes(folder.path(), 99), Err(FileError::NotAFile { .. })));
        let missing = read_bytes(&folder.path().join("b"), 99).unwrap_err();
        assert!(matches!(missing, FileError::Missing { .. }), "{missing}");
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_device_without_end_ends() {
        assert!(matches!(read_bytes(Path::new("/dev/zero"), 1000), Err(FileError::TooLarge { .. })));
    }
}
