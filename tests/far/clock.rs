//! The computer's wall clock is set an hour forth and back while a run goes on, as by a time service or by hand: motion
//! and the times in the record do not notice.

use super::bench::{PROGRAM, root};
use super::desk::{CONTROLLED_M_S2, Desk, ends_at_rest, inside};
use super::states::pass;
use cueloom::record::read_container;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

/// The clock that jumps, built to be loaded before everything else.
fn jumping(folder: &Path) -> PathBuf {
    let to = folder.join("wall_clock.so");
    let out = Command::new("cc")
        .args(["-std=c99", "-Wall", "-Wextra", "-Werror", "-O1", "-shared", "-fPIC", "-o"])
        .arg(&to)
        .arg(root().join("tests/far/wall_clock.c"))
        .output()
        .unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    to
}

/// It is noon of today when a program first asks, but an hour is put on.
fn really_jumps(clock: &Path) {
    let out = Command::new("date").arg("+%s").env("LD_PRELOAD", clock).output().unwrap();
    let shown: u64 = String::from_utf8_lossy(&out.stdout).trim().parse().unwrap();
    let expected = cueloom::player::today().0 * 86_400 + 13 * 3_600;
    assert!((expected..expected + 5).contains(&shown), "{shown}, expected {expected}");
}

/// The program with such a clock, built once.
pub(crate) fn jumps() -> Command {
    static CLOCK: OnceLock<PathBuf> = OnceLock::new();
    let mut command = Command::new(PROGRAM);
    command.env("LD_PRELOAD", CLOCK.get_or_init(|| jumping(Path::new(env!("CARGO_TARGET_TMPDIR")))));
    command
}

pub(crate) fn a_wall_clock_that_jumps_moves_nothing_and_times_nothing() {
    let desk = Desk::new();
    let clock = jumping(desk.folder.path());
    really_jumps(&clock);
    let mut bench = desk.bench("udp", &[]);
    let asked = desk.folder.path().join("asked");
    let by = || {
        let mut command = Command::new(PROGRAM);
        command.env("LD_PRELOAD", &clock).env("CUELOOM_TEST_CLOCK", &asked);
        command
    };
    let mut program = desk.play_by(&by, "udp", &bench.address.clone(), "-12dB", &[]);
    let at = desk.until_following(&mut bench, &program);
    let at = program.wait_for("the scene was played to its end", at);
    bench.say("presence 0");
    pass(100);
    let again = bench.say("presence 1");
    program.wait_for("parking: MOVING", at);
    assert_eq!(program.end(), Some(0), "{}", program.said());
    let truth = bench.end();
    ends_at_rest(&truth);
    inside(&truth, CONTROLLED_M_S2);
    assert!(truth.iter().all(|row| row.fault == 0));
    // The program did ask it, for the day and for the number of its run.
    let asked: u64 = std::fs::read_to_string(asked).unwrap().trim().parse().unwrap();
    assert!(asked >= 2, "{asked}");
    // Three seconds of warning; the way to the first pose takes 0.6 s, the scene 3.2 s, brakes some tenths.
    let first = |is: &dyn Fn(&&super::bench::Truth) -> bool| truth.iter().find(is).unwrap().time_s;
    let (warned_s, off_s) = (first(&|row| row.warning), first(&|row| !row.braked));
    let on_s = first(&|row| row.braked && row.time_s > off_s);
    assert!((2.9..3.5).contains(&(off_s - warned_s)), "{} s of warning", off_s - warned_s);
    assert!((3.7..4.7).contains(&(on_s - off_s)), "{} s with brakes off", on_s - off_s);
    assert!(truth.iter().any(|row| row.words >= again && !row.braked), "it parked");
    let logged = read_container(&std::fs::read(desk.folder.path().join("run.mcap")).unwrap()).unwrap();
    assert!(!logged.cut_off && logged.events.windows(2).all(|pair| pair[0].0 <= pair[1].0));
    assert!(logged.cycles.windows(2).all(|pair| (pair[1].time_s - pair[0].time_s - 0.002).abs() < 1e-9));
    // The far end's own clock and the record's say the same of how long it took.
    let released = |on: bool| {
        let moving =
            |cycle: &&cueloom::record::LoggedCycle| cycle.run == "following" || cycle.run == "engaging";
        let mut cycles = logged.cycles.iter().filter(moving);
        let found = if on { cycles.next() } else { cycles.next_back() };
        found.unwrap().time_s
    };
    let (recorded_s, true_s) = (released(false) - released(true), on_s - warned_s);
    assert!((recorded_s - true_s).abs() < 0.3, "{recorded_s} s in the record, {true_s} s by the far end");
    let round_trips = logged.cycles.iter().filter_map(|cycle| cycle.round_trip_us);
    // A busy computer makes tenths of a second of it, a clock that jumps an hour.
    assert!(round_trips.max().unwrap() < 1_000_000);
    assert!(logged.cycles.iter().all(|cycle| cycle.late_us < 1_000_000));
}
