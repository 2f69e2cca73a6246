//! Events to sampled platform motion and actuator motion, block by block.
//!
//! Cannot: clamp, hold a whole profile in memory, change what the scenario says.

mod envelope;
mod interval;
mod plan;
mod spectrum;
mod workers;

pub use envelope::{Envelope, Trace, envelope};
pub use plan::{Frames, Plan, PlanError, axis, sign};
pub use spectrum::{Spectrum, spectra};
pub use workers::{Serial, Workers};
