//! The demo with the mistakes that a builder makes, and what `cueloom check` says to each.
//!
//! `tests/cases/demo/PHASE/NAME.txt` changes one file of `profiles/`: `#` says what happened, `in` names the file, lines
//! after `- ` are replaced by those after `+ `. PHASE is the part of the program that must refuse.

#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

const CRATE: &str = env!("CARGO_MANIFEST_DIR");

#[test]
fn each_mistake_is_refused_in_words_to_act_on() {
    insta::with_settings!({snapshot_path => "cases/demo/expected", prepend_module_to_snapshot => false, omit_expression => true}, {
        insta::glob!("cases/demo", "*/*.txt", |path| {
            let broken = Broken::of(path);
            let output = broken.check(&[]);
            assert_eq!(output.status.code(), Some(1), "{}: {}", path.display(), text(&output.stderr));
            assert_eq!(text(&output.stderr), "", "{}", path.display());
            let said = text(&output.stdout);
            let checked = said.contains("\nmargins, most used first");
            assert_eq!(checked, broken.phase == "check", "{}: {said}", path.display());
            for rule in broken.rules() {
                assert!(belongs(&rule, &broken.phase), "{}: {rule} in {}", path.display(), broken.phase);
            }
            insta::assert_snapshot!(format!("{}\n\n{}", broken.what, findings(&said)));
        });
    });
}

#[test]
fn the_demo_itself_is_not_refused() {
    let folder = copy();
    assert_eq!(check(folder.path(), &[]).status.code(), Some(0));
}

#[test]
fn the_gain_that_is_said_to_fit_fits() {
    for (name, most) in [("bank-ten-times", 0.538), ("buffet-ten-times", 0.428)] {
        let broken = Broken::of(&Path::new(CRATE).join(format!("tests/cases/demo/check/{name}.txt")));
        let said = text(&broken.check(&[]).stdout);
        let gains = said.lines().filter(|line| line.contains("this rule passes at gain"));
        let gains = gains.filter_map(|line| line.rsplit(' ').next()?.parse::<f64>().ok());
        let least = gains.fold(1.0, f64::min);
        assert!(least < most && least > 0.8 * most, "{name}: {least}");
        // What is left then is what the profile expects of itself, if anything.
        let again = broken.check(&["--format", "short", "--gain", &least.to_string()]);
        let left: Vec<String> = text(&again.stdout)
            .lines()
            .filter(|line| line.contains(": error["))
            .map(str::to_string)
            .collect();
        assert!(left.iter().all(|line| line.contains("error[unmet-expectation]")), "{name}: {left:?}");
    }
}

/// A copy of the demo with a mistake in it.
struct Broken {
    folder: tempfile::TempDir,
    phase: String,
    what: String,
}

impl Broken {
    fn of(case: &Path) -> Self {
        let words = fs::read_to_string(case).unwrap();
        let phase = case.parent().and_then(Path::file_name).unwrap().to_string_lossy().into_owned();
        let folder = copy();
        let (mut what, mut file) = (String::new(), String::new());
        let (mut old, mut new) = (Vec::new(), Vec::new());
        for line in words.lines().chain(["end"]) {
            // A change is over where the next one begins.
            if !line.starts_with('+') && !new.is_empty() {
                replace(&folder.path().join(&file), &old.join("\n"), &new.join("\n"));
                (old, new) = (Vec::new(), Vec::new());
            }
            match line.split_once(' ') {
                Some(("#", words)) => what = words.to_string(),
                Some(("in", words)) => file = words.to_string(),
                Some(("-", words)) => old.push(words),
                Some(("+", words)) => new.push(words),
                _ => assert_eq!(line, "end", "{}", case.display()),
            }
        }
        Self { folder, phase, what }
    }

    fn check(&self, more: &[&str]) -> Output {
        check(self.folder.path(), more)
    }

    /// The rules that are broken.
    fn rules(&self) -> Vec<String> {
        let said = text(&self.check(&["--format", "short"]).stdout);
        let rule = |line: &str| Some(line.split_once(": error[")?.1.split_once(']')?.0.to_string());
        let rules: Vec<String> = said.lines().filter_map(rule).collect();
        assert!(!rules.is_empty(), "{said}");
        rules
    }
}

/// Whether a rule is one of a phase's.
fn belongs(rule: &str, phase: &str) -> bool {
    let scene = cueloom::scenario::RULES.iter().any(|known| known.slug == rule);
    match phase {
        "parse" => ["syntax", "unclosed-block"].contains(&rule),
        "resolve" => scene && rule != "trace",
        "trace" => rule == "trace",
        "rig" => rule.starts_with("rig-"),
        _ => !scene && cueloom::check::RULES.iter().any(|known| known.slug == rule),
    }
}

/// The findings and the verdict, without the tables between them.
fn findings(said: &str) -> String {
    let before = said.split("\nscene     ").next().unwrap_or(said);
    let last = said.lines().rev().find(|line| line.contains("the rig")).unwrap_or("");
    let before = before.trim_end().trim_end_matches(last).trim_end();
    format!("{before}\n\n{last}")
}

fn replace(file: &Path, old: &str, new: &str) {
    let text = fs::read_to_string(file).unwrap();
    assert_eq!(text.matches(old).count(), 1, "{old:?} stands once in {}", file.display());
    fs::write(file, text.replace(old, new)).unwrap();
}

fn check(folder: &Path, more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_cueloom"))
        .args(["check", "evening-circuit.cues"])
        .args(more)
        .current_dir(folder)
        .env_remove("NO_COLOR")
        .env_remove("COLUMNS")
        .output()
        .unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

fn copy() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    copy_into(&Path::new(CRATE).join("profiles"), folder.path());
    folder
}

fn copy_into(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy_into(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}
