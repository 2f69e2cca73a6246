//! What directs a session is made of, whoever does: moves and gain ramps that are planned where legs stand, commands that are
//! counted as they are sent, and what could not be done, in words.

use super::command::{Command, View};
use super::gain::GainRamp;
use super::scene::Scene;
use super::setup::Setup;
use super::travel::{Move, MoveError};
use crate::safety::{Legs, Refusal};

/// Plans for one session.
pub(super) struct Planner<'a> {
    pub(super) setup: &'a Setup,
    scene: &'a dyn Scene,
    sent: u64,
    /// What could not be done.
    pub(super) remarks: Vec<String>,
}

impl<'a> Planner<'a> {
    pub(super) fn new(setup: &'a Setup, scene: &'a dyn Scene) -> Self {
        Self { setup, scene, sent: 0, remarks: Vec::new() }
    }

    /// Whether the session has taken everything that was sent.
    pub(super) fn is_taken(&self, view: &View) -> bool {
        view.taken == self.sent
    }

    /// Sends a command; whether there was room for it.
    pub(super) fn send(&mut self, command: Command, send: &mut dyn FnMut(Command) -> bool) -> bool {
        let sent = send(command);
        self.sent += u64::from(sent);
        if !sent {
            self.remarks.push("an order was lost: too many at once".to_string());
        }
        sent
    }

    /// A move between two poses of the legs, m.
    ///
    /// # Errors
    /// When there is none.
    pub(super) fn plan(&self, from_m: Legs, to_m: Legs) -> Result<Move, MoveError> {
        Move::plan(&self.setup.limits, &self.setup.paces, &*self.setup.mechanism, from_m, to_m)
    }

    /// The command that goes there from where the set-points stand; a refusal where there is no way.
    pub(super) fn travel(&mut self, view: &View, to_m: Legs, command: fn(Move) -> Command) -> Command {
        match self.plan(view.set_points_m, to_m) {
            Ok(travel) => command(travel),
            Err(e) => {
                self.remarks.push(format!("no move: {e}"));
                Command::Refuse(Refusal::NoMove)
            }
        }
    }

    /// The ramp to a gain (0..1); a refusal where there is none.
    pub(super) fn gain(&mut self, view: &View, gain: f64) -> Command {
        match GainRamp::ahead_of(self.scene, self.setup, view, gain) {
            Ok(ramp) => Command::Gain(ramp),
            Err(e) => {
                self.remarks.push(e.to_string());
                Command::Refuse(Refusal::NoRamp)
            }
        }
    }
}
