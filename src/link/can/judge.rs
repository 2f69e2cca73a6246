//! What is wrong with a drive that is set up: the fault that a run's states know, and the cause by its name.

use super::cia402::{DriveState, Mode, status};
use super::fault::{CanFault, abort_words};
use super::live::Home;
use super::network::{NmtState, emergency_words};
use super::node::Node;
use crate::link::DriveTime;
use crate::link::frame::FrameFault;
use crate::record::DriveCause;

/// A drive may show for so long what it was told to leave, microseconds (own choice: some cycles).
const ASTRAY_US: u64 = 50_000;

/// Once off for so long, what was wrong before is over if it does not show any more, microseconds.
const OVER_US: u64 = 500_000;

/// Whether something is not as it should be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Astray {
    #[default]
    Not,
    /// When it was seen first, microseconds.
    Since(u64),
    /// For longer than is borne; it stays so until the drive has been off for a while.
    TooLong,
}

impl Astray {
    /// Looks once more: it is borne for `patience_us`, and `over` lets go of what was too long.
    fn look(&mut self, is_astray: bool, patience_us: u64, over: bool, now: DriveTime) {
        *self = match *self {
            Astray::TooLong if !over => Astray::TooLong,
            _ if !is_astray => Astray::Not,
            Astray::Not if patience_us == 0 => Astray::TooLong,
            Astray::Not => Astray::Since(now.0),
            Astray::Since(at) if now.0.saturating_sub(at) > patience_us => Astray::TooLong,
            seen => seen,
        };
    }
}

/// What can be astray: its states, its mode, whether it takes set-points.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Strays {
    left: Astray,
    fell_back: Astray,
    idle: Astray,
}

/// What is wrong.
pub(super) type Wrong = (FrameFault, DriveCause);

/// The fault of an emergency code. Source: CiA 301 and CiA 402, error codes.
fn fault_of(code: u16) -> FrameFault {
    match code {
        0x4000..=0x4FFF => FrameFault::Hot,
        0x5441..=0x5444 => FrameFault::EndSwitch,
        0x8130 | 0x8140 | 0x8250 => FrameFault::Silence,
        0x8611 => FrameFault::Following,
        _ => FrameFault::Drive,
    }
}

fn object_words(fault: CanFault) -> (&'static str, u32, &'static str) {
    match fault {
        CanFault::Refused { object, code, .. } => {
            ("refuses to have changed while it runs: object", u32::from(object.index), abort_words(code))
        }
        CanFault::NotKept { object, .. } => {
            ("does not keep what is written while it runs: object", u32::from(object.index), "")
        }
        CanFault::Silent { object, .. } => ("does not answer about object", u32::from(object.index), ""),
        _ => ("an object could not be changed while it runs", 0, ""),
    }
}

impl Node {
    /// It gave torque, and does not any more, though nobody told it so; or it follows something else.
    pub(super) fn has_left(&self) -> bool {
        let strays = &self.live.strays;
        strays.left == Astray::TooLong || strays.fell_back == Astray::TooLong
    }

    /// Looks at how long things are not as they should be.
    pub(super) fn watch(&mut self, now: DriveTime) {
        let (state, word) = (self.state(), self.heard.status.unwrap_or(0));
        let live = &self.live;
        let on = state == DriveState::OperationEnabled;
        let fell = live.strays.fell_back == Astray::TooLong;
        // One that follows something else is told to stop, and then leaves by order.
        let left = live.enabled && !live.closing && !on && !fell;
        let fell_back = on && live.enabled && self.heard.mode != live.mode && !self.changes_mode();
        let follows = match live.mode {
            mode if mode == Mode::Homing.number() => true,
            _ => word & status::FOLLOWS != 0,
        };
        let idle = on && live.enabled && !live.closing && !follows;
        let over = self.live.off_since_us().is_some_and(|since| now.0.saturating_sub(since) > OVER_US);
        // What has left its states is known at once; the others may need some cycles to show.
        let strays = &mut self.live.strays;
        strays.left.look(left, 0, over, now);
        strays.fell_back.look(fell_back, ASTRAY_US, over, now);
        strays.idle.look(idle, 2 * ASTRAY_US, over, now);
        if over {
            if self.live.strays.fell_back == Astray::Not
                && self.heard.mode != self.live.mode
                && !self.changes_mode()
            {
                // It fell back: told anew, before anything is enabled again.
                self.live.mode = self.heard.mode;
            }
            if self.live.home == Home::Failed {
                self.live.home = Home::None;
            }
            self.live.trouble = None;
        }
    }

    /// Whether it has fallen silent.
    pub(super) fn is_lost(&self, now: DriveTime) -> bool {
        now.0.saturating_sub(self.heard.report_us) > self.patience_us()
    }

    /// What is wrong, the gravest first. `excused`: this program itself was away, and drives that stopped for it are off.
    pub(super) fn judge(&self, now: DriveTime, excused: bool) -> Option<Wrong> {
        let wrong = |fault, what, code: u32, meaning| {
            Some((fault, DriveCause { leg: Some(self.index), what, code, meaning }))
        };
        let heard = &self.heard;
        if heard.booted {
            return wrong(
                FrameFault::Drive,
                "the drive began anew by itself: end this run, see to its supply, start again",
                0,
                "",
            );
        }
        let state = self.state();
        let code = match (heard.emergency, self.live.error) {
            (0, Some(error)) if state.is_fault() => error,
            (code, _) => code,
        };
        if code != 0 && !(excused && fault_of(code) == FrameFault::Silence) {
            return wrong(fault_of(code), "emergency", u32::from(code), emergency_words(code));
        }
        if self.is_lost(now) {
            return wrong(FrameFault::Drive, "the drive sends no reports any more", 0, "");
        }
        if now.0.saturating_sub(heard.alive_us) > self.patience_us() {
            return wrong(FrameFault::Drive, "the drive gives no sign of life any more (heartbeat)", 0, "");
        }
        if heard.nmt.is_some_and(|nmt| nmt != NmtState::Operational) {
            return wrong(FrameFault::Drive, "the drive left the operational state of CANopen", 0, "");
        }
        if state.is_fault() && !excused {
            return wrong(FrameFault::Drive, "the statusword says", 0, state.words());
        }
        if self.live.home == Home::Failed {
            return wrong(FrameFault::Homing, "the drive did not find its reference", 0, "");
        }
        let Strays { left, fell_back, idle } = self.live.strays;
        if left == Astray::TooLong {
            return wrong(FrameFault::Drive, "the drive left operation enabled by itself", 0, state.words());
        }
        if fell_back == Astray::TooLong {
            return wrong(FrameFault::Drive, "the drive fell back to mode", heard.mode as u8 as u32, "");
        }
        if let Some(what) = self.sag_words(now) {
            return wrong(FrameFault::Brake, what, 0, "");
        }
        if self.live.leads_off {
            return wrong(
                FrameFault::Following,
                "its set-points begin elsewhere than where the leg stands",
                0,
                "",
            );
        }
        if self.is_too_far() {
            return wrong(FrameFault::Following, "the statusword says", 0, "following error");
        }
        if idle == Astray::TooLong {
            return wrong(
                FrameFault::Drive,
                "the drive does not take its set-points",
                0,
                "statusword bit 12",
            );
        }
        self.live.trouble.and_then(|fault| {
            let (what, code, meaning) = object_words(fault);
            wrong(FrameFault::Drive, what, code, meaning)
        })
    }

    fn is_too_far(&self) -> bool {
        let cyclic = self.heard.mode == Mode::CyclicPosition.number();
        let bit = self.heard.status.unwrap_or(0) & status::FOLLOWING_ERROR != 0;
        cyclic && bit && self.state() == DriveState::OperationEnabled
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn emergencies_are_the_faults_that_a_run_knows() {
        let of = [0x4310, 0x5443, 0x8130, 0x8250, 0x8611, 0x3210, 0xFF01].map(fault_of);
        use FrameFault::*;
        assert_eq!(of, [Hot, EndSwitch, Silence, Silence, Following, Drive, Drive]);
    }
}
