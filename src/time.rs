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

/// A time as profiles write it and people read it, trailing zeros left out: `0:02.5`, `4:50.837`, `1:02:03`.
pub fn clock(time_s: f64) -> String {
    let milliseconds = (time_s.clamp(0.0, 1e9) * 1000.0).round() as u64;
    let (minutes, rest) = (milliseconds / 60_000, milliseconds % 60_000);
    let seconds = format!("{:06.3}", rest as f64 / 1000.0);
    let seconds = seconds.trim_end_matches('0').trim_end_matches('.');
    match minutes / 60 {
        0 => format!("{minutes}:{seconds:0>2}"),
        hours => format!("{hours}:{:02}:{seconds:0>2}", minutes % 60),
    }
}

/// A day counted from 1970-01-01, in the Gregorian calendar: `2026-11-29`.
pub fn date(days: u64) -> String {
    // Eras of 400 years begin on a first of March, so that the leap day is a year's last (common practice).
    let from_march = days.saturating_add(719_468);
    let (era, of_era) = (from_march / 146_097, from_march % 146_097);
    let year_of_era = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month_from_march = (5 * of_year + 2) / 153;
    let day = of_year - (153 * month_from_march + 2) / 5 + 1;
    let month = if month_from_march < 10 { month_from_march + 3 } else { month_from_march - 9 };
    let year = era * 400 + year_of_era + u64::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_read_as_profiles_write_them() {
        let said: Vec<String> = [0.0, 2.5, 61.0, 290.837, 3600.0, 3723.0].map(clock).to_vec();
        assert_eq!(said, ["0:00", "0:02.5", "1:01", "4:50.837", "1:00:00", "1:02:03"]);
        assert_eq!([f64::NAN, f64::INFINITY, -1.0].map(clock), ["0:00", "277777:46:40", "0:00"]);
    }

    #[test]
    fn a_day_reads_as_the_calendar_has_it() {
        let days = [0, 59, 11_016, 11_017, 19_782, 20_786];
        assert_eq!(
            days.map(date),
            ["1970-01-01", "1970-03-01", "2000-02-29", "2000-03-01", "2024-02-29", "2026-11-29"]
        );
    }

    #[test]
    fn sample_times_come_from_the_integer() {
        let rate = SampleRate::new(1000).unwrap();
        assert_eq!(rate.at_s(3_600_000), 3600.0);
        assert_eq!(rate.at_s(1), 0.001);
        assert_eq!(rate.samples_over(1.0), 1001);
        assert_eq!(rate.samples_over(0.0), 1);
    }
}
