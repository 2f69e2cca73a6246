//! Where the cycle on drives draws its lines: lengths, speeds and times, and how two sets of lengths are compared.

use crate::safety::Legs;

/// Legs nearer than this to their park lengths are there, m (own choice: a tenth of a degree on an everyday rig).
pub(super) const AT_PARK_M: f64 = 1e-3;

/// Legs at rest further than this from where the set-points left them were moved, m (own choice).
pub(super) const DISPLACED_M: f64 = 1e-3;

/// Set-points at rest are put anew where the legs are beyond this, m: some encoder counts.
pub(super) const SEED_M: f64 = 2e-5;

/// Legs slower than this stand, m/s (own choice: a millimetre in ten seconds).
pub(super) const STILL_M_S: f64 = 1e-4;

/// Brakes may close on legs slower than this, m/s (own choice).
pub(super) const SLOW_M_S: f64 = 2e-3;

/// How long the loops of drives lag at most, microseconds (own choice: a bandwidth of some hertz).
pub(super) const LAG_US: u64 = 60_000;

/// Legs that move faster than this with brakes on are slipping, m/s (own choice; a person leaning is slower).
pub(super) const SLIP_M_S: f64 = 5e-3;

/// A jog ends when nothing is heard of the hand on the button for so long, microseconds.
pub(super) const JOG_US: u64 = 250_000;

/// Orders go on for this long after the end, microseconds, so that the record shows rest.
pub(super) const SETTLE_US: u64 = 300_000;

/// An act in which nothing moves for so long is ended, microseconds.
pub(super) const IDLE_US: u64 = 2_000_000;

/// Set-points that are taken as they come follow each other by no less than half a cycle, microseconds (own choice): a
/// step is then at most half a cycle early.
pub(super) fn most_early_us(cycle_us: u64) -> u64 {
    cycle_us / 2
}

/// What is no number is beyond everything.
pub(super) fn is_beyond(value: f64, most: f64) -> bool {
    value > most || value.is_nan()
}

pub(super) fn largest_m(a: &Legs, b: &Legs) -> f64 {
    a.iter()
        .zip(b.iter())
        .map(|(a, b)| (a - b).abs())
        // What is no number stays so.
        .fold(0.0, |most: f64, off| if most.is_nan() || off <= most { most } else { off })
}
