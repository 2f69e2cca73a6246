//! The states of a run on drives: pure, total, without allocation; [`step`] is called for every cycle and every wish.
//!
//! # What holds, whatever comes (tests/operation_model.rs looks at every reachable state)
//! - Set-points move only while the link is alive, the presence input is held, gate, mat, belt and stop inputs are
//!   known to be closed, and the brakes were confirmed off; a scene only with commissioning, audition and reference.
//! - A motion begins with an operator's request and nothing else, after a warning and a pause. Letting go, silence and
//!   faults end motions and never begin one.
//! - A stop comes to rest within a bounded number of cycles, or power is removed.
//! - After an emergency stop or a fault nothing moves until an operator has acknowledged it *and* asked anew.
//!
//! # How it stops
//! A pause is category 2: along the path, drives stay on. Everything else is category 1: along the path where the legs
//! still follow it, else all legs together off the path; then brakes on; then, with the brakes confirmed, power off.
//! Category 0 is left for legs that do not come to rest in time. (Categories: IEC 60204-1, 9.2.2; an emergency stop may
//! be 0 or 1 only: ISO 13850; both as quoted by public texts on machine stops.) None of this is a safety function: the
//! hard-wired stop, the drives' own limits and the controller's watchdog must hold without it.

mod asking;
mod cause;
mod cycle;
mod demand;
mod seen;
mod state;

pub use cause::{Cause, Refusal};
pub use demand::{Demand, Motion};
pub use seen::{Brakes, Event, Input, Inputs, Permit, Request, Seen, Trouble};
pub use state::{Braking, Category, Phase, State};

/// How long things may take, cycles.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Timing {
    /// The warning before a motion.
    pub warning: u16,
    /// Brakes confirmed off.
    pub releasing: u16,
    /// A controlled stop of set-points at rest.
    pub stopping: u16,
    /// The same for legs that the far end moves by itself, at creep.
    pub creeping: u16,
    /// Brakes confirmed on.
    pub setting: u16,
}

/// For so long it warns before legs may move, microseconds (common practice is a few seconds).
pub const WARNING_US: u64 = 3_000_000;

/// So long brakes have to open and to close, microseconds (own choice).
pub const BRAKES_US: u64 = 1_000_000;

impl Timing {
    /// For a cycle of `cycle_us` microseconds: [`WARNING_US`], [`BRAKES_US`], 4 s
    /// for a stop: twice what the slowing of a path's clock is given, and 1 s for a stop from creep, which takes tenths
    /// of one: a far end that is not heard cannot say that it stands (own choices).
    pub fn of(cycle_us: u64) -> Self {
        let cycles = |us: u64| u16::try_from(us / cycle_us.max(1) + 1).unwrap_or(u16::MAX);
        Self {
            warning: cycles(WARNING_US),
            releasing: cycles(BRAKES_US),
            stopping: cycles(4_000_000),
            creeping: cycles(1_000_000),
            setting: cycles(BRAKES_US),
        }
    }
}

/// A run on drives: where it is, why, and what it remembers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Operation {
    state: State,
    phase: Phase,
    cause: Cause,
    /// Where the stop under way ends; `Holding` stands for whatever rests there.
    after: State,
    /// Of the stop under way, or the last.
    category: Option<Category>,
    /// The act that a stop along the path has interrupted.
    task: Option<State>,
    /// An emergency stop or a fault that nobody has acknowledged.
    latched: bool,
    permit: Permit,
    seen: Seen,
    timing: Timing,
}

/// What a step gives besides the new state.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Answer {
    /// What drives and path are to do now.
    pub demand: Demand,
    /// Why what was asked for does not begin.
    pub refused: Option<Refusal>,
}

/// What an event leads to. Total, and it does not allocate.
#[must_use]
pub fn step(operation: Operation, event: Event) -> (Operation, Answer) {
    let (next, refused) = match event {
        Event::Cycle(seen) => (operation.cycle(seen), None),
        Event::Permit(permit) => (Operation { permit, ..operation }, None),
        Event::Ask(request) => match operation.refusal(request) {
            Some(refusal) => (operation, Some(refusal)),
            None => (operation.asked(request), None),
        },
    };
    (next, Answer { demand: next.demand(), refused })
}

impl Operation {
    /// Not connected.
    pub fn new(timing: Timing) -> Self {
        Self {
            state: State::NotConnected,
            phase: Phase::Rest,
            cause: Cause::Begun,
            after: State::Holding,
            category: None,
            task: None,
            latched: false,
            permit: Permit::default(),
            seen: Seen::default(),
            timing,
        }
    }

    /// Where it is.
    pub fn state(&self) -> State {
        self.state
    }

    /// How far it has come there.
    pub fn phase(&self) -> Phase {
        self.phase
    }

    /// Why it is there.
    pub fn cause(&self) -> Cause {
        self.cause
    }

    /// The category of the stop under way, or of the last one.
    pub fn category(&self) -> Option<Category> {
        self.category
    }

    /// The act that a stop along the path has interrupted.
    pub fn task(&self) -> Option<State> {
        self.task
    }

    /// Whether a fault or an emergency stop waits to be acknowledged.
    pub fn is_latched(&self) -> bool {
        self.latched
    }

    /// What was seen last.
    pub fn seen(&self) -> &Seen {
        &self.seen
    }

    /// What the shell vouched for last.
    pub fn permit(&self) -> Permit {
        self.permit
    }

    /// What an operator could ask for now with effect.
    pub fn options(&self) -> impl Iterator<Item = Request> + '_ {
        Request::ALL.into_iter().filter(|request| self.refusal(*request).is_none())
    }

    /// Whether this program may go away: at rest, or deaf to a far end whose own watchdog then has the last word.
    pub fn may_end(&self) -> bool {
        self.phase == Phase::Rest || (self.is_propped() && !self.seen.link)
    }

    /// Whether torque holds the legs after a fault, because brakes are not known to.
    pub fn is_propped(&self) -> bool {
        self.state == State::Faulted && self.phase == Phase::Standing
    }

    /// Whether set-points may move or are being brought to rest.
    pub fn is_moving(&self) -> bool {
        matches!(self.phase, Phase::Moving | Phase::Stopping { .. })
    }

    /// The same without what only words are made of: two that agree here behave alike.
    #[must_use]
    pub fn without_words(self) -> Self {
        Self { cause: Cause::Begun, category: self.category.filter(|_| self.is_moving()), ..self }
    }

    /// The state at rest for what is seen, no fault or stop pending.
    fn rest_state(&self) -> State {
        match (self.seen.homed, self.seen.at_park, self.task) {
            (false, ..) => State::Connected,
            (true, true, None) => State::Parked,
            (true, ..) => State::Holding,
        }
    }
}

#[cfg(test)]
mod tests;
