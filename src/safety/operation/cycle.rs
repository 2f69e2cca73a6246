//! What a cycle's observations lead to.

use super::{Brakes, Braking, Category, Cause, Operation, Phase, Seen, State, Trouble};

/// What speaks against moving on.
#[derive(Debug, Clone, Copy)]
struct Objection {
    cause: Cause,
    how: Braking,
    after: State,
    latched: bool,
}

/// How grave a stop's end is; a stop under way only becomes graver.
fn rank(after: State, latched: bool) -> u8 {
    match after {
        State::Faulted => 3,
        State::Stopped if latched => 2,
        State::Stopped => 1,
        _ => 0,
    }
}

impl Operation {
    pub(super) fn cycle(mut self, seen: Seen) -> Self {
        self.seen = seen;
        match self.phase {
            Phase::Rest => self.resting(),
            Phase::Standing if self.is_propped() => self.propped(),
            Phase::Standing => match self.objection() {
                Some(objection) => self.set_brakes(objection),
                None => self,
            },
            Phase::Warning { left, standing } => match (self.objection(), left) {
                // Nothing has begun; so it ends where it was.
                (Some(objection), _) if !standing => self.rest(objection),
                (Some(objection), _) => self.set_brakes(objection),
                (None, 0) => Self { phase: Phase::Releasing { left: self.timing.releasing }, ..self },
                (None, _) => Self { phase: Phase::Warning { left: left - 1, standing }, ..self },
            },
            Phase::Releasing { left } => match self.objection() {
                Some(objection) => self.set_brakes(objection),
                None if seen.power && seen.brakes == Brakes::Released => {
                    Self { phase: Phase::Moving, task: None, ..self }
                }
                None if left == 0 => self.set_brakes(Objection {
                    cause: Cause::BrakesNotReleased,
                    how: Braking::Coordinated,
                    after: State::Faulted,
                    latched: true,
                }),
                None => Self { phase: Phase::Releasing { left: left - 1 }, ..self },
            },
            Phase::Moving => match self.objection() {
                Some(objection) => self.stop(objection, Category::One),
                None => self.moving(),
            },
            Phase::Stopping { .. } => self.stopping(),
            Phase::Setting { left, power } => self.setting(left, power),
        }
    }

    /// What speaks against moving on, the gravest first.
    fn objection(&self) -> Option<Objection> {
        let seen = &self.seen;
        let fault = |cause, how| Objection { cause, how, after: State::Faulted, latched: true };
        let hold =
            |cause| Objection { cause, how: Braking::AlongPath, after: State::Holding, latched: false };
        if !seen.link {
            return Some(fault(Cause::LinkSilent, Braking::Coordinated));
        }
        if let Some(trouble) = seen.trouble {
            let how = if trouble.leaves_path() { Braking::Coordinated } else { Braking::AlongPath };
            return Some(fault(Cause::Trouble(trouble), how));
        }
        let inputs = &seen.inputs;
        if !inputs.stop.is_closed() {
            let (cause, how) = (Cause::StopInput, Braking::Coordinated);
            return Some(Objection { cause, how, after: State::Stopped, latched: true });
        }
        let standing = matches!(self.phase, Phase::Standing | Phase::Warning { standing: true, .. });
        if (self.state.has_path() || standing) && !seen.homed {
            return Some(fault(Cause::ReferenceLost, Braking::Coordinated));
        }
        // Before torque is asked for brakes alone hold the legs: as at rest.
        if matches!(self.phase, Phase::Warning { standing: false, .. }) {
            if seen.brakes != Brakes::Set {
                return Some(fault(Cause::BrakesNotSet, Braking::Coordinated));
            }
            if seen.displaced {
                return Some(hold(Cause::MovedByHand));
            }
        }
        // While drives alone carry the platform. Brakes that fall in are a fault of their own, seen before drives trip on
        // it.
        if standing || self.phase == Phase::Moving {
            if seen.brakes != Brakes::Released {
                return Some(fault(Cause::BrakesFell, Braking::Coordinated));
            }
            if !seen.power {
                return Some(fault(Cause::Trouble(Trouble::Drive), Braking::Coordinated));
            }
        }
        let open = [
            (inputs.gate, Cause::Gate),
            (inputs.mat, Cause::Mat),
            (inputs.belt, Cause::Belt),
            (inputs.presence, Cause::LetGo),
        ];
        if let Some((_, cause)) = open.into_iter().find(|(input, _)| !input.is_closed()) {
            return Some(hold(cause));
        }
        let permitted = match self.state {
            State::Engaging | State::Following => self.permit.commissioned && self.permit.audition,
            State::Homing => self.permit.vacant,
            State::Parking => self.permit.commissioned || self.permit.vacant,
            _ => true,
        };
        (!permitted).then_some(hold(Cause::PermitGone))
    }

    /// How long a controlled stop may take, cycles.
    fn stopping_time(&self) -> u16 {
        if self.state.has_path() { self.timing.stopping } else { self.timing.creeping }
    }

    /// Begins a controlled stop, or makes the one under way graver.
    fn stop(self, objection: Objection, category: Category) -> Self {
        // Only a path can be kept to.
        let how = if self.state.has_path() { objection.how } else { Braking::Coordinated };
        let task = match (how, self.state) {
            (Braking::AlongPath, State::Engaging | State::Following) if objection.after == State::Holding => {
                Some(self.state)
            }
            _ => None,
        };
        Self {
            phase: Phase::Stopping { how, left: self.stopping_time() },
            cause: objection.cause,
            after: objection.after,
            latched: objection.latched,
            category: Some(category),
            task,
            ..self
        }
    }

    /// The stops that an operator asks for.
    pub(super) fn stop_asked(self, cause: Cause, how: Braking, after: State, category: Category) -> Self {
        let latched = cause == Cause::EmergencyAsked;
        let objection = Objection { cause, how, after, latched };
        match self.phase {
            Phase::Moving => self.stop(objection, category),
            Phase::Stopping { .. } => self.graver(objection),
            Phase::Warning { standing: false, .. } => self.rest(objection),
            Phase::Standing | Phase::Warning { .. } | Phase::Releasing { .. } => self.set_brakes(objection),
            Phase::Setting { .. } => self.escalated(objection).unwrap_or(self),
            Phase::Rest => self.rest(objection),
        }
    }

    /// The stop under way with this as its reason and end, where that is graver.
    fn escalated(self, objection: Objection) -> Option<Self> {
        let Objection { cause, after, latched, .. } = objection;
        let graver = rank(after, latched) > rank(self.after, self.latched);
        graver.then_some(Self { cause, after, latched, task: None, ..self })
    }

    fn graver(self, objection: Objection) -> Self {
        let Phase::Stopping { how, .. } = self.phase else { return self };
        let mut next = match self.escalated(objection) {
            Some(next) => next,
            None if self.category == Some(Category::Two) => Self { cause: objection.cause, ..self },
            None => self,
        };
        // Whatever objects, drives do not stay on.
        next.category = Some(Category::One);
        let off_path = objection.how == Braking::Coordinated && how == Braking::AlongPath;
        if off_path {
            next.task = None;
            next.phase = Phase::Stopping { how: Braking::Coordinated, left: self.stopping_time() };
        }
        next
    }

    fn stopping(self) -> Self {
        let next = self.objection().map_or(self, |objection| self.graver(objection));
        let Phase::Stopping { how, left } = next.phase else { return next };
        if !next.seen.moving {
            return match next.category {
                Some(Category::Two) => Self { state: State::Holding, phase: Phase::Standing, ..next },
                _ => Self { phase: Phase::Setting { left: next.timing.setting, power: true }, ..next },
            };
        }
        if left == 0 {
            // A far end that is not heard cannot say that it stands.
            let cause = if next.seen.link { Cause::NotStopped } else { next.cause };
            return Self {
                phase: Phase::Setting { left: next.timing.setting, power: false },
                cause,
                after: State::Faulted,
                latched: true,
                category: Some(Category::Zero),
                task: None,
                ..next
            };
        }
        Self { phase: Phase::Stopping { how, left: left - 1 }, ..next }
    }

    /// From drives that stand, or brakes that open: brakes on, then off.
    fn set_brakes(self, objection: Objection) -> Self {
        // What was interrupted before it moved is still interrupted where it was; so is what stands.
        let task = if objection.after == State::Holding { self.task } else { None };
        // Brakes that were just being let go may still say that they are on.
        let doubt = if matches!(self.phase, Phase::Releasing { .. }) { self.timing.setting / 10 } else { 0 };
        Self {
            phase: Phase::Setting { left: self.timing.setting.saturating_add(doubt), power: true },
            cause: objection.cause,
            after: objection.after,
            latched: objection.latched,
            category: Some(Category::One),
            task,
            ..self
        }
    }

    /// At rest, brakes on: nothing is to be done but to be there.
    fn rest(self, objection: Objection) -> Self {
        let goes_on = objection.after == State::Holding && !self.seen.displaced;
        let task = if goes_on { self.task } else { None };
        let mut next =
            Self { phase: Phase::Rest, cause: objection.cause, latched: objection.latched, task, ..self };
        next.state = if objection.after == State::Holding { next.rest_state() } else { objection.after };
        next
    }

    fn setting(self, left: u16, power: bool) -> Self {
        let mut next = self.objection().and_then(|objection| self.escalated(objection)).unwrap_or(self);
        if next.seen.brakes == Brakes::Set && left <= self.timing.setting {
            next.phase = Phase::Rest;
            next.state = if next.after == State::Holding { next.rest_state() } else { next.after };
            return next;
        }
        if left == 0 {
            // A screw that back-drives would fall: where torque holds, it goes on holding.
            let phase = if power { Phase::Standing } else { Phase::Rest };
            // A far end that is not heard cannot confirm: that is not the brakes' fault.
            let cause = if power && self.seen.link { Cause::BrakesNotSet } else { next.cause };
            return Self { state: State::Faulted, phase, cause, latched: true, task: None, ..next };
        }
        Self { phase: Phase::Setting { left: left - 1, power }, ..next }
    }

    /// A fault in which torque holds the legs because the brakes are not known to.
    fn propped(self) -> Self {
        if self.seen.brakes == Brakes::Set {
            return Self { phase: Phase::Rest, ..self };
        }
        if self.seen.link && !self.seen.inputs.stop.is_closed() {
            let phase = Phase::Setting { left: self.timing.setting, power: false };
            return Self { phase, after: State::Faulted, category: Some(Category::Zero), ..self };
        }
        self
    }

    fn moving(self) -> Self {
        let done = self.seen.arrived;
        let end = |cause| Self {
            phase: Phase::Setting { left: self.timing.setting, power: true },
            cause,
            after: State::Holding,
            category: Some(Category::One),
            task: None,
            ..self
        };
        match self.state {
            State::Engaging if done => Self { state: State::Following, ..self },
            State::Following if done && !self.seen.moving => end(Cause::SceneEnded),
            State::Parking if done && !self.seen.moving => end(Cause::Parked),
            State::Homing if done && self.seen.homed && !self.seen.moving => end(Cause::Homed),
            _ => self,
        }
    }

    fn resting(self) -> Self {
        let seen = &self.seen;
        let fault = |cause| Self { state: State::Faulted, cause, latched: true, task: None, ..self };
        match self.state {
            State::NotConnected | State::Faulted => return self,
            State::Stopped if !seen.link => return fault(Cause::LinkSilent),
            _ if !seen.link => {
                return Self { state: State::NotConnected, cause: Cause::LinkSilent, task: None, ..self };
            }
            _ => {}
        }
        if let Some(trouble) = seen.trouble {
            return fault(Cause::Trouble(trouble));
        }
        if seen.brakes != Brakes::Set {
            return fault(Cause::BrakesNotSet);
        }
        if !seen.inputs.stop.is_closed() && !self.latched {
            return Self {
                state: State::Stopped,
                cause: Cause::StopInput,
                latched: true,
                task: None,
                ..self
            };
        }
        if self.state == State::Stopped {
            return self;
        }
        let mut next = self;
        if seen.displaced || !seen.homed {
            next.task = None;
        }
        let state = next.rest_state();
        if seen.displaced && self.state != State::Connected {
            next.cause = Cause::MovedByHand;
        } else if state != self.state {
            next.cause = match (self.state, state) {
                (_, State::Connected) => Cause::ReferenceLost,
                (State::Connected, _) => Cause::Connected,
                _ => Cause::MovedByHand,
            };
        }
        Self { state, ..next }
    }
}
