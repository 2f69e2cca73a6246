//! Numbers that no part can have, and the words for them.

/// Why a part's data is impossible. Values are in the unit that the text names.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum DataError {
    /// Not above zero, or not a finite number.
    #[error("{what} is {found} {unit}, expected more than 0 {unit}")]
    NotPositive {
        /// Which number.
        what: &'static str,
        /// Its value.
        found: f64,
        /// Its unit.
        unit: &'static str,
    },
    /// Below zero, or not a finite number.
    #[error("{what} is {found} {unit}, expected 0 {unit} or more")]
    Negative {
        /// Which number.
        what: &'static str,
        /// Its value.
        found: f64,
        /// Its unit.
        unit: &'static str,
    },
    /// Zero or less, or above one: no part gives back more than it takes.
    #[error("{what} is {found}, expected more than 0 and at most 1 (0.9 for 90 %)")]
    Efficiency {
        /// Which number.
        what: &'static str,
        /// Its value.
        found: f64,
    },
    /// A larger number stands where the smaller one should.
    #[error("{small} ({found} {unit}) is more than {large} ({limit} {unit}); are the two swapped?")]
    Order {
        /// What should be the smaller one.
        small: &'static str,
        /// Its value.
        found: f64,
        /// What should be the larger one.
        large: &'static str,
        /// Its value.
        limit: f64,
        /// Their unit.
        unit: &'static str,
    },
    /// A curve without points.
    #[error("the {curve} torque curve has no points, expected at least one at standstill")]
    CurveEmpty {
        /// `peak` or `continuous`.
        curve: &'static str,
    },
    /// A curve that begins at some speed.
    #[error("the {curve} torque curve begins at {found_rad_s} rad/s, expected a first point at standstill")]
    CurveStart {
        /// `peak` or `continuous`.
        curve: &'static str,
        /// Speed of the first point, rad/s.
        found_rad_s: f64,
    },
    /// Two points at one speed, or out of order.
    #[error(
        "point {point} of the {curve} torque curve is at {found_rad_s} rad/s, expected more than the {before_rad_s} rad/s before it"
    )]
    CurveOrder {
        /// `peak` or `continuous`.
        curve: &'static str,
        /// From 1.
        point: usize,
        /// Its speed, rad/s.
        found_rad_s: f64,
        /// The speed of the point before, rad/s.
        before_rad_s: f64,
    },
    /// More torque at more speed.
    #[error(
        "point {point} of the {curve} torque curve rises to {found_nm} N m from {before_nm} N m; a motor's torque does not rise with speed"
    )]
    CurveRises {
        /// `peak` or `continuous`.
        curve: &'static str,
        /// From 1.
        point: usize,
        /// Its torque, N m.
        found_nm: f64,
        /// Torque of the point before, N m.
        before_nm: f64,
    },
    /// The continuous curve lies above the peak curve.
    #[error(
        "at {rate_rad_s} rad/s the continuous torque is {continuous_nm} N m and the peak torque {peak_nm} N m, expected the peak to be the larger; are the two curves swapped?"
    )]
    PeakBelowContinuous {
        /// Where, rad/s.
        rate_rad_s: f64,
        /// N m.
        continuous_nm: f64,
        /// N m; zero beyond the curve's end.
        peak_nm: f64,
    },
    /// The rated power is more than the continuous curve holds.
    #[error(
        "the rated power is {rated_w} W, but torque times speed is at most {most_w} W on the continuous curve; check the units of the curve's speeds"
    )]
    RatedPower {
        /// From the data sheet, W.
        rated_w: f64,
        /// Largest on the curve, W.
        most_w: f64,
    },
    /// A direction that is not of unit length, or not square to another.
    #[error("{what} is {found}, expected {expected}")]
    Direction {
        /// Which number.
        what: &'static str,
        /// Its value.
        found: f64,
        /// What it should be.
        expected: f64,
    },
    /// A window of no samples, or of more than can be kept.
    #[error("a window of {ticks} samples, expected 1 to {most}")]
    Window {
        /// How many were asked for.
        ticks: u64,
        /// Most that can be kept.
        most: u64,
    },
}

/// Passes a finite number above zero.
pub(crate) fn positive(what: &'static str, found: f64, unit: &'static str) -> Result<(), DataError> {
    if found > 0.0 && found.is_finite() { Ok(()) } else { Err(DataError::NotPositive { what, found, unit }) }
}

/// Passes a finite number from zero.
pub(crate) fn not_negative(what: &'static str, found: f64, unit: &'static str) -> Result<(), DataError> {
    if found >= 0.0 && found.is_finite() { Ok(()) } else { Err(DataError::Negative { what, found, unit }) }
}

/// Passes a number above zero and not above one.
pub(crate) fn efficiency(what: &'static str, found: f64) -> Result<(), DataError> {
    if found > 0.0 && found <= 1.0 { Ok(()) } else { Err(DataError::Efficiency { what, found }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_say_what_was_found_and_expected() {
        assert_eq!(
            efficiency("the screw's forward efficiency", 90.0).unwrap_err().to_string(),
            "the screw's forward efficiency is 90, expected more than 0 and at most 1 (0.9 for 90 %)"
        );
        assert_eq!(
            positive("the lead", -0.005, "m").unwrap_err().to_string(),
            "the lead is -0.005 m, expected more than 0 m"
        );
        assert!(positive("the lead", f64::INFINITY, "m").is_err());
        assert!(efficiency("x", f64::NAN).is_err() && efficiency("x", 0.0).is_err());
        assert_eq!(not_negative("the drag torque", 0.0, "N m"), Ok(()));
        assert!(not_negative("the drag torque", f64::NAN, "N m").is_err());
    }
}
