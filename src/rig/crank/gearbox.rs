//! The gearbox between a motor and a crank.

use crate::rig::mechanics::screw::BallScrew;
use crate::rig::mechanics::{DataError, Range, efficiency, not_negative, positive};

/// A gearbox as its data sheet gives it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gearbox {
    /// Turns of the motor for a turn of the crank.
    pub ratio: f64,
    /// Play of the crank with the motor held, from one side to the other, rad.
    pub backlash_rad: f64,
    /// Work out by work in when the motor drives, 0..1.
    pub efficiency_forward: f64,
    /// Work out by work in when the crank drives, 0..1; 0 when it locks itself.
    pub efficiency_back: f64,
    /// Torque that turns it without a load, at the motor's side, N m.
    pub drag_nm: f64,
    /// Moment of inertia at the motor's side, kg m^2: gears and coupling, and the crank's own over the ratio's square.
    pub inertia_kg_m2: f64,
}

impl Gearbox {
    /// # Errors
    /// When a number is impossible.
    pub fn check(&self) -> Result<(), DataError> {
        positive("the gearbox's ratio", self.ratio, "turns")?;
        not_negative("the gearbox's backlash", self.backlash_rad, "rad")?;
        efficiency("the gearbox's forward efficiency", self.efficiency_forward)?;
        if self.efficiency_back != 0.0 {
            efficiency("the gearbox's efficiency when driven back", self.efficiency_back)?;
        }
        not_negative("the gearbox's drag torque", self.drag_nm, "N m")?;
        not_negative("the gearbox's moment of inertia", self.inertia_kg_m2, "kg m^2")
    }

    /// The same as a screw that moves the pin along its circle by `lead_m` in a turn of the motor: virtual work knows no
    /// difference between a force on a nut and one on a pin.
    pub fn at_pin(&self, lead_m: f64) -> BallScrew {
        BallScrew {
            lead_m,
            efficiency_forward: self.efficiency_forward,
            efficiency_back: self.efficiency_back,
            drag_nm: self.drag_nm,
            inertia_kg_m2: self.inertia_kg_m2,
        }
    }

    /// Torque at the motor, N m, for a torque at the crank and its rate (rad/s, same sense), without inertia.
    ///
    /// As for a screw, the efficiency flips with the sign of power, and at `still_rad_s` or slower both branches stay
    /// open. Source: virtual work with a loss (from memory).
    pub fn motor_nm(&self, crank_nm: f64, rate_rad_s: f64, still_rad_s: f64) -> Range {
        let driving = crank_nm / self.ratio / self.efficiency_forward;
        let back = crank_nm / self.ratio * self.efficiency_back;
        if rate_rad_s.abs() <= still_rad_s {
            Range::between(driving, back)
        } else {
            Range::exact(if crank_nm * rate_rad_s > 0.0 { driving } else { back })
        }
    }

    /// Lost motion at the rod's end, m, for an arm and a transmission: the pin's play along the rod.
    pub fn lost_m(&self, arm_m: f64, transmission: f64) -> f64 {
        self.backlash_rad * arm_m * transmission.abs()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BOX: Gearbox = Gearbox {
        ratio: 50.0,
        backlash_rad: 0.001,
        efficiency_forward: 0.8,
        efficiency_back: 0.6,
        drag_nm: 0.0,
        inertia_kg_m2: 1e-5,
    };

    /// A torque of 40 N m on an arm of 0.1 m is 400 N at its pin: the screw that stands for the gearbox asks as much of
    /// the motor.
    #[test]
    fn the_screw_at_the_pin_is_the_gearbox() {
        let screw = BOX.at_pin(2.0 * std::f64::consts::PI * 0.1 / 50.0);
        for (force_n, rate) in [(400.0, 1.0), (400.0, -1.0), (-400.0, 1.0), (400.0, 0.0)] {
            let (pin, gears) =
                (screw.torque_nm(force_n, rate * 0.1, 0.0), BOX.motor_nm(force_n * 0.1, rate, 0.0));
            assert!(
                (pin.low - gears.low).abs() < 1e-12 && (pin.high - gears.high).abs() < 1e-12,
                "{pin:?} {gears:?}"
            );
        }
        assert!((screw.turn_rad_m() - 500.0).abs() < 1e-9);
    }

    #[test]
    fn torque_depends_on_who_drives() {
        assert_eq!(BOX.motor_nm(40.0, 1.0, 0.0), Range::exact(1.0));
        assert!((BOX.motor_nm(40.0, -1.0, 0.0).worst() - 0.48).abs() < 1e-12);
        let still = BOX.motor_nm(-40.0, 0.0, 0.0);
        assert!((still.low + 1.0).abs() < 1e-12 && (still.high + 0.48).abs() < 1e-12);
        assert!((BOX.lost_m(0.12, -0.5) - 6e-5).abs() < 1e-18);
    }

    #[test]
    fn impossible_gearboxes_are_refused() {
        assert_eq!(BOX.check(), Ok(()));
        assert!(Gearbox { ratio: 0.0, ..BOX }.check().is_err());
        assert!(Gearbox { efficiency_forward: 80.0, ..BOX }.check().is_err());
        assert!(Gearbox { backlash_rad: -0.1, ..BOX }.check().is_err());
    }
}
