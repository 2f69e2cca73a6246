//! The disk as the scenario's world: libraries, recordings and sounds beside the file that names them.

use super::{FileError, MAX_PROFILE_BYTES, MAX_RECORDING_BYTES, read_bytes, read_text};
use crate::scenario::World;
use std::path::{Component, Path, PathBuf};

/// Looks names up relative to the file that names them; an absolute path is taken as it is.
#[derive(Debug, Clone, Copy, Default)]
pub struct Disk;

impl World for Disk {
    fn library(&self, from: &str, name: &str) -> Result<(String, String), String> {
        let path = beside(from, name);
        let text = read_text(&path, MAX_PROFILE_BYTES).map_err(|error| advise(&error, from))?;
        Ok((path.display().to_string(), text))
    }

    fn recording(&self, from: &str, name: &str) -> Result<Vec<u8>, String> {
        read_bytes(&beside(from, name), MAX_RECORDING_BYTES).map_err(|error| advise(&error, from))
    }

    fn sound_length_s(&self, from: &str, name: &str) -> Result<f64, String> {
        let path = beside(from, name);
        if !path.extension().is_some_and(|suffix| suffix.eq_ignore_ascii_case("wav")) {
            return Err(format!(
                "`{name}` is no WAV file, and only those are read so far; convert it to WAV"
            ));
        }
        if !path.is_file() {
            let error = match path.exists() {
                true => FileError::NotAFile { path },
                false => FileError::Missing { path },
            };
            return Err(advise(&error, from));
        }
        let wrong = |error: hound::Error| format!("`{}` cannot be read as WAV: {error}", path.display());
        let reader = hound::WavReader::open(&path).map_err(wrong)?;
        let (samples, rate) = (reader.duration(), reader.spec().sample_rate);
        if samples == 0 || rate == 0 {
            return Err(format!("`{}` holds no sound", path.display()));
        }
        // What the header promises must be there: half a download would fall silent in the middle.
        let bytes = u64::from(reader.len()) * u64::from(reader.spec().bits_per_sample / 8);
        if std::fs::metadata(&path).is_ok_and(|about| about.len() < bytes) {
            return Err(format!("`{}` is cut short: its header says {bytes} bytes of sound", path.display()));
        }
        Ok(f64::from(samples) / f64::from(rate))
    }
}

/// The error's words; for a missing file also where it was looked for.
fn advise(error: &FileError, from: &str) -> String {
    match error {
        FileError::Missing { .. } => format!("{error}; paths are relative to `{from}`, which names it"),
        _ => error.to_string(),
    }
}

/// `name` as seen from the file `from`, without `.` and without `x/..`, so that one file has one name.
pub(super) fn beside(from: &str, name: &str) -> PathBuf {
    let joined = Path::new(from).parent().unwrap_or(Path::new("")).join(name);
    let mut path = PathBuf::new();
    for part in joined.components() {
        match part {
            Component::CurDir => {}
            Component::ParentDir if matches!(path.components().next_back(), Some(Component::Normal(_))) => {
                path.pop();
            }
            part => path.push(part),
        }
    }
    path
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_file_has_one_name() {
        assert_eq!(beside("profiles/a.cues", "library/all.cues"), Path::new("profiles/library/all.cues"));
        assert_eq!(beside("profiles/library/all.cues", "../x/./b.cues"), Path::new("profiles/x/b.cues"));
        assert_eq!(beside("a.cues", "../b.cues"), Path::new("../b.cues"));
        assert_eq!(beside("../p/a.cues", "../../b.cues"), Path::new("../../b.cues"));
        assert_eq!(beside("p/a.cues", "/b.cues"), Path::new("/b.cues"));
    }

    #[test]
    fn a_wav_has_a_length_and_other_files_a_message() {
        let folder = tempfile::tempdir().unwrap();
        let from = folder.path().join("a.cues").display().to_string();
        let spec = hound::WavSpec {
            channels: 2,
            sample_rate: 8000,
            bits_per_sample: 16,
            sample_format: hound::SampleFormat::Int,
        };
        let mut wav = hound::WavWriter::create(folder.path().join("a.wav"), spec).unwrap();
        (0..8000).for_each(|_| wav.write_sample(0i16).unwrap());
        wav.finalize().unwrap();
        std::fs::write(folder.path().join("b.wav"), "RIFF, not").unwrap();
        assert_eq!(Disk.sound_length_s(&from, "a.wav"), Ok(0.5));
        let said = |name| Disk.sound_length_s(&from, name).unwrap_err();
        assert!(said("b.wav").contains("cannot be read as WAV"), "{}", said("b.wav"));
        assert!(said("c.wav").contains("there is no file"), "{}", said("c.wav"));
        assert!(said("c.ogg").contains("convert it to WAV"), "{}", said("c.ogg"));
    }
}
