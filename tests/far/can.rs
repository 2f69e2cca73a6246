//! The program plays on two CiA 402 drives over CANopen that are none of ours: the packages `canopen` and `python-can`
//! behind a pseudo-terminal (tests/peers/can_nodes.py). What they truly did is asked of them.

use super::bench::{Bench, Program, Truth};
use super::can_rig::{commission, rig};
use super::desk::{alone, beside_others, ends_at_rest, inside};
use cueloom::player::wait;
use cueloom::record::read_container;
use std::path::Path;
use std::process::Command;
use std::time::Duration;

const SCENE: &str = "scene \"short\" {
    at 0.2 s  roll sine(3 deg, 0.6 Hz)  for 3 s  rise 0.8 s  fall 0.8 s
    at 0.2 s  pitch hold(2 deg, ease: 1 s)  for 3 s
}
";

struct CanDesk(tempfile::TempDir);

impl CanDesk {
    fn new(rig: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("rig.toml"), rig).unwrap();
        std::fs::write(folder.path().join("short.cues"), SCENE).unwrap();
        Self(folder)
    }

    fn folder(&self) -> &Path {
        self.0.path()
    }

    fn bench(&self, arguments: &[&str]) -> Bench {
        Bench::start("can", self.folder(), arguments)
    }

    fn play(&self, address: &str, level: &str) -> Program {
        let level = format!("--level={level}");
        let arguments = [
            "play",
            "short.cues",
            "--rig",
            "rig.toml",
            "--no-render",
            "--link",
            "can",
            "--to",
            address,
            "--seat",
            "vacant",
            &level,
            "--log",
            "run.mcap",
        ];
        Program::start(&arguments, self.folder())
    }

    /// Commissioned, and playing the scene.
    fn following(&self) -> (Bench, Program, usize) {
        let bench = self.bench(&[]);
        commission(self.folder(), &bench.address);
        self.follow(bench, "-12dB")
    }

    /// Playing the scene.
    fn follow(&self, mut bench: Bench, level: &str) -> (Bench, Program, usize) {
        let program = self.play(&bench.address.clone(), level);
        let at = program.wait_for("parked: brakes on", 0);
        bench.say("presence 1");
        let at = program.wait_for("following: MOVING", at);
        (bench, program, at)
    }

    fn sign(&self) {
        let mut sign = Command::new(env!("CARGO_BIN_EXE_cueloom"));
        sign.args(["audition", "--sign", "nothing to hear"]).current_dir(self.folder());
        assert!(sign.output().unwrap().status.success());
    }
}

/// Plays to the end and parks: what the program said, and what the drives truly did.
fn to_its_end((mut bench, mut program, at): (Bench, Program, usize)) -> (String, Vec<Truth>) {
    let at = program.wait_for("the scene was played to its end", at);
    bench.say("presence 0");
    wait(Duration::from_millis(100));
    bench.say("presence 1");
    program.wait_for("parking: MOVING", at);
    assert_eq!(program.end(), Some(0), "{}", program.said());
    let truth = bench.end();
    ends_at_rest(&truth);
    warned(&truth);
    let (first, last) = (truth[0].at_m, truth.last().unwrap().at_m);
    assert!((0..2).all(|leg| (first[leg] - last[leg]).abs() < 1e-5), "{first:?} {last:?}");
    (program.said(), truth)
}

fn quickest_m_s(truth: &[Truth]) -> f64 {
    truth.iter().map(|row| row.speed_m_s[1].abs()).fold(0.0, f64::max)
}

/// Nothing moved but after a warning, and never under a brake.
fn warned(truth: &[Truth]) {
    let first = truth.iter().position(|row| row.speed_m_s[0].abs() > 1e-3).unwrap();
    assert!(truth[..first].iter().any(|row| row.warning) && !truth[first].braked);
}

#[test]
fn plays_from_park_to_park_on_drives_of_others() {
    let _alone = alone();
    let desk = CanDesk::new(&rig());
    let (said, truth) = to_its_end(desk.following());
    assert!(said.contains("at most 21 % of the bus is used") && said.contains("nodes 1 2"), "{said}");
    // The scene's own speeds, a quarter of them at -12 dB: 25 mm/s, and 75 mm/s on the way.
    let speed = quickest_m_s(&truth);
    assert!(speed > 0.02 && speed < 0.26, "{speed}");
    // At its end the scene holds level: both legs 580 mm, though one counts the other way.
    let level = |row: &Truth| row.at_m.iter().all(|at| (at - 0.580).abs() < 1e-5);
    assert!(truth.iter().any(level));
    let logged = read_container(&std::fs::read(desk.folder().join("run.mcap")).unwrap()).unwrap();
    assert!(!logged.cut_off && logged.cycles.len() > 1500, "{}", logged.cycles.len());
}

/// In mode 7, in which the drives of the peer heed no other object than that mode's own; at every level up to full gain.
#[test]
fn climbs_to_full_gain_on_drives_that_interpolate() {
    let _shared = beside_others();
    let desk = CanDesk::new(&rig().replace("cyclic synchronous position", "interpolated position"));
    let mut speeds = Vec::new();
    for level in ["-12dB", "-6dB", "-3dB", "0dB"] {
        let bench = desk.bench(&[]);
        if speeds.is_empty() {
            commission(desk.folder(), &bench.address);
        }
        let (_, truth) = to_its_end(desk.follow(bench, level));
        inside(&truth, 25.0);
        speeds.push(quickest_m_s(&truth));
        desk.sign();
    }
    // Roll by 3 deg at 0.6 Hz turns by 0.197 rad/s, and the right leg stands half a metre beside the joint.
    assert!(speeds[3] > 0.09 && speeds[3] > 1.2 * speeds[2], "{speeds:?}");
}

struct Fault {
    word: &'static str,
    /// What the run's states must say, and the drives' cause, which stays in the record.
    says: [&'static str; 2],
}

const FAULTS: [Fault; 4] = [
    Fault { word: "mute 2", says: ["a drive reports a fault", "right: the drive sends no reports any more"] },
    Fault {
        word: "emergency 1 0x3210",
        says: ["a drive reports a fault", "left: emergency 0x3210: over-voltage of the DC link"],
    },
    // It stops by its own watchdog; whether that or its silence is seen first is chance.
    Fault { word: "deaf 2", says: ["", "right: "] },
    Fault { word: "mode 1 1", says: ["a drive reports a fault", "left: the drive fell back to mode 0x0001"] },
];

fn provoke(fault: &Fault) {
    let desk = CanDesk::new(&rig());
    let (mut bench, mut program, at) = desk.following();
    wait(Duration::from_millis(800));
    bench.say(fault.word);
    fault.says.iter().for_each(|words| _ = program.wait_for(words, at));
    // The other leg is held for 4 s where it is not known that the one at fault stands.
    wait(Duration::from_millis(5500));
    let cleared = bench.say("clear");
    for word in ["presence 0", "presence 1"] {
        bench.say(word);
    }
    wait(Duration::from_millis(1000));
    program.say("end");
    assert_eq!(program.end(), Some(2), "{}", program.said());
    let truth = bench.end();
    ends_at_rest(&truth);
    inside(&truth, 25.0);
    let after = truth.iter().filter(|row| row.words >= cleared);
    assert!(after.into_iter().all(|row| row.braked && row.speed_m_s == [0.0, 0.0]), "{}", fault.word);
    let logged = read_container(&std::fs::read(desk.folder().join("run.mcap")).unwrap()).unwrap();
    let named = |words: &str| logged.events.iter().any(|(_, event)| event.contains(words));
    assert!(named(fault.says[1]), "{}: {:?}", fault.word, logged.events);
}

#[test]
fn drives_that_fail_are_named_and_the_rig_comes_to_rest() {
    let _alone = alone();
    for some in FAULTS.chunks(2) {
        std::thread::scope(|scope| some.iter().for_each(|fault| _ = scope.spawn(move || provoke(fault))));
    }
}

#[test]
fn garbage_on_the_line_changes_nothing_and_drives_stop_when_the_program_is_gone() {
    let _alone = alone();
    let desk = CanDesk::new(&rig());
    let (mut bench, mut program, _) = desk.following();
    for _ in 0..20 {
        bench.say("garbage 1");
        wait(Duration::from_millis(20));
    }
    wait(Duration::from_millis(300));
    assert!(program.said().ends_with("emergency stop\n"), "{}", program.said());
    let word = bench.say("belt 1");
    program.child.kill().unwrap();
    assert_eq!(program.end(), None, "killed");
    wait(Duration::from_millis(1500));
    let truth = bench.end();
    ends_at_rest(&truth);
    inside(&truth, 25.0);
    let moving = |row: &&Truth| row.words >= word && (!row.braked || row.speed_m_s != [0.0, 0.0]);
    let (from, last) = (truth.iter().find(|row| row.words >= word).unwrap(), truth.iter().rfind(moving));
    let rest_s = last.map_or(0.0, |last| last.time_s - from.time_s);
    assert!(rest_s < 1.0, "{rest_s} s");
}

#[test]
fn strangers_drives_that_would_go_on_in_silence_and_full_buses_are_refused() {
    let _alone = alone();
    let refused = |rig: &str, arguments: &[&str], words: &str| {
        let desk = CanDesk::new(rig);
        let bench = desk.bench(arguments);
        let mut program = desk.play(&bench.address.clone(), "-12dB");
        program.wait_for(words, 0);
        assert_eq!(program.end(), Some(2));
        let truth = bench.end();
        assert!(truth.iter().all(|row| row.braked && !row.power));
    };
    let other =
        "node 2 is not the drive of the rig file: object 0x1018:02 (product) is 0xBAD, expected 0xC0DE";
    refused(&rig(), &["--wrong", "product"], other);
    refused(&rig(), &["--no-watchdog"], "would go on when this computer falls silent");
    // 805 bits of a cycle, 230 of inputs every second one, little of signs of life: of 625 bits in 5 ms at 125 kbit/s.
    let slow = rig().replace("1 Mbit/s", "125 kbit/s");
    refused(&slow, &[], "2 drives at a cycle of 5 ms would take 150 % of 125000 bit/s at worst");
    let plain = rig().split("\n[can]").next().unwrap().to_string();
    refused(&plain, &[], "the rig file has no [can] table");
}
