//! Where legs stand while brakes alone hold them, and whether a path may begin there.

use super::super::ready::Ready;
use super::super::session::Session;
use super::super::thresholds::*;
use super::DriveCycle;
use crate::link::{DriveLink, DriveReport};
use crate::safety::operation::Phase;

impl<L: DriveLink> DriveCycle<L> {
    /// Brakes alone hold the legs: at rest, and while an act that begins there is warned of.
    pub(super) fn is_braked(&self) -> bool {
        self.rests() || matches!(self.run.phase(), Phase::Warning { standing: false, .. })
    }

    /// Whether legs stand elsewhere than where they rested.
    pub(super) fn is_moved(&self, report: &DriveReport) -> bool {
        let rested_m = self.rested_m.filter(|_| report.homed);
        rested_m.is_some_and(|rested_m| is_beyond(largest_m(&rested_m, &report.lengths_m), DISPLACED_M))
    }

    /// Set-points stand where the legs are while drives are off. Whether legs were moved from where they were left.
    pub(super) fn stand(&mut self, report: &DriveReport) -> bool {
        self.rested_m.get_or_insert(report.lengths_m);
        let moved = self.is_moved(report);
        if moved {
            self.rested_m = Some(report.lengths_m);
        }
        let Some(session) = &mut self.session else {
            if report.homed {
                self.session = Session::start(&self.setup, &report.lengths_m, self.scene_frames).ok();
            }
            return moved;
        };
        let view = session.view();
        let off_m = largest_m(&view.set_points_m, &report.lengths_m);
        let interrupted = self.run.task().is_some() && !session.is_tripped();
        let displaced = interrupted && is_beyond(off_m, DISPLACED_M);
        // A path that was left, by a fault of the link for one, is not gone on with: it begins anew where it stands.
        let left = view.state.is_moving() || view.state == crate::safety::State::Faulted;
        let seed = if interrupted { displaced } else { left || is_beyond(off_m, SEED_M) };
        if seed || session.is_tripped() {
            // Outside its limits it stays where it was, and no path is begun from there.
            let _ = session.stand_at(&report.lengths_m);
        }
        displaced || moved
    }

    pub(super) fn ready(&self) -> Ready {
        Ready {
            fresh: self.session.as_ref().is_none_or(Session::is_fresh),
            placed: self.is_placed(),
            interrupted: self.session.as_ref().is_some_and(|session| session.view().task.is_some()),
        }
    }

    /// Whether the session stands where the legs are, so that a path may begin.
    fn is_placed(&self) -> bool {
        let limits = self.setup.limits.legs().iter();
        let Some(session) = &self.session else { return false };
        // One that was left by a fault and could not begin anew where the legs are begins nothing.
        if session.is_tripped() || session.view().state == crate::safety::State::Faulted {
            return false;
        }
        let inside = limits
            .zip(self.measured_m().iter())
            .all(|(leg, at)| *at >= leg.low_m - DISPLACED_M && *at <= leg.high_m + DISPLACED_M);
        inside && largest_m(&session.view().set_points_m, &self.measured_m()) <= DISPLACED_M
    }
}
