//! A rig in plain words: what limits it, and what in its file looks like a slip of the tape or the keyboard.
//!
//! Cannot: refuse a rig. What is merely unusual is asked about here; what cannot be is refused when the file is read.

mod anchors;
mod balance;
mod reach;
mod screws;
#[cfg(test)]
mod tests;

pub use anchors::exchange_that_fits;

use super::survey::{ReachMap, SymmetricBox};
use super::{Rig, TEMPLATE_NAME};
use crate::units::{Dimension, show};
use serde::Serialize;

/// Sentences about a rig, each with its reason.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Advice {
    /// What may be a mistake in the file: each says what to measure again.
    pub look_again: Vec<String>,
    /// What ends the motion of each axis, and what would give more.
    pub limits: Vec<String>,
    /// Where the weight lies, in words that can be held against the rig itself.
    pub balance: Vec<String>,
}

/// What there is to say about a rig. `map` and `biggest` are those of the survey, where there are two axes.
pub fn advise(rig: &Rig, map: Option<&ReachMap>, biggest: Option<SymmetricBox>) -> Advice {
    let mut look_again = Vec::new();
    if rig.name == TEMPLATE_NAME {
        look_again.push(
            "the name is still the one in the template; every number that you have not measured is the template's too"
                .to_string(),
        );
    }
    look_again.extend(anchors::look(rig));
    look_again.extend(screws::look(rig));
    look_again.extend(balance::look(rig));
    Advice { look_again, limits: reach::words(rig, map, biggest), balance: balance::words(rig) }
}

/// `left`, `left and right`, `left, mid and right`, each in backquotes.
fn names<'a>(names: impl Iterator<Item = &'a str>) -> String {
    let quoted: Vec<String> = names.map(|name| format!("`{name}`")).collect();
    joined(&quoted)
}

/// `a`, `a and b`, `a, b and c`.
pub(super) fn joined(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// To a tenth of a millimetre.
fn length(length_m: f64) -> String {
    show((length_m * 1e4).round() * 1e-4, Dimension::LENGTH)
}
