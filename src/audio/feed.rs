//! Makes samples ahead of the device, on a thread of its own.

use super::score::Score;
use super::stream::Shared;
use rtrb::Producer;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// How far ahead, s. Own choice: longer than any hitch of a desktop, shorter than a change of level is waited for.
pub(super) const AHEAD_S: f64 = 0.25;

/// What is fed.
pub(super) struct Feed {
    pub(super) score: Score,
    /// Scene seconds of the first sample, and where it ends.
    pub(super) from_s: f64,
    pub(super) to_s: f64,
    pub(super) tempo: f64,
    pub(super) rate_hz: f64,
}

impl Feed {
    /// Samples `at ..` into `out`; fewer at the end. How many.
    pub(super) fn fill(&mut self, at: u64, out: &mut [f32]) -> usize {
        let total = ((self.to_s - self.from_s) / self.tempo * self.rate_hz).ceil().max(0.0) as u64;
        let count = (total.saturating_sub(at)).min(out.len() as u64) as usize;
        let part = &mut out[..count];
        part.fill(0.0);
        // From the integer, so that nothing drifts however long it plays.
        self.score.add(self.from_s + at as f64 / self.rate_hz * self.tempo, self.rate_hz, part);
        count
    }

    /// Feeds until the end, or until the stretch is stopped.
    #[allow(clippy::disallowed_methods, reason = "waits for room in the ring; the device decides the pace")]
    pub(super) fn run(mut self, mut ring: Producer<f32>, shared: &Arc<Shared>, fed: &AtomicBool) {
        let (mut buffer, mut at) = ([0.0_f32; 1024], 0);
        while !shared.stop.load(Ordering::Relaxed) && !ring.is_abandoned() {
            if ring.slots() < buffer.len() {
                std::thread::sleep(Duration::from_millis(5));
                continue;
            }
            let count = self.fill(at, &mut buffer);
            if count == 0 {
                break;
            }
            at += count as u64;
            for value in &buffer[..count] {
                // There is room: asked for above, and nobody else puts anything in.
                let _ = ring.push(*value);
            }
        }
        fed.store(true, Ordering::Release);
    }
}
