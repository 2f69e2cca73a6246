//! Where a run on drives is, why, what to look at, and what could be done next: in words that every shell shows. What is typed
//! or pressed for it is the shells' own.

use crate::player::{Order, Progress};
use crate::rig::Rig;
use crate::safety::operation::{Brakes, Operation, Phase, Refusal, Request, State};

/// What is said where drives hold the legs because brakes are not known to: nothing that can be asked for ends that.
const PROPPED: &str = "no word ends this: the drives hold the legs until every brake is confirmed on, and the program waits for that. \
     With everybody away from the rig press the hard-wired stop: it takes the drives' power, and the run can end; a leg \
     that no brake holds comes down";

/// What is said where they give none any more: drives on CAN close their brakes and let go by their own timing.
const UNPROPPED: &str = "no word ends this: the drives give no torque, and a leg whose brake does not hold comes down. Keep everybody away \
     from the rig and from under it; the run can end once every brake is confirmed on, or the hard-wired stop was pressed";

/// What is said where they do so by all that is known, and nothing is heard of them any more.
const UNHEARD: &str = "nothing is heard of the far end, which has stopped and braked by itself as far as it is built for that: look \
     whether it has, from outside; then end the run";

/// What happens when the program is ended at once.
pub const AT_ONCE: &str =
    "the far end then hears nothing, and by that it stops and brakes by itself; the run counts as tripped";

/// A run's state in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    /// Where it is: `following`.
    pub state: &'static str,
    /// How far it has come there, and what drives and brakes do.
    pub phase: &'static str,
    /// Why it is there.
    pub cause: &'static str,
    /// What to look at before anything else; empty where there is nothing.
    pub look: &'static str,
    /// What one would do next from where it rests and cannot, and why.
    pub not_now: Option<(Request, Refusal)>,
    /// What can be asked for now. Acts that legs move by are asked for first and held after.
    pub next: Vec<Request>,
    /// What there is to do besides asking for something; empty where there is nothing.
    pub instead: &'static str,
}

impl Standing {
    /// Of a run; `None` where it is none on drives.
    pub fn of(progress: &Progress) -> Option<Self> {
        let run = progress.run.as_ref()?;
        let phase = match run.phase() {
            Phase::Rest if run.seen().brakes == Brakes::Set => "brakes on",
            Phase::Rest => "drives off, brakes not known to be on",
            Phase::Standing if run.is_propped() => match (run.seen().link, run.seen().power) {
                (false, _) => "not heard of, brakes not known to be on",
                (true, true) => "held by the drives, brakes not known to be on",
                (true, false) => "without torque, brakes not known to be on",
            },
            Phase::Standing => "standing, brakes off",
            Phase::Warning { .. } => "WARNING: about to move",
            Phase::Releasing { .. } => "brakes opening",
            Phase::Moving => "MOVING",
            Phase::Stopping { .. } => "stopping",
            Phase::Setting { .. } => "brakes closing",
        };
        // Connecting is done by the program, and disconnecting is ending the run.
        let asked = |request: &Request| !matches!(request, Request::Connect | Request::Disconnect);
        let open = |request: &Request| refusal(progress, run, *request).is_none();
        Some(Self {
            state: run.state().word(),
            phase,
            cause: run.cause().words(),
            look: run.cause().look_at(),
            not_now: not_now(progress, run),
            next: Request::ALL.into_iter().filter(asked).filter(open).collect(),
            instead: instead(run),
        })
    }
}

/// Why `request` would do nothing now; that presence lacks is no reason, for it is taken hold of after asking.
fn refusal(progress: &Progress, run: &Operation, request: Request) -> Option<Refusal> {
    progress.ready.refusal(run, request).filter(|why| *why != Refusal::Presence)
}

fn not_now(progress: &Progress, run: &Operation) -> Option<(Request, Refusal)> {
    let request = match (run.state(), run.task()) {
        _ if !matches!(run.phase(), Phase::Rest | Phase::Standing) => return None,
        (State::Connected, _) => Request::Home,
        (State::Parked, _) => Request::Start,
        (State::Holding, Some(_)) => Request::Resume,
        (State::Holding, None) => Request::Park,
        _ => return None,
    };
    Some((request, refusal(progress, run, request)?))
}

fn instead(run: &Operation) -> &'static str {
    let propped = run.is_propped();
    match run.phase() {
        _ if propped && run.seen().link && run.seen().power => PROPPED,
        _ if propped && run.seen().link => UNPROPPED,
        _ if propped => UNHEARD,
        Phase::Stopping { .. } | Phase::Setting { .. } => "wait: it comes to rest",
        Phase::Rest if run.is_latched() && run.refusal(Request::Acknowledge).is_some() => {
            "mend the cause; then acknowledge it, which moves nothing"
        }
        Phase::Rest if run.state() == State::NotConnected => "wait for the far end",
        _ => "",
    }
}

/// How it stands with something that was asked for and has not begun.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Waits {
    /// It would not begin, and why.
    For(Refusal),
    /// Until presence, which is held already, is let go and taken hold of anew.
    LetGo,
    /// Until presence is taken hold of.
    TakeHold,
}

/// What was asked for and has not begun, where there is such a thing.
pub fn waits(progress: &Progress) -> Option<(Order, Waits)> {
    let (run, order) = (progress.run.as_ref()?, progress.wanted?);
    let why = progress.ready.refusal_of(run, order, progress.legs_m.len());
    // Presence is taken hold of after asking.
    let why = why.filter(|why| *why != Refusal::Presence);
    let held = run.seen().inputs.presence.is_closed();
    let waits = if held { Waits::LetGo } else { Waits::TakeHold };
    Some((order, why.map_or(waits, Waits::For)))
}

/// What was asked for last and came to nothing, in words; a number that is another for each.
pub fn refused(progress: &Progress, legs: &[String]) -> Option<([u64; 2], String)> {
    let remark = progress.remark.as_ref().map(|remark| format!("refused: {}", remark.words));
    let words = remark.or_else(|| Some(progress.refused.what?.words(legs)))?;
    let said = progress.remark.as_ref().map_or(0, |remark| remark.number as u64);
    Some(([progress.refused.number, said], words))
}

/// Where the legs are, and the platform by them: `left 580.0 mm`, `pitch 1.20 deg`.
pub fn stands(rig: &Rig, legs_m: &[f64]) -> Vec<String> {
    let legs = rig.actuators.iter().zip(legs_m).map(|(leg, at)| format!("{} {:.1} mm", leg.name, at * 1e3));
    let mut parts: Vec<String> = legs.collect();
    if let Ok(pose) = crate::rig::kinematics::forward(rig, legs_m, &vec![0.0; rig.axes.len()]) {
        parts.extend(rig.axes.iter().zip(pose.iter()).map(|(axis, value)| {
            let value = value * crate::motion::sign(axis.axis);
            if axis.axis.is_rotation() {
                format!("{} {:.2} deg", axis.axis.word(), value.to_degrees())
            } else {
                format!("{} {:.1} mm", axis.axis.word(), value * 1e3)
            }
        }));
    }
    parts
}

#[cfg(test)]
mod tests;
