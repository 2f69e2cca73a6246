//! Simulated drives under a run that a test cranks.

use super::*;
use crate::link::SimDrives;

/// Simulated drives that a test can look into.
#[derive(Clone)]
pub(super) struct Watched(Arc<Mutex<SimDrives>>);

impl Watched {
    /// A run on them from park, everything vouched for, and the drives.
    pub(super) fn bench() -> (Bench<Self>, Self) {
        let (drives, _) = SimDrives::new(&two_legs(), &[0.65, 0.65]);
        let far = Self(Arc::new(Mutex::new(drives)));
        let report = far.with(|drives| drives.poll(DriveTime(0))).unwrap().unwrap();
        (Bench::on(far.clone(), report, FIT), far)
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
