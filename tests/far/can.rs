//! The program plays on two CiA 402 drives over CANopen that are none of ours: the packages `canopen` and `python-can`
//! behind a pseudo-terminal (tests/peers/can_nodes.py). What they truly did is asked of them.

use super::bench::{Bench, Program, Truth};
use super::can_desk::{CanDesk, homing_rig};
use super::can_rig::rig;
use super::desk::{CONTROLLED_M_S2, alone, beside_others, ends_at_rest, inside};
use cueloom::player::wait;
use cueloom::record::read_container;
use std::time::Duration;

/// Plays to the end and parks: what the program said, and what the drives truly did.
fn to_its_end((mut bench, mut program, at): (Bench, Program, usize)) -> (String, Vec<Truth>) {
    let at = program.wait_for("holding: brakes on: the scene was played to its end", at);
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
            desk.commission(&bench.address);
        }
        let (_, truth) = to_its_end(desk.follow(bench, level));
        inside(&truth, 25.0);
        speeds.push(quickest_m_s(&truth));
        desk.sign();
    }
    // Roll by 3 deg at 0.6 Hz turns by 0.197 rad/s, and the right leg stands half a metre beside the joint.
    assert!(speeds[3] > 0.09 && speeds[3] > 1.2 * speeds[2], "{speeds:?}");
}

/// What its leg does tells of a brake that has no contacts: it plays on it, and one that slides is a fault.
#[test]
fn plays_where_no_contacts_tell_of_brakes_and_a_leg_that_sags_is_a_fault() {
    let _alone = alone();
    let contacts = "brake_set = 21\nbrake_released = 22\n";
    let desk = CanDesk::new(&rig().replace(contacts, "brake_sag = \"0.3 mm\"\n"));
    let (said, truth) = to_its_end(desk.following());
    assert!(
        said.contains("no contacts tell of the brake of `left`: it counts as on or off by its leg"),
        "{said}"
    );
    assert!(quickest_m_s(&truth) > 0.02);
    let mut bench = desk.bench(&[]);
    let mut program = desk.play(&bench.address.clone(), "-12dB");
    let at = program.wait_for("parked: brakes on", 0);
    bench.say("push 2 400");
    program.wait_for("the leg sagged without torque: its brake does not hold it", at);
    program.say("end");
    assert_eq!(program.end(), Some(2), "{}", program.said());
    assert!(bench.end().iter().all(|row| !row.power));
}

#[test]
fn doubles_and_garbage_on_the_line_change_nothing_and_drives_stop_when_the_program_is_gone() {
    let _alone = alone();
    let desk = CanDesk::new(&rig());
    let (mut bench, mut program, _) = desk.following();
    bench.say("double 1");
    for _ in 0..20 {
        bench.say("garbage 1");
        wait(Duration::from_millis(20));
    }
    wait(Duration::from_millis(300));
    let said = program.said();
    assert!(said.ends_with("following: MOVING: asked for\n  next: pause, stop, emergency, end\n"), "{said}");
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
    assert_eq!(truth.last().unwrap().fault, 0, "a leg fell");
    // A chunk of the record is closed ten times a second; it was killed half a second into the scene at the least.
    let logged = read_container(&std::fs::read(desk.folder().join("run.mcap")).unwrap()).unwrap();
    assert!(logged.cut_off && logged.cycles.last().is_some_and(|cycle| cycle.run == "following"));
    let played = logged.cycles.iter().filter(|cycle| cycle.run == "following").count();
    assert!(played > 80, "{played} cycles of 5 ms");
}

/// The questions take as long as they take, and meanwhile legs are jogged in another window.
#[test]
fn commissioning_asks_with_the_link_free_and_its_end_disturbs_nobody() {
    let _shared = beside_others();
    let desk = CanDesk::new(&rig());
    let mut bench = desk.bench(&[]);
    let address = bench.address.clone();
    let arguments = ["commission", "rig.toml", "--by", "a test", "--link", "can", "--to", &address];
    let mut asks = Program::start(&arguments, desk.folder());
    while asks.wait_for_one(&["the link does not hold", "does not answer about", "\n1 of "]) != 2 {
        asks = Program::start(&arguments, desk.folder());
    }
    let mut program = desk.play(&address, "-12dB");
    let at = program.wait_for("parked: brakes on", 0);
    program.say("jog all + 4");
    wait(Duration::from_millis(300));
    bench.say("presence 1");
    let at = program.wait_for("jogging: MOVING", at);
    wait(Duration::from_millis(500));
    // It ends without a record, in the midst of the jog.
    assert_eq!(asks.child.try_wait().unwrap(), None, "{}", asks.said());
    asks.say("no");
    assert_eq!(asks.end(), Some(2), "{}", asks.said());
    wait(Duration::from_millis(500));
    assert!(!program.said()[at..].contains("stopp"), "{}", program.said());
    bench.say("presence 0");
    program.wait_for("holding: brakes on", at);
    program.say("end");
    program.end();
    let truth = bench.end();
    ends_at_rest(&truth);
    let way_m = truth.last().unwrap().at_m[0] - truth[0].at_m[0];
    assert!(way_m > 0.008, "it jogged {way_m} m");
}

/// Every drive finds its own, and what is played afterwards stands on it.
#[test]
fn drives_without_a_reference_home_first_and_then_park() {
    let _shared = beside_others();
    let desk = CanDesk::new(&homing_rig());
    let mut bench = desk.bench(&["--reference", "homing"]);
    desk.commission(&bench.address);
    let mut program = desk.play(&bench.address.clone(), "-12dB");
    let at = program.wait_for("\nconnected: brakes on", 0);
    program.say("home");
    wait(Duration::from_millis(200));
    bench.say("presence 1");
    let at = program.wait_for("homing: MOVING", at);
    program.wait_for("holding: brakes on: the reference was found", at);
    // 2 s at 10 mm/s from 540 mm on: by counts that mean something now.
    program.wait_for("stands: left 520", at);
    program.say("end");
    program.end();
    let truth = bench.end();
    ends_at_rest(&truth);
    warned(&truth);
    inside(&truth, CONTROLLED_M_S2);
    let last = truth.last().unwrap();
    assert!(last.at_m.iter().all(|at| (0.515..0.525).contains(at)), "{last:?}");
    assert_eq!(last.fault, 0, "a leg fell");
}

#[test]
fn brakes_that_do_not_open_keep_everything_where_it_is() {
    let _shared = beside_others();
    let desk = CanDesk::new(&rig());
    let mut bench = desk.bench(&[]);
    desk.commission(&bench.address);
    let mut program = desk.play(&bench.address.clone(), "-12dB");
    let at = program.wait_for("parked: brakes on", 0);
    bench.say("stuck 2");
    bench.say("presence 1");
    program.wait_for("the brakes were not confirmed off in time; nothing moved", at);
    wait(Duration::from_millis(1500));
    program.say("end");
    assert_eq!(program.end(), Some(2), "{}", program.said());
    let truth = bench.end();
    ends_at_rest(&truth);
    let first = truth[0].at_m;
    assert!(truth.iter().all(|row| row.at_m == first && row.fault == 0));
}

#[test]
fn strangers_drives_that_would_go_on_in_silence_and_full_buses_are_refused() {
    let _alone = alone();
    let refused = |rig: &str, arguments: &[&str], words: &str| {
        let desk = CanDesk::new(rig);
        let bench = desk.bench(arguments);
        let mut program = desk.try_play(&bench.address.clone(), "-12dB");
        program.wait_for(words, 0);
        assert_eq!(program.end(), Some(2));
        let truth = bench.end();
        assert!(truth.iter().all(|row| row.braked && !row.power));
    };
    let other =
        "node 2 is not the drive of the rig file: object 0x1018:02 (product) is 0xBAD, expected 0xC0DE";
    refused(&rig(), &["--wrong", "product"], other);
    // The same make with other serial numbers is another rig than the one that was commissioned.
    let desk = CanDesk::new(&rig());
    let mut bench = desk.bench(&["--wrong", "serial"]);
    desk.keep_commissioning();
    let mut program = desk.play(&bench.address.clone(), "-12dB");
    program.wait_for("other drives answer", 0);
    let at = program.wait_for("parked: brakes on", 0);
    bench.say("presence 1");
    wait(Duration::from_millis(3500));
    program.say("end");
    program.end();
    assert!(program.said()[at..].contains("no commissioning record holds"), "{}", program.said());
    assert!(bench.end().iter().all(|row| row.braked && !row.power && !row.warning));
    refused(&rig(), &["--no-watchdog"], "would go on when this computer falls silent");
    // 805 bits of a cycle, 230 of inputs every second one, little of signs of life: of 625 bits in 5 ms at 125 kbit/s.
    let slow = rig().replace("1 Mbit/s", "125 kbit/s");
    refused(&slow, &[], "2 drives at a cycle of 5 ms would take 150 % of 125000 bit/s at worst");
    let silent = rig().replace("warning         = { leg = \"left\", bit = 16 }\n", "");
    refused(&silent, &[], "names no output that sounds the warning, and nothing moves without one");
    let plain = rig().split("\n[can]").next().unwrap().to_string();
    refused(&plain, &[], "the rig file has no [can] table");
}
