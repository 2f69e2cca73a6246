//! Events to sampled platform motion and actuator motion, block by block.
//!
//! Cannot: clamp, hold a whole profile in memory, change what the scenario says.

mod plan;

pub use plan::{Frames, Plan, PlanError};
