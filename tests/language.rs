//! The language front end: slips and what is said about them, examples, tour, grammar and word lists.

#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

#[path = "language/meaning.rs"]
mod meaning;
#[path = "language/programs.rs"]
mod programs;
#[path = "language/properties.rs"]
mod properties;
#[path = "language/same.rs"]
mod same;

use cueloom::diag::{Diagnostic, SourceId, SourceText, Sources};
use cueloom::lang::{RULES, format, parse, words};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn read(path: &str) -> String {
    fs::read_to_string(root().join(path)).unwrap()
}

fn errors(text: &str) -> Vec<Diagnostic> {
    parse(SourceId(0), text).errors
}

/// What a case file must end with: one line an error, its help and fixes under it.
fn verdict(text: &str) -> String {
    let mut sources = Sources::new();
    let id = sources.add(SourceText::new("case", text));
    let mut out = String::new();
    for error in parse(id, text).errors {
        let (_, at) = sources.place(error.primary.span);
        out += &format!("#! {}:{} {}: {}\n", at.line, at.column, error.rule, error.title);
        for other in &error.secondary {
            let (_, at) = sources.place(other.span);
            out += &format!("#!   see {}:{} {}\n", at.line, at.column, other.text);
        }
        for help in &error.help {
            out += &format!("#!   help: {help}\n");
        }
        for fix in &error.fixes {
            out += &format!("#!   fix: {}\n", fix.title);
        }
    }
    out
}

/// The text with the first fix of every error applied, and how many errors had none.
fn mended(text: &str) -> (String, usize) {
    let errors = errors(text);
    let mut fixes: Vec<_> = errors.iter().filter_map(|error| error.fixes.first()).collect();
    fixes.sort_by_key(|fix| std::cmp::Reverse((fix.span.start, fix.span.end)));
    let mut mended = text.to_string();
    for fix in &fixes {
        mended.replace_range(fix.span.start as usize..fix.span.end as usize, &fix.replacement);
    }
    (mended, errors.len() - fixes.len())
}

fn cases() -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> =
        fs::read_dir(root().join("tests/cases/parse")).unwrap().map(|entry| entry.unwrap().path()).collect();
    all.sort();
    assert!(all.len() >= 35, "{} cases", all.len());
    all
}

/// Each case is a broken text with `#!` lines behind it. `BLESS=1 cargo test --test language` rewrites them.
#[test]
fn every_slip_gets_its_message() {
    for path in cases() {
        let whole = fs::read_to_string(&path).unwrap();
        let (text, expected) = match whole.find("#! ") {
            Some(at) => whole.split_at(at),
            None => (whole.as_str(), ""),
        };
        let found = verdict(text);
        if std::env::var_os("BLESS").is_some() {
            fs::write(&path, format!("{text}{found}")).unwrap();
            continue;
        }
        assert!(!found.is_empty(), "{} has no errors", path.display());
        assert_eq!(found, expected, "{}", path.display());
    }
}

#[test]
fn every_fix_mends_its_error() {
    for path in cases() {
        let whole = fs::read_to_string(&path).unwrap();
        let text = whole.split("#! ").next().unwrap();
        let (mended, without_fix) = mended(text);
        let left = errors(&mended);
        assert!(left.len() <= without_fix, "{}:\n{mended}\n{}", path.display(), verdict(&mended));
    }
}

#[test]
fn every_rule_is_explained_and_every_explained_rule_is_met() {
    let mut met = BTreeSet::new();
    for path in cases() {
        met.extend(errors(&fs::read_to_string(&path).unwrap()).iter().map(|error| error.rule));
    }
    let explained: BTreeSet<&str> = RULES.iter().map(|rule| rule.slug).collect();
    assert_eq!(met, explained);
    for rule in RULES {
        for heading in ["## What it checks\n", "## Why it matters\n", "## Example\n", "## Write instead\n"] {
            assert!(rule.text.contains(heading), "{} lacks {heading}", rule.slug);
        }
    }
}

#[test]
fn all_twelve_examples_parse_and_keep_their_meaning_when_formatted() {
    let text = read("tests/cases/examples.cues");
    let parsed = parse(SourceId(0), &text);
    assert_eq!(verdict(&text), "");
    let scenes = parsed.file.items.iter().filter(|item| matches!(item, cueloom::lang::tree::Item::Scene(_)));
    assert_eq!(scenes.count(), 12);
    same::assert_formats_well(&text);
}

#[test]
fn the_tour_parses_and_is_canonical() {
    for file in ["grammar/tour.cues", "grammar/tour-later.cues", "grammar/tour-library.cues"] {
        let text = read(file);
        assert_eq!(verdict(&text), "", "{file}");
        assert_eq!(format(&text).unwrap(), text, "{file}");
    }
    let guide = read("grammar/tour.md");
    let snippets: Vec<&str> =
        guide.split("```cues\n").skip(1).map(|rest| rest.split("```").next().unwrap()).collect();
    assert!(snippets.len() >= 8);
    for snippet in snippets {
        // A statement of a scene stands alone in the guide.
        let inner = format!("scene \"x\" {{\n{snippet}}}\n");
        let text = if errors(snippet).is_empty() { snippet } else { &inner };
        assert_eq!(verdict(text), "", "{snippet}");
    }
}

/// Strings in single quotes of an EBNF text, and `'"'`.
fn quoted(grammar: &str) -> BTreeSet<String> {
    let rules = grammar.split("/*").map(|part| part.split("*/").last().unwrap()).collect::<String>();
    rules.split('\'').skip(1).step_by(2).map(str::to_string).collect()
}

fn is_word(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_alphabetic())
}

#[test]
fn grammar_word_list_and_parser_agree() {
    let quoted = quoted(&read("grammar/cues.ebnf"));
    let in_grammar: BTreeSet<&str> = quoted.iter().map(String::as_str).filter(|text| is_word(text)).collect();
    let in_list: BTreeSet<&str> = words::RESERVED.iter().copied().collect();
    assert_eq!(in_grammar, in_list);
    assert_eq!(in_list.len(), words::RESERVED.len());
    for word in words::RESERVED {
        for text in [
            format!("let {word} = 1"),
            format!("cue {word}() {{ }}"),
            format!("cue a({word} = 1) {{ }}"),
            format!("input {word} 0..1"),
            format!("scene \"a\" {{ at 0 s  a()  as {word} }}"),
        ] {
            let found: Vec<&str> = errors(&text).iter().map(|error| error.rule).collect();
            assert_eq!(found, ["reserved-word"], "{text}");
        }
        assert!(errors(&format!("let {word}_ = a({word}: 1)")).is_empty(), "{word}");
    }
    let free = words::WAVEFORMS.iter().chain(words::FUNCTIONS).map(|callable| callable.name);
    let free = free.chain(words::MEASURES.iter().map(|(word, _)| *word)).chain(["m", "s", "deg", "reserved"]);
    for word in free {
        assert!(errors(&format!("let {word} = 1")).is_empty(), "{word}");
    }
    let suffixes: Vec<&str> = words::SUFFIXES.iter().map(|(word, _)| *word).collect();
    let listed = words::channels().chain(suffixes).chain(words::ITEM_STARTS.iter().copied());
    for word in listed.chain(words::STATEMENT_STARTS.iter().copied()).chain(words::GROUPS.iter().copied()) {
        assert!(in_list.contains(word), "{word}");
    }
}

#[test]
fn every_rule_of_the_grammar_is_defined_used_and_toured() {
    let grammar = read("grammar/cues.ebnf");
    let rules = grammar.split("/*").map(|part| part.split("*/").last().unwrap()).collect::<String>();
    let defined: BTreeSet<&str> =
        rules.lines().filter_map(|line| line.split_once("::=")).map(|(name, _)| name.trim()).collect();
    let mut used = BTreeSet::new();
    for line in rules.lines() {
        let right = line.split_once("::=").map_or("", |(_, right)| right);
        let unquoted: String = right.split('\'').step_by(2).collect::<Vec<_>>().join(" ");
        let outside_classes: String =
            unquoted.split('[').map(|part| part.rsplit(']').next().unwrap()).collect::<Vec<_>>().join(" ");
        let names = outside_classes.split(|c: char| !c.is_ascii_alphanumeric()).filter(|name| is_word(name));
        used.extend(names.filter(|name| !name.starts_with('x')).map(str::to_string));
    }
    for name in &used {
        assert!(defined.contains(name.as_str()) || name == "reserved", "{name} is not defined");
    }
    for name in &defined {
        assert!(used.contains(*name) || ["file", "comment", "space"].contains(name), "{name} is not used");
    }
    let tour =
        read("grammar/tour.cues") + &read("grammar/tour-later.cues") + &read("grammar/tour-library.cues");
    let tour: String = tour.lines().map(|line| line.split('#').next().unwrap().to_string() + "\n").collect();
    let in_tour: BTreeSet<&str> = tour.split(|c: char| !c.is_ascii_alphanumeric() && c != '_').collect();
    for terminal in quoted(&grammar) {
        let toured =
            if is_word(&terminal) { in_tour.contains(terminal.as_str()) } else { tour.contains(&terminal) };
        assert!(toured || terminal == "#", "`{terminal}` is not in the tour");
    }
    for callable in words::WAVEFORMS.iter().chain(words::FUNCTIONS) {
        assert!(tour.contains(&format!("{}(", callable.name)), "{} is not in the tour", callable.name);
    }
    for (measure, _) in words::MEASURES {
        assert!(tour.contains(&format!("expect {measure} ")), "{measure} is not in the tour");
    }
}
