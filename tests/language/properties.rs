//! Properties over random, generated and damaged texts.

use crate::programs::program;
use crate::same::{assert_formats_well, shape};
use cueloom::diag::SourceId;
use cueloom::lang::{format, parse};
use proptest::prelude::*;

const EXAMPLES: &str = include_str!("../cases/examples.cues");

/// What holds for every text whatever.
fn assert_reads_well(text: &str) {
    let parsed = parse(SourceId(0), text);
    let fits = |span: cueloom::diag::Span| {
        span.start <= span.end && text.get(span.start as usize..span.end as usize).is_some()
    };
    assert!(parsed.errors.len() <= 100);
    assert!(parsed.errors.is_sorted_by_key(|error| error.primary.span.start), "not in order:\n{text}");
    for error in &parsed.errors {
        let places = std::iter::once(&error.primary).chain(&error.secondary).map(|label| label.span);
        for span in places.chain(error.fixes.iter().map(|fix| fix.span)) {
            assert!(fits(span), "{span:?} is outside of the text: {} \n{text}", error.title);
        }
        assert!(!error.title.is_empty() && !error.title.ends_with('.'), "{}", error.title);
    }
    match format(text) {
        Ok(_) => {
            assert!(parsed.errors.is_empty());
            assert_formats_well(text);
        }
        Err(refused) => assert_eq!(refused.errors, parsed.errors),
    }
}

/// Pieces of the language and of other ones, in any order.
fn soup() -> impl Strategy<Value = String> {
    let pieces = vec![
        "use", "let", "cue", "input", "scene", "on", "above", "until", "pause", "expect", "over", "at",
        "during", "every", "after", "for", "rise", "as", ".end", "vehicle.", "seat.", "pitch", "sound", "{",
        "}", "{", "}", "(", ")", "(", ")", ",", ":", "=", "..", "->", "<=", "+", " - ", "-", "*", " / ", "^",
        "%", "\"", "\"a\"", "#", "\n", "\n", "\r\n", " ", "  ", "\t", "1", "0.5 s", "1:24", "1e999", ".",
        "a", "ring(", "joint()", "°", "“", "−", ";", "\u{a0}", "é", "//", "\u{0}", "\n    ", "\u{feff}",
    ];
    prop::collection::vec(prop::sample::select(pieces), 0..60).prop_map(|pieces| pieces.concat())
}

/// The examples with a few stretches taken out, put in or doubled.
fn damaged() -> impl Strategy<Value = String> {
    let edit = (any::<prop::sample::Index>(), 0_usize..12, soup_piece());
    prop::collection::vec(edit, 1..5).prop_map(|edits| {
        let mut chars: Vec<char> = EXAMPLES.chars().collect();
        for (at, length, piece) in edits {
            let start = at.index(chars.len());
            let end = (start + length).min(chars.len());
            chars.splice(start..end, piece.chars());
        }
        chars.into_iter().collect()
    })
}

fn soup_piece() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(String::new()),
        prop::sample::select(vec![
            " ",
            "\n",
            "\n\n",
            "  # note\n",
            "{",
            "}",
            "(",
            ")",
            ",",
            "\"",
            "0",
            "x",
            " at ",
            "  "
        ])
        .prop_map(str::to_string)
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_string_gives_a_tree_and_errors_with_places(text in "\\PC*") {
        assert_reads_well(&text);
    }

    #[test]
    fn pieces_of_the_language_in_any_order_too(text in soup()) {
        assert_reads_well(&text);
    }

    #[test]
    fn damaged_examples_too(text in damaged()) {
        assert_reads_well(&text);
    }

    #[test]
    fn generated_programs_parse_and_format(text in program()) {
        let errors = parse(SourceId(0), &text).errors;
        assert!(errors.is_empty(), "{errors:#?}\n{text}");
        assert_formats_well(&text);
    }

    #[test]
    fn one_broken_statement_is_one_error_and_the_rest_is_read(
        at in any::<prop::sample::Index>(),
        broken in prop::sample::select(vec![
            "pitch ring(0.2 deg 7 Hz)", "at 3 s  picth ring()", "let a 3 m", "}}", "at 3 s", "§", "let s = \"a", "3 s  joint()",
            "at touch -3 s  joint()", "rise 3 s", "every  joint()", "expect peak pitch", "let end = 1", "at 1:5  joint()",
        ]),
    ) {
        // A line is broken where a whole statement of a scene stands.
        let lines: Vec<&str> = EXAMPLES.lines().collect();
        let statements: Vec<usize> = (0..lines.len()).filter(|line| lines[*line].starts_with("    at ")
            && !lines[*line].ends_with('{')).collect();
        let line = statements[at.index(statements.len())];
        if broken == "}}" {
            return Ok(());
        }
        let text: String = lines.iter().enumerate()
            .map(|(number, text)| if number == line { format!("    {broken}\n") } else { format!("{text}\n") }).collect();
        let without: String = lines.iter().enumerate()
            .filter(|(number, _)| *number != line).map(|(_, text)| format!("{text}\n")).collect();
        let parsed = parse(SourceId(0), &text);
        prop_assert_eq!(parsed.errors.len(), 1, "{}: {:#?}", broken, parsed.errors);
        // What was read is the same file with that statement gone (or, for a slip with a plain meaning, in place).
        let read = shape(&text).replace("Unreadable(), ", "").replace(", Unreadable()", "").replace("Unreadable()", "");
        let soft = ["at touch -3 s  joint()"].contains(&broken);
        prop_assert_eq!(read == shape(&without), !soft, "{}", broken);
    }
}

#[test]
fn depth_and_length_do_not_overflow_the_stack() {
    let deep = 100_000;
    for text in [
        format!("let a = {}1{}", "(".repeat(deep), ")".repeat(deep)),
        format!("let a = {}1", "-(".repeat(deep)),
        format!("let a = {}", "f(".repeat(deep)),
        format!("let a = 1{}", " + 1".repeat(deep)),
        format!("scene \"a\" {}{}", "{ ".repeat(deep), "} ".repeat(deep)),
        format!("scene \"a\" {}", "{\n".repeat(deep)),
        "}\n".repeat(deep),
        format!("scene \"a\" {{ {} }}", "{ § } ".repeat(deep)),
        format!("scene \"a\" {{\n{}}}", "at 0 s {\n(\n".repeat(deep)),
        "cue a( {".repeat(deep),
        "\"".repeat(deep),
        "let a = 1 ".repeat(deep),
        "a(\n".repeat(deep),
        format!("let a = {}", "9".repeat(deep)),
        format!("let a = 1:{}", "9".repeat(deep)),
    ] {
        let parsed = parse(SourceId(0), &text);
        assert!((1..=100).contains(&parsed.errors.len()), "{}…", &text[..30]);
    }
}

#[test]
fn carriage_returns_tabs_and_a_byte_order_mark_change_nothing() {
    let other = format!("\u{feff}{}", EXAMPLES.replace('\n', "\r\n").replace("    ", "\t"));
    assert_eq!(shape(&other), shape(EXAMPLES));
    assert_eq!(format(&other).unwrap(), format(EXAMPLES).unwrap());
}
