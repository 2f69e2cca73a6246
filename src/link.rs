//! Links to drives. No threads, no clocks: a link is cranked.
//!
//! Hardware stands behind [`DriveLink`]: the open frame over a network or a serial line, CAN drives, simulated drives
//! with brakes and inputs. The plain simulated rig, which plays without an operator's presence, stands behind a pair
//! of its own: a link that only listens is a [`Link`]; engaging it gives an [`EngagedLink`], and only that takes
//! set-points.

#[cfg(test)]
pub(crate) mod allocations;
pub mod can;
mod drives;
pub mod frame;
mod frame_link;
#[cfg(test)]
pub(crate) use crate::rig::playable as sample;
#[cfg(feature = "serial")]
pub mod serial_line;
mod servo;
mod sim;
mod sim_drives;
pub mod wire;

pub use crate::commissioning::FarEnd;
pub use drives::{Asking, DriveLink, DriveOrder, DriveReport};
pub use frame_link::FrameLink;
pub use sim::{SimRig, lag_s};
pub use sim_drives::{SimAct, SimDrives, SimFault, SimHand, SimInput};

use crate::safety::Legs;

/// A time on the drives' clock, whole microseconds since the link began.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct DriveTime(pub u64);

/// One cycle's set-points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SetPoints {
    /// Counts up by one.
    pub sequence: u64,
    /// When the legs should have these lengths, the drive's own delay not counted.
    pub apply_at: DriveTime,
    /// One a leg, m.
    pub lengths_m: Legs,
}

/// What a drive reports of itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DriveFault {
    /// No set-points came for longer than the drive waits; it has stopped by itself.
    Silence,
    /// A leg ran onto the end of its stroke.
    EndStop {
        /// Which, from 0.
        leg: usize,
    },
}

/// What a poll gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Feedback {
    /// When it was measured.
    pub at: DriveTime,
    /// The newest set-points that the drives have, if any.
    pub sequence: Option<u64>,
    /// One a leg, m, in whole encoder counts.
    pub measured_m: Legs,
    /// What is wrong with the drives.
    pub fault: Option<DriveFault>,
}

/// Who answers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Identity {
    /// The rig's name.
    pub name: String,
    /// How many legs it has.
    pub legs: usize,
    /// Time between set-points that it expects, microseconds.
    pub cycle_us: u32,
}

/// Why a link did not do what it was asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum LinkFault {
    /// Nobody answers.
    #[error("the link is silent")]
    Silent,
    /// Not one set-point a leg.
    #[error("{found} set-points, expected {expected}")]
    Count {
        /// How many came.
        found: usize,
        /// How many legs there are.
        expected: usize,
    },
    /// A set-point is no number.
    #[error("a set-point is no number")]
    NotANumber,
    /// A set-point's time or sequence runs backwards.
    #[error("a set-point is out of order")]
    Order,
    /// The drives report a fault and cannot be engaged.
    #[error("the drives report a fault")]
    Drives,
    /// Somebody else answers than at first.
    #[error("another far end answers than the one that was connected to")]
    Stranger,
    /// Something about drives on a CAN bus.
    #[error(transparent)]
    Can(can::CanFault),
}

/// A link that listens.
pub trait Link: Sized {
    /// The link once engaged.
    type Engaged: EngagedLink<Idle = Self>;

    /// Who is at the far end.
    ///
    /// # Errors
    /// When nobody answers.
    fn identify(&mut self) -> Result<Identity, LinkFault>;

    /// What the drives measure and report at `now`.
    ///
    /// # Errors
    /// When nothing came.
    fn poll(&mut self, now: DriveTime) -> Result<Feedback, LinkFault>;

    /// Drives on, holding where they stand.
    ///
    /// # Errors
    /// When the drives refuse; the link comes back as it was.
    fn engage(self, now: DriveTime) -> Result<Self::Engaged, (Self, LinkFault)>;
}

/// A link that takes set-points.
pub trait EngagedLink: Sized {
    /// The link once released.
    type Idle: Link<Engaged = Self>;

    /// Sends one cycle's set-points.
    ///
    /// # Errors
    /// When they are not fit to send or do not go out.
    fn send(&mut self, set_points: &SetPoints) -> Result<(), LinkFault>;

    /// What the drives measure and report at `now`.
    ///
    /// # Errors
    /// When nothing came.
    fn poll(&mut self, now: DriveTime) -> Result<Feedback, LinkFault>;

    /// Drives off (brakes on, where there are any).
    fn release(self) -> Self::Idle;
}
