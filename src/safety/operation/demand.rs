//! What drives and path are to do: a function of where the run is, the same however it came there.

use super::{Braking, Operation, Phase, State};

/// What set-points do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Motion {
    /// They stand.
    Stand,
    /// They go along the path of the act.
    Path,
    /// The far end moves by itself to find its reference.
    Home,
    /// They go as the hand on the button says.
    Jog,
    /// They come to rest along the path.
    Slow,
    /// They come to rest off the path, all legs together.
    Brake,
}

impl Motion {
    /// Its word in records.
    pub fn word(self) -> &'static str {
        match self {
            Motion::Stand => "stand",
            Motion::Path => "path",
            Motion::Home => "home",
            Motion::Jog => "jog",
            Motion::Slow => "slow",
            Motion::Brake => "brake",
        }
    }

    /// Whether it is more than standing or coming to rest.
    pub fn goes(self) -> bool {
        matches!(self, Motion::Path | Motion::Home | Motion::Jog)
    }
}

/// What drives and path are to do in this cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Demand {
    /// Torque on.
    pub power: bool,
    /// Brakes off.
    pub release: bool,
    /// The warning sounds.
    pub warn: bool,
    /// What set-points do.
    pub motion: Motion,
}

impl Operation {
    /// What drives and path are to do now.
    pub fn demand(&self) -> Demand {
        let on = |motion| Demand { power: true, release: true, warn: false, motion };
        match self.phase {
            Phase::Rest => Demand { power: false, release: false, warn: false, motion: Motion::Stand },
            // Torque that holds in place of brakes opens none.
            Phase::Standing if self.is_propped() => {
                Demand { power: true, release: false, warn: false, motion: Motion::Stand }
            }
            Phase::Standing => on(Motion::Stand),
            Phase::Warning { standing, .. } => {
                Demand { power: standing, release: standing, warn: true, motion: Motion::Stand }
            }
            // Torque first: without it a leg drops when its brake opens.
            Phase::Releasing { .. } => {
                Demand { power: true, release: self.seen.power, warn: true, motion: Motion::Stand }
            }
            Phase::Moving => on(match self.state {
                State::Homing => Motion::Home,
                State::Jogging => Motion::Jog,
                State::Engaging | State::Following | State::Parking => Motion::Path,
                _ => Motion::Brake,
            }),
            Phase::Stopping { how: Braking::AlongPath, .. } => on(Motion::Slow),
            Phase::Stopping { how: Braking::Coordinated, .. } => on(Motion::Brake),
            Phase::Setting { power, .. } => {
                Demand { power, release: false, warn: false, motion: Motion::Stand }
            }
        }
    }
}
