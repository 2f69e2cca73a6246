//! What goes into a session besides feedback, and what can be seen of it. Plain numbers, so that rings can carry them.

use super::gain::GainRamp;
use super::ready::{Ready, Refused};
use super::travel::Move;
use crate::record::DriveCause;
use crate::safety::operation::{Operation, Request};
use crate::safety::{Legs, Refusal, State, Task};

/// What can be asked of a session.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Command {
    /// Go to the first pose by this move, then play.
    Start(Move),
    /// Slow the clock to a stop, and hold.
    Pause,
    /// Go on.
    Resume,
    /// Slow the clock to a stop; the run is over.
    Stop,
    /// Go to park by this move.
    Park(Move),
    /// Go to level by this move.
    Level(Move),
    /// Take on a ramp of the gain.
    Gain(GainRamp),
    /// Leave a fault behind.
    Reset,
    /// Leave the path now: all legs together to rest.
    Leave,
    /// Ask the run on drives for something that needs no move planned.
    Ask(Request),
    /// Move by hand at these speeds, m/s; again and again while the hand is on the button.
    Jog {
        /// One a leg.
        speeds_m_s: Legs,
        /// Whether it is the first of a jog; one that goes on begins none.
        begins: bool,
    },
    /// Nothing; an order could not be made into a command, and the record should say so.
    Refuse(Refusal),
    /// Nothing more will be asked: end once settled. Only heeded at rest.
    Finish,
}

/// How a session stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct View {
    /// Cycles served.
    pub(super) tick: u64,
    pub(super) state: State,
    /// The path under way or interrupted.
    pub(super) task: Option<Task>,
    pub(super) set_points_m: Legs,
    /// Where the legs are shown to be: on drives as measured, else as set.
    pub(super) legs_m: Legs,
    /// Whether the last two set-points are the same.
    pub(super) at_rest: bool,
    /// How far the path under way has been played, s.
    pub(super) path_s: f64,
    /// The rate of the path's clock, 0..1.
    pub(super) rate: f64,
    /// The cycle of the scene that is being played; 0 unless it is.
    pub(super) scene_frame: u64,
    /// Whether the scene was played to its end.
    pub(super) played_out: bool,
    /// The factor on the cleared gain, now.
    pub(super) gain: f64,
    /// And when the ramp that was taken on is over.
    pub(super) gain_after: f64,
    /// How many commands it has taken.
    pub(super) taken: u64,
    /// Whether frames came too slowly.
    pub(super) starved: bool,
    /// On drives: where the run is, why, and what it sees.
    pub(super) run: Option<Operation>,
    /// On drives: what exactly is wrong with one of them.
    pub(super) cause: Option<DriveCause>,
    /// On drives: what the path says to acts.
    pub(super) ready: Ready,
    /// On drives: what was asked for last and does not begin.
    pub(super) refused: Refused,
}
