//! Why a run is where it is, in words: of every cause, whichever state it leads to. The model leaves causes out, for runs
//! that differ in nothing else behave alike.

use cueloom::safety::operation::{Cause, Trouble};

/// The cause that stands after another one: the compiler misses each that has no line.
fn after(cause: Cause) -> Option<Cause> {
    let trouble = |at: usize| Trouble::ALL.get(at).map(|trouble| Cause::Trouble(*trouble));
    match cause {
        Cause::Begun => Some(Cause::Connected),
        Cause::Connected => Some(Cause::Asked),
        Cause::Asked => Some(Cause::Homed),
        Cause::Homed => Some(Cause::SceneEnded),
        Cause::SceneEnded => Some(Cause::Parked),
        Cause::Parked => Some(Cause::Paused),
        Cause::Paused => Some(Cause::StopAsked),
        Cause::StopAsked => Some(Cause::EmergencyAsked),
        Cause::EmergencyAsked => Some(Cause::Acknowledged),
        Cause::Acknowledged => Some(Cause::LetGo),
        Cause::LetGo => Some(Cause::Gate),
        Cause::Gate => Some(Cause::Mat),
        Cause::Mat => Some(Cause::Belt),
        Cause::Belt => Some(Cause::StopInput),
        Cause::StopInput => Some(Cause::PermitGone),
        Cause::PermitGone => Some(Cause::LinkSilent),
        Cause::LinkSilent => Some(Cause::BrakesNotReleased),
        Cause::BrakesNotReleased => Some(Cause::BrakesFell),
        Cause::BrakesFell => Some(Cause::BrakesNotSet),
        Cause::BrakesNotSet => Some(Cause::NotStopped),
        Cause::NotStopped => Some(Cause::MovedByHand),
        Cause::MovedByHand => Some(Cause::ReferenceLost),
        Cause::ReferenceLost => trouble(0),
        Cause::Trouble(now) => trouble(Trouble::ALL.iter().position(|other| *other == now).unwrap() + 1),
    }
}

#[test]
fn every_cause_has_words_of_its_own_and_what_nobody_asked_for_has_something_to_look_at() {
    let causes: Vec<Cause> = std::iter::successors(Some(Cause::Begun), |cause| after(*cause)).collect();
    assert_eq!(causes.len(), 23 + Trouble::ALL.len(), "{causes:?}");
    let mut words: Vec<&str> = causes.iter().map(|cause| cause.words()).collect();
    words.sort_unstable();
    assert!(
        words.iter().all(|words| words.len() > 4) && words.windows(2).all(|two| two[0] != two[1]),
        "{words:?}"
    );
    // What was asked for, or came to its end as it should.
    let (wished, others) = causes.split_at(10);
    assert_eq!(wished.last(), Some(&Cause::Acknowledged));
    assert!(wished.iter().all(|cause| cause.look_at().is_empty()));
    others.iter().for_each(|cause| assert!(cause.look_at().len() > 10, "{cause:?}"));
}
