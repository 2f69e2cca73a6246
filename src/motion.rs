//! Events to sampled platform motion and actuator motion, block by block.
//!
//! Cannot: clamp, hold a whole profile in memory, change what the scenario says.

mod interval;
mod plan;
mod workers;

pub use plan::{Frames, Plan, PlanError, axis, sign};
pub use workers::{Serial, Workers};
