//! What a cycle sees of the far end and of the path, and what somebody can ask for. Plain values.

/// A two-wire input as the controller reports it. What is not known counts as open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub enum Input {
    /// No word of it.
    #[default]
    Unknown,
    /// Open: let go, ajar, stepped on, unbuckled, pressed.
    Open,
    /// Closed: all is well with it.
    Closed,
}

impl Input {
    /// Its word in records.
    pub fn word(self) -> &'static str {
        match self {
            Input::Unknown => "unknown",
            Input::Open => "open",
            Input::Closed => "closed",
        }
    }

    /// Whether it is known to be closed.
    pub fn is_closed(self) -> bool {
        self == Input::Closed
    }
}

/// The inputs that a controller reports.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Inputs {
    /// Closed while the operator holds the key, button or pedal.
    pub presence: Input,
    /// Closed while every gate of the fence is.
    pub gate: Input,
    /// Closed while nobody stands on a mat around the rig.
    pub mat: Input,
    /// Closed while the seat's belt is (buckle it over an empty seat).
    pub belt: Input,
    /// Closed while no stop device is actuated.
    pub stop: Input,
}

impl Inputs {
    /// All closed.
    pub const CLOSED: Inputs = Inputs {
        presence: Input::Closed,
        gate: Input::Closed,
        mat: Input::Closed,
        belt: Input::Closed,
        stop: Input::Closed,
    };
}

/// Brakes as the controller reports them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub enum Brakes {
    /// No word of them, or they differ.
    #[default]
    Unknown,
    /// All of them hold.
    Set,
    /// All of them are off, confirmed.
    Released,
}

impl Brakes {
    /// Their word in records.
    pub fn word(self) -> &'static str {
        match self {
            Brakes::Unknown => "unknown",
            Brakes::Set => "set",
            Brakes::Released => "released",
        }
    }
}

/// What is wrong, found in this cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Trouble {
    /// A drive reports a fault.
    Drive,
    /// The far end heard nothing for too long, and stopped by itself.
    Silence,
    /// A leg is too far from its set-point.
    Following,
    /// A leg ran onto an end switch.
    EndSwitch,
    /// A leg pushes or pulls with a force that nothing planned explains.
    Force,
    /// A drive or motor is too hot.
    Hot,
    /// Legs move although the brakes are on.
    BrakeSlips,
    /// Somebody else answers than the rig that was commissioned.
    WrongRig,
    /// The host served its cycles too late: not the link's doing.
    HostLate,
    /// Frames came too slowly: the host renders too slowly.
    FramesLow,
    /// The record cannot be written.
    RecordLost,
}

impl Trouble {
    /// Every trouble.
    pub const ALL: [Trouble; 11] = [
        Trouble::Drive,
        Trouble::Silence,
        Trouble::Following,
        Trouble::EndSwitch,
        Trouble::Force,
        Trouble::Hot,
        Trouble::BrakeSlips,
        Trouble::WrongRig,
        Trouble::HostLate,
        Trouble::FramesLow,
        Trouble::RecordLost,
    ];

    /// Whether the legs still follow their path, so that the stop can stay on it.
    pub(super) fn leaves_path(self) -> bool {
        !matches!(self, Trouble::Hot | Trouble::FramesLow | Trouble::RecordLost)
    }
}

/// What a cycle sees.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Seen {
    /// Whether the link is alive: fresh feedback of the right rig.
    pub link: bool,
    /// The controller's inputs.
    pub inputs: Inputs,
    /// The brakes.
    pub brakes: Brakes,
    /// Whether the drives report torque on all legs.
    pub power: bool,
    /// Whether the far end knows where its legs are.
    pub homed: bool,
    /// Whether the legs stand at their park lengths.
    pub at_park: bool,
    /// Whether set-points still move (or, while the far end moves by itself, the measured lengths).
    pub moving: bool,
    /// Whether the act under way is at its end.
    pub arrived: bool,
    /// Whether legs that only brakes hold stand elsewhere than where the set-points left them.
    pub displaced: bool,
    /// The first thing that is wrong.
    pub trouble: Option<Trouble>,
}

/// What the shell vouches for; each is asked again at every start and every cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Permit {
    /// A commissioning record for this rig and these drives holds.
    pub commissioned: bool,
    /// The audition ladder (or a logged override) lets this level be played.
    pub audition: bool,
    /// The operator has declared the seat vacant.
    pub vacant: bool,
}

/// What an operator can ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Request {
    /// Take the far end that was identified as ours.
    Connect,
    /// Let the link go; only at rest.
    Disconnect,
    /// Let the far end find its reference.
    Home,
    /// Go to the scene's first pose and play.
    Start,
    /// Slow to a stop on the path and stand there, drives on.
    Pause,
    /// Go on along the path.
    Resume,
    /// Go to park.
    Park,
    /// Move legs by hand.
    Jog,
    /// Slow to a stop on the path, brakes on; the run is over.
    Stop,
    /// Stop as fast as the limits allow, brakes on, latched.
    EmergencyStop,
    /// Leave a fault or an emergency stop behind; moves nothing.
    Acknowledge,
}

impl Request {
    /// Every request.
    pub const ALL: [Request; 11] = [
        Request::Connect,
        Request::Disconnect,
        Request::Home,
        Request::Start,
        Request::Pause,
        Request::Resume,
        Request::Park,
        Request::Jog,
        Request::Stop,
        Request::EmergencyStop,
        Request::Acknowledge,
    ];

    /// Whether legs move by it, so that presence must be taken hold of after it.
    pub fn is_held(self) -> bool {
        matches!(self, Request::Home | Request::Start | Request::Resume | Request::Park | Request::Jog)
    }

    /// What it is called in logs.
    pub fn word(self) -> &'static str {
        match self {
            Request::Connect => "connect",
            Request::Disconnect => "disconnect",
            Request::Home => "home",
            Request::Start => "start",
            Request::Pause => "pause",
            Request::Resume => "resume",
            Request::Park => "park",
            Request::Jog => "jog",
            Request::Stop => "stop",
            Request::EmergencyStop => "emergency stop",
            Request::Acknowledge => "acknowledge",
        }
    }
}

/// What the machine hears.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Event {
    /// One cycle has gone by.
    Cycle(Seen),
    /// Somebody asks.
    Ask(Request),
    /// The shell vouches anew.
    Permit(Permit),
}
