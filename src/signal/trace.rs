//! Recorded traces: read, checked, resampled, band-limited, splined.

/// A quintic B-spline over a uniform grid: smooth to the fourth derivative, bounded by its control points.
#[derive(Debug, Clone, PartialEq)]
pub struct Spline {
    /// Time of the first grid point in the recording, s.
    pub start_s: f64,
    /// Grid step, s.
    pub step_s: f64,
    /// Control points.
    pub control: Vec<f64>,
    /// The band limit that was applied, Hz.
    pub below_hz: f64,
}

/// What is wrong with a recording: the row counted from 1 with the header, and words.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("row {row}: {what}")]
pub struct TraceError {
    /// Row of the file, the header being row 1.
    pub row: u64,
    /// Found, expected, what to do.
    pub what: String,
}

/// One column of a recording against its time column.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// Times, s, strictly rising.
    pub time_s: Vec<f64>,
    /// Values as recorded.
    pub value: Vec<f64>,
    /// Things worth knowing that do not stop the work.
    pub remarks: Vec<TraceError>,
}

/// Reads one column of a CSV with a time column.
///
/// # Errors
/// The first row that cannot be used, with the reason.
pub fn read_csv(bytes: &[u8], column: &str) -> Result<Recording, TraceError> {
    let _ = (bytes, column);
    unimplemented!("H3")
}

impl Recording {
    /// Resamples, low-passes below `below_hz` and splines.
    ///
    /// # Errors
    /// When the recording is too short or too large.
    pub fn spline(&self, below_hz: f64) -> Result<Spline, TraceError> {
        let _ = below_hz;
        unimplemented!("H3")
    }

    /// First and last time, s.
    pub fn extent_s(&self) -> (f64, f64) {
        unimplemented!("H3")
    }
}
