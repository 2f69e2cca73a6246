//! Help while writing: finding text, and words that can stand where the cursor is.

use crate::lang::{Paint, highlight, words};
use crate::units::UNITS;
use std::ops::Range;

/// Where `wanted` stands in `text`, letter case ignored for ASCII letters; none for an empty word.
pub fn occurrences(text: &str, wanted: &str) -> Vec<Range<usize>> {
    /// More than a person goes through.
    const MOST: usize = 10_000;
    if wanted.is_empty() {
        return Vec::new();
    }
    let (text, wanted) = (text.to_ascii_lowercase(), wanted.to_ascii_lowercase());
    text.match_indices(&wanted).take(MOST).map(|(at, found)| at..at + found.len()).collect()
}

/// The first place at or after `from`, or the first of all; with its number from 1 and how many there are.
pub fn next_place(places: &[Range<usize>], from: usize) -> Option<(Range<usize>, usize)> {
    let at = places.iter().position(|place| place.start >= from).unwrap_or(0);
    places.get(at).map(|place| (place.clone(), at + 1))
}

/// The last place before `from`, or the last of all.
pub fn place_before(places: &[Range<usize>], from: usize) -> Option<(Range<usize>, usize)> {
    let at = places.iter().rposition(|place| place.start < from).unwrap_or(places.len().saturating_sub(1));
    places.get(at).map(|place| (place.clone(), at + 1))
}

/// A word that can stand somewhere.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Candidate {
    /// What is put in.
    pub text: String,
    /// One line about it.
    pub help: String,
}

/// What can stand at byte `at`: the stretch to replace, and words by kind, then by name. `cues` are the names of cues
/// that the profile can play, `labels` those of its placements.
pub fn candidates(
    text: &str,
    at: usize,
    cues: &[String],
    labels: &[String],
) -> (Range<usize>, Vec<Candidate>) {
    let before = text.get(..at).unwrap_or("");
    let start = before
        .char_indices()
        .rev()
        .take_while(|(_, c)| c.is_ascii_alphanumeric() || *c == '_')
        .last()
        .map_or(before.len(), |(start, _)| start);
    let typed = &before[start..];
    let line = before[..start].rsplit('\n').next().unwrap_or("");
    let painted = highlight(line);
    if matches!(painted.last(), Some((range, Paint::Comment)) if range.end == line.trim_end().len()) {
        return (start..at, Vec::new());
    }
    let last = painted.last().map(|(_, paint)| *paint);
    let mut found = Vec::new();
    let mut add = |text: &str, help: &str| {
        if text.starts_with(typed) && text != typed {
            found.push(Candidate { text: text.to_string(), help: help.to_string() });
        }
    };
    if last == Some(Paint::Number) {
        UNITS.iter().for_each(|unit| add(unit.symbol, "unit"));
        return (start..at, found);
    }
    if let Some(callable) = call_around(line, &painted) {
        for parameter in callable.parameters {
            add(&format!("{}: ", parameter.name), parameter.help);
        }
    }
    cues.iter().for_each(|cue| add(cue, "cue"));
    words::WAVEFORMS.iter().for_each(|wave| add(wave.name, wave.help));
    words::AXES.iter().for_each(|(word, help)| add(word, help));
    words::SOUND_CHANNELS.iter().for_each(|(word, help)| add(word, help));
    words::SUFFIXES.iter().for_each(|(word, help)| add(word, help));
    labels.iter().for_each(|label| add(label, "a time of this scene"));
    words::FUNCTIONS.iter().for_each(|function| add(function.name, function.help));
    words::RESERVED
        .iter()
        .filter(|word| !words::channels().any(|channel| channel == **word))
        .for_each(|word| add(word, ""));
    let mut seen = std::collections::BTreeSet::new();
    found.retain(|candidate| seen.insert(candidate.text.clone()));
    (start..at, found)
}

/// The waveform or function whose parentheses are open at the end of a line.
fn call_around(line: &str, painted: &[(Range<usize>, Paint)]) -> Option<&'static words::Callable> {
    let mut depth = 0;
    for (k, (range, paint)) in painted.iter().enumerate().rev() {
        match (paint, line.get(range.clone())?) {
            (Paint::Mark, ")") => depth += 1,
            (Paint::Mark, "(") if depth > 0 => depth -= 1,
            (Paint::Mark, "(") => {
                let name = line.get(painted.get(k.checked_sub(1)?)?.0.clone())?;
                return words::WAVEFORMS.iter().chain(words::FUNCTIONS).find(|call| call.name == name);
            }
            _ => {}
        }
    }
    None
}

/// Names of the cues that a text defines.
pub fn cues_of(text: &str) -> Vec<String> {
    let painted = highlight(text);
    let named = |pair: &[(Range<usize>, Paint)]| {
        let (keyword, name) = (text.get(pair[0].0.clone())?, text.get(pair[1].0.clone())?);
        (keyword == "cue" && pair[0].1 == Paint::Keyword).then(|| name.to_string())
    };
    painted.windows(2).filter_map(named).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(text: &str) -> Vec<String> {
        let cues = ["rumble".to_string()];
        let labels = ["touch".to_string()];
        candidates(text, text.len(), &cues, &labels).1.into_iter().map(|word| word.text).collect()
    }

    #[test]
    fn words_depend_on_where_they_would_stand() {
        assert_eq!(said("at 5 s  ru"), ["rumble"]);
        assert_eq!(said("at to"), ["touch"]);
        assert!(said("pitch pulse(2 d").contains(&"deg".to_string()));
        assert!(!said("pitch pulse(2 d").contains(&"during".to_string()));
        assert_eq!(said("pitch ring(2 deg, da"), ["damping: "]);
        assert!(!said("pitch ring(2 deg, 4 Hz) f").contains(&"frequency: ".to_string()));
        assert_eq!(said("# ru"), Vec::<String>::new());
        assert_eq!(candidates("at 5 s  ru", 10, &[], &[]).0, 8..10);
    }

    #[test]
    fn places_are_found_round_and_round() {
        let places = occurrences("Roll roll é roll", "roll");
        assert_eq!(places, [0..4, 5..9, 13..17]);
        assert_eq!(next_place(&places, 1), Some((5..9, 2)));
        assert_eq!(next_place(&places, 14), Some((0..4, 1)));
        assert_eq!(place_before(&places, 13), Some((5..9, 2)));
        assert_eq!(place_before(&places, 0), Some((13..17, 3)));
        assert_eq!(next_place(&occurrences("a", ""), 0), None);
    }

    #[test]
    fn cues_are_known_by_their_definitions() {
        assert_eq!(cues_of("cue a(x: deg) { }\n# cue b()\ncue c() { }"), ["a", "c"]);
    }
}
