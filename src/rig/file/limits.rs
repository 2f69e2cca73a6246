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
    pub(in crate::rig::file) const TORQUE_NM: f64 = 1e5;
    pub(in crate::rig::file) const SMALL_INERTIA_KG_M2: f64 = 10.0;
    pub(in crate::rig::file) const POWER_W: f64 = 1e6;
    pub(in crate::rig::file) const ENERGY_J: f64 = 1e6;
    pub(in crate::rig::file) const CURRENT_A: f64 = 1e4;
    pub(in crate::rig::file) const TORQUE_NM_A: f64 = 1e3;
    pub(in crate::rig::file) const VOLTAGE_V: f64 = 1e3;
    pub(in crate::rig::file) const WINDOW_S: f64 = 3600.0;
    pub(in crate::rig::file) const LIFE_S: f64 = 1e7 * 3600.0;
    pub(in crate::rig::file) const STIFFNESS_N_M: f64 = 1e12;
    pub(in crate::rig::file) const TURNING_STIFFNESS_NM_RAD: f64 = 1e12;
    pub(in crate::rig::file) const MOTOR_HZ: f64 = 2e3;
    pub(in crate::rig::file) const ANGLE_RAD: f64 = std::f64::consts::FRAC_PI_2;
    pub(in crate::rig::file) const CRANK_RAD: f64 = std::f64::consts::TAU;
    pub(in crate::rig::file) const CRANK_RAD_S: f64 = 200.0;
    pub(in crate::rig::file) const CRANK_RAD_S2: f64 = 1e4;
    pub(in crate::rig::file) const CRANK_RAD_S3: f64 = 1e7;
    pub(in crate::rig::file) const RATIO: f64 = 1e4;
}

pub(super) const COORDINATE: Want = Want::within(Dimension::LENGTH, -most::LENGTH_M, most::LENGTH_M);
pub(super) const SIZE: Want = Want::above_zero(Dimension::LENGTH, most::LENGTH_M);
pub(super) const DELAY: Want = Want::within(Dimension::TIME, 0.0, most::DELAY_S);
/// A share that nothing can exceed, and that is not zero: an efficiency, a part of a limit.
pub(super) const SHARE: Want = Want::above_zero(Dimension::NUMBER, 1.0);
/// A share that may be zero.
pub(super) const PART: Want = Want::within(Dimension::NUMBER, 0.0, 1.0);
pub(super) const TORQUE: Want = Want::above_zero(Dimension::TORQUE, most::TORQUE_NM);
pub(super) const POWER: Want = Want::above_zero(Dimension::POWER, most::POWER_W);
pub(super) const CURRENT: Want = Want::above_zero(Dimension::CURRENT, most::CURRENT_A);
pub(super) const WINDOW: Want = Want::within(Dimension::TIME, 0.1, most::WINDOW_S);
pub(super) const STIFFNESS: Want = Want::above_zero(Dimension::STIFFNESS, most::STIFFNESS_N_M);
pub(super) const FREQUENCY: Want = Want::above_zero(Dimension::FREQUENCY, most::FREQUENCY_HZ);
