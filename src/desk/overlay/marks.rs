//! What happened in a run, as marks on the scene's time axis: faults, an operator who let go, changes of state.

use crate::safety::State as PathState;
use crate::safety::operation::{Cause, State};

/// What sort of thing happened, gravest first; each has a shape and a word of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// A fault, or anything else that stopped the run unasked.
    Fault,
    /// The operator let go.
    LetGo,
    /// Anything else: a state, a wish, a remark.
    Change,
}

impl Kind {
    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Fault => "fault",
            Kind::LetGo => "let go",
            Kind::Change => "change",
        }
    }
}

/// Something that happened.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// When, scene seconds.
    pub at_s: f64,
    /// What sort of thing.
    pub kind: Kind,
    /// What, as the record says it.
    pub words: String,
}

/// What an event is to be marked as; `None` for what says nothing of this run's course. That the path changed its own
/// state, and was asked to, is said again by the run, with the reason.
pub fn marked(words: &str) -> Option<(Kind, String)> {
    if words.starts_with("cycle thread: ") || words == "asked to let go" {
        return None;
    }
    if let Some(run) = words.strip_prefix("run: ") {
        return Some((kind_of_run(run), run.to_string()));
    }
    let is_path = |word: &str| PathState::ALL.iter().any(|state| state.word() == word);
    if words.split_once(" to ").is_some_and(|(from, to)| is_path(from) && is_path(to)) {
        return None;
    }
    Some((kind_of_note(words), words.to_string()))
}

/// Of `following to holding: the presence input was let go` or `holding: the far end answers`.
fn kind_of_run(words: &str) -> Kind {
    // Whatever is not among these stopped the run unasked, a cause that is new to this program too.
    const ASKED: [Cause; 9] = [
        Cause::Begun,
        Cause::Connected,
        Cause::Asked,
        Cause::Homed,
        Cause::SceneEnded,
        Cause::Parked,
        Cause::Paused,
        Cause::StopAsked,
        Cause::Acknowledged,
    ];
    let Some((states, cause)) = words.split_once(": ") else { return Kind::Change };
    let to = states.rsplit(" to ").next().unwrap_or(states);
    match cause {
        _ if to == State::Faulted.word() => Kind::Fault,
        cause if cause == Cause::LetGo.words() => Kind::LetGo,
        cause if ASKED.iter().any(|known| known.words() == cause) => Kind::Change,
        _ => Kind::Fault,
    }
}

fn kind_of_note(words: &str) -> Kind {
    const MILD: [&str; 6] = ["asked: ", "refused: ", "governor ", "gain ", "late by ", "lateness of "];
    // What is left: `tripped: …`, `braking: …`, `left: emergency 0x8611: …`, lost rows.
    if MILD.iter().any(|mild| words.starts_with(mild)) { Kind::Change } else { Kind::Fault }
}

/// Marks in view, those that are nearer than `near_s` to the first of them together; never an empty group.
pub fn in_view(marks: &[Mark], (from_s, to_s): (f64, f64), near_s: f64) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    let first = marks.partition_point(|mark| mark.at_s < from_s);
    for (at, mark) in marks.iter().enumerate().skip(first).take_while(|(_, mark)| mark.at_s <= to_s) {
        let begun = groups.last().and_then(|group| marks.get(*group.first()?));
        match groups.last_mut() {
            Some(group) if begun.is_some_and(|begun| mark.at_s - begun.at_s < near_s) => group.push(at),
            _ => groups.push(vec![at]),
        }
    }
    groups
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kind(words: &str) -> Option<Kind> {
        marked(words).map(|(kind, _)| kind)
    }

    #[test]
    fn what_stopped_a_run_unasked_is_a_fault_and_letting_go_is_not() {
        for (words, wanted) in [
            ("run: following to holding: the presence input was let go", Kind::LetGo),
            ("run: following to faulted: a leg is on an end switch", Kind::Fault),
            ("run: following to stopped: emergency stop asked for", Kind::Fault),
            ("run: following to holding: a gate is open or not known to be closed", Kind::Fault),
            ("run: holding: words that a later program may write", Kind::Fault),
            ("run: engaging to following: asked for", Kind::Change),
            ("run: following to holding: the scene was played to its end", Kind::Change),
            ("lateness of 9 cycles; 9 late by at most 10 us", Kind::Change),
            ("run: following to stopped: asked to stop: the run is over", Kind::Change),
            ("left: emergency 0x8611: following error", Kind::Fault),
            ("tripped: left measured at 0.5 m, set-point 0.6 m, expected within 0.01 m", Kind::Fault),
            ("12 rows lost: the log was written too slowly", Kind::Fault),
            ("asked: resume", Kind::Change),
            ("governor holds back: speed of left", Kind::Change),
            ("late by 9000 us: deadlines set anew", Kind::Change),
        ] {
            assert_eq!(kind(words), Some(wanted), "{words}");
        }
    }

    #[test]
    fn what_the_run_says_again_and_what_is_of_the_machine_is_not_marked() {
        assert_eq!((marked("following to slowing"), marked("asked to let go")), (None, None));
        assert_eq!(marked("cycle thread: real-time priority granted, memory lock granted"), None);
        let (_, words) = marked("run: engaging to following: asked for").unwrap();
        assert_eq!(words, "engaging to following: asked for");
    }

    #[test]
    fn marks_too_near_to_be_told_apart_stand_together() {
        let mark = |at_s: f64| Mark { at_s, kind: Kind::Change, words: String::new() };
        let marks = [1.0, 1.2, 1.4, 3.0, 9.0].map(mark);
        assert_eq!(in_view(&marks, (0.0, 5.0), 0.3), [vec![0, 1], vec![2], vec![3]]);
        assert_eq!(in_view(&marks, (0.0, 5.0), 0.1), [vec![0], vec![1], vec![2], vec![3]]);
        assert_eq!(in_view(&marks, (1.1, 9.0), 10.0), [vec![1, 2, 3, 4]]);
        assert!(in_view(&marks, (4.0, 8.0), 1.0).is_empty());
    }
}
