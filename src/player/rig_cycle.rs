//! One cycle of session and link together, the same by hand and in real time.
//!
//! [`RigCycle`] is that of the plain simulated rig; that of drives is in `drive_cycle.rs`.

use super::command::{Command, View};
use super::session::{Cycle, Session};
use super::window::Frames;
use crate::link::{DriveTime, EngagedLink, LinkFault};

/// When a cycle is served, on the clock that the link is told, microseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Instant {
    /// When it should be.
    pub(super) due_us: u64,
    /// When it is.
    pub(super) now_us: u64,
}

impl Instant {
    /// How late, microseconds.
    pub(super) fn late_us(self) -> u32 {
        u32::try_from(self.now_us.saturating_sub(self.due_us)).unwrap_or(u32::MAX)
    }
}

/// Whether whoever directs a run is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Directed {
    /// And looks.
    Yes,
    /// But has not looked for a while.
    Silent,
    /// No more.
    Gone,
}

/// What is served cycle by cycle.
pub(super) trait Served: Send {
    /// How it stands.
    fn view(&self) -> View;
    /// Whether it is over and settled.
    fn is_done(&self) -> bool;
    /// One cycle.
    fn serve(
        &mut self,
        at: Instant,
        commands: &mut dyn FnMut() -> Option<Command>,
        frames: &mut dyn Frames,
    ) -> Cycle;
    /// Lets the link go.
    fn end(self);
    /// Whether it is directed; said every cycle.
    fn directed(&mut self, how: Directed);
    /// From now on cycles are missing from the record. What plays on the plain simulated rig is stopped by whoever
    /// directs it.
    fn record_lost(&mut self) {}
    /// Later than this, deadlines are set anew instead of being caught up with, microseconds.
    fn catches_up_us(&self) -> u64 {
        50_000
    }
    /// Whether real drives wait for its cycles, so that a priority is asked for.
    fn is_urgent(&self) -> bool {
        false
    }
}

/// A session and the link that it plays on.
pub(super) struct RigCycle<L> {
    pub(super) session: Session,
    pub(super) link: L,
    cycle_us: u64,
    tick: u64,
    lost: Option<LinkFault>,
    is_left: bool,
}

impl<L: EngagedLink> RigCycle<L> {
    pub(super) fn new(session: Session, link: L, cycle_us: u64) -> Self {
        Self { session, link, cycle_us, tick: 0, lost: None, is_left: false }
    }
}

impl<L: EngagedLink + Send> Served for RigCycle<L> {
    fn view(&self) -> View {
        self.session.view()
    }

    fn is_done(&self) -> bool {
        self.session.is_done() || self.is_left
    }

    /// Nothing real moves: with nobody to direct it, it is simply over.
    fn directed(&mut self, how: Directed) {
        self.is_left = how == Directed::Gone;
    }

    fn end(self) {
        self.link.release();
    }

    /// Polls, steps, sends. What did not go out counts as a silent link in the next cycle.
    fn serve(
        &mut self,
        at: Instant,
        commands: &mut dyn FnMut() -> Option<Command>,
        frames: &mut dyn Frames,
    ) -> Cycle {
        let polled = self.link.poll(DriveTime(self.tick * self.cycle_us));
        let feedback = self.lost.take().map_or(polled, Err);
        let cycle = self.session.step(feedback, commands, frames, at.late_us());
        self.lost = self.link.send(&cycle.set_points).err();
        self.tick += 1;
        cycle
    }
}
