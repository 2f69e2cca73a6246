//! Copies of the demo rig with one slip of the tape or the keyboard each: what `cueloom rig` and `cueloom check` say to
//! somebody who has made it.

#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const RIG: &str = include_str!("../profiles/rigs/club-two-axis.toml");
/// Small and slow: it fits nearly any rig.
const SHALLOW: &str = "scene \"small\" {\n    at 0 s  pitch hold(1 deg, ease: 1 s)  for 4 s\n}\n";

/// A folder with a rig of this text and two profiles.
struct Planted {
    folder: tempfile::TempDir,
}

impl Planted {
    fn new(rig: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("rig.toml"), rig).unwrap();
        std::fs::write(folder.path().join("one.cues"), SHALLOW).unwrap();
        std::fs::write(folder.path().join("two.cues"), SHALLOW.replace("small", "other")).unwrap();
        Self { folder }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn rig(&self) -> Output {
        run(&[Path::new("rig"), &self.path("rig.toml")])
    }

    fn check(&self, format: &str) -> Output {
        let (one, two) = (self.path("one.cues"), self.path("two.cues"));
        let rig = self.path("rig.toml");
        let words = [Path::new("check"), &one, &two, Path::new("--rig"), &rig, Path::new("--format")];
        run(&[&words[..], &[Path::new(format)]].concat())
    }
}

fn run(arguments: &[&Path]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_cueloom")).args(arguments).output().unwrap()
}

fn said(output: &Output) -> String {
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
    // One line, however wide the terminal is said to be.
    String::from_utf8_lossy(&output.stdout).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// One replacement, which must have happened.
fn changed(text: &str, from: &str, to: &str) -> String {
    assert!(text.contains(from), "no `{from}`");
    text.replacen(from, to, 1)
}

/// The demo rig with two texts exchanged.
fn exchanged(one: &str, other: &str) -> String {
    changed(&changed(&changed(RIG, one, "KEPT"), other, one), "KEPT", other)
}

/// What `cueloom rig` asks to look at again.
fn look_again(rig: &str) -> String {
    let output = Planted::new(rig).rig();
    let words = said(&output);
    assert_eq!(output.status.code(), Some(0), "{words}");
    let (_, after) = words.split_once("look again: this may be a mistake in the file - ").expect("something");
    after.split_once(" what limits it").unwrap().0.to_string()
}

#[test]
fn the_rig_that_was_measured_well_is_not_asked_about() {
    let planted = Planted::new(RIG);
    assert!(!said(&planted.rig()).contains("look again"));
    assert_eq!(planted.check("short").stdout, b"");
}

/// (a) The legs have each other's points.
#[test]
fn legs_with_each_others_points_are_named() {
    let found = look_again(&exchanged("name         = \"left\"", "name         = \"right\""));
    assert!(found.contains("`left` has its `base` 400 mm to the RIGHT of the middle"), "{found}");
    assert!(found.contains("`right` has its `base` 400 mm to the LEFT of the middle"), "{found}");
    assert!(found.contains("two legs have each other's points"), "{found}");
}

/// (a) Only their upper points: the legs of this rig cannot be so long.
#[test]
fn exchanged_upper_points_are_refused_with_the_reason() {
    let swapped =
        exchanged("[\"-0.70 m\", \"-0.40 m\", \"0.02 m\"]", "[\"-0.70 m\", \"0.40 m\", \"0.02 m\"]");
    let planted = Planted::new(&swapped);
    for output in [planted.rig(), planted.check("human")] {
        let words = said(&output);
        assert_eq!(output.status.code(), Some(1), "{words}");
        assert!(words.contains("level, `left` would have to be"), "{words}");
        assert!(
            words.contains("`platform` points of `left` and `right` exchanged both would fit"),
            "{words}"
        );
    }
}

/// (b) A lead that is ten times too large, on both legs as one who copies lines would have it.
#[test]
fn a_lead_ten_times_too_large_is_named_and_a_shallow_profile_says_so_too() {
    let rig = RIG.replace("lead         = \"5 mm\"", "lead         = \"50 mm\"");
    let found = look_again(&rig);
    let words = "with a lead of 50 mm turns its motor at only 300 rpm";
    assert!(found.contains(words), "{found}");
    assert!(found.contains("Turn the screw ten times by hand"), "{found}");
    // With a limit of the jolt such a screw is found out in the smallest scene: it falls as soon as power goes.
    let jolted = Planted::new(&rig).check("short");
    assert!(said(&jolted).contains("error[emergency-jolt]"));
    let limit = RIG.lines().find(|line| line.starts_with("jolt         = ")).unwrap();
    let planted = Planted::new(&changed(&rig, limit, ""));
    let human = planted.check("human");
    let text = said(&human);
    // It is a note: both profiles fit the rig in the file, and it is said once.
    assert_eq!(human.status.code(), Some(0), "{text}");
    assert_eq!(text.matches("fits the rig file").count(), 2, "{text}");
    assert_eq!(text.matches("note[look-again]").count(), 1, "{text}");
    assert!(text.contains(words) && text.contains("rig.toml"), "{text}");
    let short = String::from_utf8(planted.check("short").stdout).unwrap();
    assert_eq!(short.lines().count(), 1, "{short}");
    assert!(short.contains("rig.toml:") && short.contains("note[look-again]"), "{short}");
    let json = String::from_utf8(planted.check("json").stdout).unwrap();
    let first: serde_json::Value = serde_json::from_str(json.lines().next().unwrap()).unwrap();
    let note = &first["findings"][0];
    assert_eq!((&note["rule"], &note["severity"]), (&"look-again".into(), &"note".into()), "{first}");
    // At the leg's table.
    let line = rig.lines().position(|line| line == "[[actuator]]").unwrap() + 1;
    assert_eq!(note["line"], line, "{note}");
}

/// (b) On one leg only.
#[test]
fn one_lead_that_differs_is_named() {
    let found = look_again(&changed(RIG, "lead         = \"5 mm\"", "lead         = \"50 mm\""));
    assert!(found.contains("`left` with a lead of 50 mm") && found.contains("really differ"), "{found}");
}

/// (c) The centre of mass on the wrong side, in each direction, and in a load.
#[test]
fn a_centre_on_the_wrong_side_is_named() {
    let payload = "centre  = [\"0.03 m\", \"0 m\", \"-0.10 m\"]";
    let centre = |to: &str| look_again(&changed(RIG, payload, &format!("centre  = {to}")));
    let below = centre("[\"0.03 m\", \"0 m\", \"0.10 m\"]");
    assert!(below.contains("the payload's centre is 100 mm BELOW the pivot"), "{below}");
    let right = centre("[\"0.03 m\", \"0.08 m\", \"-0.10 m\"]");
    assert!(right.contains("the payload's centre is 80 mm to the RIGHT of the middle"), "{right}");
    // (130 x -30 - 62 x -50) / 68 = -11.8 mm, where the heavy pilot has (155 x 45 + 62 x 50) / 93 = 108.3 mm.
    let behind = centre("[\"-0.03 m\", \"0 m\", \"-0.10 m\"]");
    assert!(
        behind.contains("`payload` carries more than `empty seat` has its centre 11.8 mm behind"),
        "{behind}"
    );
    assert!(behind.contains("`heavy pilot` carries more 108.3 mm in front of the pivot"), "{behind}");
    assert!(behind.contains("Look at the sign of x"), "{behind}");
    let heavy = "[\"0.045 m\", \"0 m\", \"-0.13 m\"]";
    let load = look_again(&changed(RIG, heavy, "[\"-0.045 m\", \"0 m\", \"-0.13 m\"]"));
    assert!(load.contains("what `heavy pilot` carries more"), "{load}");
    let load = look_again(&changed(RIG, heavy, "[\"0.045 m\", \"-0.06 m\", \"-0.13 m\"]"));
    assert!(load.contains("the centre of load `heavy pilot` is 60 mm to the LEFT"), "{load}");
}
