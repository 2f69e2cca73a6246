//! What is asked of a session, and when: from the operator's orders and from how the session stands.
//!
//! Plans moves and gain ramps, which takes time and memory; so it lives beside the cycle, not in it.

use super::command::{Command, View};
use super::planner::Planner;
use super::ready::Remark;
use super::scene::Scene;
use super::setup::Setup;
use super::travel::Move;
use crate::safety::operation::Request;
use crate::safety::{Legs, Refusal, State};

/// What an operator can order while a run is on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Order {
    /// Slow to a stop on the path, and hold.
    Pause,
    /// Go on.
    Resume,
    /// Slow to a stop on the path; the run is over.
    Stop,
    /// Go to park, from rest.
    Park,
    /// Go to level, from rest.
    Level,
    /// Leave a fault behind.
    Reset,
    /// Change the gain by a ramp to this factor (0..1) of the gain that was checked.
    Gain(f64),
    /// On drives: go to the first pose and play, once the presence input is held.
    Start,
    /// On drives: let the far end find its reference.
    Home,
    /// On drives: move legs by hand, while presence is held.
    Jog {
        /// One leg, from 0, or all.
        leg: Option<usize>,
        /// The part of the jog speed, -1..1.
        part: f64,
        /// It ends by itself after so long, s; infinite where only the hand ends it.
        longest_s: f64,
    },
    /// On drives: stop as fast as the limits allow, latched.
    EmergencyStop,
    /// On drives: end the session, once at rest.
    End,
}

impl Order {
    /// The act that it asks for, where legs move by it.
    pub fn act(self) -> Option<Request> {
        match self {
            Order::Start => Some(Request::Start),
            Order::Resume => Some(Request::Resume),
            Order::Park => Some(Request::Park),
            Order::Home => Some(Request::Home),
            Order::Jog { .. } => Some(Request::Jog),
            _ => None,
        }
    }

    /// Whether it moves one leg of so many, and the others not.
    pub fn is_one_leg(self, legs: usize) -> bool {
        matches!(self, Order::Jog { leg: Some(_), .. }) && legs > 1
    }
}

/// Turns orders, and how a session stands, into commands.
pub(super) trait Directs {
    /// What to send, from one order. `send` says whether there was room.
    fn order(&mut self, view: &View, order: Order, send: &mut dyn FnMut(Command) -> bool);
    /// What follows from how the session stands.
    fn look(&mut self, view: &View, send: &mut dyn FnMut(Command) -> bool);
    /// What was asked for and waits until presence is taken hold of.
    fn wanted(&self) -> Option<Order> {
        None
    }
    /// Why what was ordered last cannot be done.
    fn remark(&self) -> Option<Remark> {
        None
    }
    /// Whether a stop because of a lost record is due: once. A run on drives sees that by itself.
    fn let_go_once(&mut self) -> bool {
        false
    }
    /// What could not be done, in words.
    fn remarks(self) -> Vec<String>;
}

/// Directs one session.
pub(super) struct Director<'a> {
    plans: Planner<'a>,
    first_m: Legs,
    park_at_end: bool,
    started: bool,
    parked: bool,
    finished: bool,
    /// Whether a stop was ordered because the record failed.
    letting_go: bool,
}

impl<'a> Director<'a> {
    /// For a run that begins at the scene's first leg lengths `first_m`.
    pub(super) fn new(setup: &'a Setup, scene: &'a dyn Scene, first_m: Legs, park_at_end: bool) -> Self {
        Self {
            plans: Planner::new(setup, scene),
            first_m,
            park_at_end,
            started: false,
            parked: false,
            finished: false,
            letting_go: false,
        }
    }

    /// Plans the move with which a run begins.
    ///
    /// # Errors
    /// When there is none.
    pub(super) fn first_move(&self, from_m: Legs) -> Result<Move, super::travel::MoveError> {
        self.plans.plan(from_m, self.first_m)
    }

    fn travel(&mut self, view: &View, to_m: Legs, command: fn(Move) -> Command) -> Command {
        if view.state.is_moving() || !view.at_rest {
            return Command::Refuse(Refusal::Moving);
        }
        self.plans.travel(view, to_m, command)
    }
}

impl Directs for Director<'_> {
    fn order(&mut self, view: &View, order: Order, send: &mut dyn FnMut(Command) -> bool) {
        let command = match order {
            Order::Pause => Command::Pause,
            Order::Resume => Command::Resume,
            Order::Stop => Command::Stop,
            Order::Reset => Command::Reset,
            Order::Park => self.travel(view, self.plans.setup.park_m, Command::Park),
            Order::Level => self.travel(view, self.plans.setup.level_m(), Command::Level),
            Order::Gain(gain) => self.plans.gain(view, gain),
            // The plain simulated rig starts by itself, has its reference, and knows no emergency.
            Order::EmergencyStop | Order::End => Command::Stop,
            Order::Start | Order::Home | Order::Jog { .. } => Command::Refuse(Refusal::Nothing),
        };
        self.plans.send(command, send);
    }

    /// What follows from how the session stands, once it has taken everything that was sent.
    fn look(&mut self, view: &View, send: &mut dyn FnMut(Command) -> bool) {
        if !self.plans.is_taken(view) || view.state.is_moving() || !view.at_rest || self.finished {
            return;
        }
        if !self.started && view.state == State::Parked {
            self.started = true;
            let command = self.first_move(view.set_points_m).map_or_else(
                |e| {
                    self.plans.remarks.push(format!("no move to the first pose: {e}"));
                    Command::Stop
                },
                Command::Start,
            );
            self.plans.send(command, send);
            return;
        }
        let paused = view.state == State::Holding && view.task.is_some();
        if paused && view.starved {
            // Nothing goes on by itself, and there may be nobody to ask.
            self.plans
                .remarks
                .push("the host rendered too slowly: the run was stopped on its path".to_string());
            self.plans.send(Command::Stop, send);
            return;
        }
        if paused {
            return;
        }
        if view.state == State::Holding && view.played_out && self.park_at_end && !self.parked {
            self.parked = true;
            let command = self.travel(view, self.plans.setup.park_m, Command::Park);
            self.plans.send(command, send);
            return;
        }
        self.finished = self.plans.send(Command::Finish, send);
    }

    fn let_go_once(&mut self) -> bool {
        !std::mem::replace(&mut self.letting_go, true)
    }

    fn remarks(self) -> Vec<String> {
        self.plans.remarks
    }
}
