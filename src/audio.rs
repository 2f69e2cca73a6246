//! Sound and shaker, heard: the layers of a scene made into samples, on a device or into a file.
//!
//! A feeder thread makes samples ahead of time into a ring; the device's callback takes them out, counts them and says
//! when each will be heard. That is what sound and motion meet at. Cannot: know a window; move anything.

mod feed;
#[cfg(feature = "audio")]
mod kira;
#[cfg(feature = "audio")]
mod outlet;
mod score;
mod speaker;
#[cfg_attr(
    not(feature = "audio"),
    allow(dead_code, reason = "what a device takes out; without one nothing does")
)]
mod stream;

pub use score::{Heard, Score, Sounds, load};
pub use speaker::{Speaker, outputs};
