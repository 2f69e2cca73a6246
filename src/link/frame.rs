//! The open frame: what goes over a network or a serial line to a controller. Bytes only; knows no socket and no clock.
//!
//! Little-endian, every field at a fixed place, CRC-32 at the end. The tables stand in docs/frame.md, the same in C in
//! controller/cueloom_frame.h; tests hold the three together by the vectors in controller/vectors.txt. A receiver drops
//! what it does not know whole; nothing in a frame is optional.

mod body;
mod cobs;
mod crc;
mod read;
mod write;

pub use body::{
    Feedback, FrameFault, Identity, LegFeedback, LegOrder, Order, OrderKind, PowerState, leg_flag,
};
pub use cobs::{CobsReader, MAX_ENCODED, encode as cobs_encode};
pub use crc::crc32;

use crate::safety::MAX_LEGS;

/// The first two bytes: `Cu`.
pub const MAGIC: [u8; 2] = *b"Cu";

/// The version of the layout.
pub const VERSION: u8 = 2;

/// Bytes of the header.
pub const HEADER: usize = 24;

/// Bytes of the largest frame.
pub const MAX_FRAME: usize = 48 + 20 * MAX_LEGS + 4;

/// What every frame begins with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Header {
    /// Number of this run, chosen by the program; the far end sends it back. Frames of another run are strangers.
    pub session: u32,
    /// Counts up by one; wraps.
    pub sequence: u32,
    /// The sender's monotonic clock, microseconds.
    pub time_us: u64,
}

/// What a frame carries.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Body {
    /// To the far end: who are you? Moves nothing.
    Hello,
    /// To the far end: set-points and what drives are to do.
    Order(Order),
    /// From the far end: how it is.
    Feedback(Feedback),
    /// From the far end: who it is.
    Identity(Identity),
}

/// A frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Where it belongs.
    pub header: Header,
    /// What it says.
    pub body: Body,
}

/// Why bytes are no frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum FrameError {
    /// Too short, too long, or not as long as it says.
    #[error("{found} bytes, expected {expected}")]
    Length {
        /// Bytes there are.
        found: usize,
        /// Bytes there should be; 0 where that is not known.
        expected: usize,
    },
    /// It does not begin with `Cu`.
    #[error("not one of ours")]
    Magic,
    /// A version that is not known.
    #[error("version {0}, expected {VERSION}")]
    Version(u8),
    /// A kind that is not known.
    #[error("kind {0} is not known")]
    Kind(u8),
    /// More legs than a cycle carries.
    #[error("{0} legs, expected at most {MAX_LEGS}")]
    Legs(u8),
    /// The sum over its bytes is another.
    #[error("damaged: checksum {found:08x}, expected {expected:08x}")]
    Checksum {
        /// In the frame.
        found: u32,
        /// Of its bytes.
        expected: u32,
    },
    /// A field holds what it must not.
    #[error("field at byte {0} holds what it must not")]
    Field(usize),
}

/// Bytes of a frame of `kind` with `legs` legs; 0 for a kind that is not known.
pub fn frame_length(kind: u8, legs: usize) -> usize {
    match kind {
        1 => HEADER + 4,
        2 => 40 + 16 * legs + 4,
        3 => 48 + 20 * legs + 4,
        4 => 72 + 8 * legs + 4,
        _ => 0,
    }
}

#[cfg(test)]
mod tests;
