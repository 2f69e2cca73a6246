//! What goes wrong on CAN drives, done for real at the far end of tests/peers/can_nodes.py: legs come to rest inside the
//! rig's limits, braked, and none falls; nothing moves again by itself; and the record names the cause.
//!
//! `CUELOOM_ONLY=silent cargo test --test drives can_faults -- --nocapture` looks at those that are called so, and says
//! how long they took, how far legs went, and how hard they were braked; `CUELOOM_WRITE=1` writes that down.

use super::bench::root;
use super::can_desk::{CanDesk, homing_rig};
use super::can_rig::rig;
use super::desk::{CONTROLLED_M_S2, alone, ends_at_rest, inside};
use super::faults::{Measured, until_rest};
use super::states::{State, pass};
use super::together::at_once;
use cueloom::record::read_container;

/// Runs side by side: each has a far end in Python that works all the while.
const MOST: usize = 4;

/// One fault in one state.
struct Case {
    name: &'static str,
    state: State,
    words: &'static [&'static str],
    /// What the run's states say and what the record has of it; any of these pairs.
    says: &'static [(&'static str, &'static str)],
    /// Until rest, s.
    most_s: f64,
    /// Until it is slowed, s.
    slowed_s: f64,
}

/// Along its path a clock is slowed in half a second; brakes take 0.06 s, and their contacts are told later.
const fn slowed(
    state: State,
    name: &'static str,
    words: &'static [&'static str],
    says: &'static [(&'static str, &'static str)],
) -> Case {
    Case { name, state, words, says, most_s: 1.3, slowed_s: 0.7 }
}

/// Off the path, at once.
const fn braked(
    state: State,
    name: &'static str,
    words: &'static [&'static str],
    says: &'static [(&'static str, &'static str)],
) -> Case {
    Case { name, state, words, says, most_s: 0.9, slowed_s: 0.25 }
}

const LET_GO: &str = "the presence input was let go";
const DRIVE: &str = "a drive reports a fault";
const FAR: &str = "a leg is too far from its set-point";
const END: &str = "a leg is on an end switch";
const FORCE: &str = "a leg's force is not what the plan explains";
const NOT_SET: &str = "the brakes were not confirmed on in time";
const MUTE: &str = "right: the drive sends no reports any more";
const DEAF: &str = "the far end heard nothing for too long";

const CASES: [Case; 17] = [
    slowed(State::Following, "operator lets go", &["presence 0"], &[(LET_GO, LET_GO)]),
    slowed(State::Following, "gate opened", &["gate 0"], &[("a gate is open", "a gate is open")]),
    braked(
        State::Engaging,
        "stop device",
        &["stop 0"],
        &[("a stop device is actuated", "a stop device is actuated")],
    ),
    braked(
        State::Following,
        "following error, statusword",
        &["far 1"],
        &[(FAR, "left: the statusword says: following error")],
    ),
    braked(
        State::Following,
        "following error, drive's own fault",
        &["emergency 2 0x8611"],
        &[(FAR, "right: emergency 0x8611")],
    ),
    braked(State::Engaging, "end switch", &["emergency 1 0x5443"], &[(END, "left: emergency 0x5443")]),
    // Until the brakes are missed for a second the legs are held; that they were closed only the contacts do not say.
    slowed(State::Following, "brake not confirmed", &["stuck 2", "presence 0"], &[(NOT_SET, NOT_SET)]),
    // What the drives report is looked at for 60 ms.
    Case { slowed_s: 0.35, ..braked(State::Following, "snagged cable", &["snag 1 900"], &[(FORCE, FORCE)]) },
    braked(
        State::Following,
        "over-voltage",
        &["emergency 1 0x3210"],
        &[(DRIVE, "left: emergency 0x3210: over-voltage of the DC link")],
    ),
    braked(
        State::Following,
        "mode falls back",
        &["mode 1 1"],
        &[(DRIVE, "left: the drive fell back to mode 0x0001")],
    ),
    // After 0.2 s of silence.
    Case {
        most_s: 1.1,
        slowed_s: 0.5,
        ..braked(State::Following, "drive falls silent", &["mute 2"], &[(DRIVE, MUTE)])
    },
    Case {
        most_s: 1.1,
        slowed_s: 0.5,
        ..braked(State::Jogging, "drive falls silent", &["mute 2"], &[(DRIVE, MUTE)])
    },
    // It stops by its own watchdog; whether that or its silence is seen first is chance.
    Case {
        most_s: 1.1,
        slowed_s: 0.5,
        ..braked(
            State::Following,
            "orders do not arrive",
            &["deaf 2"],
            &[(DRIVE, MUTE), (DEAF, "right: emergency 0x8250"), (DEAF, "right: emergency 0x8130")],
        )
    },
    braked(
        State::Jogging,
        "over-voltage",
        &["emergency 1 0x3210"],
        &[(DRIVE, "left: emergency 0x3210: over-voltage of the DC link")],
    ),
    braked(State::Jogging, "operator lets go", &["presence 0"], &[(LET_GO, LET_GO)]),
    braked(
        State::Homing,
        "encoder fails",
        &["emergency 1 0x7305"],
        &[(DRIVE, "left: emergency 0x7305: encoder")],
    ),
    // It goes on for as long as homing takes, 2 s.
    Case {
        most_s: 3.0,
        slowed_s: 2.2,
        ..braked(
            State::Homing,
            "reference not found",
            &["nohome 2"],
            &[(DRIVE, "right: the drive did not find its reference")],
        )
    },
];

const HEAD: &str = "# Faults of CAN drives, provoked

*Model only.* Written by `CUELOOM_WRITE=1 cargo test --test drives every_fault`. The program on one side, two CiA 402 drives
in Python that are none of ours on the other ([can.md](can.md)), a cycle of 5 ms, silence noticed after 200 ms, for a desktop
is no rig's host; a scene of up to 32 mm/s of a leg under way at -12 dB. Times run from the fault to legs that are still and
braked; ways are the furthest leg's; braking is the hardest of a leg from the fault on, over 10 ms. After each row the cause
was taken away, presence let go and taken hold of again for longer than a warning lasts: nothing began by that, and no leg
fell. On a rig of steel measure them again, as [faults.md](faults.md) says.

| fault | state | time to rest | way | hardest braking |
| --- | --- | --- | --- | --- |
";

fn provoke(case: &Case) -> Measured {
    let homes = case.state == State::Homing;
    let name = format!("{}, {}", case.name, case.state.word());
    let desk = CanDesk::new(&if homes { homing_rig() } else { rig() });
    let arguments: &[&str] = if homes { &["--reference", "homing"] } else { &[] };
    let (mut bench, mut program, at) = desk.reach(case.state, arguments);
    let words: Vec<u32> = case.words.iter().map(|word| bench.say(word)).collect();
    let said: Vec<&str> = case.says.iter().map(|(words, _)| *words).collect();
    program.wait_for_any(&said, at);
    // Brakes are waited for a second at most.
    pass(2500);
    // What caused it goes away, the presence input is held: nothing may begin by that, with a warning of 3 s first.
    let cleared = bench.say("clear");
    for word in ["gate 1", "stop 1", "presence 0"] {
        bench.say(word);
    }
    pass(200);
    bench.say("presence 1");
    pass(3800);
    program.say("end");
    program.end();
    let said = program.said();
    let truth = bench.end();
    ends_at_rest(&truth);
    let from = truth.iter().position(|row| row.words >= words[0]).unwrap();
    let (_, hardest_m_s2) = inside(&truth[from..], CONTROLLED_M_S2);
    let (rest_s, way_m) = until_rest(&truth, words[0]);
    let measured = Measured { rest_s, way_m, hardest_m_s2 };
    eprintln!("{name}: {}", measured.columns());
    assert!(rest_s <= case.most_s, "{name}: {rest_s} s\n{said}");
    let most_m = case.state.speed_m_s() * case.slowed_s + 0.0005;
    assert!(way_m <= most_m, "{name}: {way_m} m, expected at most {most_m} m\n{said}");
    assert_eq!(truth.last().unwrap().fault, 0, "{name}: a leg fell, um\n{said}");
    let moves = |row: &super::bench::Truth| !row.braked || row.speed_m_s.iter().any(|v| v.abs() > 1e-4);
    let after = || truth.windows(2).filter(|pair| pair[0].words >= cleared);
    let (first, last) = (after().next().unwrap()[0].time_s, truth.last().unwrap().time_s);
    assert!(last - first > 3.5, "{name}: looked for {} s", last - first);
    let begun = after().find(|pair| pair[1].warning || moves(&pair[1]) || (pair[1].power && !pair[0].power));
    assert!(begun.is_none(), "{name}: something began afterwards: {begun:?}\n{said}");
    let logged = read_container(&std::fs::read(desk.folder().join("run.mcap")).unwrap()).unwrap();
    let has = |words: &str| logged.events.iter().any(|(_, event)| event.contains(words));
    let named = case.says.iter().any(|(state, cause)| has(state) && has(cause));
    assert!(named && !logged.cut_off, "{name}: {:?}", logged.events);
    measured
}

#[test]
fn every_fault_on_can_ends_at_rest_and_is_named() {
    let _alone = alone();
    let only = std::env::var("CUELOOM_ONLY").unwrap_or_default();
    let cases: Vec<&Case> = CASES.iter().filter(|case| case.name.contains(&only)).collect();
    let measured = at_once(MOST, &cases, |case| provoke(case));
    if std::env::var_os("CUELOOM_WRITE").is_some() && only.is_empty() {
        let row = |(case, measured): (&&Case, &Measured)| {
            format!("| {} | {} | {} |\n", case.name, case.state.word(), measured.columns())
        };
        let rows: String = cases.iter().zip(&measured).map(row).collect();
        std::fs::write(root().join("docs/faults-can.md"), format!("{HEAD}{rows}")).unwrap();
    }
}
