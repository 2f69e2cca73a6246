//! Whirling: the speed at which a turning screw bends out by itself.

use super::column::STEEL_MODULUS_PA;
use super::data_error::{DataError, efficiency, positive};
use super::ends::Ends;
use std::f64::consts::PI;

/// Density of steel, kg/m^3. Source: 7850, common practice.
pub const STEEL_DENSITY_KG_M3: f64 = 7850.0;

/// Share of the critical speed that may be used. Source: 80 % in ball-screw catalogues (common practice).
pub const USUAL_SHARE: f64 = 0.8;

/// A screw as a turning shaft. Its length may differ from the one for buckling; both are checked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shaft {
    /// Root diameter, m.
    pub root_diameter_m: f64,
    /// Longest distance between supports that turns free, m.
    pub length_m: f64,
    /// How its ends are held.
    pub ends: Ends,
    /// Share of the critical speed that may be used, 0..1.
    pub share: f64,
}

impl Shaft {
    /// # Errors
    /// When a number is impossible.
    pub fn check(&self) -> Result<(), DataError> {
        positive("the screw's root diameter", self.root_diameter_m, "m")?;
        positive("the screw's free turning length", self.length_m, "m")?;
        efficiency("the share of the critical speed", self.share)
    }

    /// First critical speed, rad/s: b^2 / L^2 sqrt(E I / (rho A)) = b^2 d / (4 L^2) sqrt(E / rho) for a round bar.
    ///
    /// Source: first bending frequency of an Euler-Bernoulli beam (from memory); catalogues print the same with
    /// rounded factors.
    pub fn critical_rad_s(&self) -> f64 {
        let sound_m_s = (STEEL_MODULUS_PA / STEEL_DENSITY_KG_M3).sqrt();
        self.ends.whirl_factor() * self.root_diameter_m / (4.0 * self.length_m * self.length_m) * sound_m_s
    }

    /// The turning rate that is allowed, rad/s.
    pub fn allowed_rad_s(&self) -> f64 {
        self.share * self.critical_rad_s()
    }

    /// The leg's speed that is allowed with a screw of this lead, m/s.
    pub fn allowed_m_s(&self, lead_m: f64) -> f64 {
        self.allowed_rad_s() * lead_m / (2.0 * PI)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 13 mm root, 300 mm long, in rpm; worked from the formula apart from this code, the third with a factor rounded
    /// to 1.5625 (exactly 1.5621).
    #[test]
    fn worked_speeds_come_out() {
        for (ends, expected_rpm) in Ends::ALL.into_iter().zip([6210.0, 17435.0, 27242.0, 39521.0]) {
            let shaft = Shaft { root_diameter_m: 0.013, length_m: 0.3, ends, share: USUAL_SHARE };
            let found_rpm = shaft.critical_rad_s() * 60.0 / (2.0 * PI);
            assert!((found_rpm / expected_rpm - 1.0).abs() < 2.5e-4, "{}: {found_rpm} rpm", ends.words());
            assert!((shaft.allowed_m_s(0.005) - 0.8 * found_rpm / 60.0 * 0.005).abs() < 1e-9);
        }
    }

    #[test]
    fn impossible_shafts_are_refused() {
        let good = Shaft { root_diameter_m: 0.013, length_m: 0.3, ends: Ends::FixedFixed, share: 0.8 };
        assert_eq!(good.check(), Ok(()));
        assert!(Shaft { root_diameter_m: -0.013, ..good }.check().is_err());
        assert!(Shaft { share: 80.0, ..good }.check().is_err());
    }
}
