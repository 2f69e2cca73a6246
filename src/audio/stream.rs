//! What the device's callback does: take samples out of the ring, count them, and say when they will be heard.

use rtrb::Consumer;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering};
use std::time::Instant;

/// How long a level takes to change by its whole range, s: too short to notice, too long to click. Common practice.
const RAMP_S: f32 = 0.02;

/// How far the clock runs on from the last sample that was taken out, s: a device that stopped must not be run ahead of.
const BEYOND_S: f64 = 0.05;

/// What a device must have taken before it is known to play, s: more than it holds. Until then it gets silence, for some
/// systems fill up at once and then stand for a second or two. Own choice: ten periods of 10 ms.
const SETTLED_S: f64 = 0.1;

/// What a device's callback says of the device.
#[derive(Debug, Default)]
pub(super) struct Pace {
    /// From now until what is taken next will be heard, as the system knows it, ns.
    delay_ns: AtomicU64,
    /// Samples that it took since it was opened.
    taken: AtomicU64,
}

impl Pace {
    /// What is taken next will be heard in so many ns.
    pub(super) fn says(&self, delay_ns: u64) {
        self.delay_ns.store(delay_ns, Ordering::Relaxed);
    }

    /// It took so many more.
    pub(super) fn took(&self, samples: u64) {
        self.taken.fetch_add(samples, Ordering::Relaxed);
    }

    pub(super) fn taken(&self) -> u64 {
        self.taken.load(Ordering::Relaxed)
    }

    fn is_settled(&self, step_s: f64) -> bool {
        self.taken() as f64 * step_s >= SETTLED_S
    }
}

/// What callback and window share of one stretch of sound.
#[derive(Debug)]
pub(super) struct Shared {
    /// Samples of the stretch taken out.
    frames: AtomicU64,
    /// When the first of them was heard, or will be, going by the last ones: ns since `began`.
    first_heard_ns: AtomicI64,
    pace: Arc<Pace>,
    /// Level, bits of an f32.
    level: AtomicU64,
    /// The stretch should fade and end.
    pub(super) stop: AtomicBool,
    /// It has ended.
    pub(super) ended: AtomicBool,
    /// Samples that came too late.
    pub(super) starved: AtomicU64,
    began: Instant,
}

impl Shared {
    #[allow(
        clippy::disallowed_methods,
        reason = "the host stamp beside the frame counter; nothing is computed from it but the playhead"
    )]
    pub(super) fn new(pace: Arc<Pace>) -> Arc<Self> {
        Arc::new(Self {
            frames: AtomicU64::new(0),
            first_heard_ns: AtomicI64::new(0),
            pace,
            level: AtomicU64::new(u64::from(0.0_f32.to_bits())),
            stop: AtomicBool::new(false),
            ended: AtomicBool::new(false),
            starved: AtomicU64::new(0),
            began: Instant::now(),
        })
    }

    pub(super) fn set_level(&self, level: f32) {
        self.level.store(u64::from(level.to_bits()), Ordering::Relaxed);
    }

    pub(super) fn level(&self) -> f32 {
        f32::from_bits(self.level.load(Ordering::Relaxed) as u32)
    }

    fn count(&self, frames: u64, step_s: f64) {
        let before = self.frames.load(Ordering::Relaxed);
        let heard_ns = self.now_ns() + self.pace.delay_ns.load(Ordering::Relaxed) as i64;
        self.first_heard_ns.store(heard_ns - (before as f64 * step_s * 1e9) as i64, Ordering::Relaxed);
        self.frames.store(before + frames, Ordering::Release);
    }

    fn now_ns(&self) -> i64 {
        self.began.elapsed().as_nanos() as i64
    }

    /// Since it was asked for, s.
    pub(super) fn age_s(&self) -> f64 {
        self.now_ns() as f64 * 1e-9
    }

    /// How long the stretch has been heard, s, by the host's clock between two callbacks; less than nothing while its
    /// first sample is on its way; `None` before that was taken out.
    pub(super) fn heard_s(&self, rate_hz: f64) -> Option<f64> {
        let frames = self.frames.load(Ordering::Acquire);
        if frames == 0 {
            return None;
        }
        let heard_s = (self.now_ns() - self.first_heard_ns.load(Ordering::Relaxed)) as f64 * 1e-9;
        Some(heard_s.min(frames as f64 / rate_hz + BEYOND_S))
    }

    /// What the device says of its own delay, s.
    pub(super) fn delay_s(&self) -> f64 {
        self.pace.delay_ns.load(Ordering::Relaxed) as f64 * 1e-9
    }
}

/// One stretch of sound at the device's end. Allocates, locks and waits for nothing.
#[derive(Debug)]
pub(super) struct Stream {
    pub(super) ring: Consumer<f32>,
    pub(super) shared: Arc<Shared>,
    level: f32,
    /// The feeder has put in all there is.
    pub(super) fed: Arc<AtomicBool>,
}

impl Stream {
    pub(super) fn new(ring: Consumer<f32>, shared: Arc<Shared>, fed: Arc<AtomicBool>) -> Self {
        Self { ring, shared, level: 0.0, fed }
    }

    /// Fills `out`, sample after sample; `put` writes one.
    pub(super) fn fill<T>(&mut self, out: &mut [T], step_s: f64, mut put: impl FnMut(&mut T, f32)) {
        let stop = self.shared.stop.load(Ordering::Relaxed);
        let settled = self.shared.pace.is_settled(step_s);
        let goal = if stop { 0.0 } else { self.shared.level() };
        let most = step_s as f32 / RAMP_S;
        // Asked before the ring is looked into: what was put in before is seen there.
        let fed = self.fed.load(Ordering::Acquire);
        // What comes too late goes to the end of the lot, so that all samples of it are heard when its first one says.
        let ready = if settled { self.ring.slots().min(out.len()) } else { 0 };
        for (at, place) in out.iter_mut().enumerate() {
            let value = if at < ready { self.ring.pop().unwrap_or(0.0) } else { 0.0 };
            self.level += (goal - self.level).clamp(-most, most);
            put(place, value * self.level);
        }
        if ready > 0 {
            self.shared.count(ready as u64, step_s);
        }
        if settled && !fed {
            self.shared.starved.fetch_add((out.len() - ready) as u64, Ordering::Relaxed);
        }
        if (settled && fed && ready == 0) || (stop && self.level == 0.0) {
            self.shared.ended.store(true, Ordering::Relaxed);
        }
    }

    pub(super) fn has_ended(&self) -> bool {
        self.shared.ended.load(Ordering::Relaxed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A device that plays, and says that what it takes next is heard in so many ms.
    fn playing(delay_ms: u64) -> Arc<Pace> {
        let pace = Arc::new(Pace::default());
        pace.took(48_000);
        pace.says(delay_ms * 1_000_000);
        pace
    }

    #[test]
    fn samples_come_out_in_order_are_counted_and_a_stop_fades() {
        let (mut producer, ring) = rtrb::RingBuffer::new(10_000);
        (0..5000).for_each(|_| producer.push(1.0).unwrap());
        let pace = playing(30);
        let shared = Shared::new(pace.clone());
        shared.set_level(1.0);
        let mut stream = Stream::new(ring, shared.clone(), Arc::default());
        assert_eq!(shared.heard_s(1000.0), None);
        let mut out = vec![0.0; 100];
        stream.fill(&mut out, 0.001, |place, value| *place = value);
        // 20 ms of ramp at 1 kHz, then whole.
        assert!((out[9] - 0.5).abs() < 1e-5 && (out[30] - 1.0).abs() < 1e-5, "{out:?}");
        // Its first sample is heard in 30 ms; a test may be late, never early.
        let heard_s = shared.heard_s(1000.0).unwrap();
        assert!((-0.030..0.1).contains(&heard_s), "{heard_s}");
        // The device says something else now: the sample after the first hundred is heard in 20 ms.
        pace.says(20_000_000);
        stream.fill(&mut out, 0.001, |place, value| *place = value);
        let heard_s = shared.heard_s(1000.0).unwrap();
        assert!((0.080..0.200).contains(&heard_s), "{heard_s}");
        shared.stop.store(true, Ordering::Relaxed);
        stream.fill(&mut out, 0.001, |place, value| *place = value);
        assert!(out[30] == 0.0 && out.windows(2).all(|pair| pair[1] <= pair[0] && pair[0] - pair[1] < 0.06));
        assert!(stream.has_ended() && shared.starved.load(Ordering::Relaxed) == 0);
    }

    #[test]
    fn an_empty_ring_is_silence_and_told_apart_from_the_end() {
        let (_producer, ring) = rtrb::RingBuffer::new(10);
        let (shared, fed) = (Shared::new(playing(0)), Arc::new(AtomicBool::new(false)));
        let mut stream = Stream::new(ring, shared.clone(), fed.clone());
        let mut out = vec![1.0; 16];
        stream.fill(&mut out, 0.001, |place, value| *place = value);
        assert_eq!((out[3], shared.starved.load(Ordering::Relaxed), stream.has_ended()), (0.0, 16, false));
        fed.store(true, Ordering::Relaxed);
        stream.fill(&mut out, 0.001, |place, value| *place = value);
        assert_eq!((shared.starved.load(Ordering::Relaxed), stream.has_ended()), (16, true));
    }

    /// A device that fills up at once and stands before it plays gets silence until it goes; and a feeder that is late
    /// shifts what is heard, so that silence in between is not counted.
    #[test]
    fn only_what_was_heard_counts() {
        let (mut producer, ring) = rtrb::RingBuffer::new(10_000);
        let pace = Arc::new(Pace::default());
        let shared = Shared::new(pace.clone());
        shared.set_level(1.0);
        let mut stream = Stream::new(ring, shared.clone(), Arc::default());
        (0..50).for_each(|k| producer.push(k as f32 + 1.0).unwrap());
        let fill = |stream: &mut Stream| {
            let mut out = vec![0.0; 40];
            stream.fill(&mut out, 0.001, |place, value| *place = value);
            pace.took(40);
            out
        };
        for _ in 0..3 {
            assert!(fill(&mut stream).iter().all(|value| *value == 0.0));
            assert_eq!(shared.heard_s(1000.0), None);
        }
        assert!(fill(&mut stream)[39] > 39.0);
        let late = fill(&mut stream);
        assert!(late[9] == 50.0 && late[10] == 0.0 && late[39] == 0.0, "{late:?}");
        assert_eq!(shared.starved.load(Ordering::Relaxed), 30);
        (0..40).for_each(|_| producer.push(7.0).unwrap());
        fill(&mut stream);
        // 50 samples of 1 ms were heard before these: they begin now, whatever silence there was.
        let heard_s = shared.heard_s(1000.0).unwrap();
        assert!((0.050..0.140).contains(&heard_s), "{heard_s}");
    }
}
