//! The only place that reads a clock for what moves, and waits; sound and window have their own.

use std::time::Duration;

/// Time since a run began, and waiting for it.
pub(super) trait Clock: Send + Sync {
    /// Now.
    fn now(&self) -> Duration;
    /// Returns at `at` or later; at once when that is past.
    fn wait_until(&self, at: Duration);
}

/// Days since 1970-01-01 and seconds into the day, by this computer's clock: for dates in records only.
#[allow(clippy::disallowed_methods, reason = "the one place that reads the clock")]
pub fn today() -> (u64, u64) {
    let since =
        std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap_or_default().as_secs();
    (since / 86_400, since % 86_400)
}

/// Another number for every run: from the clock and the process, not random, and no secret.
#[allow(clippy::disallowed_methods, reason = "the one place that reads the clock")]
pub fn run_number() -> u32 {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap_or_default();
    (since.as_micros() as u32 ^ std::process::id().rotate_left(16)).max(1)
}

/// Waits for a while: for threads that listen to a person.
#[allow(clippy::disallowed_methods, reason = "the one place that waits")]
pub fn wait(length: Duration) {
    std::thread::sleep(length);
}

/// How long it is since this was called: for threads that listen to a person.
pub fn stopwatch() -> impl Fn() -> Duration + Send {
    let clock = SystemClock::start();
    move || clock.now()
}

/// The machine's own monotonic clock. Deadlines are absolute, so waiting late once does not make the next one late.
pub(super) struct SystemClock(std::time::Instant);

impl SystemClock {
    /// Begins now.
    #[allow(clippy::disallowed_methods, reason = "the one place that reads the clock")]
    pub(super) fn start() -> Self {
        Self(std::time::Instant::now())
    }
}

impl Clock for SystemClock {
    fn now(&self) -> Duration {
        self.0.elapsed()
    }

    #[allow(clippy::disallowed_methods, reason = "the one place that waits")]
    fn wait_until(&self, at: Duration) {
        // A sleep may end early on some systems; what is left is asked again.
        while let Some(left) = at.checked_sub(self.now()).filter(|left| !left.is_zero()) {
            std::thread::sleep(left);
        }
    }
}

/// A clock that stands until somebody waits, and then is where they waited for: for links that are cranked by hand.
#[derive(Default)]
pub(super) struct TickingClock(std::sync::atomic::AtomicU64);

impl Clock for TickingClock {
    fn now(&self) -> Duration {
        Duration::from_micros(self.0.load(std::sync::atomic::Ordering::SeqCst))
    }

    fn wait_until(&self, at: Duration) {
        self.0.fetch_max(at.as_micros() as u64, std::sync::atomic::Ordering::SeqCst);
    }
}

/// A clock that stands until somebody waits, and then is where they waited for: its hand-cranked twin.
#[cfg(test)]
#[derive(Default)]
pub(super) struct CrankedClock {
    now_us: std::sync::atomic::AtomicU64,
    /// Waits end this much late, microseconds, one after the other; then in time.
    pub(super) late_us: std::sync::Mutex<std::collections::VecDeque<u64>>,
}

#[cfg(test)]
impl Clock for CrankedClock {
    fn now(&self) -> Duration {
        Duration::from_micros(self.now_us.load(std::sync::atomic::Ordering::SeqCst))
    }

    fn wait_until(&self, at: Duration) {
        let late_us = self.late_us.lock().map(|mut late| late.pop_front().unwrap_or(0)).unwrap_or(0);
        let at_us = at.as_micros() as u64 + late_us;
        self.now_us.fetch_max(at_us, std::sync::atomic::Ordering::SeqCst);
    }
}
