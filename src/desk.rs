//! The desk: what the desktop program knows and decides, without a window. Panels and tests look at it alike.
//!
//! Cannot: name a window library; draw; decide anything about motion.

pub mod axis;
pub mod change;
pub mod close_up;
pub mod compare;
pub mod compiler;
pub mod demo;
pub mod document;
pub mod drives;
pub mod findings;
pub mod kept;
pub mod keys;
pub mod lanes;
pub mod margins;
pub mod overlay;
pub mod recovery;
pub mod rehearsal;
pub mod rig_view;
#[cfg(test)]
mod sample;
pub mod studio;
pub mod traces;
pub mod transport;
pub mod understand;
pub mod variant;
pub mod workers;
pub mod world;
pub mod writing;
