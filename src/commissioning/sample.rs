//! Answers of somebody whose rig is as its file says, for tests of what asks and of what asks for the record.

use super::{Commissioning, CommissioningRecord, FarEnd, Next, Question, Wanted};
use crate::rig::Rig;
use crate::units::Dimension;

/// The right answer.
pub(crate) fn right(question: &Question) -> String {
    match &question.wanted {
        Wanted::Yes => "yes".to_string(),
        Wanted::Word(words) => words[0].clone(),
        Wanted::Between(low, high, Dimension::ANGLE) => format!("{} rad", 0.5 * (low + high)),
        Wanted::Between(low, high, _) => format!("{} mm", 500.0 * (low + high)),
        Wanted::Twice(most_m) => format!("7 mm, {} mm", 7.0 + 500.0 * most_m),
        Wanted::Held(load) => format!("{} N*m", 1.1 * load.least_nm),
    }
}

/// All of it answered so.
pub(crate) fn done(mut commissioning: Commissioning) -> Commissioning {
    while let Some(question) = commissioning.question() {
        let answer = right(question);
        let next = commissioning.answer(&answer);
        assert!(matches!(next, Next::Ask | Next::Done), "{answer}: {next:?}");
    }
    commissioning
}

/// The record that this leaves.
pub(crate) fn record(rig: &Rig, drives: &FarEnd, day: u64) -> CommissioningRecord {
    done(Commissioning::of(rig)).record(&rig.hash, drives.clone(), day, "Ada").unwrap()
}
