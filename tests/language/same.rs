//! Whether two texts mean the same, and keep the same comments.

use cueloom::diag::SourceId;
use cueloom::lang::tree::{Block, File, Item, Statement, SuffixKind, What};
use cueloom::lang::{format, parse};

/// Formats a text without errors and checks all that formatting promises.
pub(crate) fn assert_formats_well(text: &str) {
    let once = format(text).unwrap();
    assert_eq!(format(&once).as_deref().ok(), Some(once.as_str()), "not stable:\n{text}");
    assert_eq!(shape(&once), shape(text), "another meaning:\n{text}\n----\n{once}");
    assert_eq!(comments(&once), comments(text), "other comments:\n{text}\n----\n{once}");
    assert!(!once.contains("\n\n\n") && !once.starts_with('\n') && !once.contains(" \n"), "{once}");
    assert!(once.is_empty() || (once.ends_with('\n') && !once.ends_with("\n\n")), "{once}");
}

/// The tree without places, suffixes in one order.
pub(crate) fn shape(text: &str) -> String {
    let mut file: File = parse(SourceId(0), text).file;
    for item in &mut file.items {
        match item {
            Item::Cue(cue) => sort(&mut cue.body),
            Item::Scene(scene) => sort(&mut scene.body),
            _ => {}
        }
    }
    let printed = format!("{file:?}");
    let mut parts = printed.split("Span { source: ");
    let mut out = parts.next().unwrap_or("").to_string();
    for part in parts {
        out += part.split_once('}').map_or("", |(_, rest)| rest);
    }
    out
}

fn sort(block: &mut Block) {
    for statement in &mut block.statements {
        match statement {
            Statement::Play(play) => {
                play.suffixes.sort_by_key(|suffix| match suffix.kind {
                    SuffixKind::For(_) => 0,
                    SuffixKind::Rise(_) => 1,
                    SuffixKind::Fall(_) => 2,
                    SuffixKind::Gain(_) => 3,
                    SuffixKind::As(_) => 4,
                });
                if let What::Block(inner) = &mut play.what {
                    sort(inner);
                }
            }
            Statement::On(on) => sort(&mut on.body),
            _ => {}
        }
    }
}

/// The comments of a text, sorted, because suffixes (and what stands inside them) may change places.
pub(crate) fn comments(text: &str) -> Vec<String> {
    let mut all = Vec::new();
    for line in text.split('\n') {
        let mut in_string = false;
        for (at, c) in line.char_indices() {
            match c {
                '"' => in_string = !in_string,
                '#' if !in_string => {
                    all.push(line[at..].trim_end().to_string());
                    break;
                }
                _ => {}
            }
        }
    }
    all.sort();
    all
}
