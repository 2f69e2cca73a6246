//! The instants of a stretch of samples.

use crate::signal::{BLOCK, Jet};

/// Where jets are written: value, rate, acceleration and jerk.
pub(crate) type Rows = [[f64; BLOCK]; 4];

/// Evenly spaced instants of scenario time, at most a block of them.
pub(crate) struct Instants<'a> {
    /// Scenario times as computed, s; not empty.
    pub(crate) time_s: &'a [f64],
    /// Their ideal distance, s.
    pub(crate) step_s: f64,
    /// Where the signal starts, s.
    pub(crate) start_s: f64,
}

impl Instants<'_> {
    /// The first instant, s.
    pub(crate) fn first_s(&self) -> f64 {
        self.time_s.first().copied().unwrap_or(self.start_s)
    }

    /// Calls `jet` with every instant counted from the signal's start.
    pub(crate) fn each_local(&self, rows: &mut Rows, jet: impl Fn(f64) -> Jet) {
        let [value, rate, acceleration, jerk] = rows;
        let outs = value.iter_mut().zip(rate).zip(acceleration).zip(jerk);
        for ((((v, r), a), j), t) in outs.zip(self.time_s) {
            [*v, *r, *a, *j] = jet(t - self.start_s).0;
        }
    }
}
