//! Recorded traces: read, checked, resampled, band-limited, splined.

mod grid;
mod header;
mod lowpass;
mod screen;
mod spline;
mod table;

pub use lowpass::lowpass_taps;
pub use spline::Spline;
pub use table::{Table, read_csv};

/// What is wrong with a recording, or worth knowing: the row counted from 1 with the header, and words. Row 1 also
/// stands for the recording as a whole.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("row {row}: {what}")]
pub struct TraceError {
    /// Row of the file, the header being row 1.
    pub row: u64,
    /// Found, expected, what to do.
    pub what: String,
}

impl TraceError {
    fn new(row: u64, what: impl Into<String>) -> Self {
        Self { row, what: what.into() }
    }
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

/// Fewer rows than this are no recording: the spline's ends alone take six.
const LEAST_ROWS: usize = 8;
/// Samples a second for each hertz of the band limit that a filtered recording keeps at least; more than twice that
/// many are thinned out. At 16 a quintic spline is off by less than 1e-6 of the amplitude at the band limit.
const KEPT_PER_HZ: f64 = 16.0;

impl Recording {
    /// Resamples to an even grid, low-passes and splines.
    ///
    /// The grid has the recording's usual step, fitted so that it ends with the recording; between rows a cubic through the four nearest is read. The low-pass is a windowed sinc of linear phase, run symmetrically (no delay):
    /// half the amplitude (-6 dB) at `below_hz`, flat within 0.01 % up to 3/4 of it and at most 0.01 % from 5/4 of it on;
    /// beyond its ends the recording is taken to rest at its first and last value. Where `below_hz` is not below half the
    /// recording's rate there is nothing to remove and the filter is left out ([`Recording::band_remark`] says so).
    ///
    /// # Errors
    /// When the recording is too short, too uneven or too large, or `below_hz` is not above zero.
    pub fn spline(&self, below_hz: f64) -> Result<Spline, TraceError> {
        if !(below_hz > 0.0 && below_hz.is_finite()) {
            return Err(TraceError::new(
                1,
                format!("the band limit must be above zero; it is {below_hz} Hz"),
            ));
        }
        let even = grid::even(&self.time_s, &self.value)?;
        let rate_hz = 1.0 / even.step_s;
        if below_hz >= 0.5 * rate_hz {
            return Ok(Spline::through(even.start_s, even.step_s, &even.value, 0.5 * rate_hz));
        }
        let taps = lowpass::tap_count(below_hz, rate_hz);
        if taps / 2 > even.value.len() {
            let length_s = even.step_s * even.value.len() as f64;
            return Err(TraceError::new(
                1,
                format!(
                    "the recording lasts {length_s:.3} s, too short for a band limit of {below_hz} Hz: raise it to {:.3} Hz or more",
                    below_hz * (taps / 2) as f64 / even.value.len() as f64 * 1.01
                ),
            ));
        }
        let every = ((rate_hz / (KEPT_PER_HZ * below_hz)).floor() as usize).max(1);
        let taps = lowpass::lowpass_taps(taps, below_hz, rate_hz);
        let value = lowpass::filter(&even.value, &taps, every);
        Ok(Spline::through(even.start_s, even.step_s * every as f64, &value, below_hz))
    }

    /// What to know about a band limit for this recording: that it is not below half its rate and removes nothing.
    pub fn band_remark(&self, below_hz: f64) -> Option<TraceError> {
        let rate_hz = 1.0 / grid::even_step_s(&self.time_s)?;
        (below_hz >= 0.5 * rate_hz).then(|| {
            TraceError::new(
                1,
                format!(
                    "the band limit of {below_hz} Hz is not below half the recording's rate of {rate_hz:.3} Hz, so \
                     nothing is filtered"
                ),
            )
        })
    }

    /// First and last time, s.
    pub fn extent_s(&self) -> (f64, f64) {
        let first = self.time_s.first().copied().unwrap_or(0.0);
        (first, self.time_s.last().copied().unwrap_or(first))
    }
}

#[cfg(test)]
mod tests;
