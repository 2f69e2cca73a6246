//! A holding brake on the motor or the screw.

use super::data_error::{DataError, not_negative, positive};
use super::screw::BallScrew;

/// A spring-applied brake as its data sheet gives it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Brake {
    /// Torque of the weakest such brake (worn, oily, hot), N m.
    pub weakest_nm: f64,
    /// Torque of the strongest such brake, N m.
    pub strongest_nm: f64,
    /// Supply from which it is released, V. Without supply it locks (common practice: 24 V releases).
    pub release_v: f64,
    /// From loss of supply until it brakes, s.
    pub delay_s: f64,
    /// Most work in one stop from speed, J.
    pub stop_j: f64,
    /// How many such stops it bears: holding brakes bear few.
    pub stops: u32,
}

impl Brake {
    /// # Errors
    /// When a number is impossible.
    pub fn check(&self) -> Result<(), DataError> {
        positive("the brake's torque", self.weakest_nm, "N m")?;
        positive("the brake's largest torque", self.strongest_nm, "N m")?;
        positive("the brake's release voltage", self.release_v, "V")?;
        not_negative("the brake's delay", self.delay_s, "s")?;
        not_negative("the brake's work in one stop", self.stop_j, "J")?;
        if self.weakest_nm > self.strongest_nm {
            return Err(DataError::Order {
                small: "the brake's torque",
                found: self.weakest_nm,
                large: "its largest torque",
                limit: self.strongest_nm,
                unit: "N m",
            });
        }
        Ok(())
    }

    /// Whether it is locked at a supply voltage. Source: spring-applied brakes, common practice.
    pub fn is_locked(&self, supply_v: f64) -> bool {
        supply_v < self.release_v
    }

    /// Weakest torque divided by the torque that a leg force needs at the screw; infinite without force. Below 1 it
    /// slips.
    ///
    /// The screw's friction does not count as help: shaking sets it free (from memory).
    pub fn holding_margin(&self, screw: &BallScrew, force_n: f64) -> f64 {
        self.weakest_nm / screw.ideal_nm(force_n).abs()
    }

    /// How many stops with `work_j` each it bears; `None` when that is more than it may take at once.
    ///
    /// Below the most, wear goes with work, so the count grows in proportion. Source: friction wear law (from memory).
    pub fn stops_of(&self, work_j: f64) -> Option<f64> {
        if work_j > self.stop_j {
            return None;
        }
        if work_j <= 0.0 {
            return Some(f64::INFINITY);
        }
        Some((f64::from(self.stops) * self.stop_j / work_j).floor())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn brake() -> Brake {
        Brake {
            weakest_nm: 1.3,
            strongest_nm: 2.6,
            release_v: 18.0,
            delay_s: 0.03,
            stop_j: 20.0,
            stops: 1000,
        }
    }

    #[test]
    fn unpowered_is_locked() {
        assert!(brake().is_locked(0.0));
        assert!(!brake().is_locked(24.0));
    }

    /// 1000 N on 5 mm need 0.79577 N m without friction.
    #[test]
    fn the_margin_counts_no_friction() {
        let screw = BallScrew {
            lead_m: 0.005,
            efficiency_forward: 0.9,
            efficiency_back: 0.1,
            drag_nm: 0.5,
            inertia_kg_m2: 0.0,
        };
        assert!((brake().holding_margin(&screw, -1000.0) - 1.3 / 0.795_775).abs() < 1e-5);
        assert_eq!(brake().holding_margin(&screw, 0.0), f64::INFINITY);
    }

    #[test]
    fn stops_are_counted_by_work() {
        assert_eq!(brake().stops_of(20.0), Some(1000.0));
        assert_eq!(brake().stops_of(5.0), Some(4000.0));
        assert_eq!(brake().stops_of(20.1), None);
        assert_eq!(brake().stops_of(0.0), Some(f64::INFINITY));
    }

    #[test]
    fn impossible_brakes_are_refused() {
        assert_eq!(brake().check(), Ok(()));
        assert!(Brake { weakest_nm: 3.0, ..brake() }.check().unwrap_err().to_string().contains("swapped"));
        assert!(Brake { delay_s: -0.1, ..brake() }.check().is_err());
    }
}
