//! The few lines of a text that a message shows, and where its marks fall in them.
//!
//! A text may be tens of megabytes on one line; what is handed to the renderer never is.

use super::{SourceText, Span};
use std::ops::Range;

/// Longest line that is shown whole, and longest part of a longer one, in bytes.
const LONG_LINE: usize = 400;
/// How much of a long line stands before and after a mark, in bytes.
const AROUND: usize = 120;
/// A mark over more lines than this is shown on its first line only.
const MANY_LINES: u32 = 12;

/// Consecutive lines of a text, long ones cut down to what is near the marks.
#[derive(Debug, PartialEq)]
pub(super) struct Excerpt {
    /// Number of the first line, from 1.
    pub(super) first_line: u32,
    /// The lines, joined by `\n`.
    pub(super) text: String,
    /// Whether a line was cut, so that columns of `text` are not columns of the source.
    pub(super) cut: bool,
    /// The marks, in the order given, as bytes of `text`.
    pub(super) marks: Vec<Range<usize>>,
}

/// The lines under `spans`, which must be of this text; any numbers in them are taken.
pub(super) fn excerpt(source: &SourceText, spans: &[Span]) -> Excerpt {
    let spans: Vec<Range<usize>> = spans.iter().map(|span| clamp(source, *span)).collect();
    let line_of = |at: usize| source.line_column(at as u32).line;
    let first_line = spans.iter().map(|span| line_of(span.start)).min().unwrap_or(1);
    let last_line = spans.iter().map(|span| line_of(last_byte(span))).max().unwrap_or(1);
    let (mut text, mut cut) = (String::new(), false);
    // Start and end as far as seen; nothing yet.
    let mut seen = vec![(usize::MAX, 0); spans.len()];
    for line in first_line..=last_line {
        if line > first_line {
            text.push('\n');
        }
        let (start, whole) = source.line(line);
        let end = start + whole.len();
        // What the marks cover of this line, as bytes of the line; a mark on the line's end marks the end.
        let here: Vec<Option<Range<usize>>> = spans
            .iter()
            .map(|span| {
                let touches = span.start <= end && (span.end > start || span.start >= start);
                let on_earlier = span.end <= start && span.start < start;
                (touches && !on_earlier)
                    .then(|| span.start.clamp(start, end) - start..span.end.clamp(start, end) - start)
            })
            .collect();
        let window = window(whole, here.iter().flatten());
        cut |= window.len() < whole.len();
        let lead = if window.start > 0 { "…" } else { "" };
        let before = text.len() + lead.len();
        text.push_str(lead);
        text.push_str(whole.get(window.clone()).unwrap_or(""));
        if window.end < whole.len() {
            text.push('…');
        }
        for ((first, last), here) in seen.iter_mut().zip(here) {
            if let Some(here) = here {
                let at = |byte: usize| before + byte.clamp(window.start, window.end) - window.start;
                (*first, *last) = ((*first).min(at(here.start)), (*last).max(at(here.end)));
            }
        }
    }
    let mark = |(first, last): (usize, usize)| first.min(text.len())..last.max(first.min(text.len()));
    let marks = seen.into_iter().map(mark).collect();
    Excerpt { first_line, text, cut, marks }
}

/// The last byte that a span covers (its start when it is empty).
pub(super) fn last_byte(span: &Range<usize>) -> usize {
    if span.end > span.start { span.end - 1 } else { span.start }
}

/// The span inside the text and on whole characters; its first line only when it covers very many.
pub(super) fn clamp(source: &SourceText, span: Span) -> Range<usize> {
    let text = source.text();
    let start = text.floor_char_boundary((span.start as usize).min(text.len()));
    let end = text.ceil_char_boundary((span.end as usize).clamp(start, text.len()));
    let (first, last) =
        (source.line_column(start as u32).line, source.line_column(last_byte(&(start..end)) as u32).line);
    if last - first >= MANY_LINES {
        let (line_start, line) = source.line(first);
        return start..(line_start + line.len()).max(start);
    }
    start..end
}

/// What is shown of a line: all of a short one, the surroundings of the first mark in a long one.
fn window<'a>(line: &str, marks: impl Iterator<Item = &'a Range<usize>>) -> Range<usize> {
    if line.len() <= LONG_LINE {
        return 0..line.len();
    }
    let mark = marks.min_by_key(|mark| mark.start).cloned().unwrap_or(0..0);
    let start = line.floor_char_boundary(mark.start.saturating_sub(AROUND));
    let end = mark.end.min(mark.start + LONG_LINE - 2 * AROUND) + AROUND;
    start..line.ceil_char_boundary(end.min(line.len()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diag::SourceId;

    fn cut(text: &str, spans: &[(usize, usize)]) -> Excerpt {
        let spans: Vec<Span> = spans.iter().map(|&(a, b)| Span::new(SourceId(0), a, b)).collect();
        excerpt(&SourceText::new("t", text), &spans)
    }

    fn marked(excerpt: &Excerpt) -> Vec<&str> {
        excerpt.marks.iter().map(|mark| &excerpt.text[mark.clone()]).collect()
    }

    #[test]
    fn only_the_lines_between_the_marks_are_kept() {
        let found = cut("a\r\nbb\ncc\ndd\n", &[(6, 8), (3, 5)]);
        assert_eq!((found.first_line, found.text.as_str()), (2, "bb\ncc"));
        assert_eq!(marked(&found), ["cc", "bb"]);
    }

    #[test]
    fn places_past_the_end_fall_on_the_end() {
        let empty = |first_line, marks| Excerpt { first_line, text: String::new(), cut: false, marks };
        assert_eq!(cut("", &[(0, 0), (5, 9)]), empty(1, vec![0..0, 0..0]));
        assert_eq!(cut("ab\n", &[(3, 3)]), empty(2, std::iter::once(0..0).collect()));
        assert_eq!(marked(&cut("ab", &[(1, 99)])), ["b"]);
    }

    #[test]
    fn a_mark_inside_a_character_takes_all_of_it() {
        assert_eq!(marked(&cut("é = 1", &[(1, 2)])), ["é"]);
    }

    #[test]
    fn a_line_end_alone_can_be_marked() {
        let found = cut("ab\ncd", &[(2, 3)]);
        assert_eq!((found.text.as_str(), found.marks[0].clone()), ("ab", 2..2));
    }

    #[test]
    fn a_long_line_is_cut_to_the_mark() {
        let text = format!("{}HERE{}", "x".repeat(5_000_000), "y".repeat(5_000_000));
        let found = cut(&text, &[(5_000_000, 5_000_004)]);
        assert_eq!(marked(&found), ["HERE"]);
        assert!(found.text.len() < 600 && found.text.starts_with('…') && found.text.ends_with('…'));
    }

    #[test]
    fn a_mark_over_very_many_lines_is_its_first_line() {
        let text = "line\n".repeat(1000);
        assert_eq!(marked(&cut(&text, &[(0, 5000)])), ["line"]);
        assert_eq!(marked(&cut(&text, &[(0, 14)])), ["line\nline\nline"]);
    }
}
