//! What a session needs to know of a scene and of the rig's mechanics, without knowing where they come from.
//!
//! Both traits are for this folder: outside, a run begins with a [`Cleared`] plan and with nothing else.

use crate::check::Cleared;
use crate::motion::Frames;
use crate::rig::{Rig, kinematics};
use crate::safety::{Legs, MAX_AXES, MAX_LEGS};
use crate::signal::{BLOCK, Jet};
use std::sync::Arc;

/// The scene at one cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Frame {
    /// Platform coordinates: value, rate, acceleration (rad or m, seconds).
    pub(super) platform: [[f64; 3]; MAX_AXES],
    /// Leg lengths, m.
    pub(super) legs_m: Legs,
}

/// Gives frames, wherever it is asked to begin.
pub(super) trait MotionSource: Send {
    /// Appends frames from number `given` on, a few hundred at most; at least one while there are any.
    fn fill(&mut self, given: u64, frames: &mut Vec<Frame>);
}

/// A scene that can be read more than once.
pub(super) trait Scene: Send + Sync {
    /// How many cycles it has, the first pose and the last both counted; never 0.
    fn frames(&self) -> u64;
    /// A reader.
    fn source(&self) -> Box<dyn MotionSource>;
}

/// A joint angle outside its range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct PastJoint {
    /// Which platform coordinate, from 0.
    pub(super) axis: usize,
    /// Its value, rad or m.
    pub(super) value: f64,
}

/// Where legs and platform meet.
pub(super) trait Mechanism: Send + Sync {
    /// How many platform coordinates.
    fn axes(&self) -> usize;
    /// The length of a leg at platform coordinates, m. Does not allocate.
    fn length_m(&self, leg: usize, platform: &[f64]) -> f64;
    /// Platform coordinates for leg lengths, from some that are near; `None` when there are none.
    fn pose(&self, lengths_m: &[f64], near: &[f64]) -> Option<Vec<f64>>;
    /// Whether platform coordinates are inside their ranges.
    fn joints(&self, platform: &[f64]) -> Result<(), PastJoint>;
}

/// The mechanics of a rig file.
pub(super) struct RigMechanism(pub(super) Arc<Rig>);

impl Mechanism for RigMechanism {
    fn axes(&self) -> usize {
        self.0.axes.len().min(MAX_AXES)
    }

    fn length_m(&self, leg: usize, platform: &[f64]) -> f64 {
        let mut jets = [Jet::constant(0.0); MAX_AXES];
        jets.iter_mut().zip(platform).for_each(|(jet, value)| *jet = Jet::constant(*value));
        let count = platform.len().min(MAX_AXES);
        kinematics::leg_jet(&self.0, leg, jets.get(..count).unwrap_or(&[])).0[0]
    }

    fn pose(&self, lengths_m: &[f64], near: &[f64]) -> Option<Vec<f64>> {
        kinematics::forward(&self.0, lengths_m, near).ok().map(|pose| pose.as_slice().to_vec())
    }

    fn joints(&self, platform: &[f64]) -> Result<(), PastJoint> {
        // A nanoradian (or a nanometre) is rounding of the pose, not a joint at its end.
        let past = |(axis, (value, limits)): (usize, (&f64, &crate::rig::AxisLimits))| {
            let inside = *value >= limits.min - 1e-9 && *value <= limits.max + 1e-9;
            (!inside).then_some(PastJoint { axis, value: *value })
        };
        platform.iter().zip(&self.0.axes).enumerate().find_map(past).map_or(Ok(()), Err)
    }
}

/// A cleared plan as a scene at the drive's cycle.
pub(super) struct ClearedScene {
    cleared: Cleared,
    /// Samples of the plan from one cycle to the next.
    stride: u64,
}

impl ClearedScene {
    /// `None` when the cycle is not a whole number of the plan's samples.
    pub(super) fn new(cleared: &Cleared) -> Option<Self> {
        let rate_hz = u64::from(cleared.plan().rate().hz());
        let per_cycle = rate_hz * u64::from(cleared.plan().rig().drive.cycle_us);
        let whole = per_cycle.is_multiple_of(1_000_000) && per_cycle > 0;
        whole.then(|| Self { cleared: cleared.clone(), stride: per_cycle / 1_000_000 })
    }
}

impl Scene for ClearedScene {
    fn frames(&self) -> u64 {
        // The last cycle is at or past the last sample, where the scene is at rest.
        self.cleared.plan().samples().saturating_sub(1).div_ceil(self.stride) + 1
    }

    fn source(&self) -> Box<dyn MotionSource> {
        Box::new(ClearedSource {
            cleared: self.cleared.clone(),
            stride: self.stride,
            frames: self.cleared.plan().frames(),
            block: None,
            count: self.frames(),
        })
    }
}

struct ClearedSource {
    cleared: Cleared,
    stride: u64,
    frames: Frames,
    block: Option<u64>,
    count: u64,
}

impl MotionSource for ClearedSource {
    fn fill(&mut self, given: u64, out: &mut Vec<Frame>) {
        let plan = self.cleared.plan();
        let last = plan.samples().saturating_sub(1);
        for cycle in given..self.count {
            let sample = (cycle * self.stride).min(last);
            let block = sample / BLOCK as u64;
            if self.block != Some(block) {
                // One block a call keeps each call short.
                if cycle > given {
                    return;
                }
                plan.render(block, &mut self.frames);
                self.block = Some(block);
            }
            let k = (sample % BLOCK as u64) as usize;
            let mut platform = [[0.0; 3]; MAX_AXES];
            for (to, from) in platform.iter_mut().zip(&self.frames.platform) {
                let jet = from.at(k);
                *to = [jet.0[0], jet.0[1], jet.0[2]];
            }
            let count = self.frames.legs.len().min(MAX_LEGS);
            let legs_m = Legs::from_fn(count, |leg| self.frames.legs[leg].at(k).0[0]);
            out.push(Frame { platform, legs_m });
        }
    }
}
