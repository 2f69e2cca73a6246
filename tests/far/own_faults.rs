//! What the program and its computer suffer, what a line does to frames, and another rig that answers, in every state in
//! which drives are on, over every link: legs come to rest and are braked, or go on as if nothing were; nothing begins by
//! itself.

use super::bench::{Bench, PROGRAM, Program, Truth};
#[cfg(feature = "serial")]
use super::can_desk::{CanDesk, homing_rig};
#[cfg(feature = "serial")]
use super::can_rig::rig;
use super::clock;
use super::desk::{CONTROLLED_M_S2, Desk, SHORTEST_M, alone, ends_at_rest, inside_from};
use super::faults::{nothing_begins, until_rest};
use super::records::{LOST, limit};
use super::states::{State, pass};
use super::together::at_once;
use cueloom::record::read_container;
use std::path::Path;
use std::process::Command;

/// What is done to the program (begun by `by`) whose record is at the path, over which links, what is said of it (nothing
/// where it goes on), and for how long legs may keep their speed, s.
struct Suffered {
    name: &'static str,
    links: &'static [&'static str],
    by: fn() -> Command,
    act: fn(&Path, &mut Bench, &Program),
    says: &'static str,
    slowed_s: f64,
    most_s: f64,
}

/// Of all that it knows of itself.
#[cfg(feature = "serial")]
const LINKS: &[&str] = &["udp", "serial", "can"];
#[cfg(not(feature = "serial"))]
const LINKS: &[&str] = &["udp"];

/// Those with frames of our own.
const FRAMES: &[&str] = if cfg!(feature = "serial") { &["udp", "serial"] } else { &["udp"] };

fn signal(program: &Program, name: &str) {
    let id = program.child.id().to_string();
    assert!(Command::new("kill").args([name, &id]).status().unwrap().success());
}

/// Nothing is noticed of it.
const fn rides_through(name: &'static str, act: fn(&Path, &mut Bench, &Program)) -> Suffered {
    let by = || Command::new(PROGRAM);
    Suffered { name, links: LINKS, by, act, says: "", slowed_s: 0.0, most_s: 0.0 }
}

const ALL: [Suffered; 8] = [
    Suffered {
        says: "this computer served its cycles too late",
        slowed_s: 0.5,
        most_s: 1.1,
        ..rides_through("stands still for 2 s", |_, _, program| {
            signal(program, "-STOP");
            pass(2000);
            signal(program, "-CONT");
        })
    },
    // A chunk of the record is a tenth of a second, and the path slows for half of one.
    Suffered {
        says: LOST,
        slowed_s: 1.2,
        most_s: 2.0,
        ..rides_through("disk full", |record, _, program| {
            let most = std::fs::metadata(record).unwrap().len() + 3000;
            limit(program, &format!("--fsize={most}"));
        })
    },
    rides_through("no more files", |_, _, program| limit(program, "--nofile=3:3")),
    Suffered { by: clock::jumps, ..rides_through("wall clock set an hour forth and back", |_, _, _| ()) },
    rides_through("frames twice", |_, bench, _| _ = bench.say("double 1")),
    // On a bus frames of one drive keep their order.
    Suffered { links: FRAMES, ..rides_through("frames swapped", |_, bench, _| _ = bench.say("swap 1")) },
    // Of our own frames every order is damaged in the grid of faults.
    Suffered {
        links: if cfg!(feature = "serial") { &["can"] } else { &[] },
        ..rides_through("garbage on the line", |_, bench, _| {
            for _ in 0..20 {
                bench.say("garbage 1");
                pass(20);
            }
        })
    },
    // It is asked for its name after a gap of 100 ms. A drive that is another on a bus begins with its boot-up.
    Suffered {
        links: FRAMES,
        says: "another rig answers than the one that was commissioned",
        slowed_s: 0.65,
        most_s: 1.4,
        ..rides_through("another rig answers", |_, bench, _| {
            bench.say("mute 1");
            bench.say("name somebody else");
            pass(130);
            bench.say("mute 0");
        })
    },
];

const STATES: [State; 6] =
    [State::Homing, State::Jogging, State::Engaging, State::Following, State::Holding, State::Parking];

/// Brought to a state over a link; the folder stays as long as its desk.
fn reached(suffered: &Suffered, state: State, link: &str) -> (Box<dyn AsRef<Path>>, Bench, Program) {
    #[cfg(feature = "serial")]
    if link == "can" {
        let homes = state == State::Homing;
        let desk = CanDesk::by(&if homes { homing_rig() } else { rig() }, suffered.by);
        let (bench, program, _) = desk.reach(state, if homes { &["--reference", "homing"] } else { &[] });
        return (Box::new(desk), bench, program);
    }
    let desk = Desk::new();
    let mut bench = desk.bench(link, state.bench());
    let mut program = desk.play_by(&suffered.by, link, &bench.address.clone(), "-12dB", &[]);
    state.reach(&mut bench, &mut program);
    (Box::new(desk), bench, program)
}

fn look(suffered: &Suffered, state: State, link: &str) {
    let name = format!("{}, {}, {link}", suffered.name, state.word());
    let (desk, mut bench, mut program) = reached(suffered, state, link);
    let record = desk.as_ref().as_ref().join("run.mcap");
    // A word that changes nothing, by which the moment is found in what the legs did.
    let word = bench.say("belt 1");
    (suffered.act)(&record, &mut bench, &program);
    pass(if suffered.says.is_empty() { 600 } else { 1800 });
    let let_go = bench.say("presence 0");
    pass(1200);
    let again = bench.say("presence 1");
    pass(700);
    // One that has parked ends by itself.
    if program.child.try_wait().unwrap().is_none() {
        program.say("end");
    }
    program.end();
    let truth: Vec<Truth> = bench.end();
    ends_at_rest(&truth);
    inside_from(if state == State::Homing { 0.430 } else { SHORTEST_M }, &truth, CONTROLLED_M_S2);
    nothing_begins(&truth, again, &name);
    let logged = read_container(&std::fs::read(record).unwrap()).unwrap();
    assert_eq!(logged.cut_off, suffered.says == LOST, "{name}");
    if suffered.says.is_empty() {
        assert!(truth.iter().all(|row| row.fault == 0), "{name}: {}", program.said());
        assert!(!program.said().contains("faulted"), "{name}: {}", program.said());
        let on = |row: &&Truth| row.words >= word && row.words < let_go;
        assert!(truth.iter().filter(on).any(|row| row.power), "{name}: it did not go on");
        return;
    }
    // Of a disk that is full the last words are not in the record.
    let said = program.said();
    let named =
        said.contains(suffered.says) || logged.events.iter().any(|(_, event)| event.contains(suffered.says));
    assert!(named, "{name}: {said}");
    let (rest_s, way_m) = until_rest(&truth, word);
    let most_m = state.speed_m_s() * suffered.slowed_s + 0.0005;
    assert!(rest_s <= suffered.most_s && way_m <= most_m, "{name}: {rest_s} s, {way_m} m of {most_m} m");
    nothing_begins(&truth, let_go, &name);
}

/// Each in each state, over one link now and the next one in the next state. `CUELOOM_ONLY="disk full, homing"` looks at
/// those whose names hold that over all, and `CUELOOM_ONLY=,` at all.
#[test]
fn what_is_suffered_in_any_state_over_any_line_ends_well() {
    let _alone = alone();
    let only = std::env::var("CUELOOM_ONLY").unwrap_or_default();
    let mut cases = Vec::new();
    for (nth, suffered) in ALL.iter().enumerate() {
        for (at, state) in STATES.into_iter().enumerate() {
            let links = suffered.links.iter().enumerate();
            let chosen =
                links.filter(|(link, _)| !only.is_empty() || (nth + at) % suffered.links.len() == *link);
            cases.extend(chosen.map(|(_, link)| (suffered, state, *link)));
        }
    }
    cases.retain(|(suffered, state, link)| {
        format!("{}, {}, {link}", suffered.name, state.word()).contains(&only)
    });
    assert!(!cases.is_empty(), "none is called `{only}`");
    // Far ends in Python work all the while.
    let (slow, quick): (Vec<_>, Vec<_>) = cases.into_iter().partition(|(.., link)| *link == "can");
    at_once(6, &quick, |(suffered, state, link)| look(suffered, *state, link));
    at_once(4, &slow, |(suffered, state, link)| look(suffered, *state, link));
}
