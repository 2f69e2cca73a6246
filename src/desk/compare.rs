//! The text as saved beside the text as it is: what can be said of it, and which peaks changed.
//!
//! Words and numbers of a comparison; `studio/compare.rs` has the saved text worked out.

use super::margins::{MarginRow, percent};

/// What can be said of the saved text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Against {
    /// Nothing is compared.
    Off,
    /// The texts are as saved, so there is nothing to see.
    AsSaved,
    /// The text in front was never saved.
    NeverSaved,
    /// The saved text has errors or no rig, so it has no motion.
    NoMotion,
    /// Its motion is being worked out.
    Working,
    /// Motion and margins of the saved text are there.
    There,
}

impl Against {
    /// One line for people; empty when nothing is compared.
    pub fn words(self) -> &'static str {
        match self {
            Against::Off => "",
            Against::AsSaved => "as saved: nothing to compare",
            Against::NeverSaved => "never saved: nothing to compare with",
            Against::NoMotion => "the saved text has no motion to compare with",
            Against::Working => "working out the saved text",
            Against::There => "dashed: as saved",
        }
    }
}

/// How a peak changed since the text was saved.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// Used of the way to the limit, as saved.
    pub was: f64,
    /// The same, now.
    pub now: f64,
}

/// Smallest difference that is spoken of, of the way to a limit: half a percent, which two shares rounded to whole
/// percents can show.
const LEAST: f64 = 0.005;

impl Change {
    /// `was 71 %, now 83 %`
    pub fn words(&self) -> String {
        format!("was {}, now {}", percent(self.was), percent(self.now))
    }
}

/// The change of the limit called `now.name`; `None` when there is none worth speaking of, or nothing to compare with.
pub fn change(before: &[MarginRow], now: &MarginRow) -> Option<Change> {
    let was = before.iter().find(|row| row.name == now.name)?.used;
    let differs = (was - now.used).abs() >= LEAST && percent(was) != percent(now.used);
    differs.then_some(Change { was, now: now.used })
}

/// `3 peaks higher, 1 lower than as saved`; of whole lists.
pub fn summary(before: &[MarginRow], now: &[MarginRow]) -> String {
    let changes: Vec<Change> = now.iter().filter_map(|row| change(before, row)).collect();
    let higher = changes.iter().filter(|change| change.now > change.was).count();
    match (higher, changes.len() - higher) {
        (0, 0) => "every peak as saved".to_string(),
        (0, lower) => format!("{} lower than as saved", peaks(lower)),
        (higher, 0) => format!("{} higher than as saved", peaks(higher)),
        (higher, lower) => format!("{} higher, {lower} lower than as saved", peaks(higher)),
    }
}

fn peaks(count: usize) -> String {
    format!("{count} peak{}", if count == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::margins::Nearness;

    fn row(name: &str, used: f64) -> MarginRow {
        let nearness = Nearness::of(used);
        MarginRow { name: name.to_string(), used, nearness, words: String::new(), at_s: 0.0 }
    }

    #[test]
    fn a_change_is_told_in_whole_percents_and_only_when_they_differ() {
        let before = [row("left jerk", 0.71), row("right jerk", 0.502), row("roll stopping", 0.999)];
        let told = |name: &str, used: f64| change(&before, &row(name, used)).map(|change| change.words());
        assert_eq!(told("left jerk", 0.83).as_deref(), Some("was 71 %, now 83 %"));
        assert_eq!(told("left jerk", 0.40).as_deref(), Some("was 71 %, now 40 %"));
        assert_eq!(told("right jerk", 0.506), None, "less than half a percent");
        assert_eq!(told("right jerk", 0.498), None, "both are 50 % to the reader");
        assert_eq!(
            told("roll stopping", 1.004).as_deref(),
            Some("was 99 %, now 101 %"),
            "never rounded to fit"
        );
        assert_eq!(told("left heat", 0.2), None, "a limit that was not measured is not called unused");
    }

    #[test]
    fn changes_are_counted_up_and_down() {
        let before = [row("a", 0.5), row("b", 0.5), row("c", 0.5)];
        assert_eq!(summary(&before, &before), "every peak as saved");
        assert_eq!(summary(&before, &[row("a", 0.6), row("b", 0.5)]), "1 peak higher than as saved");
        assert_eq!(summary(&before, &[row("a", 0.4), row("b", 0.3)]), "2 peaks lower than as saved");
        let mixed = [row("a", 0.6), row("b", 0.7), row("c", 0.1)];
        assert_eq!(summary(&before, &mixed), "2 peaks higher, 1 lower than as saved");
    }
}
