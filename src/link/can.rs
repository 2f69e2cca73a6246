//! Drives of CiA 402 over CANopen, one a leg, on a CAN bus (docs/can.md). The builder's drives control themselves here:
//! this program is the network's manager, sends set-points and listens.
//!
//! From the wire upwards: `wire`, `slcan` and `socket` carry frames, `load` weighs them, `network` and `sdo` are CANopen,
//! `cia402` is what drives say and are told, `setup` and `node` make a drive ready, `live`, `sag` and `judge` run it, and
//! [`CanLink`] is all of it behind [`DriveLink`](super::DriveLink).

mod can_link;
pub mod cia402;
mod fault;
mod judge;
mod live;
pub mod load;
pub mod network;
mod node;
mod sag;
pub mod sdo;
mod setup;
pub mod slcan;
#[cfg(all(feature = "serial", target_os = "linux"))]
mod socket;
#[cfg(test)]
mod tests;
mod wire;

pub use can_link::{CanLink, CanSetupError, unknown, usage};
pub use fault::{CanFault, Object, abort_words};
pub use slcan::SlcanWire;
#[cfg(all(feature = "serial", target_os = "linux"))]
pub use socket::SocketWire;
pub use wire::{CanFrame, CanWire, QueueCan};
