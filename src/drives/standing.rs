//! Where a run on drives is, why, what to look at, and what could be done next: in words that every shell shows.

use crate::rig::Rig;
use crate::safety::operation::{Brakes, Operation, Phase, Request, State};

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
    /// Why the scene cannot be started, where it stands parked and that is what one would do.
    pub not_now: Option<&'static str>,
    /// What could be asked for now, or what keeps everything back.
    pub next: String,
}

impl Standing {
    /// Of a run.
    pub fn of(run: &Operation) -> Self {
        let phase = match run.phase() {
            Phase::Rest if run.seen().brakes == Brakes::Set => "brakes on",
            Phase::Rest => "drives off, brakes not known to be on",
            Phase::Standing if run.state() == State::Faulted => {
                "held by the drives, brakes not known to be on"
            }
            Phase::Standing => "standing, brakes off",
            Phase::Warning { .. } => "WARNING: about to move",
            Phase::Releasing { .. } => "brakes opening",
            Phase::Moving => "MOVING",
            Phase::Stopping { .. } => "stopping",
            Phase::Setting { .. } => "brakes closing",
        };
        let options: Vec<&str> = run.options().map(Request::word).collect();
        let kept_back = [Request::Start, Request::Home]
            .into_iter()
            .filter(|_| run.phase() == Phase::Rest)
            .find_map(|request| run.refusal(request));
        let next = match (options.is_empty(), kept_back) {
            (true, Some(why)) => format!("first: {}", why.words()),
            (true, None) => "wait".to_string(),
            (false, _) => options.join(", "),
        };
        let parked = run.state() == State::Parked && run.phase() == Phase::Rest;
        let not_now = run.refusal(Request::Start).filter(|_| parked).map(|why| why.words());
        let (state, cause, look) = (run.state().word(), run.cause().words(), run.cause().look_at());
        Self { state, phase, cause, look, not_now, next }
    }
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
