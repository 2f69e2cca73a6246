use super::*;
use std::collections::BTreeSet;

fn reachable() -> BTreeSet<Machine> {
    let mut seen = BTreeSet::from([Machine::default()]);
    let mut open = vec![Machine::default()];
    while let Some(machine) = open.pop() {
        for event in Event::ALL {
            let (next, _) = machine.step(event);
            if seen.insert(next) {
                open.push(next);
            }
        }
    }
    seen
}

fn run(events: &[Event]) -> (State, Action) {
    let mut machine = Machine::default();
    let mut action = Action::Nothing;
    for event in events {
        (machine, action) = machine.step(*event);
    }
    (machine.state(), action)
}

#[test]
fn every_state_is_reached() {
    let states: BTreeSet<State> = reachable().iter().map(Machine::state).collect();
    assert_eq!(states, BTreeSet::from(State::ALL));
}

#[test]
fn letting_go_never_begins_a_motion() {
    let let_go = [
        Event::Pause,
        Event::Stop,
        Event::Tripped,
        Event::LeavePath,
        Event::AtRest,
        Event::ClockStopped,
        Event::Reset,
    ];
    for machine in reachable() {
        for event in let_go {
            let (next, action) = machine.step(event);
            assert!(!matches!(action, Action::Begin(_) | Action::Run), "{machine:?} {event:?}");
            // A rig at rest stays at rest (braking from rest is the governor holding still).
            let moves = next.state().is_moving() && next.state() != State::Braking;
            assert!(machine.state().is_moving() || !moves, "{machine:?} {event:?}");
        }
        let (_, action) = machine.step(Event::Finished);
        let goes_on = machine.state() == State::Engaging && action == Action::Begin(Task::Scene);
        assert!(goes_on || action == Action::Nothing, "{machine:?}");
    }
}

#[test]
fn a_stop_from_anywhere_ends_at_rest_and_only_park_is_left() {
    for machine in reachable() {
        let (mut m, _) = machine.step(Event::Stop);
        for event in [Event::ClockStopped, Event::AtRest] {
            (m, _) = m.step(event);
        }
        assert!(matches!(m.state(), State::Stopped | State::Faulted), "{machine:?} {m:?}");
        for event in Event::ALL {
            let begins = matches!(m.step(event).1, Action::Begin(task) if task != Task::ToPark);
            assert!(!begins && m.step(event).1 != Action::Run, "{m:?} {event:?}");
        }
    }
}

#[test]
fn a_fault_stays_until_reset_and_reset_starts_nothing() {
    for machine in reachable().into_iter().filter(|m| m.state() == State::Faulted) {
        for event in Event::ALL {
            let (next, _) = machine.step(event);
            assert_eq!(next.state() == State::Faulted, event != Event::Reset, "{event:?}");
        }
    }
    assert_eq!(
        run(&[Event::Start, Event::Tripped, Event::AtRest, Event::Reset, Event::Resume]),
        (State::Holding, Action::Refuse(Refusal::OffPath))
    );
}

#[test]
fn plays_from_park_to_park() {
    use Event::{ClockStopped, Finished, Park, Pause, Resume, Start};
    assert_eq!(run(&[Start]), (State::Engaging, Action::Begin(Task::ToStart)));
    assert_eq!(run(&[Start, Finished]), (State::Following, Action::Begin(Task::Scene)));
    assert_eq!(run(&[Start, Finished, Pause]), (State::Slowing, Action::Slow));
    assert_eq!(run(&[Start, Finished, Pause, ClockStopped]), (State::Holding, Action::Nothing));
    assert_eq!(run(&[Start, Finished, Pause, ClockStopped, Resume]), (State::Following, Action::Run));
    assert_eq!(run(&[Start, Finished, Park]), (State::Following, Action::Refuse(Refusal::Moving)));
    assert_eq!(run(&[Start, Finished, Finished, Park, Finished]), (State::Parked, Action::Nothing));
    assert_eq!(run(&[Start, Pause, Finished]).0, State::Holding);
    // Arrived while slowing: going on is an act of its own.
    assert_eq!(
        run(&[Start, Pause, Finished, Resume, Finished]),
        (State::Following, Action::Begin(Task::Scene))
    );
}
