//! Waveforms in closed form: value and time derivatives together, with bounds.
//!
//! Cannot: know a channel, a rig or a unit.

mod curve;
mod jet;
mod majorant;
mod random;
mod wave;

pub mod trace;

pub use curve::{Curve, Polynomial};
pub use jet::{BLOCK, Jet, JetBlock};
pub use majorant::Majorant;
pub use random::SplitMix64;
pub use wave::{Factor, Order, Signal, Wave, WaveError};

mod smoothstep;
pub use smoothstep::smoothstep;
