//! Why a run is where it is, why an asked-for act does not begin, and what an operator can do next: in words.

use super::seen::Trouble;

/// Why a run is where it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Cause {
    /// It has only just begun.
    Begun,
    /// The far end was taken on, or looked at anew.
    Connected,
    /// An operator asked.
    Asked,
    /// The reference was found.
    Homed,
    /// The scene was played to its end.
    SceneEnded,
    /// It came to its park lengths.
    Parked,
    /// The operator asked for a pause.
    Paused,
    /// The operator asked for a stop.
    StopAsked,
    /// The operator asked for an emergency stop.
    EmergencyAsked,
    /// The presence input was let go.
    LetGo,
    /// A gate is open, or not known to be closed.
    Gate,
    /// A mat is stepped on, or not known to be free.
    Mat,
    /// The belt is open, or not known to be closed.
    Belt,
    /// A stop device is actuated, or not known to be free.
    StopInput,
    /// What the shell vouched for does not hold any more.
    PermitGone,
    /// Nothing came from the far end for too long.
    LinkSilent,
    /// Brakes were not confirmed off in time; nothing moved.
    BrakesNotReleased,
    /// A brake is not known to be off while legs move.
    BrakesFell,
    /// Brakes were not confirmed on in time.
    BrakesNotSet,
    /// The legs did not come to rest in time; power was removed.
    NotStopped,
    /// The legs were moved while the drives were off.
    MovedByHand,
    /// The far end does not know its reference any more.
    ReferenceLost,
    /// Found by the drives or by this program.
    Trouble(Trouble),
    /// A fault or an emergency stop was acknowledged.
    Acknowledged,
}

impl Cause {
    /// The reason in words.
    pub fn words(self) -> &'static str {
        match self {
            Cause::Begun => "nothing was connected yet",
            Cause::Connected => "the far end answers",
            Cause::Asked => "asked for",
            Cause::Homed => "the reference was found",
            Cause::SceneEnded => "the scene was played to its end",
            Cause::Parked => "it came to its park lengths",
            Cause::Paused => "asked to pause",
            Cause::StopAsked => "asked to stop: the run is over",
            Cause::EmergencyAsked => "emergency stop asked for",
            Cause::LetGo => "the presence input was let go",
            Cause::Gate => "a gate is open or not known to be closed",
            Cause::Mat => "a mat is stepped on or not known to be free",
            Cause::Belt => "the belt is open or not known to be closed",
            Cause::StopInput => "a stop device is actuated or not known to be free",
            Cause::PermitGone => "commissioning record or audition no longer holds",
            Cause::LinkSilent => "the link fell silent",
            Cause::BrakesNotReleased => "the brakes were not confirmed off in time; nothing moved",
            Cause::BrakesFell => "a brake is on, or not known to be off, while legs move",
            Cause::BrakesNotSet => "the brakes were not confirmed on in time",
            Cause::NotStopped => "the legs did not come to rest in time; power was removed",
            Cause::MovedByHand => "the legs were moved while the drives were off",
            Cause::ReferenceLost => "the far end does not know where its legs are",
            Cause::Trouble(Trouble::Drive) => "a drive reports a fault",
            Cause::Trouble(Trouble::Silence) => {
                "the far end heard nothing for too long and stopped by itself"
            }
            Cause::Trouble(Trouble::Following) => "a leg is too far from its set-point",
            Cause::Trouble(Trouble::EndSwitch) => "a leg is on an end switch",
            Cause::Trouble(Trouble::Force) => "a leg's force is not what the plan explains",
            Cause::Trouble(Trouble::Hot) => "a drive or motor is too hot",
            Cause::Trouble(Trouble::BrakeSlips) => "legs move although the brakes are on",
            Cause::Trouble(Trouble::WrongRig) => "another rig answers than the one that was commissioned",
            Cause::Trouble(Trouble::HostLate) => "this computer served its cycles too late",
            Cause::Trouble(Trouble::FramesLow) => "this computer renders too slowly",
            Cause::Trouble(Trouble::RecordLost) => "the record cannot be written",
            Cause::Acknowledged => "acknowledged",
        }
    }

    /// What an operator should look at before anything else; empty where there is nothing.
    pub fn look_at(self) -> &'static str {
        match self {
            Cause::LetGo => "ask again, then take hold of the presence input",
            Cause::Gate => "close the gate; look that nobody is inside",
            Cause::Mat => "have everybody step away from the rig",
            Cause::Belt => "close the belt, over an empty seat too",
            Cause::StopInput => "find out why it was pressed before it is released",
            Cause::PermitGone => "see which record is void, and why",
            Cause::LinkSilent | Cause::Trouble(Trouble::Silence) => {
                "look at cables, supply and the controller; the rig has stopped by itself"
            }
            Cause::BrakesNotReleased | Cause::BrakesFell => {
                "look at brake supply and feedback; nothing may be forced"
            }
            Cause::BrakesNotSet | Cause::Trouble(Trouble::BrakeSlips) => {
                "keep everybody away from under the rig; have it propped and the person brought down as the guide says; test the brakes"
            }
            Cause::NotStopped => "look at drives and brakes; the brake test is due before anything else",
            Cause::MovedByHand | Cause::ReferenceLost => {
                "find out what moved the legs; home again if in doubt"
            }
            Cause::Trouble(Trouble::Drive) => "read the drive's own code",
            Cause::Trouble(Trouble::Following) => "look for a slipped coupling, a jammed or overloaded leg",
            Cause::Trouble(Trouble::EndSwitch) => "jog away from the switch, legs paired",
            Cause::Trouble(Trouble::Force) => "look for a snagged cable or somebody under the frame",
            Cause::Trouble(Trouble::Hot) => "let it cool; look at the plan's mean load",
            Cause::Trouble(Trouble::WrongRig) => "connect to the rig that the commissioning record names",
            Cause::Trouble(Trouble::HostLate | Trouble::FramesLow) => {
                "end other programs on this computer; see the lateness in the record"
            }
            Cause::Trouble(Trouble::RecordLost) => {
                "make room on the disk, end this run and begin anew: nothing moves without a record"
            }
            _ => "",
        }
    }
}

/// Why an asked-for act does not begin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Refusal {
    /// Nobody is connected.
    NotConnected,
    /// Connected already.
    IsConnected,
    /// Something moves or is about to.
    Busy,
    /// A fault or an emergency stop must be acknowledged first.
    Acknowledge,
    /// Its cause is still there.
    CauseStays,
    /// There is nothing to acknowledge, to pause, to stop or to go on with.
    Nothing,
    /// It is not homed.
    NotHomed,
    /// It is not parked.
    NotParked,
    /// It is there.
    There,
    /// The scene has begun in this run already.
    Begun,
    /// A leg or a joint stands outside its limits, where no path may begin.
    Outside,
    /// The run is over.
    Over,
    /// The seat was not declared vacant.
    NotVacant,
    /// One leg alone was to be jogged, and the seat was not declared vacant.
    OneLeg,
    /// There is no valid commissioning record.
    NotCommissioned,
    /// The audition ladder does not let this level be played.
    NotAuditioned,
    /// The presence input is not held.
    Presence,
    /// A gate is not closed.
    Gate,
    /// A mat is not free.
    Mat,
    /// The belt is not closed.
    Belt,
    /// A stop device is actuated.
    StopInput,
    /// A jog came to the end of what legs or joints reach.
    AtEnd,
    /// Something is wrong now.
    Trouble,
}

impl Refusal {
    /// The words in logs and on screens.
    pub fn words(self) -> &'static str {
        match self {
            Refusal::NotConnected => "nobody is connected",
            Refusal::IsConnected => "connected already",
            Refusal::Busy => "something moves or is about to: pause or stop first",
            Refusal::Acknowledge => "acknowledge first",
            Refusal::CauseStays => "its cause is still there",
            Refusal::Nothing => "there is nothing to do that to",
            Refusal::NotHomed => "the far end does not know where its legs are: home first",
            Refusal::NotParked => "it does not stand at its park lengths: park first",
            Refusal::There => "it is there",
            Refusal::Begun => "the scene has begun in this run already: park, end the run and begin another",
            Refusal::Outside => {
                "a leg or a joint stands outside its limits, or the platform nearer than a clearance: jog it back first"
            }
            Refusal::Over => "the run is over: only park and jog are left",
            Refusal::NotVacant => "the seat was not declared vacant",
            Refusal::OneLeg => {
                "one leg alone was asked for, and the seat was not declared vacant: legs go together while somebody may sit \
                 there (`jog all`; `all legs` in the window); with the seat empty end the run and begin another, the seat \
                 said to be vacant"
            }
            Refusal::NotCommissioned => "no commissioning record holds for this rig and these drives",
            Refusal::NotAuditioned => "the audition ladder does not let this level be played",
            Refusal::Presence => "nothing moves unless the presence input is taken hold of after asking",
            Refusal::Gate => Cause::Gate.words(),
            Refusal::Mat => Cause::Mat.words(),
            Refusal::Belt => Cause::Belt.words(),
            Refusal::StopInput => Cause::StopInput.words(),
            Refusal::AtEnd => "a leg or a joint is at the end of its range that way: jog the other way",
            Refusal::Trouble => "something is wrong: see the reason",
        }
    }
}
