//! A plan: one scene on one rig at one gain, and its samples.

use crate::rig::Rig;
use crate::scenario::Scenario;
use crate::signal::{Jet, JetBlock};
use crate::time::SampleRate;
use std::sync::Arc;

/// What would be played: a scene on a rig at a gain. Not checked yet.
#[derive(Debug, Clone)]
pub struct Plan {
    scenario: Arc<Scenario>,
    rig: Arc<Rig>,
    gain: f64,
    rate: SampleRate,
}

/// Why a scene cannot be planned on a rig.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// A layer moves an axis that the rig does not have.
    #[error("the rig has no {axis}")]
    NoAxis {
        /// The axis's word.
        axis: &'static str,
        /// Index of the layer.
        layer: usize,
    },
    /// More samples than can be rendered.
    #[error("{samples} samples are more than a plan may have")]
    TooLong {
        /// How many it would have.
        samples: u64,
    },
}

/// One block of a plan: platform coordinates (rad, m; the rig's order and signs) and legs (m), with derivatives.
#[derive(Debug, Clone)]
pub struct Frames {
    /// One a coordinate of the rig.
    pub platform: Vec<JetBlock>,
    /// One a leg: length between the anchors.
    pub legs: Vec<JetBlock>,
    /// How many samples of the block are in use.
    pub count: usize,
}

impl Plan {
    /// A plan at `gain` (a factor, 1 = as written) sampled at `rate`.
    ///
    /// # Errors
    /// When a layer moves an axis that the rig lacks, or the scene is too long; all such reasons.
    pub fn new(
        scenario: Arc<Scenario>,
        rig: Arc<Rig>,
        gain: f64,
        rate: SampleRate,
    ) -> Result<Self, Vec<PlanError>> {
        Ok(Self { scenario, rig, gain, rate })
    }

    /// The scene.
    pub fn scenario(&self) -> &Arc<Scenario> {
        &self.scenario
    }

    /// The rig.
    pub fn rig(&self) -> &Arc<Rig> {
        &self.rig
    }

    /// The gain, a factor.
    pub fn gain(&self) -> f64 {
        self.gain
    }

    /// The sample rate.
    pub fn rate(&self) -> SampleRate {
        self.rate
    }

    /// How many samples it has, the last at or just past the end.
    pub fn samples(&self) -> u64 {
        self.rate.samples_over(self.scenario.length_s)
    }

    /// How many blocks.
    pub fn blocks(&self) -> u64 {
        self.samples().div_ceil(crate::signal::BLOCK as u64)
    }

    /// Buffers for one block.
    pub fn frames(&self) -> Frames {
        unimplemented!("motion")
    }

    /// Renders block `block` (samples `block * BLOCK ..`). No allocation. Same bytes whatever came before.
    pub fn render(&self, block: u64, frames: &mut Frames) {
        let _ = (block, frames);
        unimplemented!("motion")
    }

    /// Platform coordinates at any instant (before the start and after the end: at rest).
    pub fn platform_at(&self, t_s: f64, platform: &mut [Jet]) {
        let _ = (t_s, platform);
        unimplemented!("motion")
    }
}
