//! A servo motor and the current limits of its drive.

use super::data_error::{DataError, not_negative, positive};
use super::torque_curve::TorqueCurve;

/// How far a rated power may lie above torque times speed on the curve, for a data sheet's rounding.
const POWER_ROUNDING: f64 = 1.05;

/// A motor as its data sheet gives it.
#[derive(Debug, Clone, PartialEq)]
pub struct Motor {
    /// Moment of inertia of the rotor, with a brake's hub if it has one, kg m^2.
    pub rotor_kg_m2: f64,
    /// Torque that it bears without end.
    pub continuous: TorqueCurve,
    /// Torque that it bears for a moment.
    pub peak: TorqueCurve,
    /// Rated power, W.
    pub rated_w: f64,
    /// Torque for a current, N m/A (r.m.s. amperes, as the drive's limits).
    pub torque_nm_a: f64,
    /// Thermal time constant of the winding, s.
    pub time_constant_s: f64,
}

/// Current limits of a drive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurrentLimits {
    /// Without end, A r.m.s.
    pub continuous_a: f64,
    /// For a moment, A r.m.s.
    pub peak_a: f64,
}

impl CurrentLimits {
    /// # Errors
    /// When a number is impossible.
    pub fn check(&self) -> Result<(), DataError> {
        positive("the drive's continuous current", self.continuous_a, "A")?;
        positive("the drive's peak current", self.peak_a, "A")?;
        if self.continuous_a > self.peak_a {
            return Err(DataError::Order {
                small: "the drive's continuous current",
                found: self.continuous_a,
                large: "its peak current",
                limit: self.peak_a,
                unit: "A",
            });
        }
        Ok(())
    }
}

impl Motor {
    /// # Errors
    /// When a number is impossible, the continuous curve lies above the peak one, or the rated power is not on it.
    pub fn check(&self) -> Result<(), DataError> {
        positive("the motor's rotor inertia", self.rotor_kg_m2, "kg m^2")?;
        not_negative("the motor's rated power", self.rated_w, "W")?;
        positive("the motor's torque constant", self.torque_nm_a, "N m/A")?;
        positive("the motor's thermal time constant", self.time_constant_s, "s")?;
        // Both are lines between points, so it is enough to look at the points of both.
        for &(rate_rad_s, _) in self.continuous.points().iter().chain(self.peak.points()) {
            let Some(continuous_nm) = self.continuous.at_nm(rate_rad_s) else { continue };
            let peak_nm = self.peak.at_nm(rate_rad_s).unwrap_or(0.0);
            if continuous_nm > peak_nm {
                return Err(DataError::PeakBelowContinuous { rate_rad_s, continuous_nm, peak_nm });
            }
        }
        let most_w = self.continuous.most_power_w();
        if self.rated_w > most_w * POWER_ROUNDING {
            return Err(DataError::RatedPower { rated_w: self.rated_w, most_w });
        }
        Ok(())
    }

    /// Torque for a moment at a turning rate, N m: the curve's, or what the drive's current makes if that is less.
    /// `None` beyond the curve.
    pub fn peak_nm(&self, rate_rad_s: f64, limits: &CurrentLimits) -> Option<f64> {
        self.peak.at_nm(rate_rad_s).map(|torque| torque.min(limits.peak_a * self.torque_nm_a))
    }

    /// Torque without end at a turning rate, N m: the curve's, or the drive's if that is less. `None` beyond the curve.
    pub fn continuous_nm(&self, rate_rad_s: f64, limits: &CurrentLimits) -> Option<f64> {
        self.continuous.at_nm(rate_rad_s).map(|torque| torque.min(limits.continuous_a * self.torque_nm_a))
    }

    /// Heating of the winding by a torque at a rate, as a share of what it bears without end: (T / Tc)^2.
    ///
    /// Infinite beyond the continuous curve. Source: copper loss goes with current squared (from memory).
    pub fn heating(&self, torque_nm: f64, rate_rad_s: f64) -> f64 {
        let share = self.continuous.share(torque_nm, rate_rad_s);
        share * share
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An invented 400 W motor of everyday size.
    fn motor() -> Motor {
        Motor {
            rotor_kg_m2: 3e-5,
            continuous: TorqueCurve::new("continuous", vec![(0.0, 1.27), (314.0, 1.27), (520.0, 0.8)])
                .unwrap(),
            peak: TorqueCurve::new("peak", vec![(0.0, 3.8), (320.0, 3.8), (520.0, 1.8)]).unwrap(),
            rated_w: 400.0,
            torque_nm_a: 0.5,
            time_constant_s: 900.0,
        }
    }

    #[test]
    fn the_drive_may_be_the_limit() {
        let limits = CurrentLimits { continuous_a: 2.0, peak_a: 6.0 };
        assert_eq!(limits.check(), Ok(()));
        assert_eq!(motor().peak_nm(0.0, &limits), Some(3.0));
        assert_eq!(motor().peak_nm(520.0, &limits), Some(1.8));
        assert_eq!(motor().continuous_nm(0.0, &limits), Some(1.0));
        assert_eq!(motor().continuous_nm(600.0, &limits), None);
        assert!((motor().heating(-2.54, 100.0) - 4.0).abs() < 1e-12);
        assert_eq!(motor().heating(0.1, 521.0), f64::INFINITY);
    }

    #[test]
    fn impossible_motors_are_refused() {
        assert_eq!(motor().check(), Ok(()));
        let swapped = Motor { continuous: motor().peak, peak: motor().continuous, ..motor() };
        assert!(matches!(swapped.check(), Err(DataError::PeakBelowContinuous { .. })));
        let short = TorqueCurve::new("peak", vec![(0.0, 3.8), (400.0, 3.8)]).unwrap();
        let found = Motor { peak: short, ..motor() }.check();
        assert!(matches!(found, Err(DataError::PeakBelowContinuous { rate_rad_s: 520.0, .. })), "{found:?}");
        let found = Motor { rated_w: 4000.0, ..motor() }.check();
        assert!(matches!(found, Err(DataError::RatedPower { .. })), "{found:?}");
        assert!(Motor { rotor_kg_m2: -1.0, ..motor() }.check().is_err());
        assert!(Motor { time_constant_s: 0.0, ..motor() }.check().is_err());
        let found = CurrentLimits { continuous_a: 6.0, peak_a: 2.0 }.check().unwrap_err();
        assert_eq!(
            found.to_string(),
            "the drive's continuous current (6 A) is more than its peak current (2 A); are the two swapped?"
        );
    }
}
