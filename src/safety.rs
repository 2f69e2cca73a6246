//! What guards a run: the governor over every set-point, and the states of a run.
//!
//! Cannot: block, allocate in a step, log, read a clock, start a motion when something is let go.

mod clearances;
mod governor;
mod joints;
mod legs;
mod limits;
mod machine;
pub mod operation;

pub use clearances::within_clearances;
pub use governor::{Governor, Hold, Outcome, StartError, TOLERANCE, Trip};
pub use joints::within_joints;
pub use legs::{Legs, MAX_AXES, MAX_LEGS};
pub use limits::{Bound, Keeps, LegLimits, Limits, LimitsError, MAX_ROWS};
pub use machine::{Action, Event, Machine, Refusal, State, Task};
pub use operation::step;
