//! Records of a cranked run on simulated drives, as others read them: the Python packages `mcap` and `jsonschema`; whole, cut
//! off, mended; and long ones in little memory.

#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

use cueloom::check;
use cueloom::diag::{SourceText, Sources};
use cueloom::drives::{Carrier, open};
use cueloom::link::{SimAct, SimFault, SimInput};
use cueloom::motion::Plan;
use cueloom::player::{DrivePlan, Hand, Options, Progress, Record, Shell, connect, drive};
use cueloom::record::{CheckNotes, Container, Header, LoggedCycle, Row, read_container};
use cueloom::safety::operation::{Input, Permit};
use cueloom::safety::{Legs, MAX_AXES, Outcome, State};
use cueloom::scenario::{NoFiles, resolve};
use cueloom::threads::Threads;
use cueloom::time::SampleRate;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::mpsc::channel;
use std::sync::{Arc, OnceLock};

const SCENE: &str = "scene \"small\" {
    at 0.2 s  roll sine(3 deg, 0.6 Hz)  for 3 s  rise 0.8 s  fall 0.8 s
    at 0.2 s  pitch hold(2 deg, ease: 1 s)  for 3 s
    at 0.2 s  sound sine(-20 dB, 440 Hz)  for 3 s
}
";

/// When frames begin to come twice, s of the scene.
const TWICE_S: f64 = 1.0;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Of a run in which frames come twice from some time on, and sound is heard.
fn record() -> &'static Vec<u8> {
    static RECORD: OnceLock<Vec<u8>> = OnceLock::new();
    RECORD.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("run.mcap");
        play(&path);
        std::fs::read(path).unwrap()
    })
}

fn play(to: &Path) {
    let rig_text = include_str!("../profiles/rigs/club-two-axis.toml");
    let mut sources = Sources::new();
    let source = sources.add(SourceText::new("small.cues", SCENE));
    let parsed = cueloom::lang::parse(source, SCENE);
    let scenario = resolve(&parsed.file, source, None, &mut sources, &NoFiles).scenario.unwrap();
    let rig_source = sources.add(SourceText::new("club-two-axis.toml", rig_text));
    let rig = Arc::new(cueloom::rig::load(rig_source, rig_text).rig.unwrap());
    let plan = Plan::new(Arc::new(scenario), rig.clone(), 1.0, SampleRate::new(1000).unwrap()).unwrap();
    let report = check::run(&plan, &sources, &Threads::all(), &|_| {});
    let cleared = report.clear().unwrap();
    let mut opened = open(Carrier::Sim, "", &rig).unwrap();
    let mut drives = opened.hand.take().unwrap();
    drives.act(SimAct::Input(SimInput::Presence, Input::Closed));
    let connected = connect(opened.link, &rig, true).unwrap();
    let (_orders, heard) = channel();
    let permit = Permit { commissioned: true, audition: true, vacant: true };
    let hand = Hand::default();
    let shell = Shell { permit, orders: &heard, hand: Some(hand.clone()), by_word: false };
    let options = Options {
        fast: true,
        park_at_end: true,
        check: CheckNotes::of(&report, &sources),
        ..Options::default()
    };
    let (mut held, mut twice) = (false, false);
    let mut progress = |now: &Progress| {
        held = now.run.is_some_and(|run| run.state().is_act()) || (now.wanted.is_some() && !held);
        if held {
            hand.hold()
        } else {
            hand.let_go()
        }
        hand.hears(now.on_scene.then_some(now.path_s));
        if now.on_scene && now.path_s > TWICE_S && !twice {
            twice = drives.act(SimAct::Fault(SimFault::Twice));
        }
    };
    let record = Record::Mcap(Box::new(std::fs::File::create(to).unwrap()));
    let played =
        drive(&DrivePlan::of(&cleared).unwrap(), connected, &options, &shell, record, &mut progress).unwrap();
    assert!(played.played_out && twice, "{played:?}");
}

fn python(arguments: &[&str], file: &Path) -> serde_json::Value {
    let python = root().join(".venv/bin/python");
    let mut command = Command::new(&python);
    let out = command.arg(root().join("tests/peers/read_mcap.py")).args(arguments).arg(file).output();
    let out = out.unwrap_or_else(|e| panic!("{}: {e}; see .ci/setup", python.display()));
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).unwrap()
}

fn cueloom(arguments: &[&str], folder: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_cueloom")).args(arguments).current_dir(folder).output().unwrap()
}

#[test]
fn every_message_is_as_its_schema_says_and_every_channel_has_some() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("run.mcap");
    std::fs::write(&path, record()).unwrap();
    let read = python(&[], &path);
    assert_eq!(read["invalid"], serde_json::json!([]));
    let topics = [
        "audio",
        "commanded",
        "events",
        "far_end",
        "findings",
        "force",
        "margins",
        "measured",
        "operator",
        "sent",
        "state",
        "timing",
    ];
    let counts = read["counts"].as_object().unwrap();
    let mut found: Vec<&str> = counts.keys().map(String::as_str).collect();
    found.sort_unstable();
    assert_eq!(found, topics);
    // A schema says what is in a message, and in which unit.
    let measured = &read["schemas"]["measured"]["properties"];
    assert_eq!(measured["speeds_m_s"]["description"], "m/s, one a leg");
    assert_eq!(measured["lengths_m"]["items"]["type"], serde_json::json!(["number", "null"]));
    // What the check said stands at the begin.
    let margin = &read["first"]["margins"];
    assert!((0.0..1.0).contains(&margin["used"].as_f64().unwrap()), "{margin}");
    assert_eq!(read["first"]["findings"]["severity"], "note", "{}", read["first"]["findings"]);
}

#[test]
fn what_the_far_end_says_of_itself_and_rejects_is_in_the_record() {
    let logged = read_container(record()).unwrap();
    let cycles = &logged.cycles;
    let states: Vec<&str> = cycles.iter().map(|cycle| cycle.far_end.as_str()).collect();
    for state in ["off", "hold", "follow"] {
        assert!(states.contains(&state), "{state}");
    }
    // Each order came twice from the cycle on in which the first was rejected.
    let rejected: Vec<u64> = cycles.iter().map(|cycle| cycle.rejected.unwrap()).collect();
    let first = rejected.iter().position(|count| *count > rejected[0]).unwrap();
    assert!(cycles[first].path == "following" && cycles[first].path_s > TWICE_S);
    let (counted, sent) = (rejected.last().unwrap() - rejected[0], (cycles.len() - first) as u64);
    assert!(counted.abs_diff(sent) <= 1, "{counted} of {sent}");
    assert!(cycles.iter().all(|cycle| cycle.dropped == Some(0) && cycle.far_fault.is_empty()));
    // Speeds are those of what is measured, from cycle to cycle of 2 ms.
    let fastest = cycles.iter().map(|cycle| cycle.speed_m_s[0].abs()).fold(0.0, f64::max);
    let steps = cycles.windows(2).map(|pair| (pair[1].measured_m[0] - pair[0].measured_m[0]).abs() / 0.002);
    let moved = steps.fold(0.0, f64::max);
    assert!(fastest > 0.02 && (fastest / moved - 1.0).abs() < 0.1, "{fastest} {moved}");
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("run.mcap"), record()).unwrap();
    let out = cueloom(&["log", "run.mcap", "--csv", "run.csv"], folder.path());
    let text = String::from_utf8_lossy(&out.stdout);
    for words in [&format!("{counted} orders by the far end, 0 reports here"), "what the check said before"] {
        assert!(text.contains(words), "{words} in {text}");
    }
    let csv = std::fs::read_to_string(folder.path().join("run.csv")).unwrap();
    let last = format!(",off,,{},0", rejected.last().unwrap());
    assert!(csv.lines().next().unwrap().ends_with("far_end,far_fault,rejected,dropped"));
    assert!(csv.lines().last().unwrap().ends_with(&last), "{last} in {:?}", csv.lines().last());
}

/// What other readers make of a record that a kill cut off, and of the same one mended.
#[test]
fn a_record_cut_off_is_read_unordered_and_mended_is_read_by_all() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let cut = &record()[..record().len() * 2 / 3];
    std::fs::write(path("cut.mcap"), cut).unwrap();
    let logged = read_container(cut).unwrap();
    assert!(logged.cut_off && logged.cycles.len() > 1000);
    let read = python(&["--cut"], &path("cut.mcap"));
    let unordered = read["unordered"][0].as_u64().unwrap();
    // Which error it is goes by the bytes that stand where the end should be.
    assert!(read["make_reader"][0] == 0 && read["make_reader"][1].is_string(), "{read}");
    assert!(read["streaming"][0] == 0 && read["streaming"][1].is_string(), "{read}");
    // Every message of every whole chunk, and then an error too.
    assert!(read["unordered"][1].is_string() && unordered > 5 * logged.cycles.len() as u64, "{read}");

    let out = cueloom(&["log", "cut.mcap", "--mend", "whole.mcap"], folder.path());
    let said = String::from_utf8_lossy(&out.stdout);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    assert!(said.contains(&format!("{unordered} messages")) && said.contains("left as it is"), "{said}");
    assert_eq!(std::fs::read(path("cut.mcap")).unwrap(), cut);
    let read = python(&[], &path("whole.mcap"));
    let all: u64 = read["counts"].as_object().unwrap().values().map(|count| count.as_u64().unwrap()).sum();
    assert_eq!((all, &read["invalid"]), (unordered, &serde_json::json!([])));
    assert_eq!(read["counts"]["timing"], logged.cycles.len());
    assert!(read["indexed"].as_u64().unwrap() > 0 && read["metadata"]["mended"]["from"] == "cut.mcap");
    let words = |cycles: &[LoggedCycle]| format!("{cycles:?}");
    let mended = read_container(&std::fs::read(path("whole.mcap")).unwrap()).unwrap();
    assert!(
        !mended.cut_off && words(&mended.cycles) == words(&logged.cycles) && mended.events == logged.events
    );

    // Nothing is written over, and what is no container stays what it is.
    let out = cueloom(&["log", "cut.mcap", "--mend", "whole.mcap"], folder.path());
    let said = String::from_utf8_lossy(&out.stderr);
    assert!(out.status.code() == Some(2) && said.contains("is there already"), "{said}");
    std::fs::write(path("a.csv"), "# layout: 1\ntime_s\n").unwrap();
    let out = cueloom(&["log", "a.csv", "--mend", "b.mcap"], folder.path());
    assert_eq!((out.status.code(), path("b.mcap").exists()), (Some(2), false));
}

/// Two hundred times as many cycles as fit into what the program may have besides itself, if each were kept.
#[cfg(target_os = "linux")]
#[test]
fn a_long_record_takes_no_more_memory_than_a_short_one() {
    let folder = tempfile::tempdir().unwrap();
    let file = std::fs::File::create(folder.path().join("long.mcap")).unwrap();
    let legs = ["left", "right"].map(String::from).to_vec();
    let header = Header { legs, axes: vec!["pitch_rad".into()], ..Header::default() };
    let mut container = Container::start(Box::new(std::io::BufWriter::new(file)), &header).unwrap();
    let cycles = 400_000;
    for tick in 0..cycles {
        // There and back in 20 s, one leg the other's mirror.
        let angle = tick as f64 * 0.002 * std::f64::consts::TAU / 20.0;
        let at_m = Legs::from_fn(2, |leg| 0.6 + 0.02 * libm::sin(angle) * [1.0, -1.0][leg]);
        let row = Row {
            tick,
            time_us: tick * 2000,
            path_s: tick as f64 * 0.002,
            rate: 1.0,
            gain: 1.0,
            state: State::Following,
            platform: [0.0; MAX_AXES],
            planned_m: at_m,
            sent_m: at_m,
            measured_m: Some(at_m),
            late_us: 3,
            outcome: Outcome::Followed,
            drive: None,
        };
        container.row(&row, 1).unwrap();
        if tick % 50 == 0 {
            container.flush().unwrap();
        }
    }
    container.finish().unwrap();
    // The program alone takes about half of it, most of that its own code.
    let limited = |words: &str| {
        let line = format!("ulimit -v 180000; exec {} {words}", env!("CARGO_BIN_EXE_cueloom"));
        Command::new("sh").args(["-c", &line]).current_dir(folder.path()).output().unwrap()
    };
    let log = limited("log long.mcap");
    let text = String::from_utf8_lossy(&log.stdout);
    assert!(log.status.success(), "{}", String::from_utf8_lossy(&log.stderr));
    assert!(text.contains(&format!("{cycles} cycles over 799.998 s")) && text.contains("6.3 mm/s"), "{text}");
    let mend = limited("log long.mcap --mend whole.mcap");
    assert!(mend.status.success(), "{}", String::from_utf8_lossy(&mend.stderr));
    let sweep = limited("sweep long.mcap");
    assert!(String::from_utf8_lossy(&sweep.stderr).contains("tells nothing"), "{sweep:?}");
}

/// Each run on drives leaves a record of its own, also one in which nothing moved; a name that is taken is refused.
#[test]
fn no_run_writes_over_the_record_of_another() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("small.cues"), SCENE).unwrap();
    let rig = root().join("profiles/rigs/club-two-axis.toml").display().to_string();
    let play = |more: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_cueloom"));
        command.args(["play", "small.cues", "--rig", &rig, "--no-render"]).args(more);
        command.current_dir(folder.path()).stdin(Stdio::null()).output().unwrap()
    };
    let record = |name: &str| std::fs::read(folder.path().join("out").join(name)).unwrap_or_default();
    // Nobody speaks, so that it ends at once. Where processors are shared the link may be found too slow, rightly.
    let on_drives = |more: &[&str]| {
        let again = |out: &Output| String::from_utf8_lossy(&out.stderr).contains("the link does not hold");
        let mut runs = (0..5).map(|_| play(&[&["--link", "sim", "--seat", "vacant"], more].concat()));
        runs.find(|out| !again(out)).unwrap()
    };
    let out = on_drives(&[]);
    let said = String::from_utf8_lossy(&out.stdout);
    assert!(said.contains("small-1.mcap"), "{said} {}", String::from_utf8_lossy(&out.stderr));
    let first = record("small-1.mcap");
    assert!(!read_container(&first).unwrap().cut_off);
    on_drives(&[]);
    assert!(!record("small-2.mcap").is_empty() && record("small-1.mcap") == first);
    for more in [&["--link", "sim", "--seat", "vacant"][..], &["--fast"]] {
        let out = play(&[more, &["--log", "out/small-1.mcap"]].concat());
        let said = String::from_utf8_lossy(&out.stderr);
        assert_eq!(out.status.code(), Some(2), "{said}");
        assert!(
            said.contains("`out/small-1.mcap` is there already") && said.contains("name another"),
            "{said}"
        );
        assert!(!said.contains("connected to"), "{said}");
    }
    assert!(record("small-1.mcap") == first);
}
