//! How far the platform runs on when it is told to stop, all legs together.

use super::Rig;

/// A coordinated stop from one state.
#[derive(Debug, Clone, PartialEq)]
pub struct Stop {
    /// Platform coordinates where it comes to rest.
    pub rest: Vec<f64>,
    /// Time from the call to rest, s.
    pub time_s: f64,
    /// The leg that sets the pace.
    pub slowest_leg: usize,
    /// Deceleration that this leg has left at this pose and load, m/s^2.
    pub left_m_s2: f64,
}

/// The stop from coordinates `q`, rates `rate`, accelerations `acceleration` (rig's order; rad or m).
/// `None` when some leg has no deceleration left.
pub fn stop(rig: &Rig, q: &[f64], rate: &[f64], acceleration: &[f64]) -> Option<Stop> {
    let _ = (rig, q, rate, acceleration);
    unimplemented!("H2")
}

/// Longest time that a stop can be worth at its present speed while leg derivatives stay within `legs_sup` (one a leg,
/// |length|..|4th derivative|), s.
pub fn longest_s(rig: &Rig, legs_sup: &[[f64; 5]]) -> f64 {
    let _ = (rig, legs_sup);
    unimplemented!("lead")
}
