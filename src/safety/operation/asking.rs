//! What an operator asks for: whether it may be, and what it leads to.

use super::{Brakes, Braking, Category, Cause, Operation, Phase, Refusal, Request, State};

impl Operation {
    /// Why `request` would do nothing now; `None` when it would.
    pub fn refusal(&self, request: Request) -> Option<Refusal> {
        match request {
            Request::Connect => match self.state {
                State::NotConnected if self.seen.link => None,
                State::NotConnected => Some(Refusal::NotConnected),
                _ => Some(Refusal::IsConnected),
            },
            _ if self.state == State::NotConnected => Some(Refusal::NotConnected),
            Request::Disconnect => (self.phase != Phase::Rest).then_some(Refusal::Busy),
            Request::Pause => {
                let goes =
                    matches!(self.phase, Phase::Warning { .. } | Phase::Releasing { .. } | Phase::Moving);
                (self.state == State::Faulted || !goes).then_some(Refusal::Nothing)
            }
            Request::Stop => {
                matches!(self.state, State::Stopped | State::Faulted).then_some(Refusal::Nothing)
            }
            Request::EmergencyStop => {
                let there = self.state == State::Faulted || (self.state == State::Stopped && self.latched);
                there.then_some(Refusal::Nothing)
            }
            Request::Acknowledge => self.acknowledging(),
            Request::Home | Request::Start | Request::Resume | Request::Park | Request::Jog => {
                self.beginning(request, false)
            }
        }
    }

    /// Why a jog of one leg alone would do nothing now; `None` when it would. One leg that goes alone rolls the platform,
    /// and past its joint at last; so legs go together unless the seat was declared vacant.
    pub fn refusal_of_one_leg(&self) -> Option<Refusal> {
        match self.state {
            State::NotConnected => Some(Refusal::NotConnected),
            _ => self.beginning(Request::Jog, true),
        }
    }

    fn acknowledging(&self) -> Option<Refusal> {
        if !matches!(self.state, State::Stopped | State::Faulted) {
            return Some(Refusal::Nothing);
        }
        if self.is_propped() {
            return Some(Refusal::CauseStays);
        }
        if self.phase != Phase::Rest {
            return Some(Refusal::Busy);
        }
        // With the link gone it leads to "not connected", which moves nothing.
        let stays = self.seen.link
            && (self.seen.trouble.is_some()
                || !self.seen.inputs.stop.is_closed()
                || self.seen.brakes != Brakes::Set);
        stays.then_some(Refusal::CauseStays)
    }

    /// Why an act does not begin; `alone` where it is one leg that would go.
    fn beginning(&self, request: Request, alone: bool) -> Option<Refusal> {
        let (state, seen, permit) = (self.state, &self.seen, &self.permit);
        if self.latched {
            return Some(Refusal::Acknowledge);
        }
        let standing = self.phase == Phase::Standing;
        if !(self.phase == Phase::Rest || standing) {
            return Some(Refusal::Busy);
        }
        let own = match request {
            Request::Home if !permit.vacant => Some(Refusal::NotVacant),
            Request::Jog if alone && !permit.vacant => Some(Refusal::OneLeg),
            Request::Home | Request::Start | Request::Resume if state == State::Stopped => {
                Some(Refusal::Over)
            }
            Request::Home | Request::Jog if standing => Some(Refusal::Busy),
            Request::Start | Request::Park | Request::Resume if !seen.homed => Some(Refusal::NotHomed),
            Request::Start if state != State::Parked => Some(Refusal::NotParked),
            Request::Resume if self.task.is_none() => Some(Refusal::Nothing),
            Request::Park if seen.at_park && self.task.is_none() => Some(Refusal::There),
            Request::Start | Request::Resume if !permit.commissioned => Some(Refusal::NotCommissioned),
            Request::Start | Request::Resume if !permit.audition => Some(Refusal::NotAuditioned),
            Request::Park if !permit.commissioned && !permit.vacant => Some(Refusal::NotCommissioned),
            _ => None,
        };
        let inputs = &seen.inputs;
        let closed = [
            (inputs.stop, Refusal::StopInput),
            (inputs.gate, Refusal::Gate),
            (inputs.mat, Refusal::Mat),
            (inputs.belt, Refusal::Belt),
            (inputs.presence, Refusal::Presence),
        ];
        let wrong = !seen.link || seen.trouble.is_some();
        own.or(wrong.then_some(Refusal::Trouble))
            .or_else(|| closed.into_iter().find(|(input, _)| !input.is_closed()).map(|(_, why)| why))
    }

    /// What a request leads to that was not refused.
    pub(super) fn asked(self, request: Request) -> Self {
        match request {
            Request::Connect => {
                // Letting the link go and taking it again acknowledges nothing.
                if self.latched {
                    return Self { state: State::Faulted, ..self };
                }
                let fresh = Self { cause: Cause::Connected, task: None, ..self };
                Self { state: fresh.rest_state(), ..fresh }
            }
            Request::Disconnect => {
                let cause = if self.latched { self.cause } else { Cause::Asked };
                Self { state: State::NotConnected, cause, task: None, ..self }
            }
            Request::Home => self.begin(State::Homing),
            Request::Start => self.begin(State::Engaging),
            Request::Park => Self { task: None, ..self.begin(State::Parking) },
            Request::Jog => Self { task: None, ..self.begin(State::Jogging) },
            Request::Resume => self.task.map_or(self, |task| self.begin(task)),
            Request::Pause => {
                let category = if self.state.has_path() { Category::Two } else { Category::One };
                self.stop_asked(Cause::Paused, Braking::AlongPath, State::Holding, category)
            }
            Request::Stop => {
                self.stop_asked(Cause::StopAsked, Braking::AlongPath, State::Stopped, Category::One)
            }
            Request::EmergencyStop => {
                self.stop_asked(Cause::EmergencyAsked, Braking::Coordinated, State::Stopped, Category::One)
            }
            Request::Acknowledge => {
                let fresh = Self { cause: Cause::Acknowledged, task: None, latched: false, ..self };
                let state = if self.seen.link { fresh.rest_state() } else { State::NotConnected };
                Self { state, ..fresh }
            }
        }
    }

    /// The warning before an act.
    fn begin(self, state: State) -> Self {
        let standing = self.phase == Phase::Standing;
        let phase = Phase::Warning { left: self.timing.warning, standing };
        Self { state, phase, cause: Cause::Asked, ..self }
    }
}
