//! Buckling: the push that a slender screw bears.

use super::data_error::{DataError, positive};
use super::ends::Ends;
use std::f64::consts::PI;

/// Young's modulus of screw steel, Pa. Source: 2.06e5 N/mm^2, as ball-screw catalogues take it.
pub const STEEL_MODULUS_PA: f64 = 2.06e11;

/// Share of Euler's load that catalogues allow. Source: 0.5 in two makers' tables (common practice).
pub const USUAL_SHARE: f64 = 0.5;

/// Slenderness (length by diameter) beyond which a screw wants a second thought. Source: a maker's table, 40.
pub const SLENDERNESS_CONSULT: f64 = 40.0;
/// Slenderness beyond which a screw wants a support. Source: the same table, 50.
pub const SLENDERNESS_SUPPORT: f64 = 50.0;

/// A screw as a column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Column {
    /// Root diameter, m.
    pub root_diameter_m: f64,
    /// Longest distance between the supports of the pushed part, m.
    pub length_m: f64,
    /// How its ends are held.
    pub ends: Ends,
    /// Young's modulus, Pa.
    pub modulus_pa: f64,
    /// Share of Euler's load that may be used, 0..1.
    pub share: f64,
}

impl Column {
    /// # Errors
    /// When a number is impossible.
    pub fn check(&self) -> Result<(), DataError> {
        positive("the screw's root diameter", self.root_diameter_m, "m")?;
        positive("the screw's buckling length", self.length_m, "m")?;
        positive("the screw's modulus", self.modulus_pa, "Pa")?;
        super::data_error::efficiency("the share of the buckling load", self.share)
    }

    /// Euler's load, N: P = N pi^2 E I / L^2 with I = pi d^4 / 64. Source: Euler column, ball-screw catalogues.
    pub fn euler_n(&self) -> f64 {
        let d2 = self.root_diameter_m * self.root_diameter_m;
        let area_moment_m4 = PI * d2 * d2 / 64.0;
        self.ends.buckling_factor() * PI * PI * self.modulus_pa * area_moment_m4
            / (self.length_m * self.length_m)
    }

    /// The push that is allowed, N: Euler's load times the share.
    pub fn allowed_n(&self) -> f64 {
        self.share * self.euler_n()
    }

    /// Allowed push divided by the push of leg force `force_n` (+ pushes the ends apart, which presses the screw);
    /// infinite under pull. Below 1 it is too much.
    pub fn margin(&self, force_n: f64) -> f64 {
        if force_n > 0.0 { self.allowed_n() / force_n } else { f64::INFINITY }
    }

    /// Length by root diameter.
    pub fn slenderness(&self) -> f64 {
        self.length_m / self.root_diameter_m
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 13 mm root, 300 mm long; worked from the formula apart from this code.
    #[test]
    fn worked_loads_come_out() {
        let expected = [7917.9, 31671.0, 64800.0, 126_686.0];
        for (ends, expected) in Ends::ALL.into_iter().zip(expected) {
            let column = Column {
                root_diameter_m: 0.013,
                length_m: 0.3,
                ends,
                modulus_pa: STEEL_MODULUS_PA,
                share: 0.5,
            };
            let found = column.euler_n();
            assert!((found / expected - 1.0).abs() < 2e-5, "{}: {found} and not {expected}", ends.words());
            assert_eq!(column.allowed_n(), found / 2.0);
            assert!((column.margin(found / 4.0) - 2.0).abs() < 1e-12);
            assert_eq!(column.margin(-1e9), f64::INFINITY);
        }
    }

    #[test]
    fn impossible_columns_are_refused() {
        let good = Column {
            root_diameter_m: 0.013,
            length_m: 0.3,
            ends: Ends::FixedFree,
            modulus_pa: STEEL_MODULUS_PA,
            share: USUAL_SHARE,
        };
        assert_eq!(good.check(), Ok(()));
        assert!((good.slenderness() - 23.08).abs() < 0.01);
        assert!(Column { length_m: 0.0, ..good }.check().is_err());
        assert!(Column { share: 2.0, ..good }.check().is_err());
    }
}
