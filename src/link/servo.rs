//! A drive's position loop, simulated: second order, as fast and as strong as a rig file says.
//!
//! The loop is x'' = w^2 (r - x) - 2 z w x' with z = 0.9, and w such that it lets the bandwidth of the rig file
//! through at -3 dB (w from the second-order low-pass's bandwidth; from memory). Its speed and acceleration end at
//! 1.25 times the limits of the rig file: a drive is set up with room above what it is asked for (our own choice).

use crate::rig::{Actuator, Drive};

/// Damping of the loop.
const DAMPING: f64 = 0.9;

/// Room of the drive above the limits of the rig file.
const HEADROOM: f64 = 1.25;

/// The position loop of one leg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Servo {
    omega_rad_s: f64,
    speed_m_s: f64,
    acceleration_m_s2: f64,
}

fn omega_rad_s(drive: &Drive) -> f64 {
    let spread = 4.0 * DAMPING * DAMPING;
    let width = (1.0 - spread / 2.0 + (spread * (DAMPING * DAMPING - 1.0) + 2.0).sqrt()).sqrt();
    std::f64::consts::TAU * drive.bandwidth_hz / width
}

/// How far behind its target a loop runs while that goes slowly, s: 2 z / w, the slope of its phase at nought.
pub(super) fn lag_s(drive: &Drive) -> f64 {
    2.0 * DAMPING / omega_rad_s(drive)
}

impl Servo {
    pub(super) fn new(drive: &Drive, leg: &Actuator) -> Self {
        Self {
            omega_rad_s: omega_rad_s(drive),
            speed_m_s: HEADROOM * leg.speed_m_s,
            acceleration_m_s2: HEADROOM * leg.acceleration_m_s2,
        }
    }

    /// The acceleration towards `target_m` from `at_m` at `rate_m_s`, m/s^2, never above `most_m_s2` or what the drive
    /// is set up for.
    pub(super) fn pull_m_s2(&self, target_m: f64, at_m: f64, rate_m_s: f64, most_m_s2: f64) -> f64 {
        let omega = self.omega_rad_s;
        let wanted = omega * omega * (target_m - at_m) - 2.0 * DAMPING * omega * rate_m_s;
        let most = self.acceleration_m_s2.min(most_m_s2);
        wanted.clamp(-most, most)
    }

    /// A speed that the drive can have, m/s.
    pub(super) fn fast_m_s(&self, rate_m_s: f64) -> f64 {
        rate_m_s.clamp(-self.speed_m_s, self.speed_m_s)
    }
}
