//! A gain that changes while a scene plays: a ramp in scene time, looked at before it is taken on.
//!
//! The platform's coordinates are multiplied by g(t), so g' q and g'' q come to the motion's own speed and
//! acceleration. The ramp is S-shaped, and its length is the shortest of a few at which every leg keeps its limits in
//! every cycle of the ramp, found by going through those cycles. It runs in scene time, so that a pause slows it too
//! and the path stays the one that was looked at.

use super::command::View;
use super::scene::{Frame, Mechanism, Scene};
use super::setup::Setup;
use crate::safety::{Governor, Legs, Limits, MAX_AXES};
use crate::signal::smoothstep;

/// How long before a gain ramp its command is on its way, s of scene time.
const LEAD_S: f64 = 0.5;

/// Lengths that are tried, s.
const LENGTHS_S: [f64; 8] = [1.0, 2.0, 3.0, 5.0, 8.0, 13.0, 21.0, 34.0];

/// A ramp of the gain, or none when both ends are alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct GainRamp {
    /// Factor on the cleared gain before.
    pub(super) from: f64,
    /// And after.
    pub(super) to: f64,
    /// Cycle of the scene in which it begins.
    pub(super) start: u64,
    /// Its length in cycles, never 0.
    pub(super) length: u64,
}

/// Why a gain is not taken on.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum GainError {
    /// Above what was checked, negative, or no number.
    #[error(
        "a gain of {found} times the checked one, expected 0 to 1: check the plan at the larger gain first"
    )]
    Unchecked {
        /// The factor on the checked gain.
        found: f64,
    },
    /// No ramp fits before the scene is over, or none of up to 34 s keeps the limits.
    #[error("no ramp to {to} times the checked gain keeps the rig's limits from {start_s:.2} s on")]
    NoRamp {
        /// The factor on the checked gain.
        to: f64,
        /// Scene time at which it would begin, s.
        start_s: f64,
    },
}

impl GainRamp {
    /// A gain that stays.
    pub(super) fn constant(gain: f64) -> Self {
        Self { from: gain, to: gain, start: 0, length: 1 }
    }

    /// The gain `part` (0..1) beyond a cycle of the scene.
    pub(super) fn at(&self, frame: u64, part: f64) -> f64 {
        if self.from == self.to || frame >= self.start + self.length {
            return self.to;
        }
        if frame < self.start {
            return self.from;
        }
        let share = ((frame - self.start) as f64 + part) / self.length as f64;
        self.from + (self.to - self.from) * smoothstep(share)[0]
    }

    /// The shortest ramp from where the gain will be to `to` that keeps the limits, a little ahead of the scene's
    /// present cycle so that it is there in time; at once where the scene has not begun.
    ///
    /// # Errors
    /// As of [`GainRamp::fit`].
    pub(super) fn ahead_of(
        scene: &dyn Scene,
        setup: &Setup,
        view: &View,
        to: f64,
    ) -> Result<Self, GainError> {
        let lead = (LEAD_S / setup.cycle_s()).ceil() as u64;
        let start = if view.scene_frame > 0 { view.scene_frame + lead } else { 0 };
        Self::fit(scene, &*setup.mechanism, &setup.limits, start, view.gain_after, to)
    }

    /// The shortest ramp from `from` to `to` that begins in cycle `start` and keeps `limits`.
    ///
    /// # Errors
    /// When `to` is not from 0 to 1, or no ramp keeps the limits.
    pub(super) fn fit(
        scene: &dyn Scene,
        mechanism: &dyn Mechanism,
        limits: &Limits,
        start: u64,
        from: f64,
        to: f64,
    ) -> Result<Self, GainError> {
        if !(0.0..=1.0).contains(&to) {
            return Err(GainError::Unchecked { found: to });
        }
        let cycle_s = limits.period_s();
        let last = scene.frames().saturating_sub(1);
        let most = (LENGTHS_S.into_iter().fold(0.0, f64::max) / cycle_s).ceil() as u64;
        // Two cycles before it, for the differences.
        let first = start.saturating_sub(2);
        let end = start.saturating_add(most).min(last);
        let mut source = scene.source();
        let mut frames = Vec::new();
        while first + (frames.len() as u64) <= end {
            let before = frames.len();
            source.fill(first + before as u64, &mut frames);
            if frames.len() == before {
                break;
            }
        }
        LENGTHS_S
            .into_iter()
            .map(|length_s| Self { from, to, start, length: (length_s / cycle_s).ceil().max(1.0) as u64 })
            .filter(|ramp| ramp.start + ramp.length <= last)
            .find(|ramp| ramp.keeps(limits, mechanism, first, &frames))
            .ok_or(GainError::NoRamp { to, start_s: start as f64 * cycle_s })
    }

    /// Whether every cycle of the ramp would go through the governor as it is.
    fn keeps(&self, limits: &Limits, mechanism: &dyn Mechanism, first: u64, frames: &[Frame]) -> bool {
        let count = limits.legs().len();
        let end = self.start + self.length;
        let mut governor: Option<Governor> = None;
        let mut before: Option<Legs> = None;
        for (cycle, frame) in (first..=end).zip(frames) {
            let legs = scaled_legs(mechanism, frame, count, self.at(cycle, 0.0));
            match (&mut governor, before) {
                (None, None) => before = Some(legs),
                // The first two frames only set its speed.
                (None, Some(one)) => match Governor::moving(limits.clone(), one, legs) {
                    Some(started) => governor = Some(started),
                    None => return false,
                },
                (Some(governor), _) => {
                    if governor.step(&legs, None).1 != crate::safety::Outcome::Followed {
                        return false;
                    }
                }
            }
        }
        true
    }
}

/// Leg lengths at `gain` times a frame's platform coordinates, m.
pub(super) fn scaled_legs(mechanism: &dyn Mechanism, frame: &Frame, count: usize, gain: f64) -> Legs {
    let mut platform = [0.0; MAX_AXES];
    platform.iter_mut().zip(&frame.platform).for_each(|(to, from)| *to = gain * from[0]);
    let axes = mechanism.axes().min(MAX_AXES);
    Legs::from_fn(count, |leg| mechanism.length_m(leg, platform.get(..axes).unwrap_or(&[])))
}

#[cfg(test)]
mod tests;
