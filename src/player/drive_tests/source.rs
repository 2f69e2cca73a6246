//! Frames that were rendered before.

use crate::player::scene::Frame;
use crate::player::window::Frames;

/// Frames, and how many of them were taken.
pub(super) struct Source(pub(super) Vec<Frame>, pub(super) usize);

impl Frames for Source {
    fn next(&mut self) -> Option<Frame> {
        self.1 += 1;
        self.0.get(self.1 - 1).copied()
    }
    fn waiting(&self) -> u64 {
        (self.0.len() - self.1.min(self.0.len())) as u64
    }
}
