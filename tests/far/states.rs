//! The states of a run, and how an operator brings a run there.

use super::bench::{Bench, Program};
use cueloom::player::wait;
use std::time::Duration;

/// Where a run is when a fault comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum State {
    Homing,
    Jogging,
    Engaging,
    Following,
    /// A pause in place: the drives hold, the brakes are off.
    Holding,
    Parking,
    /// At park, brakes on, drives off; the start that is asked for at first was taken back.
    Parked,
    /// Let go of under way: brakes on, drives off.
    Braked,
    /// A stop device was actuated and is free again; nobody has acknowledged it.
    Stopped,
    /// A drive has reported a fault, and does not any more; nobody has acknowledged it.
    Faulted,
}

pub(crate) fn pass(ms: u64) {
    wait(Duration::from_millis(ms));
}

impl State {
    pub(crate) const ALL: [State; 10] = [
        State::Homing,
        State::Jogging,
        State::Engaging,
        State::Following,
        State::Holding,
        State::Parking,
        State::Parked,
        State::Braked,
        State::Stopped,
        State::Faulted,
    ];

    /// Those in which brakes are on and drives off.
    pub(crate) const AT_REST: [State; 4] = [State::Parked, State::Braked, State::Stopped, State::Faulted];

    pub(crate) fn rests(self) -> bool {
        State::AT_REST.contains(&self)
    }

    pub(crate) fn word(self) -> &'static str {
        match self {
            State::Homing => "homing",
            State::Jogging => "jogging",
            State::Engaging => "engaging",
            State::Following => "following",
            State::Holding => "holding",
            State::Parking => "parking",
            State::Parked => "parked",
            State::Braked => "holding, brakes on",
            State::Stopped => "stopped",
            State::Faulted => "faulted",
        }
    }

    /// What the bench is started with.
    pub(crate) fn bench(self) -> &'static [&'static str] {
        match self {
            State::Homing => &["--not-homed", "--start-mm", "490"],
            _ => &[],
        }
    }

    /// How fast a leg goes there at most, m/s: the bench's creep, the program's jog, half of the rig file's speed
    /// for ways, and what the check says of the scene at -12 dB, 31.75 mm/s, with some of the bench's own loop.
    pub(crate) fn speed_m_s(self) -> f64 {
        match self {
            State::Homing => 0.020,
            State::Jogging => 0.010,
            State::Holding | State::Parked | State::Braked | State::Stopped | State::Faulted => 0.0,
            State::Following => 0.033,
            State::Engaging | State::Parking => 0.130,
        }
    }

    /// What a run says that moves there, and for how long it is let go on, ms.
    pub(crate) fn moving(self) -> (&'static str, u64) {
        match self {
            State::Homing => ("homing: MOVING", 800),
            State::Jogging => ("jogging: MOVING", 600),
            State::Engaging => ("engaging: MOVING", 250),
            _ => ("following: MOVING", 1200),
        }
    }

    /// Asks a run that stands with its brakes on to go there, and takes hold of the presence input; where that begins in
    /// what the program said.
    pub(crate) fn begin(self, bench: &mut Bench, program: &mut Program) -> usize {
        let at = program.wait_for(
            if self == State::Homing { "\nconnected: brakes on" } else { "\nparked: brakes on" },
            0,
        );
        match self {
            State::Parked => {
                // Nothing is asked for any more.
                program.say("pause");
                pass(200);
                return at;
            }
            State::Homing => {
                program.say("home");
                pass(200);
            }
            State::Jogging => {
                program.say("jog all + 4");
                pass(300);
            }
            _ => {}
        }
        bench.say("presence 1");
        at
    }

    /// Brings a run there that stands with its brakes on, and lets it go on for a while; where that ends in what the
    /// program said.
    pub(crate) fn reach(self, bench: &mut Bench, program: &mut Program) -> usize {
        let at = self.begin(bench, program);
        if self == State::Parked {
            return at;
        }
        let (moving, more_ms) = self.moving();
        let at = program.wait_for(moving, at);
        pass(more_ms);
        self.settle(bench, program, at)
    }

    /// From where it moves to the state itself, if that is another.
    pub(crate) fn settle(self, bench: &mut Bench, program: &mut Program, mut at: usize) -> usize {
        if matches!(self, State::Holding | State::Parking) {
            program.say("pause");
            at = program.wait_for("holding: standing, brakes off", at);
            pass(200);
        }
        let (words, says) = match self {
            State::Braked => (["presence 0", "belt 1"], "holding: brakes on: the presence input"),
            State::Stopped => (["stop 0", "stop 1"], "stopped: brakes on"),
            State::Faulted => (["fault 2", "clear"], "faulted: brakes on"),
            _ => (["", ""], ""),
        };
        if self.rests() {
            bench.say(words[0]);
            at = program.wait_for(says, at);
            pass(100);
            bench.say(words[1]);
            pass(300);
        }
        if self == State::Parking {
            program.say("park");
            pass(200);
            bench.say("presence 0");
            at = program.wait_for("holding: brakes on", at);
            bench.say("presence 1");
            at = program.wait_for("parking: MOVING", at);
            pass(250);
        }
        at
    }
}
