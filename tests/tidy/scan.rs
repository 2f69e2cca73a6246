//! Reading Rust text as far as the tidy test needs it: code without comments, strings apart, paths to modules.

use std::collections::BTreeSet;

/// Code with comments and the insides of strings blanked out, and the strings with the byte where each starts.
pub(crate) struct Scanned {
    /// As long as the text, so that places stay; line ends are kept.
    pub(crate) code: String,
    /// Every string literal's text and where its opening quote stands.
    pub(crate) strings: Vec<(usize, String)>,
}

/// Splits a text into code and strings. Knows line and (nested) block comments, plain and raw strings, characters.
pub(crate) fn scan(text: &str) -> Scanned {
    let bytes = text.as_bytes();
    let mut code = bytes.to_vec();
    let mut strings = Vec::new();
    let blank = |code: &mut Vec<u8>, from: usize, to: usize| {
        for byte in &mut code[from..to.min(bytes.len())] {
            if *byte != b'\n' {
                *byte = b' ';
            }
        }
    };
    let mut at = 0;
    while at < bytes.len() {
        let rest = &text.as_bytes()[at..];
        if rest.starts_with(b"//") {
            let end = rest.iter().position(|b| *b == b'\n').map_or(bytes.len(), |n| at + n);
            blank(&mut code, at, end);
            at = end;
        } else if rest.starts_with(b"/*") {
            let end = at + block_comment(rest);
            blank(&mut code, at, end);
            at = end;
        } else if let Some((open, hashes)) = raw_string(rest, at.checked_sub(1).map(|k| bytes[k])) {
            let close = [b"\"".as_slice(), &b"#".repeat(hashes)].concat();
            let body = at + open;
            let end =
                bytes[body..].windows(close.len()).position(|w| w == close).map_or(bytes.len(), |n| body + n);
            strings.push((at, String::from_utf8_lossy(&bytes[body..end]).into_owned()));
            blank(&mut code, body, end);
            at = end + close.len();
        } else if rest[0] == b'"' {
            let mut end = at + 1;
            while end < bytes.len() && bytes[end] != b'"' {
                end += if bytes[end] == b'\\' { 2 } else { 1 };
            }
            let end = end.min(bytes.len());
            strings.push((at, String::from_utf8_lossy(&bytes[at + 1..end]).into_owned()));
            blank(&mut code, at + 1, end);
            at = end + 1;
        } else if rest[0] == b'\'' {
            // A character, or a lifetime, which has no closing quote near by.
            let escaped = rest.get(1) == Some(&b'\\');
            let close = rest.iter().skip(if escaped { 3 } else { 2 }).take(10).position(|b| *b == b'\'');
            let is_character =
                escaped || close.is_some_and(|n| text[at + 1..at + 2 + n].chars().count() == 1);
            at += if is_character { close.map_or(1, |n| n + if escaped { 4 } else { 3 }) } else { 1 };
        } else {
            at += 1;
        }
    }
    Scanned { code: String::from_utf8_lossy(&code).into_owned(), strings }
}

fn block_comment(rest: &[u8]) -> usize {
    let (mut depth, mut at) = (0, 0);
    while at < rest.len() {
        match &rest[at..] {
            [b'/', b'*', ..] => (depth, at) = (depth + 1, at + 2),
            [b'*', b'/', ..] => (depth, at) = (depth - 1, at + 2),
            _ => at += 1,
        }
        if depth == 0 {
            break;
        }
    }
    at
}

/// Length of a raw string's opening and its number of `#`, where one starts.
fn raw_string(rest: &[u8], before: Option<u8>) -> Option<(usize, usize)> {
    if before.is_some_and(|b| b.is_ascii_alphanumeric() || b == b'_') {
        return None;
    }
    let prefix = if rest.starts_with(b"br") { 2 } else { 1 };
    let hashes = rest.get(prefix..)?.iter().take_while(|b| **b == b'#').count();
    let opens = rest[..prefix].ends_with(b"r") && rest.get(prefix + hashes) == Some(&b'"');
    opens.then_some((prefix + hashes + 1, hashes))
}

/// Top-level modules that a file's code names: `crate::x`, `crate::{x, y::z}`, and `super::…` that climbs to the
/// root. `depth` is how many modules deep the file's own module is (1 for `src/rig.rs`).
pub(crate) fn modules_named(code: &str, depth: usize) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for (at, _) in code.match_indices("crate::") {
        let word = |b: u8| b.is_ascii_alphanumeric() || b == b'_' || b == b'$';
        if at == 0 || !word(code.as_bytes()[at - 1]) {
            heads(&code[at + "crate::".len()..], &mut found);
        }
    }
    let climb = "super::".repeat(depth);
    for (at, _) in code.match_indices(&climb) {
        let before = &code[..at];
        let more = before.ends_with("super::") || code[at + climb.len()..].starts_with("super");
        // An inner `mod tests` is one deeper; there this is the file's parent, which a file may name.
        if depth > 0 && !more && !in_inner_module(before) {
            heads(&code[at + climb.len()..], &mut found);
        }
    }
    found
}

/// Modules of the standard library that code names: `std::fs`, `std::{net, time::Instant}`.
pub(crate) fn std_named(code: &str) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for (at, path) in code.match_indices("std::") {
        if !code[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_') {
            heads(&code[at + path.len()..], &mut found);
        }
    }
    found
}

fn in_inner_module(before: &str) -> bool {
    let Some(start) = before.rfind("mod tests {") else { return false };
    let inside = &before[start..];
    inside.matches('{').count() > inside.matches('}').count()
}

/// The first words of a path or of a group of paths.
fn heads(rest: &str, found: &mut BTreeSet<String>) {
    let word = |text: &str| -> String {
        text.trim_start().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect()
    };
    if !rest.trim_start().starts_with('{') {
        found.insert(word(rest));
        return;
    }
    let (mut depth, mut start) = (0, 0);
    for (at, c) in rest.char_indices() {
        match c {
            '{' => {
                depth += 1;
                start = if depth == 1 { at + 1 } else { start };
            }
            ',' if depth == 1 => {
                found.insert(word(&rest[start..at]));
                start = at + 1;
            }
            '}' => {
                depth -= 1;
                if depth == 0 {
                    found.insert(word(&rest[start..at]));
                    break;
                }
            }
            _ => {}
        }
    }
    found.remove("");
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(code: &str, depth: usize) -> Vec<String> {
        modules_named(&scan(code).code, depth).into_iter().collect()
    }

    #[test]
    fn every_way_to_name_a_module_is_seen() {
        assert_eq!(named("use crate::rig::Rig;", 1), ["rig"]);
        assert_eq!(
            named("use crate::{\n    lang::{self, tree},\n    rig, units::{a, b},\n};", 1),
            ["lang", "rig", "units"]
        );
        assert_eq!(named("fn f() { crate::cli::main(); }", 1), ["cli"]);
        assert_eq!(named("use super::super::check::Report;", 2), ["check"]);
        assert_eq!(named("use super::Report;", 2), [""; 0]);
        assert_eq!(named("use super::files;", 1), ["files"]);
        assert_eq!(named("mod tests { use super::files; }", 1), [""; 0]);
        let std =
            std_named("use std::{fs, time::{Instant, Duration}}; fn f() { std::net::lookup(); my_std::x() }");
        assert_eq!(std.into_iter().collect::<Vec<_>>(), ["fs", "net", "time"]);
    }

    #[test]
    fn comments_and_strings_are_not_code() {
        let text = "// crate::cli\n/* crate::cli /* */ crate::cli */ let a = \"crate::cli\"; r#\"crate::\"cli\"# 'x' '\"' '\\'' b";
        assert_eq!(named(text, 1), [""; 0]);
        let scanned = scan(text);
        let strings: Vec<&str> = scanned.strings.iter().map(|(_, text)| text.as_str()).collect();
        assert_eq!(strings, ["crate::cli", "crate::\"cli"]);
        assert!(scanned.code.ends_with(" b") && scanned.code.len() == text.len(), "{}", scanned.code);
        assert_eq!(scan("fn f<'a>(x: &'a str) { \"s\" }").strings.len(), 1);
    }
}
