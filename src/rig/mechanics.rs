//! The parts between supply and platform: screw, motor, drive, brake; their data and what a motion asks of them.
//!
//! One leg at a time and pure arithmetic: SI units, each formula with its source beside it. Whoever calls brings
//! forces, speeds and accelerations from [`super::legs_n`] and the kinematics.
//!
//! Cannot: know a pose, a profile or a file; clamp; put in a missing number.

pub mod bearing;
pub mod brake;
pub mod column;
pub mod controlled_stop;
mod data_error;
pub mod drive_power;
pub mod ends;
pub mod motor;
pub mod power_off;
mod range;
pub mod rms_window;
pub mod screw;
pub mod stop_loads;
pub mod thermal;
pub mod torque_curve;
pub mod whirl;

pub use data_error::DataError;
pub(crate) use data_error::{efficiency, not_negative, positive};
pub use range::Range;
