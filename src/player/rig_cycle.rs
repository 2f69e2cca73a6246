//! One cycle of session and link together, the same by hand and in real time.

use super::command::Command;
use super::session::{Cycle, Session};
use super::window::Frames;
use crate::link::{DriveTime, EngagedLink, LinkFault};

/// A session and the link that it plays on.
pub(super) struct RigCycle<L> {
    pub(super) session: Session,
    pub(super) link: L,
    cycle_us: u64,
    tick: u64,
    lost: Option<LinkFault>,
}

impl<L: EngagedLink> RigCycle<L> {
    pub(super) fn new(session: Session, link: L, cycle_us: u64) -> Self {
        Self { session, link, cycle_us, tick: 0, lost: None }
    }

    /// Polls, steps, sends. What did not go out counts as a silent link in the next cycle.
    pub(super) fn serve(
        &mut self,
        late_us: u32,
        commands: &mut dyn FnMut() -> Option<Command>,
        frames: &mut dyn Frames,
    ) -> Cycle {
        let polled = self.link.poll(DriveTime(self.tick * self.cycle_us));
        let feedback = self.lost.take().map_or(polled, Err);
        let cycle = self.session.step(feedback, commands, frames, late_us);
        self.lost = self.link.send(&cycle.set_points).err();
        self.tick += 1;
        cycle
    }
}
