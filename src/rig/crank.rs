//! A rotary leg: a motor turns a crank, and a rod runs from the crank's pin to the platform.
//!
//! The pin is at p = b + r (cos t u + sin t w), with b the crank's centre, u where the angle is zero, w = n x u and n
//! the shaft's axis. With d = a - b for an anchor a, |a - p| = l becomes A cos t + B sin t = C, where A = d . u,
//! B = d . w, C = (d . d + r^2 - l^2) / (2 r); so t = atan2(B, A) +- acos(C / sqrt(A^2 + B^2)). Source: the rod's length
//! written out (calculated); held against brute force and differences below.
//!
//! Cannot: know a rig's pose; bring the anchor.

pub mod dead_point;
mod gearbox;
mod stand;
#[cfg(test)]
mod tests;

pub use gearbox::Gearbox;
pub use stand::Stand;

use super::mechanics::DataError;
use nalgebra::Vector3;
use std::f64::consts::PI;

/// How far from one the length of a direction may be, and from zero its part along the shaft.
const DIRECTION_TOLERANCE: f64 = 1e-6;

/// Which of the two ways the crank and rod are put together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Assembly {
    /// The pin runs ahead of the anchor's direction, in the sense of positive angles.
    Ahead,
    /// The pin runs behind it.
    Behind,
}

impl Assembly {
    /// Both, in this order.
    pub const ALL: [Self; 2] = [Self::Ahead, Self::Behind];

    /// The word: `ahead`.
    pub fn word(self) -> &'static str {
        match self {
            Self::Ahead => "ahead",
            Self::Behind => "behind",
        }
    }

    /// The assembly of a word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|assembly| assembly.word() == word)
    }

    /// Sign of the rod's part along the pin's way: a pin that runs ahead of the anchor has it behind.
    pub(crate) fn lever_sign(self) -> f64 {
        match self {
            Self::Ahead => -1.0,
            Self::Behind => 1.0,
        }
    }
}

/// A crank with its rod.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crank {
    /// Centre of the shaft, rig frame, m.
    pub centre_r_m: Vector3<f64>,
    /// The shaft's axis, rig frame, unit length; angles are positive about it by the right hand.
    pub axis_r: Vector3<f64>,
    /// Where the crank points at angle zero, rig frame, unit length, square to the axis.
    pub zero_r: Vector3<f64>,
    /// From the shaft to the pin, m.
    pub arm_m: f64,
    /// From the pin to the anchor, m.
    pub rod_m: f64,
    /// How it is put together.
    pub assembly: Assembly,
}

/// Why there is no angle.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum CrankError {
    /// The anchor is too far away.
    #[error(
        "the anchor is {short_m} m beyond the reach of crank and rod; a longer rod or arm would reach it"
    )]
    TooFar {
        /// By how much the rod is too short with the crank pointing there, m.
        short_m: f64,
    },
    /// The anchor is too near.
    #[error("the anchor is {long_m} m too near for crank and rod; a shorter rod would fit")]
    TooNear {
        /// By how much the rod is too long at best, m.
        long_m: f64,
    },
    /// Crank and rod lie in one plane with the shaft: the crank does not move the anchor.
    #[error(
        "the crank stands at a dead point, where it does not move the anchor; keep the angle away from there"
    )]
    DeadPoint,
}

/// Crank angle and how it moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrankMotion {
    /// rad.
    pub angle_rad: f64,
    /// rad/s.
    pub rate_rad_s: f64,
    /// rad/s^2.
    pub acceleration_rad_s2: f64,
}

/// Position, velocity and acceleration of the anchor, rig frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AnchorMotion {
    /// m.
    pub at_r_m: Vector3<f64>,
    /// m/s.
    pub velocity_r_m_s: Vector3<f64>,
    /// m/s^2.
    pub acceleration_r_m_s2: Vector3<f64>,
}

impl Crank {
    /// # Errors
    /// When a length is not positive, a direction not of unit length, or the zero direction not square to the axis.
    pub fn check(&self) -> Result<(), DataError> {
        use super::mechanics::positive;
        positive("the crank's arm", self.arm_m, "m")?;
        positive("the crank's rod", self.rod_m, "m")?;
        let off =
            |value: f64| value.abs().partial_cmp(&DIRECTION_TOLERANCE) != Some(std::cmp::Ordering::Less);
        for (what, found) in [
            ("the length of the crank's axis", self.axis_r.norm()),
            ("the length of the crank's zero direction", self.zero_r.norm()),
        ] {
            if off(found - 1.0) {
                return Err(DataError::Direction { what, found, expected: 1.0 });
            }
        }
        let along = self.axis_r.dot(&self.zero_r);
        if off(along) {
            let what = "the part of the crank's zero direction along its axis";
            return Err(DataError::Direction { what, found: along, expected: 0.0 });
        }
        Ok(())
    }

    /// Direction of the angle of a quarter turn.
    pub fn quarter_r(&self) -> Vector3<f64> {
        self.axis_r.cross(&self.zero_r)
    }

    /// The pin at an angle, rig frame, m.
    pub fn pin_r_m(&self, angle_rad: f64) -> Vector3<f64> {
        let (sin, cos) = libm::sincos(angle_rad);
        self.centre_r_m + (self.zero_r * cos + self.quarter_r() * sin) * self.arm_m
    }

    /// Crank angle for an anchor, rad, within half a turn of the anchor's direction, as put together.
    ///
    /// # Errors
    /// When the anchor cannot be reached.
    pub fn angle_rad(&self, anchor_r_m: Vector3<f64>) -> Result<f64, CrankError> {
        let d = anchor_r_m - self.centre_r_m;
        let (a, b) = (d.dot(&self.zero_r), d.dot(&self.quarter_r()));
        let in_plane = libm::hypot(a, b);
        let c = (d.norm_squared() + self.arm_m * self.arm_m - self.rod_m * self.rod_m) / (2.0 * self.arm_m);
        // Nearest and furthest that the pin comes to the anchor.
        let across = d.dot(&self.axis_r);
        if c > in_plane {
            let least = libm::hypot(in_plane - self.arm_m, across);
            return Err(CrankError::TooFar { short_m: least - self.rod_m });
        }
        if c < -in_plane {
            let most = libm::hypot(in_plane + self.arm_m, across);
            return Err(CrankError::TooNear { long_m: self.rod_m - most });
        }
        if in_plane == 0.0 {
            // The anchor is on the shaft's line: every angle or none; none of them moves it.
            return Err(CrankError::DeadPoint);
        }
        // As atan2, which keeps its digits where acos loses half of them.
        let aside = libm::atan2(((in_plane - c) * (in_plane + c)).sqrt(), c);
        let towards = libm::atan2(b, a);
        Ok(match self.assembly {
            Assembly::Ahead => towards + aside,
            Assembly::Behind => towards - aside,
        })
    }

    /// The same, by whole turns nearest to `before_rad`: so an angle runs on past half a turn without a jump.
    ///
    /// # Errors
    /// When the anchor cannot be reached.
    pub fn angle_near_rad(&self, anchor_r_m: Vector3<f64>, before_rad: f64) -> Result<f64, CrankError> {
        let angle = self.angle_rad(anchor_r_m)?;
        Ok(angle + ((before_rad - angle) / (2.0 * PI)).round() * 2.0 * PI)
    }

    /// Angle between the crank and the line to an anchor in the crank's plane at `distance_m`, rad: the law of cosines.
    ///
    /// # Errors
    /// When crank and rod cannot make a triangle with it.
    pub fn triangle_rad(&self, distance_m: f64) -> Result<f64, CrankError> {
        let anchor = self.centre_r_m + self.zero_r * distance_m.abs();
        Crank { assembly: Assembly::Ahead, ..*self }.angle_rad(anchor)
    }

    /// Share of the rod's force that acts square to the crank, with its sign: the rod's direction times the pin's. 0 at
    /// a dead point, 1 at best.
    pub fn transmission(&self, angle_rad: f64, anchor_r_m: Vector3<f64>) -> f64 {
        let (sin, cos) = libm::sincos(angle_rad);
        let tangent = self.quarter_r() * cos - self.zero_r * sin;
        (anchor_r_m - self.pin_r_m(angle_rad)).dot(&tangent) / self.rod_m
    }

    /// Torque about the shaft, N m, + with the angle, that a motor makes against a rod force (N, + pushes the anchor
    /// away). Virtual work: T = F r transmission.
    pub fn torque_nm(&self, rod_n: f64, angle_rad: f64, anchor_r_m: Vector3<f64>) -> f64 {
        rod_n * self.arm_m * self.transmission(angle_rad, anchor_r_m)
    }

    /// How the angle changes with the anchor, rad/m: rod / (r l transmission), the rod as a vector.
    ///
    /// # Errors
    /// When the anchor cannot be reached or the transmission is `least_transmission` or below.
    pub fn gradient_rad_m(
        &self,
        anchor_r_m: Vector3<f64>,
        least_transmission: f64,
    ) -> Result<Vector3<f64>, CrankError> {
        let angle = self.angle_rad(anchor_r_m)?;
        let lever_m2 = self.arm_m * self.rod_m * self.live(angle, anchor_r_m, least_transmission)?;
        Ok((anchor_r_m - self.pin_r_m(angle)) / lever_m2)
    }

    /// The transmission where it is large enough.
    fn live(&self, angle_rad: f64, anchor_r_m: Vector3<f64>, least: f64) -> Result<f64, CrankError> {
        let transmission = self.transmission(angle_rad, anchor_r_m);
        let is_live = transmission.abs() > least.max(0.0);
        if is_live { Ok(transmission) } else { Err(CrankError::DeadPoint) }
    }

    /// Angle, rate and acceleration of the crank for a moving anchor, near `before_rad` by whole turns.
    ///
    /// From the rod e = a - p, e . e' = 0: with p' = t' q, q = dp/dt: t' = e . a' / (e . q); and once more:
    /// t'' = (e . a'' + e' . e' + t'^2 e . (p - b)) / (e . q), for dq/dt = -(p - b).
    ///
    /// # Errors
    /// When the anchor cannot be reached or the transmission is `least_transmission` or below.
    pub fn motion(
        &self,
        anchor: &AnchorMotion,
        before_rad: f64,
        least_transmission: f64,
    ) -> Result<CrankMotion, CrankError> {
        let angle_rad = self.angle_near_rad(anchor.at_r_m, before_rad)?;
        self.live(angle_rad, anchor.at_r_m, least_transmission)?;
        let (sin, cos) = libm::sincos(angle_rad);
        let swing = (self.quarter_r() * cos - self.zero_r * sin) * self.arm_m;
        let spoke = self.pin_r_m(angle_rad) - self.centre_r_m;
        let rod = anchor.at_r_m - self.centre_r_m - spoke;
        let lever = rod.dot(&swing);
        let rate = rod.dot(&anchor.velocity_r_m_s) / lever;
        let rod_rate = anchor.velocity_r_m_s - swing * rate;
        let up =
            rod.dot(&anchor.acceleration_r_m_s2) + rod_rate.norm_squared() + rate * rate * rod.dot(&spoke);
        Ok(CrankMotion { angle_rad, rate_rad_s: rate, acceleration_rad_s2: up / lever })
    }
}
