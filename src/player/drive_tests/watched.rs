//! Simulated drives under a run that a test cranks.

use super::*;
use crate::link::SimDrives;

/// Simulated drives that a test can look into.
#[derive(Clone)]
pub(super) struct Watched(Arc<Mutex<SimDrives>>);

impl Watched {
    /// A run on them from park, everything vouched for, and the drives.
    pub(super) fn bench() -> (Bench<Self>, Self) {
        Self::bench_with(setup(), 0.65)
    }

    /// The same with limits of the test's own, and legs that stand at `at_m`.
    pub(super) fn bench_with(setup: Setup, at_m: f64) -> (Bench<Self>, Self) {
        let (drives, _) = SimDrives::new(&two_legs(), &[at_m, at_m]);
        let far = Self::of(drives);
        let report = far.with(|drives| drives.poll(DriveTime(0))).unwrap().unwrap();
        (Bench::with(setup, far.clone(), report, FIT), far)
    }

    pub(super) fn of(drives: SimDrives) -> Self {
        Self(Arc::new(Mutex::new(drives)))
    }

    pub(super) fn with<T>(&self, act: impl FnOnce(&mut SimDrives) -> T) -> T {
        act(&mut self.0.lock().unwrap())
    }
}

impl DriveLink for Watched {
    fn identify(&mut self, now: DriveTime) -> Result<Option<crate::link::FarEnd>, LinkFault> {
        self.with(|drives| drives.identify(now))
    }
    fn poll(&mut self, now: DriveTime) -> Result<Option<DriveReport>, LinkFault> {
        self.with(|drives| drives.poll(now))
    }
    fn send(&mut self, now: DriveTime, order: &DriveOrder) -> Result<(), LinkFault> {
        self.with(|drives| drives.send(now, order))
    }
}
