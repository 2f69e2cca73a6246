//! Waveforms in closed form: value and time derivatives together, with bounds.
//!
//! Cannot: know a channel, a rig or a unit.

mod curve;
mod factor;
mod jet;
mod lanes;
mod majorant;
mod order;
mod placed;
mod polynomial;
mod random;
mod smoothstep;
mod turns;
mod wave;
mod widest;

pub mod trace;

pub use curve::Curve;
pub use factor::Factor;
pub use jet::{BLOCK, Jet, JetBlock};
pub use majorant::Majorant;
pub use order::Order;
pub use placed::Signal;
pub use polynomial::Polynomial;
pub use random::SplitMix64;
pub use smoothstep::smoothstep;
pub use wave::{Wave, WaveError};
pub(crate) use widest::widest;
