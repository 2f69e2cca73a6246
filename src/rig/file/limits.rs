//! What numbers of a rig file may be.

use super::reader::Want;
use crate::units::Dimension;

/// What a number may be at most. Far beyond any motion base for a person (from memory): only slips of unit or of
/// the decimal point lie outside.
pub(super) mod most {
    pub(in crate::rig::file) const LENGTH_M: f64 = 20.0;
    pub(in crate::rig::file) const SPEED_M_S: f64 = 20.0;
    pub(in crate::rig::file) const ACCELERATION_M_S2: f64 = 1e3;
    pub(in crate::rig::file) const JERK_M_S3: f64 = 1e6;
    pub(in crate::rig::file) const THRUST_N: f64 = 1e6;
    pub(in crate::rig::file) const MASS_KG: f64 = 1e5;
    pub(in crate::rig::file) const INERTIA_KG_M2: f64 = 1e6;
    pub(in crate::rig::file) const DELAY_S: f64 = 1.0;
    pub(in crate::rig::file) const FREQUENCY_HZ: f64 = 1e3;
    pub(in crate::rig::file) const ANGLE_RAD: f64 = std::f64::consts::FRAC_PI_2;
}

pub(super) const COORDINATE: Want = Want::within(Dimension::LENGTH, -most::LENGTH_M, most::LENGTH_M);
pub(super) const SIZE: Want = Want::above_zero(Dimension::LENGTH, most::LENGTH_M);
pub(super) const DELAY: Want = Want::within(Dimension::TIME, 0.0, most::DELAY_S);
pub(super) const FREQUENCY: Want = Want::above_zero(Dimension::FREQUENCY, most::FREQUENCY_HZ);
