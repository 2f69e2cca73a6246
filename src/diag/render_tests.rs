//! Tests of the renderer.

use super::*;
use crate::diag::SourceText;
use proptest::prelude::*;

fn one(text: &str) -> (Sources, SourceId) {
    let mut sources = Sources::new();
    let id = sources.add(SourceText::new("profiles/stall.cues", text));
    (sources, id)
}

#[test]
fn place_marks_words_and_help() {
    let (sources, id) = one("scene \"a\" {\n    pitch noise(0.15 deg, 8 Hz..14 Hz)\n}\n");
    let found = Diagnostic::error("speed", Span::new(id, 16, 50), "actuator `left` needs 381 mm/s")
        .label("87 % of the speed at that instant")
        .also(Span::new(id, 0, 9), "in this scene")
        .help("the scene fits at gain 0.65")
        .fix("use 0.09 deg", Span::new(id, 28, 36), "0.09 deg");
    let text = render_human(&found, &sources, false);
    let expected = "\
error[speed]: actuator `left` needs 381 mm/s
 --> profiles/stall.cues:2:5
  |
1 | scene \"a\" {
  | --------- in this scene
2 |     pitch noise(0.15 deg, 8 Hz..14 Hz)
  |     ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ 87 % of the speed at that instant
  |
  = help: the scene fits at gain 0.65
  = help: use 0.09 deg";
    assert_eq!(text, expected);
}

#[test]
fn each_file_has_its_own_picture() {
    let (mut sources, id) = one("use \"b.cues\"\n");
    let other = sources.add(SourceText::new("b.cues", "let x = y\n"));
    let found = Diagnostic::warning("cycle", Span::new(id, 0, 12), "a cycle")
        .also(Span::new(other, 8, 9), "back here");
    let text = render_human(&found, &sources, false);
    let expected = "\
warning[cycle]: a cycle
 --> profiles/stall.cues:1:1
  |
1 | use \"b.cues\"
  | ^^^^^^^^^^^^
  |
 ::: b.cues:1:9
  |
1 | let x = y
  |         - back here";
    assert_eq!(text, expected);
}

#[test]
fn colour_only_when_asked_for() {
    let (sources, id) = one("x");
    let found = Diagnostic::note("word", Span::new(id, 0, 1), "a word");
    assert!(!render_human(&found, &sources, false).contains('\u{1b}'));
    assert!(render_human(&found, &sources, true).contains("\u{1b}["));
}

#[test]
fn a_line_of_ten_megabytes_neither_floods_nor_loses_its_column() {
    let mut line = "z".repeat(10_000_000);
    line.replace_range(7_000_000..7_000_003, "bad");
    let (sources, id) = one(&line);
    let found = Diagnostic::error("word", Span::new(id, 7_000_000, 7_000_003), "not a word");
    let text = render_human(&found, &sources, false);
    assert!(text.len() < 1500, "{} bytes", text.len());
    assert!(text.contains("profiles/stall.cues:1:7000001"), "{text}");
    assert!(text.contains("bad") && text.contains("^^^"), "{text}");
}

#[test]
fn a_tab_does_not_shift_the_mark() {
    let (sources, id) = one("\t\tpitch x\r\n");
    let found = Diagnostic::error("word", Span::new(id, 8, 9), "a word");
    let text = render_human(&found, &sources, false);
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines[3].find('x'), lines[4].find('^'), "{text}");
    assert!(!text.contains('\r'));
}

proptest! {
    #[test]
    fn any_text_and_any_spans_end_in_a_message(
        texts in proptest::collection::vec("[a\té\n\r \u{200b}\u{7}😀\u{301}]{0,60}", 1..3),
        spans in proptest::collection::vec((0usize..3, 0u32..200, 0u32..200), 1..6),
        colour: bool,
    ) {
        let mut sources = Sources::new();
        for (k, text) in texts.iter().enumerate() {
            sources.add(SourceText::new(format!("{k}.cues"), text.as_str()));
        }
        let span = |&(k, start, end): &(usize, u32, u32)| {
            Span { source: SourceId((k % texts.len()) as u32), start, end }
        };
        let mut found = Diagnostic::error("word", span(&spans[0]), "title\nof two\tlines").label("here");
        for (k, other) in spans.iter().enumerate().skip(1) {
            found = found.also(span(other), if k % 2 == 0 { "" } else { "there" });
        }
        let text = render_human(&found, &sources, colour);
        prop_assert!(text.len() < 20_000);
    }
}
