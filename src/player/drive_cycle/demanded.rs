//! What path and drives are told by what the state machine demands.

use super::super::command::Command;
use super::super::thresholds::IDLE_US;
use super::DriveCycle;
use crate::link::DriveLink;
use crate::link::frame::OrderKind;
use crate::record::What;
use crate::safety::State;
use crate::safety::operation::{Demand, Event, Motion, Refusal, Request};

impl<L: DriveLink> DriveCycle<L> {
    /// What the path is told by what is demanded.
    pub(super) fn path_command(&mut self, demand: Demand) -> Option<Command> {
        let view = self.session.as_ref()?.view();
        let moves = view.state.is_moving();
        let slowed = matches!(view.state, State::Slowing | State::Braking);
        match demand.motion {
            Motion::Path => self.pending.take(),
            Motion::Slow if moves && !slowed => Some(Command::Pause),
            Motion::Brake | Motion::Stand if moves && view.state != State::Braking => Some(Command::Leave),
            _ => None,
        }
    }

    pub(super) fn order_kind(&mut self, demand: Demand) -> OrderKind {
        match demand.motion {
            _ if !demand.power => {
                self.following = false;
                OrderKind::Off
            }
            Motion::Home => OrderKind::Home,
            Motion::Jog => OrderKind::Jog,
            Motion::Path => {
                self.following = true;
                OrderKind::Follow
            }
            _ if self.following => OrderKind::Follow,
            _ => OrderKind::Hold,
        }
    }

    pub(super) fn end_what_stands_idle(&mut self, demand: Demand) {
        let known_m = self.report.filter(|report| report.homed).map(|report| report.lengths_m);
        if self.jog.look(self.elapsed_us, known_m.as_ref(), &self.setup.limits) {
            self.note(What::NotNow { request: Request::Jog, why: Refusal::AtEnd });
        }
        let idle = demand.motion.goes() && !self.run.seen().moving;
        self.idle_us = if idle { self.idle_us + self.setup.cycle_us } else { 0 };
        if self.idle_us > IDLE_US {
            self.event(Event::Ask(Request::Pause));
            self.idle_us = 0;
        }
    }
}
