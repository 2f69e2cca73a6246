//! Where a run on drives is, as it is written on a terminal: with the words that can be typed there.

use crate::drives::{AT_ONCE, Standing, Waits, stands, waits};
use crate::player::{Order, Progress};
use crate::rig::Rig;
use crate::safety::operation::{Operation, Phase, Request};

/// Where the run is, why, and what can be done next; `None` where it is no run on drives.
pub(super) fn of(rig: &Rig, legs: &[String], now: &Progress) -> Option<String> {
    let (run, standing) = (now.run.as_ref()?, Standing::of(now)?);
    let mut lines = vec![format!("{}: {}: {}", standing.state, standing.phase, standing.cause)];
    lines.extend(now.cause.map(|cause| format!("cause: {}", cause.words(legs))));
    if !standing.look.is_empty() {
        lines.push(format!("look: {}", standing.look));
    }
    let waiting = waits(now);
    lines.extend(waiting.map(|(order, waits)| waited(order, waits)));
    let not_now = standing.not_now.filter(|_| waiting.is_none());
    lines.extend(not_now.map(|(request, why)| format!("not now: {}: {}", request.word(), why.words())));
    lines.push(next(&standing, run));
    if run.phase() == Phase::Rest {
        lines.push(format!("stands: {}", stands(rig, &now.legs_m).join(", ")));
    }
    Some(lines.join("\n  "))
}

/// What is typed for a request; a leg goes alone over an empty seat only.
fn typed(request: Request, vacant: bool) -> &'static str {
    match request {
        Request::EmergencyStop => "emergency",
        Request::Jog if vacant => "jog all|LEG +|- SECONDS",
        Request::Jog => "jog all +|- SECONDS",
        request => request.word(),
    }
}

/// What was asked for and has not begun.
fn waited(order: Order, waits: Waits) -> String {
    let word = match order {
        Order::Start => "start",
        Order::Resume => "resume",
        Order::Park => "park",
        Order::Home => "home",
        _ => "jog",
    };
    let what = match waits {
        Waits::For(why) => return format!("{word} is asked for, and cannot begin: {}", why.words()),
        Waits::LetGo => {
            "let go of the presence input, then take hold: one held before asking counts for nothing"
        }
        Waits::TakeHold => "take hold of the presence input; a warning sounds, then legs move",
    };
    format!("{word} is asked for: {what}")
}

fn next(standing: &Standing, run: &Operation) -> String {
    if run.is_propped() {
        let instead = standing.instead;
        return format!(
            "next: {instead}. Ctrl-C, and again more than a second later, ends this program at once: {AT_ONCE}"
        );
    }
    let (held, others): (Vec<Request>, Vec<Request>) =
        standing.next.iter().copied().partition(|request| request.is_held());
    let list = |requests: Vec<Request>| {
        requests.into_iter().map(|request| typed(request, run.permit().vacant)).collect::<Vec<_>>()
    };
    let mut parts = Vec::new();
    if !standing.instead.is_empty() {
        parts.push(standing.instead.to_string());
    }
    if !held.is_empty() {
        parts.push(format!("{}, then take hold of the presence input", list(held).join(" or ")));
    }
    let mut others = list(others);
    others.push("end");
    parts.push(others.join(", "));
    format!("next: {}", parts.join("; "))
}

#[cfg(test)]
mod tests;
