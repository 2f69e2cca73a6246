use super::*;
use crate::link::sample::two_legs;
use crate::player::sample;
use crate::safety::operation::{
    Brakes, Event, Input, Inputs, Operation, Permit, Seen, State, Timing, Trouble, step,
};

const FREE: Inputs = Inputs { presence: Input::Open, ..Inputs::CLOSED };

fn at_rest(inputs: Inputs) -> Seen {
    Seen { link: true, inputs, brakes: Brakes::Set, homed: true, at_park: true, ..Seen::default() }
}

fn after(run: Operation, events: impl IntoIterator<Item = Event>) -> Operation {
    events.into_iter().fold(run, |run, event| step(run, event).0)
}

fn parked() -> Operation {
    parked_with(true)
}

fn parked_with(vacant: bool) -> Operation {
    let permit = Permit { commissioned: true, audition: true, vacant };
    let events = [Event::Permit(permit), Event::Cycle(at_rest(FREE)), Event::Ask(Request::Connect)];
    after(Operation::new(Timing::of(100_000)), events)
}

/// A fault in which torque holds the legs because no brake is confirmed.
fn propped() -> Operation {
    let held = at_rest(Inputs::CLOSED);
    let moving = Seen { brakes: Brakes::Released, power: true, moving: true, ..held };
    let mut run = after(parked(), [Event::Cycle(held), Event::Ask(Request::Start)]);
    // The warning, and a little of the time that brakes have to open.
    run = after(run, (0..40).map(|_| Event::Cycle(held)));
    run = after(run, [Event::Cycle(moving), Event::Cycle(moving)]);
    let fault = Seen { trouble: Some(Trouble::Hot), ..moving };
    let stands = Seen { moving: false, brakes: Brakes::Unknown, ..fault };
    run = after(run, [Event::Cycle(fault)]);
    after(run, (0..60).map(|_| Event::Cycle(stands)))
}

fn said(progress: &Progress) -> String {
    of(&two_legs(), &[], progress).unwrap()
}

fn line<'a>(said: &'a str, begin: &str) -> &'a str {
    said.lines()
        .find_map(|line| line.trim().strip_prefix(begin))
        .unwrap_or_else(|| panic!("{begin} in {said}"))
}

#[test]
fn what_can_be_typed_is_named_while_presence_is_open_and_nothing_else() {
    let words = said(&sample::progress(parked()));
    assert_eq!(
        line(&words, "next: "),
        "home or start or jog all|LEG +|- SECONDS, then take hold of the presence input; stop, emergency, end"
    );
    // Each of them is understood as it is typed.
    for word in ["home", "start", "jog all + 1", "stop", "emergency", "end"] {
        assert!(super::super::spoken::order(word, &[]).is_some(), "{word}");
    }
}

#[test]
fn with_somebody_in_the_seat_no_leg_is_named_to_be_typed_and_one_that_was_is_refused_at_once() {
    let run = parked_with(false);
    let next = said(&sample::progress(run));
    assert!(line(&next, "next: ").contains("jog all +|- SECONDS, then take hold"), "{next}");
    let wanted = |leg| {
        let jog = Order::Jog { leg, part: 1.0, longest_s: 1.0 };
        said(&Progress { wanted: Some(jog), ..sample::progress(run) })
    };
    let one = wanted(Some(1));
    let why = line(&one, "jog is asked for, and cannot begin: ");
    assert!(why.starts_with("one leg alone was asked for") && why.contains("`jog all`"), "{why}");
    assert!(line(&wanted(None), "jog is asked for: ").starts_with("take hold"));
}

#[test]
fn what_waits_to_be_taken_hold_of_is_said() {
    let wanted = |run, ready| said(&Progress { wanted: Some(Order::Start), ready, ..sample::progress(run) });
    let ready = crate::player::Ready { fresh: true, placed: true, interrupted: true };
    let waits = wanted(parked(), ready);
    assert_eq!(
        line(&waits, "start is asked for: "),
        "take hold of the presence input; a warning sounds, then legs move"
    );
    let held = after(parked(), [Event::Cycle(at_rest(Inputs::CLOSED))]);
    assert!(line(&wanted(held, ready), "start is asked for: ").starts_with("let go of the presence input"));
    let begun = wanted(parked(), crate::player::Ready { fresh: false, ..ready });
    assert!(line(&begun, "start is asked for, and cannot begin: ").contains("begun in this run already"));
}

#[test]
fn where_brakes_are_not_confirmed_the_way_out_is_named() {
    let run = propped();
    assert_eq!((run.state(), run.phase()), (State::Faulted, Phase::Standing));
    let words = said(&sample::progress(run));
    let next = line(&words, "next: ");
    for way in
        ["hard-wired stop", "every brake is confirmed", "Ctrl-C, and again", "stops and brakes by itself"]
    {
        assert!(next.contains(way), "{way} in {next}");
    }
    assert!(!next.contains("emergency"), "{next}");
}
