//! Renders on disk: CSV with the unit in every column's name, or a WAV of 32-bit floats with a channel a column.
//!
//! Both hold the same columns in the same order; the WAV has no time column (its sample rate says it) and comes with
//! a list of its channels beside it, because a WAV has no place for names.

use super::{FileError, save};
use crate::motion::{Frames, Plan};
use crate::rig::{Axis, Rig};
use crate::time::SampleRate;
use crate::units::unit;
use std::io::{self, Seek, Write};
use std::path::{Path, PathBuf};

/// The kinds of file that a render can be, by suffix.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SeriesKind {
    /// `.csv`
    Csv,
    /// `.wav`
    Wav,
}

impl SeriesKind {
    /// The kind that a path's suffix asks for.
    ///
    /// # Errors
    /// When the suffix is none of ours.
    pub fn of(path: &Path) -> Result<Self, FileError> {
        let suffix = path.extension().unwrap_or_default().to_ascii_lowercase();
        match suffix.to_str() {
            Some("csv") => Ok(Self::Csv),
            Some("wav") => Ok(Self::Wav),
            _ => Err(FileError::Unfit {
                path: path.to_path_buf(),
                what: "a render is a `.csv` or a `.wav` file; end the name on one of them".into(),
            }),
        }
    }
}

/// A column: its name with its unit, which derivative of what, and what makes SI into the unit.
struct Column {
    name: String,
    of: Part,
    order: usize,
    /// Multiplies the SI value; negative where the file counts the other way.
    factor: f64,
}

/// Where a column's numbers come from, as an index into [`Frames`].
enum Part {
    Platform(usize),
    Leg(usize),
}

/// Names of a render's columns after `time_s`: `pitch_deg`, …, `left_length_m`, `left_speed_m_s`, …; of a crank
/// `left_angle_deg`, `left_rate_deg_s`, `left_acceleration_deg_s2`. Rotations in degrees, heave positive up as in the language.
pub fn column_names(rig: &Rig) -> Vec<String> {
    columns(rig).into_iter().map(|column| column.name).collect()
}

fn columns(rig: &Rig) -> Vec<Column> {
    let deg = unit("deg").map_or(1.0, |unit| unit.scale);
    let axes = rig.axes.iter().enumerate().flat_map(|(k, limits)| {
        let (symbol, factor) = match limits.axis {
            axis if axis.is_rotation() => ("deg", 1.0 / deg),
            Axis::Heave => ("m", -1.0),
            _ => ("m", 1.0),
        };
        ["", "_s", "_s2"].into_iter().enumerate().map(move |(order, per)| Column {
            name: format!("{}_{symbol}{per}", limits.axis.word()),
            of: Part::Platform(k),
            order,
            factor,
        })
    });
    let legs = rig.actuators.iter().enumerate().flat_map(|(k, leg)| {
        let (names, factor) = match &leg.crank {
            None => (["length_m", "speed_m_s", "acceleration_m_s2"], 1.0),
            Some(part) => {
                (["angle_deg", "rate_deg_s", "acceleration_deg_s2"], 1.0 / (deg * part.crank.arm_m))
            }
        };
        names.into_iter().enumerate().map(move |(order, what)| Column {
            name: format!("{}_{what}", leg.name),
            of: Part::Leg(k),
            order,
            factor,
        })
    });
    axes.chain(legs).collect()
}

/// A row's numbers, handed to a writer; `tick` counts from 0.
type Sink<'a> = dyn FnMut(u64, &[f64]) -> io::Result<()> + 'a;

/// Renders a plan into the file at `path`, whose suffix says the kind. Gives the files that were written.
/// Memory does not grow with the plan's length. `progress` hears a share 0..1.
///
/// # Errors
/// When the suffix is unknown, the kind cannot hold the plan, or the file cannot be written.
pub fn write_series(path: &Path, plan: &Plan, progress: &dyn Fn(f64)) -> Result<Vec<PathBuf>, FileError> {
    let columns = columns(plan.rig());
    let rows = |sink: &mut Sink<'_>| rows(plan, &columns, progress, sink);
    match SeriesKind::of(path)? {
        SeriesKind::Csv => {
            save(path, |out| write_csv(out, plan.rate(), &columns, rows))?;
            Ok(vec![path.to_path_buf()])
        }
        SeriesKind::Wav => {
            let unfit = |what| FileError::Unfit { path: path.to_path_buf(), what };
            wav_fits(plan.samples(), columns.len()).map_err(unfit)?;
            save(path, |out| write_wav(out, plan.rate(), columns.len(), rows))?;
            let list = path.with_extension("channels.csv");
            save(&list, |out| write_channels(out, &columns))?;
            Ok(vec![path.to_path_buf(), list])
        }
    }
}

/// Renders block by block and hands on every sample.
fn rows(plan: &Plan, columns: &[Column], progress: &dyn Fn(f64), sink: &mut Sink<'_>) -> io::Result<()> {
    let mut frames: Frames = plan.frames();
    let mut row = vec![0.0; columns.len()];
    let (blocks, mut tick) = (plan.blocks(), 0);
    for block in 0..blocks {
        plan.render(block, &mut frames);
        for k in 0..frames.count {
            for (value, column) in row.iter_mut().zip(columns) {
                let jets = match column.of {
                    Part::Platform(index) => frames.platform.get(index),
                    Part::Leg(index) => frames.legs.get(index),
                };
                // Adding zero turns -0 into 0, so that rest reads as rest.
                *value = jets.map_or(0.0, |jets| jets.0[column.order][k]) * column.factor + 0.0;
            }
            sink(tick, &row)?;
            tick += 1;
        }
        progress((block + 1) as f64 / blocks as f64);
    }
    Ok(())
}

fn write_csv(
    out: &mut impl Write,
    rate: SampleRate,
    columns: &[Column],
    rows: impl FnOnce(&mut Sink<'_>) -> io::Result<()>,
) -> io::Result<()> {
    write!(out, "time_s")?;
    columns.iter().try_for_each(|column| write!(out, ",{}", column.name))?;
    writeln!(out)?;
    // As many decimals as name every tick exactly, where nine suffice.
    let decimals = (0..9usize).find(|n| 10u64.pow(*n as u32).is_multiple_of(rate.hz().into())).unwrap_or(9);
    rows(&mut |tick, row| {
        write!(out, "{:.decimals$}", rate.at_s(tick))?;
        // A thousandth of a millionth of a metre or degree: far below what an encoder resolves.
        row.iter().try_for_each(|value| write!(out, ",{value:.9}"))?;
        writeln!(out)
    })
}

/// A WAV counts its bytes in 32 bits (Multimedia Programming Interface and Data Specifications 1.0, 1991).
fn wav_fits(samples: u64, channels: usize) -> Result<(), String> {
    let bytes = samples.saturating_mul(channels as u64).saturating_mul(4);
    if bytes > u64::from(u32::MAX) - 1024 {
        return Err(format!(
            "{:.1} GB are more than a WAV can hold (4 GB); render to `.csv`, or at a lower `--rate`",
            bytes as f64 / 1e9
        ));
    }
    if u16::try_from(channels).is_err() {
        Err(format!("a WAV cannot hold {channels} channels"))
    } else {
        Ok(())
    }
}

fn write_wav(
    out: &mut (impl Write + Seek),
    rate: SampleRate,
    channels: usize,
    rows: impl FnOnce(&mut Sink<'_>) -> io::Result<()>,
) -> io::Result<()> {
    let to_io = |error: hound::Error| match error {
        hound::Error::IoError(error) => error,
        other => io::Error::other(other.to_string()),
    };
    let spec = hound::WavSpec {
        channels: u16::try_from(channels).unwrap_or(u16::MAX),
        sample_rate: rate.hz(),
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut wav = hound::WavWriter::new(out, spec).map_err(to_io)?;
    rows(&mut |_, row| row.iter().try_for_each(|value| wav.write_sample(*value as f32)).map_err(to_io))?;
    wav.finalize().map_err(to_io)
}

fn write_channels(out: &mut impl Write, columns: &[Column]) -> io::Result<()> {
    writeln!(out, "channel,name")?;
    columns.iter().enumerate().try_for_each(|(k, column)| writeln!(out, "{},{}", k + 1, column.name))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn two_columns() -> Vec<Column> {
        let column = |name: &str| Column { name: name.into(), of: Part::Leg(0), order: 0, factor: 1.0 };
        vec![column("pitch_deg"), column("left_length_m")]
    }

    #[test]
    fn csv_names_units_and_ticks_exactly() {
        let mut out = Vec::new();
        let rate = SampleRate::new(250).unwrap();
        write_csv(&mut out, rate, &two_columns(), |sink| {
            sink(0, &[0.0, 0.55])?;
            sink(1, &[-1.5, 1.0 / 3.0])
        })
        .unwrap();
        let expected = "time_s,pitch_deg,left_length_m\n\
            0.000,0.000000000,0.550000000\n0.004,-1.500000000,0.333333333\n";
        assert_eq!(String::from_utf8(out).unwrap(), expected);
    }

    #[test]
    fn wav_holds_the_values_as_they_are() {
        let mut out = io::Cursor::new(Vec::new());
        let rate = SampleRate::new(1000).unwrap();
        write_wav(&mut out, rate, 2, |sink| {
            sink(0, &[0.5, -12.25])?;
            sink(1, &[0.25, 3.0])
        })
        .unwrap();
        out.set_position(0);
        let mut wav = hound::WavReader::new(out).unwrap();
        assert_eq!((wav.spec().channels, wav.spec().sample_rate, wav.duration()), (2, 1000, 2));
        let samples: Vec<f32> = wav.samples().map(Result::unwrap).collect();
        assert_eq!(samples, [0.5, -12.25, 0.25, 3.0]);
    }

    #[test]
    fn a_wav_past_its_size_is_refused_with_advice() {
        assert_eq!(wav_fits(3_600_001, 12), Ok(()));
        assert!(wav_fits(24 * 3_600_000, 14).unwrap_err().contains("`.csv`"));
    }

    #[test]
    fn the_suffix_says_the_kind() {
        assert_eq!(SeriesKind::of(Path::new("a.CSV")).unwrap(), SeriesKind::Csv);
        let said = SeriesKind::of(Path::new("a.mp3")).unwrap_err().to_string();
        assert_eq!(said, "`a.mp3`: a render is a `.csv` or a `.wav` file; end the name on one of them");
    }
}
