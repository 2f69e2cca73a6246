//! What a cycle hears of the far end, and for how long it has heard nothing.

use super::super::rig_cycle::Instant;
use super::DriveCycle;
use crate::link::{DriveLink, DriveReport, DriveTime, LinkFault};
use crate::record::What;

impl<L: DriveLink> DriveCycle<L> {
    pub(super) fn hear(&mut self, at: Instant) {
        let heard = self.link.poll(DriveTime(at.now_us));
        self.is_stranger = heard == Err(LinkFault::Stranger);
        let is_gone = heard.is_err() && !self.is_stranger;
        let report = heard.unwrap_or(None);
        self.report = report.or(self.report);
        // What answers an old order is old itself, however regularly such reports come.
        let is_fresh = |report: &DriveReport| report.round_trip_us.is_none_or(|us| us <= self.latest_us);
        self.silent_us = if is_gone {
            u64::MAX
        } else if report.as_ref().is_some_and(is_fresh) {
            0
        } else {
            // By the clock: nothing can come between cycles that are caught up with; and while this computer stood still
            // itself, that is not the link's silence. What a stranger says is none of it.
            self.silent_us.saturating_add(self.elapsed_us)
        };
        self.age = u32::try_from(self.silent_us / self.setup.cycle_us.max(1)).unwrap_or(u32::MAX);
        let (cause, [before, first]) = (self.report.and_then(|report| report.cause), self.cause);
        cause.filter(|_| cause != before).into_iter().for_each(|cause| self.note(What::Drives(cause)));
        self.cause = [cause, if self.run.is_latched() { first.or(cause) } else { cause }];
    }

    /// Since the cycle before, microseconds.
    pub(super) fn since(&self, at: Instant) -> u64 {
        self.served_us.map_or(self.setup.cycle_us, |before| at.now_us.saturating_sub(before))
    }
}
