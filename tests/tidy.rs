//! What must hold of the whole source text: arrows that go down only, a core that touches nothing, files of a size
//! that one reader holds in the head, and a text for every rule.

#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

mod tidy {
    pub(crate) mod scan;
}

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use tidy::scan::{Scanned, modules_named, scan, std_named};

/// Lines that a file may have.
const MOST_LINES: usize = 500;

struct SourceFile {
    /// From the repository's root, with `/`.
    path: String,
    text: String,
    scanned: Scanned,
}

impl SourceFile {
    fn new(path: impl Into<String>, text: impl Into<String>) -> Self {
        let (path, text) = (path.into(), text.into());
        let scanned = scan(&text);
        Self { path, text, scanned }
    }

    /// The names of its modules: `["check", "rules", "speed"]`; none for `src/lib.rs`, `src/main.rs`.
    fn modules(&self) -> Vec<&str> {
        let inside = self.path.strip_prefix("src/").and_then(|path| path.strip_suffix(".rs"));
        let parts: Vec<&str> = inside.map(|path| path.split('/').collect()).unwrap_or_default();
        if parts == ["lib"] || parts == ["main"] { Vec::new() } else { parts }
    }
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn rust_files(folders: &[&str]) -> Vec<SourceFile> {
    fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
        let Ok(entries) = std::fs::read_dir(folder) else { return };
        for path in entries.map(|entry| entry.unwrap().path()) {
            match path.is_dir() {
                true if path.ends_with("target") => {}
                true => walk(&path, found),
                false if path.extension().is_some_and(|suffix| suffix == "rs") => found.push(path),
                false => {}
            }
        }
    }
    let mut paths = Vec::new();
    folders.iter().for_each(|folder| walk(&root().join(folder), &mut paths));
    paths.sort();
    let name = |path: &Path| path.strip_prefix(root()).unwrap().to_string_lossy().replace('\\', "/");
    paths.iter().map(|path| SourceFile::new(name(path), std::fs::read_to_string(path).unwrap())).collect()
}

/// Which module stands on which level, and which is the last of the pure core.
struct Levels {
    of: BTreeMap<String, u32>,
    core: u32,
}

/// The table in the words of `src/lib.rs`: a number, then names in backticks; `shell` ends the core.
fn levels(lib: &str) -> Levels {
    let words = lib.lines().skip_while(|line| !line.contains("# Levels")).skip(1);
    let words: String = words.take_while(|line| line.starts_with("//!")).collect();
    let (mut level, mut found) = (None, Levels { of: BTreeMap::new(), core: 0 });
    for word in words.split([' ', '·', '—', '!', '/', ',']).filter(|word| !word.is_empty()) {
        if let Ok(number) = word.parse() {
            level = Some(number);
        } else if word == "shell" {
            found.core = level.unwrap_or(0);
        } else if let (Some(name), Some(level)) =
            (word.strip_prefix('`').and_then(|word| word.strip_suffix('`')), level)
        {
            found.of.insert(name.to_string(), level);
        }
    }
    found
}

/// Arrows that do not go down.
fn upward(files: &[SourceFile], levels: &Levels) -> Vec<String> {
    let mut wrong = Vec::new();
    for file in files {
        let modules = file.modules();
        let Some(own) = modules.first() else { continue };
        for other in modules_named(&file.scanned.code, modules.len()) {
            let (Some(from), Some(to)) = (levels.of.get(*own), levels.of.get(&other)) else { continue };
            if other != *own && to >= from {
                wrong.push(format!("{}: `{own}` (level {from}) names `{other}` (level {to})", file.path));
            }
        }
    }
    wrong
}

/// Words that a file may not name where it stands.
fn misplaced(files: &[SourceFile], levels: &Levels) -> Vec<String> {
    const WORLD: [&str; 6] = ["fs", "net", "thread", "process", "env", "time"];
    let mut wrong = Vec::new();
    for file in files {
        let modules = file.modules();
        let Some(own) = modules.first() else { continue };
        let core = levels.of.get(*own).is_some_and(|level| *level <= levels.core);
        let names = |word: &str| names(&file.scanned.code, word);
        let of_std = std_named(&file.scanned.code);
        let mut refuse = |word: &str, why: &str| wrong.push(format!("{}: names `{word}`; {why}", file.path));
        if core {
            WORLD
                .iter()
                .filter(|word| of_std.contains(**word))
                .for_each(|word| refuse(word, "the core touches nothing"));
        } else if *own != "files" && std_named(outside_tests(file)).contains("fs") {
            refuse("fs", "only `files` does");
        }
        for (library, home) in [("egui", "gui"), ("kira", "audio")] {
            if *own != home && names(library) {
                refuse(library, &format!("only `{home}` does"));
            }
        }
        if *own != "lang" && names("nom") {
            refuse("nom", "only `lang` does");
        }
        if modules != ["diag", "render"] && names("annotate_snippets") {
            refuse("annotate_snippets", "only `diag/render.rs` does");
        }
    }
    wrong
}

/// The code that is part of the program: tests in the shell may prepare files as they like.
fn outside_tests(file: &SourceFile) -> &str {
    if file.path.ends_with("/tests.rs") || file.path.ends_with("/sample.rs") {
        return "";
    }
    let code = file.scanned.code.as_str();
    code.split_once("#[cfg(test)]\nmod tests {").map_or(code, |(program, _)| program)
}

/// Whether code holds `word` as a whole word or path.
fn names(code: &str, word: &str) -> bool {
    let part = |c: char| c.is_alphanumeric() || c == '_';
    code.match_indices(word)
        .any(|(at, _)| !code[..at].ends_with(part) && !code[at + word.len()..].starts_with(part))
}

/// Whether a file is of the cycle that drives wait for: what goes out, by what was heard, and what has its word in between.
fn is_of_the_cycle(path: &str) -> bool {
    const OF_THE_PLAYER: [&str; 7] =
        ["drive_cycle", "session", "rig_cycle", "forces", "hand", "tempo", "window"];
    let parts: Vec<&str> = path.trim_end_matches(".rs").split('/').collect();
    match parts[..] {
        // Tests beside them may do as they like; what is one file alone is cut off at its tests.
        _ if parts.contains(&"tests") || path == "src/link/allocations.rs" => false,
        ["src", "player", part, ..] => OF_THE_PLAYER.contains(&part),
        ["src", "safety" | "link", ..] => true,
        _ => false,
    }
}

/// Code of the cycle that could wait for somebody: a lock that another thread holds, an output that nobody reads.
fn held_up(files: &[SourceFile]) -> Vec<String> {
    const WAITED_FOR: [&str; 11] = [
        "Mutex", "RwLock", "Condvar", "lock", "print", "println", "eprint", "eprintln", "log", "stdout",
        "stderr",
    ];
    let mut wrong = Vec::new();
    for file in files.iter().filter(|file| is_of_the_cycle(&file.path)) {
        let code = outside_tests(file);
        let found = WAITED_FOR.iter().filter(|word| names(code, word));
        wrong.extend(found.map(|word| format!("{}: names `{word}`; a cycle waits for nobody", file.path)));
    }
    wrong
}

/// Slugs that stand as words in `Diagnostic::error("…"`, `warning`, `note`.
fn slugs_used(file: &SourceFile) -> Vec<&str> {
    let calls = ["Diagnostic::error(", "Diagnostic::warning(", "Diagnostic::note("];
    let starts_call =
        |at: &usize| calls.iter().any(|call| file.scanned.code[..*at].trim_end().ends_with(call));
    file.scanned.strings.iter().filter(|(at, _)| starts_call(at)).map(|(_, text)| text.as_str()).collect()
}

#[test]
fn imports_go_down_only() {
    let files = rust_files(&["src"]);
    let lib = files.iter().find(|file| file.path == "src/lib.rs").unwrap();
    let levels = levels(&lib.text);
    let declared: Vec<&str> = lib
        .scanned
        .code
        .lines()
        .filter_map(|line| line.strip_prefix("pub mod ")?.strip_suffix(';'))
        .collect();
    let mut listed: Vec<&str> = levels.of.keys().map(String::as_str).collect();
    listed.sort_by_key(|name| declared.iter().position(|other| other == name));
    assert_eq!(listed, declared, "the levels in src/lib.rs name every module");
    assert_eq!(upward(&files, &levels), [""; 0]);
}

#[test]
fn the_core_touches_nothing_and_libraries_stay_in_their_folder() {
    let files = rust_files(&["src"]);
    let levels = levels(&std::fs::read_to_string(root().join("src/lib.rs")).unwrap());
    assert_eq!(misplaced(&files, &levels), [""; 0]);
}

#[test]
fn the_cycle_takes_no_lock_and_prints_nothing() {
    let files = rust_files(&["src"]);
    let of_the_cycle = files.iter().filter(|file| is_of_the_cycle(&file.path)).count();
    assert!(of_the_cycle > 50, "{of_the_cycle}");
    assert_eq!(held_up(&files), [""; 0]);
}

#[test]
fn a_violation_is_found() {
    let levels = levels(
        "//! # Levels: down\n//!\n//! 0 `units` · 1 `rig` `lang`\n//! — shell — 6 `files` · 7 `player`\n\nx",
    );
    assert_eq!((levels.of.len(), levels.of["rig"], levels.of["player"], levels.core), (5, 1, 7, 1));
    let one = |path: &str, text: &str| vec![SourceFile::new(path, text)];
    assert_eq!(upward(&one("src/units/a.rs", "use crate::rig::Rig;"), &levels).len(), 1);
    assert_eq!(upward(&one("src/rig.rs", "use crate::lang::Tree;"), &levels).len(), 1, "same level");
    assert_eq!(upward(&one("src/rig/a/b.rs", "use super::super::super::player;"), &levels).len(), 1);
    assert_eq!(upward(&one("src/rig.rs", "use crate::units::Unit; // crate::files"), &levels).len(), 0);
    let wrong = |path: &str, text: &str| misplaced(&one(path, text), &levels).len();
    assert_eq!(wrong("src/rig.rs", "let t = std::time::Instant::now();"), 1);
    assert_eq!(wrong("src/rig.rs", "fn f() { std::fs::read(p); }"), 1);
    assert_eq!(wrong("src/rig.rs", "use std::{fmt, thread};"), 1);
    assert_eq!(wrong("src/rig.rs", "use nom::IResult;"), 1);
    assert_eq!(wrong("src/lang/a.rs", "use nom::IResult; let nominal = 1;"), 0);
    assert_eq!(wrong("src/player.rs", "use std::fs;"), 1);
    assert_eq!(wrong("src/files/a.rs", "use std::fs;"), 0);
    let held_up = |path: &str, text: &str| held_up(&one(path, text)).len();
    assert_eq!(held_up("src/player/drive_cycle/heard.rs", "let far = self.far.lock();"), 1);
    assert_eq!(held_up("src/player/session.rs", "use std::sync::Mutex; // println!"), 1);
    assert_eq!(held_up("src/link/can/node.rs", "fn f() { eprintln!(); }"), 1);
    assert_eq!(held_up("src/safety.rs", "log::info!(); let (locks, clock) = (1, 2);"), 1);
    assert_eq!(held_up("src/link/can/tests/stops.rs", "far.lock()"), 0);
    assert_eq!(
        held_up("src/link/wire.rs", "fn f() {}\n#[cfg(test)]\nmod tests { use std::sync::Mutex; }"),
        0
    );
    assert_eq!(held_up("src/player/recorder.rs", "std::sync::Mutex"), 0);
    let file = SourceFile::new("src/rig.rs", "Diagnostic::error(\n    \"speed\", x); other(\"word\")");
    assert_eq!(slugs_used(&file), ["speed"]);
}

#[test]
fn files_fit_one_head_and_say_what_they_are() {
    for file in rust_files(&["src", "tests", "benches", "fuzz"]) {
        let lines = file.text.lines().count();
        assert!(lines <= MOST_LINES, "{} has {lines} lines; the most is {MOST_LINES}", file.path);
        // `rig/tests.rs` says what it is by its name.
        assert!(
            file.text.starts_with("//!") || file.path.ends_with("/tests.rs"),
            "{} has no first words",
            file.path
        );
        assert!(!file.path.ends_with("/mod.rs"), "{}: use `name.rs` beside `name/`", file.path);
    }
}

#[test]
fn nothing_is_left_undone_or_waved_through() {
    for file in rust_files(&["src", "tests", "benches"]) {
        for word in ["todo!", "unimplemented!", "#[ignore", "dbg!"] {
            assert!(!file.scanned.code.contains(word), "{} holds `{word}`", file.path);
        }
        for (at, _) in file.scanned.code.match_indices("[allow(") {
            let rest = &file.scanned.code[at..];
            let whole = &rest[..rest.find(")]").unwrap_or(rest.len())];
            assert!(whole.contains("reason"), "{}: an `allow` without a reason", file.path);
        }
    }
}

#[test]
fn every_rule_that_speaks_can_be_explained() {
    let rules = cueloom::cli::rules();
    let files = rust_files(&["src"]);
    for file in &files {
        // Tests may make rules up.
        let code_end = file.text.find("#[cfg(test)]").unwrap_or(file.text.len());
        let tests = file.path.ends_with("tests.rs");
        let live = SourceFile::new(file.path.clone(), if tests { "" } else { &file.text[..code_end] });
        for slug in slugs_used(&live) {
            assert!(rules.iter().any(|rule| rule.slug == slug), "{}: `{slug}` has no text", file.path);
        }
    }
    for rule in rules {
        // A rule of the check stands in a file of its own and is used by name, the others by their word.
        let quoted = |file: &&SourceFile| file.scanned.strings.iter().any(|(_, text)| text == rule.slug);
        let places: Vec<_> = files.iter().filter(quoted).map(|file| file.path.as_str()).collect();
        let used = places.iter().any(|path| path.starts_with("src/check/rules/"))
            || files
                .iter()
                .flat_map(|file| &file.scanned.strings)
                .filter(|(_, text)| text == rule.slug)
                .count()
                > 1;
        assert!(used, "nothing speaks of `{}`: {places:?}", rule.slug);
    }
}

#[test]
fn nothing_is_ever_called_safe() {
    // Tests say what must not be said.
    let live = rust_files(&["src"]).into_iter().filter(|file| !file.path.ends_with("tests.rs"));
    for file in live {
        let tests = file.text.find("#[cfg(test)]").unwrap_or(file.text.len());
        for (_, text) in file.scanned.strings.iter().filter(|(at, _)| *at < tests) {
            assert!(!names(&text.to_lowercase(), "safe"), "{}: `{text}`", file.path);
        }
    }
}
