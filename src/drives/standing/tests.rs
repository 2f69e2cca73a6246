use super::*;
use crate::player::{Ready, Refused, Remark, sample};
use crate::record::What;
use crate::safety::operation::{Event, Input, Inputs, Permit, Seen, Timing, step};

const FREE: Inputs = Inputs { presence: Input::Open, ..Inputs::CLOSED };

/// At rest somewhere, homed, the presence input let go.
fn resting(at_park: bool, inputs: Inputs) -> Operation {
    let permit = Permit { commissioned: true, audition: true, vacant: true };
    let seen = Seen { link: true, inputs, brakes: Brakes::Set, homed: true, at_park, ..Seen::default() };
    let events =
        [Event::Permit(permit), Event::Cycle(seen), Event::Ask(Request::Connect), Event::Cycle(seen)];
    events.into_iter().fold(Operation::new(Timing::of(2000)), |run, event| step(run, event).0)
}

fn standing(run: Operation, ready: Ready) -> Standing {
    Standing::of(&Progress { ready, ..sample::progress(run) }).unwrap()
}

const READY: Ready = Ready { fresh: true, placed: true, interrupted: true };

#[test]
fn what_is_offered_would_work_once_presence_is_taken_hold_of() {
    use Request::*;
    assert_eq!(standing(resting(true, FREE), READY).next, [Home, Start, Jog, Stop, EmergencyStop]);
    assert_eq!(standing(resting(false, FREE), READY).next, [Home, Park, Jog, Stop, EmergencyStop]);
    // A scene that was cut short is not begun again in this run.
    let cut = standing(resting(true, FREE), Ready { fresh: false, ..READY });
    assert_eq!(cut.next, [Home, Jog, Stop, EmergencyStop]);
    assert_eq!(cut.not_now, Some((Start, Refusal::Begun)));
    // A leg a hair outside its limits: homed it is, and what helps is a jog.
    let outside = standing(resting(false, FREE), Ready { placed: false, ..READY });
    assert_eq!(outside.next, [Home, Jog, Stop, EmergencyStop]);
    assert_eq!(outside.not_now, Some((Park, Refusal::Outside)));
    assert!(Refusal::Outside.words().contains("jog"));
    let gate = standing(resting(true, Inputs { gate: Input::Open, ..FREE }), READY);
    assert_eq!((gate.next, gate.not_now), (vec![Stop, EmergencyStop], Some((Start, Refusal::Gate))));
}

#[test]
fn a_stop_device_wants_its_cause_mended_and_then_to_be_acknowledged() {
    let pressed = standing(resting(true, Inputs { stop: Input::Open, ..FREE }), READY);
    assert_eq!(pressed.next, []);
    assert!(pressed.instead.starts_with("mend the cause"), "{}", pressed.instead);
}

#[test]
fn what_came_to_nothing_is_said_once_and_by_the_words_of_whoever_planned_it() {
    let mut progress = sample::progress(resting(true, FREE));
    assert_eq!(refused(&progress, &[]), None);
    let what = What::NotNow { request: Request::Park, why: Refusal::There };
    progress.refused = Refused { number: 4, what: Some(what) };
    assert_eq!(refused(&progress, &[]), Some(([4, 0], "refused: park: it is there".to_string())));
    progress.remark = Some(Remark { number: 2, words: "no move: past a joint".into() });
    assert_eq!(refused(&progress, &[]), Some(([4, 2], "refused: no move: past a joint".to_string())));
}

#[test]
fn taking_hold_comes_after_asking_in_every_word_of_it() {
    use crate::safety::operation::Cause;
    assert_eq!(Cause::LetGo.look_at(), "ask again, then take hold of the presence input");
    let words = Refusal::Presence.words();
    assert!(words.contains("after asking"), "{words}");
}
