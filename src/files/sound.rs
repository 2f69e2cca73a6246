//! Sound files as samples.

use super::world::beside;
use super::{FileError, MAX_RECORDING_BYTES};
use std::path::Path;

/// A sound file, mixed down to one channel.
#[derive(Debug, Clone, PartialEq)]
pub struct SoundSamples {
    /// Samples a second.
    pub rate_hz: f64,
    /// A part of full scale each.
    pub samples: Vec<f32>,
}

/// Reads the WAV file `name`, as named in the file called `from`.
///
/// # Errors
/// Words: missing, too large, no WAV.
pub fn read_sound(from: &str, name: &str) -> Result<SoundSamples, String> {
    let path = beside(from, name);
    read(&path)
}

fn read(path: &Path) -> Result<SoundSamples, String> {
    let bytes = super::read_bytes(path, MAX_RECORDING_BYTES).map_err(|error: FileError| error.to_string())?;
    let wrong = |error: hound::Error| format!("`{}` cannot be read as WAV: {error}", path.display());
    let mut reader = hound::WavReader::new(bytes.as_slice()).map_err(wrong)?;
    let spec = reader.spec();
    let values: Result<Vec<f32>, hound::Error> = match spec.sample_format {
        hound::SampleFormat::Float => reader.samples::<f32>().collect(),
        hound::SampleFormat::Int => {
            let full = (1_u64 << (spec.bits_per_sample.clamp(1, 32) - 1)) as f32;
            reader.samples::<i32>().map(|sample| Ok(sample? as f32 / full)).collect()
        }
    };
    let channels = usize::from(spec.channels.max(1));
    let mix = |frame: &[f32]| {
        let sum = frame.iter().filter(|value| value.is_finite()).sum::<f32>() / channels as f32;
        sum.clamp(-1.0, 1.0)
    };
    let samples = values.map_err(wrong)?.chunks(channels).map(mix).collect();
    Ok(SoundSamples { rate_hz: f64::from(spec.sample_rate.max(1)), samples })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn channels_are_mixed_and_odd_rates_kept() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.wav");
        let spec = hound::WavSpec {
            channels: 2,
            sample_rate: 11_025,
            bits_per_sample: 24,
            sample_format: hound::SampleFormat::Int,
        };
        let mut wav = hound::WavWriter::create(&path, spec).unwrap();
        for value in [1 << 22, 1 << 21, -(1 << 22), 0] {
            wav.write_sample(value).unwrap();
        }
        wav.finalize().unwrap();
        let sound = read(&path).unwrap();
        assert_eq!((sound.rate_hz, sound.samples), (11_025.0, vec![0.375, -0.25]));
        std::fs::write(&path, "no sound").unwrap();
        assert!(read(&path).unwrap_err().contains("cannot be read as WAV"));
        let from = folder.path().join("x.cues").display().to_string();
        assert!(read_sound(&from, "gone.wav").unwrap_err().contains("there is no file"));
    }
}
