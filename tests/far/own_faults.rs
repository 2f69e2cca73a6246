//! What the program and its computer suffer, and what a line does to frames, in every state in which drives are on, over a
//! network and a serial line: legs come to rest and are braked, or go on as if nothing were; nothing begins by itself.

use super::bench::{Bench, Program, Truth};
use super::desk::{CONTROLLED_M_S2, Desk, SHORTEST_M, alone, ends_at_rest, inside_from};
use super::faults::{nothing_begins, until_rest};
use super::records::{LOST, limit, record};
use super::states::{State, pass};
use super::together::at_once;
use cueloom::record::read_container;
use std::process::Command;

/// What is done, what is said of it (nothing where it goes on), and for how long legs may keep their speed, s.
struct Suffered {
    name: &'static str,
    act: fn(&Desk, &mut Bench, &Program),
    says: &'static str,
    slowed_s: f64,
    most_s: f64,
}

fn signal(program: &Program, name: &str) {
    let id = program.child.id().to_string();
    assert!(Command::new("kill").args([name, &id]).status().unwrap().success());
}

fn fills_up(desk: &Desk, _: &mut Bench, program: &Program) {
    let most = std::fs::metadata(record(desk)).unwrap().len() + 3000;
    limit(program, &format!("--fsize={most}"));
}

const ALL: [Suffered; 5] = [
    Suffered {
        name: "stands still for 2 s",
        act: |_, _, program| {
            signal(program, "-STOP");
            pass(2000);
            signal(program, "-CONT");
        },
        says: "this computer served its cycles too late",
        slowed_s: 0.35,
        most_s: 1.0,
    },
    // A chunk of the record is a tenth of a second, and the path slows for half of one.
    Suffered { name: "disk full", act: fills_up, says: LOST, slowed_s: 1.2, most_s: 2.0 },
    Suffered {
        name: "no more files",
        act: |_, _, program| limit(program, "--nofile=3:3"),
        says: "",
        slowed_s: 0.0,
        most_s: 0.0,
    },
    Suffered {
        name: "frames twice",
        act: |_, bench, _| _ = bench.say("double 1"),
        says: "",
        slowed_s: 0.0,
        most_s: 0.0,
    },
    Suffered {
        name: "frames swapped",
        act: |_, bench, _| _ = bench.say("swap 1"),
        says: "",
        slowed_s: 0.0,
        most_s: 0.0,
    },
];

const STATES: [State; 6] =
    [State::Homing, State::Jogging, State::Engaging, State::Following, State::Holding, State::Parking];

fn look(suffered: &Suffered, state: State, link: &str) {
    let name = format!("{}, {}, {link}", suffered.name, state.word());
    let desk = Desk::new();
    let mut bench = desk.bench(link, state.bench());
    let mut program = desk.play(link, &bench.address.clone(), "-12dB", &[]);
    state.reach(&mut bench, &mut program);
    // A word that changes nothing, by which the moment is found in what the legs did.
    let word = bench.say("belt 1");
    (suffered.act)(&desk, &mut bench, &program);
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
    let logged = read_container(&std::fs::read(record(&desk)).unwrap()).unwrap();
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

/// Each in each state, one over one line and the next over the other. `CUELOOM_ONLY="disk full, homing"` looks at those
/// whose names hold that over both, and `CUELOOM_ONLY=,` at all.
#[test]
fn what_is_suffered_in_any_state_over_any_line_ends_well() {
    let _alone = alone();
    let links: &[&str] = if cfg!(feature = "serial") { &["udp", "serial"] } else { &["udp"] };
    let only = std::env::var("CUELOOM_ONLY").unwrap_or_default();
    let of =
        |state| ALL.iter().flat_map(move |suffered| links.iter().map(move |link| (suffered, state, *link)));
    let mut cases: Vec<_> = STATES.into_iter().flat_map(of).collect();
    cases.retain(|(suffered, state, link)| {
        format!("{}, {}, {link}", suffered.name, state.word()).contains(&only)
    });
    if only.is_empty() {
        let mut at = 0..;
        cases.retain(|_| at.next().is_some_and(|at: usize| at % 2 == at / 2 % 2));
    }
    assert!(!cases.is_empty(), "none is called `{only}`");
    at_once(6, &cases, |(suffered, state, link)| look(suffered, *state, link));
}
