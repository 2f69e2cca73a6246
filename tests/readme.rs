//! README.md shows what the program really prints, and names the commands that there are.
//!
//! After a change of the report: `CUELOOM_WRITE=1 cargo test --test readme` puts the new output in.

#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

use std::path::PathBuf;
use std::process::Command;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn readme() -> String {
    std::fs::read_to_string(root().join("README.md")).unwrap().replace("\r\n", "\n")
}

fn print(arguments: &[&str]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_cueloom"));
    let output = command.args(arguments).current_dir(root()).env("COLUMNS", "110").output().unwrap();
    String::from_utf8(output.stdout).unwrap()
}

/// Compares what stands between `<!-- name -->` and `<!-- /name -->` with `output`, or puts it there.
fn compare(name: &str, command: &str, output: &str) {
    let (open, close) = (format!("<!-- {name} -->\n"), format!("<!-- /{name} -->"));
    let page = readme();
    let start = page.find(&open).unwrap_or_else(|| panic!("no {open}")) + open.len();
    let end = start + page[start..].find(&close).unwrap();
    let block = format!("```text\n$ {command}\n{}\n```\n", output.trim_end());
    if std::env::var_os("CUELOOM_WRITE").is_some() {
        let page = format!("{}{block}{}", &page[..start], &page[end..]);
        std::fs::write(root().join("README.md"), page).unwrap();
    } else {
        assert_eq!(page[start..end], block, "README.md, block `{name}`");
    }
}

#[test]
fn the_reports_shown_are_the_reports_printed() {
    let profile = "profiles/evening-circuit.cues";
    compare("report", &format!("cueloom check {profile}"), &print(&["check", profile]));
    // Of a long list of findings the first with layers to blame is enough to see.
    let output = print(&["check", profile, "--gain", "1.5"]);
    let first = output.split("\n\n").find(|part| part.starts_with("error[jerk]")).unwrap();
    compare("finding", &format!("cueloom check {profile} --gain 1.5"), first);
}

#[test]
fn the_two_commands_stand_on_lines_of_their_own() {
    let page = readme();
    for command in [
        "sh .ci/setup && cargo run --release -- play profiles/evening-circuit.cues",
        "sh .ci/setup && cargo test --features gui-test",
    ] {
        assert!(page.lines().any(|line| line == command), "{command}");
    }
}

#[test]
fn every_command_is_named() {
    let help = print(&["--help"]);
    let commands = help.lines().skip_while(|line| *line != "Commands:").skip(1);
    let names: Vec<&str> = commands
        .take_while(|line| line.starts_with(' '))
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    assert!(names.len() >= 9, "{help}");
    let page = readme().replace('\n', " ");
    for name in names {
        let named =
            [format!("cueloom {name}"), format!("-- {name}")].iter().any(|words| page.contains(words));
        assert!(named, "README.md does not name `cueloom {name}`");
    }
}

#[test]
fn paths_named_in_the_pages_are_there() {
    for name in ["README.md", "DEVELOPERS.md"] {
        let page = std::fs::read_to_string(root().join(name)).unwrap();
        for word in page.split(['`', '(', ')']) {
            let is_path = ["profiles/", "grammar/", "docs/", "src/", "tests/", "benches/", ".ci/"]
                .iter()
                .any(|folder| word.starts_with(folder));
            if is_path && !word.contains([' ', '*', '{', '<', '…', '\n']) {
                assert!(root().join(word).exists(), "{name} names `{word}`");
            }
        }
    }
}
