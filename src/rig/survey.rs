//! What a rig can do, pose by pose: where it reaches and what ends that, how fast and how hard it moves, what it holds.
//!
//! Numbers only; `page` draws them and [`super::advice`] puts them into words.

mod forces;
mod limits;
mod polygon;
mod power_loss;
mod reach_map;
mod symmetric;

pub use forces::{ForceMap, force_map};
pub use limits::{Limit, Limits, Used};
pub use polygon::{Edge, Polygon, acceleration_reach, speed_reach};
pub use power_loss::{PowerLoss, power_losses};
pub use reach_map::{MapAxis, ReachMap, map_axes, reach_map};
pub use symmetric::{SymmetricBox, largest_box, together};

/// Step of a reach map over a rotation, rad: a quarter of a degree.
pub const ANGLE_STEP_RAD: f64 = 0.25 * std::f64::consts::PI / 180.0;
/// Step of a reach map over a translation, m.
pub const LENGTH_STEP_M: f64 = 0.0025;
