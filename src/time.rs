//! Time on an integer grid: ticks of a sample rate, and whole nanoseconds where things are placed.
//!
//! Cannot: read a clock.

/// A sample rate in whole hertz, never zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SampleRate(std::num::NonZeroU32);

impl SampleRate {
    /// A rate in Hz; `None` for zero.
    pub fn new(hz: u32) -> Option<Self> {
        std::num::NonZeroU32::new(hz).map(Self)
    }

    /// The rate in Hz.
    pub fn hz(self) -> u32 {
        self.0.get()
    }

    /// The time between two samples, in seconds.
    pub fn step_s(self) -> f64 {
        1.0 / f64::from(self.0.get())
    }

    /// The time of sample `tick` in seconds, computed from the integer (never accumulated).
    pub fn at_s(self, tick: u64) -> f64 {
        let hz = u64::from(self.0.get());
        (tick / hz) as f64 + (tick % hz) as f64 / hz as f64
    }

    /// How many samples cover `length_s` seconds from sample 0, the one at or just past the end included.
    pub fn samples_over(self, length_s: f64) -> u64 {
        (length_s.max(0.0) * f64::from(self.0.get()) - 1e-6).ceil().max(0.0) as u64 + 1
    }
}

/// Rounds a scenario time to whole nanoseconds, so that two ways of writing one instant compare equal.
pub fn to_nanosecond(time_s: f64) -> f64 {
    (time_s * 1e9).round() / 1e9
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sample_times_come_from_the_integer() {
        let rate = SampleRate::new(1000).unwrap();
        assert_eq!(rate.at_s(3_600_000), 3600.0);
        assert_eq!(rate.at_s(1), 0.001);
        assert_eq!(rate.samples_over(1.0), 1001);
        assert_eq!(rate.samples_over(0.0), 1);
    }
}
