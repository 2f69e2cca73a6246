//! The record cannot be written any more, or a file not be opened: the operator is told at once and in words, legs come to
//! rest along their path, nothing moves without a record, and what was written can be read.

use super::bench::{PROGRAM, Program, Truth};
use super::desk::{CONTROLLED_M_S2, Desk, ends_at_rest, inside};
use super::faults::until_rest;
use super::states::{State, pass};
use super::together::all_at_once;
use cueloom::audition::Entry;
use cueloom::drives::Records;
use cueloom::record::read_container;
use std::io::Read;
use std::process::Command;

pub(crate) const LOST: &str = "the record cannot be written";

pub(crate) fn record(desk: &Desk) -> std::path::PathBuf {
    desk.folder.path().join("run.mcap")
}

/// A limit of a process that runs, by the system's own command.
pub(crate) fn limit(program: &Program, what: &str) {
    let id = program.child.id().to_string();
    assert!(Command::new("prlimit").args(["--pid", &id, what]).status().unwrap().success());
}

/// Rest after the fault as along the path; the far end heard orders all the while, so that no cycle waited for the disk;
/// and nothing began when presence was let go and taken hold of.
fn ended_well(truth: &[Truth], [word, again]: [u32; 2], most_s: f64) {
    ends_at_rest(truth);
    inside(truth, CONTROLLED_M_S2);
    assert!(truth.iter().all(|row| row.fault == 0), "{:?}", truth.iter().find(|row| row.fault != 0));
    let (rest_s, _) = until_rest(truth, word);
    assert!(rest_s < most_s, "{rest_s} s");
    let begun = truth.iter().filter(|row| row.words >= again).find(|row| row.warning || row.power);
    assert!(begun.is_none(), "{begun:?}");
}

/// The file may not grow any more, which the system says by a signal and an error of its own.
pub(crate) fn a_disk_that_fills_up_ends_the_run_along_its_path_and_is_named() {
    let desk = Desk::new();
    let mut bench = desk.bench("udp", &[]);
    let mut program = desk.play("udp", &bench.address.clone(), "-12dB", &[]);
    let at = State::Following.reach(&mut bench, &mut program);
    let most = std::fs::metadata(record(&desk)).unwrap().len() + 3000;
    let word = bench.say("belt 1");
    limit(&program, &format!("--fsize={most}"));
    let at = program.wait_for(&format!("following: stopping: {LOST}"), at);
    let at = program.wait_for(&format!("faulted: brakes on: {LOST}"), at);
    // Nothing that could move legs is left, not even what a stopped run allows.
    for act in ["start", "park", "home", "jog all + 1", "resume", "acknowledge", "start"] {
        program.say(act);
        pass(50);
    }
    let again = bench.say("presence 0");
    pass(200);
    bench.say("presence 1");
    pass(1500);
    program.say("end");
    assert_eq!(program.end(), Some(2));
    let said = program.said();
    assert!(said[at..].contains(&format!("the run ended early: {LOST}")), "{said}");
    assert!(said[at..].contains("log       is not whole: File too large"), "{said}");
    ended_well(&bench.end(), [word, again], 2.0);
    let bytes = std::fs::read(record(&desk)).unwrap();
    assert!(bytes.len() as u64 <= most);
    let logged = read_container(&bytes).unwrap();
    assert!(logged.cut_off && logged.cycles.iter().any(|cycle| cycle.run == "following"));
    // The audition ladder keeps why, and a run without a whole record cannot be signed off.
    let ladder = desk.run(&["audition"]);
    assert!(ladder.contains(LOST), "{ladder}");
}

/// A disk that is full from the first: the run can begin, and nothing in it.
pub(crate) fn without_a_record_nothing_begins() {
    let desk = Desk::new();
    std::os::unix::fs::symlink("/dev/full", record(&desk)).unwrap();
    let mut bench = desk.bench("udp", &[]);
    let mut program = desk.play("udp", &bench.address.clone(), "-12dB", &[]);
    let at = program.wait_for(&format!("faulted: brakes on: {LOST}"), 0);
    program.wait_for("look: make room on the disk", at);
    for act in ["start", "jog all + 1", "acknowledge", "park", "jog all + 1"] {
        bench.say("presence 0");
        program.say(act);
        pass(100);
        bench.say("presence 1");
        pass(300);
    }
    program.say("end");
    assert_eq!(program.end(), Some(2), "{}", program.said());
    assert!(program.said().contains("is not whole: No space left on device"), "{}", program.said());
    assert!(bench.end().iter().all(|row| row.braked && !row.power && !row.warning));
}

/// A record that goes somewhere where nobody takes it: the write never fails, it never ends.
pub(crate) fn a_record_that_nobody_takes_stalls_no_cycle_and_ends_the_run() {
    let desk = Desk::new();
    let scene =
        "scene \"long\" {\n    at 0.2 s  roll sine(3 deg, 0.6 Hz)  for 40 s  rise 0.8 s  fall 0.8 s\n}\n";
    std::fs::write(desk.folder.path().join("small.cues"), scene).unwrap();
    let path = record(&desk);
    assert!(Command::new("mkfifo").arg(&path).status().unwrap().success());
    let (open, opened) = std::sync::mpsc::channel();
    let (take, taken) = std::sync::mpsc::channel::<()>();
    let reader = std::thread::spawn(move || {
        let mut pipe = std::fs::File::open(&path).unwrap();
        open.send(()).unwrap();
        // Nothing is taken until the run is over.
        let _ = taken.recv();
        let mut bytes = Vec::new();
        pipe.read_to_end(&mut bytes).unwrap();
        bytes
    });
    let mut bench = desk.bench("udp", &[]);
    let mut program = desk.play("udp", &bench.address.clone(), "-12dB", &[]);
    opened.recv().unwrap();
    let at = desk.until_following(&mut bench, &program);
    let word = bench.say("belt 1");
    let at = program.wait_for(&format!("following: stopping: {LOST}"), at);
    let at = program.wait_for(&format!("faulted: brakes on: {LOST}"), at);
    let again = bench.say("presence 0");
    pass(200);
    bench.say("presence 1");
    pass(700);
    program.say("end");
    take.send(()).unwrap();
    assert_eq!(program.end(), Some(2));
    assert!(program.said()[at..].contains("rows lost"), "{}", program.said());
    ended_well(&bench.end(), [word, again], 30.0);
    let logged = read_container(&reader.join().unwrap()).unwrap();
    let said = |words: &str| logged.events.iter().any(|(_, event)| event.contains(words));
    // The note of the stop is among what found no room; the state after it is not.
    assert!(!logged.cut_off && said("rows lost"), "{:?}", logged.events);
    assert_eq!(logged.cycles.last().unwrap().run, "faulted");
    let ladder = desk.run(&["audition"]);
    assert!(ladder.contains(LOST), "{ladder}");
}

/// The program with a limit on how many files it may have open at a time.
fn with_files(files: u32) -> Command {
    let mut command = Command::new("prlimit");
    command.arg(format!("--nofile={files}")).arg(PROGRAM);
    command
}

/// Three are standard input and outputs, the fourth is the link, the fifth says that a run is under way: there is none for a
/// record.
pub(crate) fn where_no_record_can_be_begun_it_is_said_and_nothing_moves() {
    let desk = Desk::new();
    let mut bench = desk.bench("udp", &[]);
    bench.say("presence 1");
    // Nothing of the rig's other records is read before it.
    std::fs::remove_dir_all(desk.folder.path().join("records")).unwrap();
    let mut said = String::new();
    // Where processors are shared the link may be found too slow, rightly; then later.
    for _ in 0..5 {
        let mut command = with_files(5);
        command.args(["play", "small.cues", "--rig", "rig.toml", "--no-render", "--link", "udp"]);
        command.args(["--to", &bench.address, "--seat", "vacant", "--log", "run.mcap"]);
        let mut program = Program::started(command.current_dir(desk.folder.path()));
        assert_eq!(program.end(), Some(2), "{}", program.said());
        said = program.said();
        if !said.contains("the link does not hold") {
            break;
        }
    }
    let refused = |line: &str| line == "cueloom: cannot write `run.mcap`: too many open files";
    assert!(said.lines().any(refused), "{said}");
    bench.say("presence 0");
    bench.say("presence 1");
    pass(300);
    assert!(bench.end().iter().all(|row| row.braked && !row.power && !row.warning));
}

/// Those, one for the record, and two to write into the ladder's file that a run begins, are enough.
pub(crate) fn with_one_file_for_the_record_it_plays_and_has_one() {
    all_at_once(&[8, 9, 11], |&files| {
        let desk = Desk::new();
        let mut bench = desk.bench("udp", &[]);
        let mut program = desk.play_by(&|| with_files(files), "udp", &bench.address.clone(), "-12dB", &[]);
        desk.until_following(&mut bench, &program);
        pass(300);
        program.say("end");
        program.end();
        let truth = bench.end();
        ends_at_rest(&truth);
        assert!(truth.iter().any(|row| !row.braked), "{files}");
        let logged = read_container(&std::fs::read(record(&desk)).unwrap()).unwrap();
        assert!(!logged.cut_off && logged.cycles.iter().any(|cycle| cycle.run == "following"), "{files}");
    });
}

/// Nothing more can be opened while it runs: what is open is enough to the end of the scene and back to park.
pub(crate) fn files_that_run_out_under_way_stop_nothing_and_what_cannot_be_kept_is_said() {
    let desk = Desk::new();
    let mut bench = desk.bench("udp", &[]);
    let mut program = desk.play("udp", &bench.address.clone(), "-12dB", &[]);
    let at = State::Following.reach(&mut bench, &mut program);
    limit(&program, "--nofile=3:3");
    let at = program.wait_for("the scene was played to its end", at);
    bench.say("presence 0");
    pass(100);
    bench.say("presence 1");
    program.wait_for("parking: MOVING", at);
    let code = program.end();
    let said = program.said();
    assert_eq!(code, Some(2), "{said}");
    let not_kept = "could not be written into the ladder's file, where it counts as a trip now";
    assert!(said.contains("played to the end") && said.contains(not_kept), "{said}");
    assert!(said.contains("`records/writing.lock`: too many open files"), "{said}");
    let truth = bench.end();
    ends_at_rest(&truth);
    inside(&truth, CONTROLLED_M_S2);
    let logged = read_container(&std::fs::read(record(&desk)).unwrap()).unwrap();
    assert!(!logged.cut_off && logged.cycles.last().is_some_and(|cycle| cycle.run == "parked"));
    // Begun, and of no end is anything known.
    let entries = Records::at(&desk.folder.path().join("records")).entries().unwrap();
    assert!(matches!(entries[..], [Entry::Begun { .. }]), "{entries:?}");
}
