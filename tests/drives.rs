//! The program plays on real far ends: the reference receiver in C over a network and over a serial line, from park to
//! park at all levels of the ladder; what its legs truly did is asked of the far end.

#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

mod far {
    pub(crate) mod bench;
    mod brakes;
    #[cfg(feature = "serial")]
    mod can;
    #[cfg(feature = "serial")]
    mod can_desk;
    #[cfg(feature = "serial")]
    mod can_faults;
    #[cfg(all(feature = "serial", target_os = "linux"))]
    mod can_frozen;
    #[cfg(feature = "serial")]
    mod can_rig;
    #[cfg(target_os = "linux")]
    mod clock;
    pub(crate) mod desk;
    mod ended;
    mod faults;
    #[cfg(target_os = "linux")]
    mod frozen;
    mod homing;
    mod interrupted;
    #[cfg(target_os = "linux")]
    mod itself;
    mod killed;
    #[cfg(target_os = "linux")]
    mod own_faults;
    #[cfg(target_os = "linux")]
    mod records;
    mod states;
    mod swept;
    mod together;
    mod unconfirmed;
}

use cueloom::audition::Entry;
use cueloom::commissioning::FarEnd;
use cueloom::drives::Records;
use cueloom::record::{LoggedCycle, read_container};
use far::bench::{Truth, built, checks, root};
use far::desk::{CONTROLLED_M_S2, Desk, beside_others, ends_at_rest, far_end, inside};
use std::process::Command;

#[test]
fn the_receiver_reads_and_writes_the_published_frames() {
    let out =
        Command::new(built()).arg("--vectors").arg(root().join("controller/vectors.txt")).output().unwrap();
    let text = String::from_utf8_lossy(&out.stdout).to_string();
    assert!(out.status.success(), "{text}");
    assert_eq!(text.matches("agrees").count(), 4, "{text}");
}

/// What it is held to stands in `controller/checks.c`.
#[test]
fn the_receiver_keeps_to_its_bounds_whatever_comes() {
    let out = Command::new(checks()).output().unwrap();
    let text = String::from_utf8_lossy(&out.stdout);
    assert!(out.status.success(), "{text}{}", String::from_utf8_lossy(&out.stderr));
    assert!(text.lines().count() > 40 && text.lines().all(|line| line.starts_with("holds: ")), "{text}");
}

#[test]
fn python_builds_the_same_frames_from_the_tables() {
    let out = Command::new("python3").arg(root().join("tests/peers/frame_vectors.py")).output().unwrap();
    let published = std::fs::read_to_string(root().join("controller/vectors.txt")).unwrap();
    assert_eq!(String::from_utf8_lossy(&out.stdout), published, "{}", String::from_utf8_lossy(&out.stderr));
}

/// From park to park, as an operator does it; what the legs truly did.
fn from_park_to_park(desk: &Desk, kind: &str, level: &str) -> Vec<Truth> {
    let mut bench = desk.bench(kind, &[]);
    let mut program = desk.play(kind, &bench.address.clone(), level, &[]);
    let at = desk.until_following(&mut bench, &program);
    let at = program.wait_for("the scene was played to its end", at);
    // Parking is an act of its own: let go, and hold again.
    bench.say("presence 0");
    cueloom::player::wait(std::time::Duration::from_millis(100));
    bench.say("presence 1");
    program.wait_for("parking: MOVING", at);
    let code = program.end();
    assert_eq!(code, Some(0), "{}", program.said());
    cautions(&program.said());
    let truth = bench.end();
    ends_at_rest(&truth);
    let (speed, _) = inside(&truth, CONTROLLED_M_S2);
    assert!(speed > 0.005, "{speed}");
    // Nothing moved but after a warning, and never under a brake.
    let first = truth.iter().position(|row| row.speed_m_s[0].abs() > 1e-3).unwrap();
    assert!(truth[..first].iter().any(|row| row.warning) && truth[first].brakes == [false, false]);
    let (start, last) = (truth[0].at_m, truth.last().unwrap().at_m);
    assert!((0..2).all(|leg| (start[leg] - last[leg]).abs() < 5e-4), "{start:?} {last:?}");
    truth
}

/// What everybody is to know stands before the link is opened.
fn cautions(said: &str) {
    let (before, _) = said.split_once("connected to `").unwrap();
    let words = [
        "CAUTION  legs will move.",
        "not a safety function",
        "Keep everybody outside the fence",
        "by somebody licensed",
    ];
    assert!(words.iter().all(|words| before.contains(words)), "{before}");
}

/// Whether the thread of the cycles has asked for a priority, and what it was given, stands in the record.
fn asks_for_priority(desk: &Desk) {
    let record = read_container(&std::fs::read(desk.folder.path().join("run.mcap")).unwrap()).unwrap();
    let asks = |(_, event): &&(f64, String)| event.starts_with("cycle thread: real-time priority ");
    assert_eq!(record.events.iter().filter(asks).count(), 1, "{:?}", record.events);
}

/// How far the legs of the last run strayed stands in the ladder's file as it is worked out here from the record, and the
/// next check takes it off.
fn is_taken_off_the_margins(desk: &Desk) {
    let record = read_container(&std::fs::read(desk.folder.path().join("run.mcap")).unwrap()).unwrap();
    let is_on_path = |cycle: &&LoggedCycle| cycle.path == "following" || cycle.path == "slowing";
    let on_path: Vec<&LoggedCycle> = record.cycles.iter().filter(is_on_path).collect();
    assert!(on_path.windows(2).all(|pair| pair[1].tick == pair[0].tick + 1), "one stretch");
    let entries = Records::at(&desk.folder.path().join("records")).entries().unwrap();
    let Some(Entry::Strayed { strayed, .. }) = entries.iter().rev().nth(3) else { panic!("{entries:?}") };
    assert_eq!(strayed.gain_ppm, 1_000_000);
    let errors_m = |leg: usize, shift: usize| {
        let error_m =
            move |(now, sent): (&&LoggedCycle, &&LoggedCycle)| now.measured_m[leg] - sent.sent_m[leg];
        on_path[127..].iter().zip(&on_path[127 - shift..]).map(error_m)
    };
    let square =
        |shift: &usize| (0..2).flat_map(|leg| errors_m(leg, *shift)).map(|error| error * error).sum::<f64>();
    let best = (0..128).min_by(|a, b| square(a).total_cmp(&square(b))).unwrap();
    for (leg, strayed_um) in strayed.legs_um.iter().enumerate() {
        let largest_m = errors_m(leg, best).fold(0.0, |most: f64, error| most.max(error.abs()));
        assert_eq!(*strayed_um, (largest_m * 1e6).ceil() as u32, "leg {leg}, {best} cycles late");
    }
    let report = desk.run(&["check", "small.cues", "--rig", "rig.toml", "--format", "json"]);
    let report: serde_json::Value = serde_json::from_str(&report).unwrap();
    let bound = report["bound"].as_str().unwrap();
    assert!(bound.contains("by what legs strayed from their set-points in runs on drives before"), "{bound}");
}

#[test]
fn plays_from_park_to_park_at_every_level_over_the_network() {
    let _shared = beside_others();
    let desk = Desk::new();
    for level in ["-12dB", "-6dB", "-3dB", "0dB"] {
        from_park_to_park(&desk, "udp", level);
        let signed = desk.run(&["audition", "--sign", "nothing to hear"]);
        assert!(signed.contains("signed off"), "{signed}");
    }
    is_taken_off_the_margins(&desk);
    asks_for_priority(&desk);
    let log = desk.run(&["log", "run.mcap", "--csv", "run.csv"]);
    for words in
        ["engaging to following", "level_db       0", "parking to parked", "round trips: half within"]
    {
        assert!(log.contains(words), "{words} in {log}");
    }
    let python = root().join(".venv/bin/python");
    let out = Command::new(&python)
        .arg(root().join("tests/peers/read_mcap.py"))
        .arg(desk.folder.path().join("run.mcap"))
        .output()
        .unwrap_or_else(|e| panic!("{}: {e}; see .ci/setup", python.display()));
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let read: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let count = |topic: &str| read["counts"][topic].as_u64().unwrap();
    assert_eq!(count("sent"), count("measured"));
    assert!(count("timing") > 3000 && count("state") > 8 && count("operator") > 3 && count("events") > 5);
    let last = &read["last"];
    // Parked: a controlled stop, then power off. What was late stands at the end.
    assert_eq!((&last["state"]["run"], &last["state"]["category"]), (&"parked".into(), &1.into()), "{last}");
    assert_eq!(last["events"]["kind"], "lateness", "{last}");
    assert_eq!(read["metadata"]["run"]["seat"], "vacant");
    assert_eq!(read["encodings"], serde_json::json!([["jsonschema", "json"]]));
    let csv = std::fs::read_to_string(desk.folder.path().join("run.csv")).unwrap();
    assert!(csv.starts_with("time_s,path,run,path_s") && csv.lines().count() > 3000);
}

#[test]
#[cfg(feature = "serial")]
fn plays_from_park_to_park_over_a_serial_line() {
    let _shared = beside_others();
    let desk = Desk::new();
    let truth = from_park_to_park(&desk, "serial", "-12dB");
    // What was counted is what the legs did.
    let wear: serde_json::Value = serde_json::from_str(&desk.run(&["wear", "--format", "json"])).unwrap();
    let wear = &wear["wear"];
    assert_eq!((&wear["runs"], &wear["brake_stops"]), (&1.into(), &0.into()), "{wear}");
    let closings = truth.windows(2).filter(|pair| !pair[0].braked && pair[1].braked).count();
    assert_eq!(wear["brake_closings"], closings, "{wear}");
    for leg in 0..2 {
        let way_m: f64 = truth.windows(2).map(|pair| (pair[1].at_m[leg] - pair[0].at_m[leg]).abs()).sum();
        let counted_m = wear["legs"][leg]["travel_m"].as_f64().unwrap();
        assert!((counted_m / way_m - 1.0).abs() < 0.05, "leg {leg}: {counted_m} m of {way_m} m");
        assert!(wear["legs"][leg]["reversals"].as_u64().unwrap() > 2, "{wear}");
    }
}

/// No far end but the one inside the program; what is done to it is typed.
#[test]
fn plays_on_simulated_drives_and_what_is_done_to_them_stops_it() {
    let _shared = beside_others();
    let desk = Desk::new();
    let drives = FarEnd { name: "simulated drives".into(), parameters: 0, serials: vec![1, 2], ..far_end() };
    desk.commission("records/simulated", drives);
    let mut program = desk.play("sim", "", "-12dB", &[]);
    let at = program.wait_for("parked: brakes on", 0);
    program.say("presence closed");
    let at = program.wait_for("following: MOVING", at);
    let at = program.wait_for("the scene was played to its end", at);
    program.say("presence open");
    cueloom::player::wait(std::time::Duration::from_millis(100));
    program.say("presence closed");
    program.wait_for("parking: MOVING", at);
    assert_eq!(program.end(), Some(0), "{}", program.said());
    // Kept apart from what was tried on steel.
    assert!(!desk.folder.path().join("records/audition.jsonl").exists());
    let signed = desk.run(&["audition", "--records", "records/simulated", "--sign", "nothing to hear"]);
    assert!(signed.contains("signed off"), "{signed}");
    let mut program = desk.play("sim", "", "-6dB", &[]);
    let at = program.wait_for("parked: brakes on", 0);
    program.say("presence closed");
    let at = program.wait_for("following: MOVING", at);
    cueloom::player::wait(std::time::Duration::from_millis(800));
    program.say("fault snag left 900 N");
    let at = program.wait_for("a leg's force is not what the plan explains", at);
    program.wait_for("brakes on", at);
    program.say("end");
    assert_eq!(program.end(), Some(2), "{}", program.said());
}
