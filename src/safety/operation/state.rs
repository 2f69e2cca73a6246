//! Where a run on drives is, and how far it has come there.

/// The states of a run on drives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum State {
    /// Nobody at the far end is known.
    NotConnected,
    /// The far end answers; where the legs are is not known to it.
    Connected,
    /// The far end looks for its reference, on command, presence held.
    Homing,
    /// At the park lengths, brakes on.
    Parked,
    /// On the way to the scene's first pose.
    Engaging,
    /// Playing the scene.
    Following,
    /// At rest somewhere, reference known.
    Holding,
    /// Moved by hand on the button: slow, held, no reference needed.
    Jogging,
    /// On the way to park.
    Parking,
    /// The run is over by an operator's stop or an emergency stop; brakes on.
    Stopped,
    /// A fault; brakes on, until an operator acknowledges it and its cause is gone.
    Faulted,
}

impl State {
    /// Every state.
    pub const ALL: [State; 11] = [
        State::NotConnected,
        State::Connected,
        State::Homing,
        State::Parked,
        State::Engaging,
        State::Following,
        State::Holding,
        State::Jogging,
        State::Parking,
        State::Stopped,
        State::Faulted,
    ];

    /// The word in logs.
    pub fn word(self) -> &'static str {
        match self {
            State::NotConnected => "not connected",
            State::Connected => "connected",
            State::Homing => "homing",
            State::Parked => "parked",
            State::Engaging => "engaging",
            State::Following => "following",
            State::Holding => "holding",
            State::Jogging => "jogging",
            State::Parking => "parking",
            State::Stopped => "stopped",
            State::Faulted => "faulted",
        }
    }

    /// Whether set-points go along a path in it.
    pub(super) fn has_path(self) -> bool {
        matches!(self, State::Engaging | State::Following | State::Parking)
    }

    /// Whether it is an act that moves legs once its phases allow it.
    pub fn is_act(self) -> bool {
        matches!(self, State::Homing | State::Engaging | State::Following | State::Jogging | State::Parking)
    }
}

/// How far a state has come. Counts are cycles.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Phase {
    /// Drives off, brakes on.
    Rest,
    /// Drives on, brakes off, set-points standing: a stop of category 2. After a fault: torque holds, for brakes are not known
    /// to.
    Standing,
    /// The warning sounds; nothing has begun. `standing` when it began from [`Phase::Standing`].
    Warning {
        /// Cycles until it is over.
        left: u16,
        /// Drives are on already.
        standing: bool,
    },
    /// Torque is built, then brakes are let go, then that is confirmed.
    Releasing {
        /// Cycles until it has taken too long.
        left: u16,
    },
    /// Set-points move.
    Moving,
    /// A controlled stop.
    Stopping {
        /// How.
        how: Braking,
        /// Cycles until it has taken too long.
        left: u16,
    },
    /// At rest (or cut off): the brakes are going on.
    Setting {
        /// Cycles until it has taken too long.
        left: u16,
        /// Whether torque holds until the brakes are confirmed on; not after a stop of category 0.
        power: bool,
    },
}

/// How a controlled stop is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Braking {
    /// Along the path, by slowing its clock.
    AlongPath,
    /// Off the path, all legs losing the same share of their speed.
    Coordinated,
}

/// Stop categories. Source: IEC 60204-1, 9.2.2, as quoted by public texts on machine stops.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Category {
    /// Power is removed at once; what moves is not controlled any more.
    Zero,
    /// A controlled stop, then power is removed.
    One,
    /// A controlled stop, power stays.
    Two,
}

impl Category {
    /// Its number.
    pub fn number(self) -> u8 {
        match self {
            Category::Zero => 0,
            Category::One => 1,
            Category::Two => 2,
        }
    }
}
