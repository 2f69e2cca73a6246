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
use crate::diag::{Diagnostic, Rule, Span};
use crate::units::{Dimension, show};
use serde::Serialize;

/// Something that may be a mistake in a rig file.
#[derive(Debug, Clone, PartialEq)]
pub struct Doubt {
    /// What to measure or look at again, and why.
    pub words: String,
    /// The table that it is about; `None` for the whole file.
    pub span: Option<Span>,
}

impl Doubt {
    fn new(span: impl Into<Option<Span>>, words: String) -> Self {
        Self { words, span: span.into() }
    }

    /// As a note at its place; `file` is the place of what is about the whole file.
    pub fn note(&self, file: Span) -> Diagnostic {
        Diagnostic::note("look-again", self.span.unwrap_or(file), self.words.clone())
            .help("a check holds for the rig in the file; `cueloom rig FILE` says all that looks odd in it")
    }
}

/// The long texts of this module.
pub const RULES: &[Rule] = &[LOOK_AGAIN];

const LOOK_AGAIN: Rule = Rule {
    slug: "look-again",
    text: "\
What it checks
  that a rig file which can be read also looks like a rig: points on the side that their leg's name says, legs that do
  not cross, a lead that goes with the motor's speed, weight where the seat is, the same person in every load

Why it matters
  a slip of the tape or the keyboard makes a file of another rig; small cues fit that rig as well, and the real one
  moves ten times as far, or the other way

Example
  lead = \"50 mm\" on a leg of 250 mm/s: the motor would turn at 300 rpm

Write instead
  what you measure when you look again; if the rig really is so, leave it: this is a note, and refuses nothing
",
};

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
    let look_again = look_again(rig).into_iter().map(|doubt| doubt.words).collect();
    Advice { look_again, limits: reach::words(rig, map, biggest), balance: balance::words(rig) }
}

/// What may be a mistake in the file. Quick: geometry and weight at level only.
pub fn look_again(rig: &Rig) -> Vec<Doubt> {
    let mut out = Vec::new();
    if rig.name == TEMPLATE_NAME {
        out.push(Doubt::new(
            None,
            "the name is still the one in the template; every number that you have not measured is the template's too"
                .to_string(),
        ));
    }
    out.extend(anchors::look(rig));
    out.extend(screws::look(rig));
    out.extend(balance::look(rig));
    out
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
