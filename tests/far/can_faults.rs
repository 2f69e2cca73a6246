//! What goes wrong on CAN drives, done for real at the far end of tests/peers/can_nodes.py: legs come to rest inside the
//! rig's limits, braked, and none falls; nothing moves again by itself; and the record names the cause.
//!
//! `CUELOOM_ONLY=silent cargo test --test drives can_faults -- --nocapture` looks at those that are called so, and says
//! how long they took, how far legs went, and how hard they were braked; `CUELOOM_WRITE=1` writes that down.

use super::bench::{Truth, root};
use super::can_desk::{CanDesk, homing_rig};
use super::can_rig::rig;
use super::desk::{CONTROLLED_M_S2, alone, ends_at_rest, inside};
use super::faults::{Measured, until_rest};
use super::states::{State, pass};
use super::together::at_once;
use cueloom::record::read_container;

/// Runs side by side: each has a far end in Python that works all the while.
const MOST: usize = 4;

/// What the run's states say and what the record has of it; any of these pairs.
type Says = &'static [(&'static str, &'static str)];

/// How the far end is told, what must be said of it, how long it may take to rest and until it is slowed, s, in which
/// states it is provoked where legs may move, and what is said where brakes are on and drives off; there nothing may move
/// whatever comes.
struct Fault {
    name: &'static str,
    words: &'static [&'static str],
    says: Says,
    most_s: f64,
    slowed_s: f64,
    moving: &'static [State],
    at_rest: &'static [&'static str],
}

/// Those in which legs may move.
const ALL: &[State] =
    &[State::Homing, State::Jogging, State::Engaging, State::Following, State::Holding, State::Parking];

/// Those in which this program leads the drives; where they find their reference they lead themselves.
const LED: &[State] = &[State::Jogging, State::Engaging, State::Following, State::Holding, State::Parking];

/// Those on a path that was planned.
const ON_PATHS: &[State] = &[State::Engaging, State::Following, State::Holding, State::Parking];

/// Along its path a clock is slowed in half a second; brakes take 0.06 s, and their contacts are told later.
const fn slowed(name: &'static str, words: &'static [&'static str], says: Says) -> Fault {
    Fault { name, words, says, most_s: 1.3, slowed_s: 0.7, moving: ALL, at_rest: &[] }
}

/// Off the path, at once.
const fn braked(name: &'static str, words: &'static [&'static str], says: Says) -> Fault {
    Fault { name, words, says, most_s: 0.9, slowed_s: 0.25, moving: ALL, at_rest: &[] }
}

/// After 0.2 s of silence.
const fn silent(name: &'static str, words: &'static [&'static str], says: Says) -> Fault {
    Fault { name, words, says, most_s: 1.1, slowed_s: 0.5, moving: ALL, at_rest: &[] }
}

const LET_GO: &str = "the presence input was let go";
const GATE: &str = "a gate is open";
const MAT: &str = "a mat is stepped on";
const BELT: &str = "the belt is open";
const STOP: &str = "a stop device is actuated";
const DRIVE: &str = "a drive reports a fault";
const FAR: &str = "a leg is too far from its set-point";
const END: &str = "a leg is on an end switch";
const FORCE: &str = "a leg's force is not what the plan explains";
const NOT_SET: &str = "the brakes were not confirmed on in time";
const MUTE: &str = "right: the drive sends no reports any more";
const DEAF: &str = "the far end heard nothing for too long";
const MOVED: &str = "the legs were moved while the drives were off";
const SLIPS: &str = "legs move although the brakes are on";
const SILENT: &str = "the link fell silent";
const WATCHDOGS: [&str; 2] = ["emergency 0x8250", "emergency 0x8130"];
/// It knows nothing any more of what it shall report, its brake for one.
const BOOT: &str = "drive begins anew";
const ANEW: &str = "right: the drive began anew by itself";

const FAULTS: [Fault; 20] = [
    slowed("operator lets go", &["presence 0"], &[(LET_GO, LET_GO)]),
    slowed("gate opened", &["gate 0"], &[(GATE, GATE)]),
    slowed("mat stepped on", &["mat 0"], &[(MAT, MAT)]),
    slowed("belt opened", &["belt 0"], &[(BELT, BELT)]),
    Fault { at_rest: &[STOP], ..braked("stop device", &["stop 0"], &[(STOP, STOP)]) },
    Fault {
        moving: LED,
        ..braked(
            "following error, statusword",
            &["far 1"],
            &[(FAR, "left: the statusword says: following error")],
        )
    },
    Fault {
        at_rest: &["right: emergency 0x8611"],
        ..braked(
            "following error, drive's own fault",
            &["emergency 2 0x8611"],
            &[(FAR, "right: emergency 0x8611")],
        )
    },
    Fault {
        at_rest: &["left: emergency 0x5443"],
        ..braked("end switch", &["emergency 1 0x5443"], &[(END, "left: emergency 0x5443")])
    },
    // Until the brakes are missed for a second the legs are held; that they were closed only the contacts do not say.
    slowed("brake not confirmed", &["stuck 2", "presence 0"], &[(NOT_SET, NOT_SET)]),
    // What the drives report is looked at for 60 ms.
    Fault { slowed_s: 0.35, moving: ON_PATHS, ..braked("snagged cable", &["snag 1 900"], &[(FORCE, FORCE)]) },
    Fault {
        at_rest: &["left: emergency 0x3210: over-voltage of the DC link"],
        ..braked(
            "over-voltage",
            &["emergency 1 0x3210"],
            &[(DRIVE, "left: emergency 0x3210: over-voltage of the DC link")],
        )
    },
    Fault {
        at_rest: &["left: emergency 0x7305: encoder"],
        ..braked("encoder fails", &["emergency 1 0x7305"], &[(DRIVE, "left: emergency 0x7305: encoder")])
    },
    braked("mode falls back", &["mode 1 1"], &[(DRIVE, "left: the drive fell back to mode 0x0001")]),
    Fault { at_rest: &[ANEW], ..braked(BOOT, &["boot 2"], &[(DRIVE, ANEW)]) },
    Fault { at_rest: &[MUTE], ..silent("drive falls silent", &["mute 2"], &[(DRIVE, MUTE)]) },
    // They stop by their own watchdogs; whether that or their silence is seen first is chance.
    Fault {
        at_rest: &[MUTE, WATCHDOGS[0], WATCHDOGS[1]],
        ..silent(
            "orders do not arrive",
            &["deaf 2"],
            &[(DRIVE, MUTE), (DEAF, WATCHDOGS[0]), (DEAF, WATCHDOGS[1])],
        )
    },
    Fault {
        at_rest: &[SILENT, WATCHDOGS[0], WATCHDOGS[1]],
        ..silent(
            "orders come 400 ms late",
            &["late 400"],
            &[(SILENT, SILENT), (DEAF, WATCHDOGS[0]), (DEAF, WATCHDOGS[1])],
        )
    },
    Fault { at_rest: &[SILENT], ..silent("adapter pulled", &["unplug"], &[(SILENT, SILENT)]) },
    // It goes on for as long as homing takes, 2 s.
    Fault {
        most_s: 3.0,
        slowed_s: 2.2,
        moving: &[State::Homing],
        ..braked(
            "reference not found",
            &["nohome 2"],
            &[(DRIVE, "right: the drive did not find its reference")],
        )
    },
    // At once: so quickly that it looks like a brake that slips.
    Fault { moving: &[], at_rest: &[MOVED, SLIPS], ..braked("moved by hand", &["push 1 5000"], &[]) },
];

/// One fault in one state.
struct Case {
    fault: &'static Fault,
    state: State,
}

/// What every run of the tests looks at besides all faults while following.
const CHOSEN: [(&str, State); 12] = [
    ("encoder fails", State::Homing),
    ("reference not found", State::Homing),
    ("operator lets go", State::Jogging),
    ("over-voltage", State::Jogging),
    ("drive falls silent", State::Jogging),
    ("stop device", State::Engaging),
    ("end switch", State::Engaging),
    ("adapter pulled", State::Holding),
    ("gate opened", State::Parking),
    ("moved by hand", State::Parked),
    ("drive falls silent", State::Braked),
    ("over-voltage", State::Stopped),
];

/// Every fault while following; `all` of the rest, or the chosen.
fn cases(all: bool) -> Vec<Case> {
    let of = |state| {
        let here = move |fault: &&Fault| {
            let fits = fault.moving.contains(&state) || state.rests();
            fits && (all || state == State::Following || CHOSEN.contains(&(fault.name, state)))
        };
        FAULTS.iter().filter(here).map(move |fault| Case { fault, state })
    };
    State::ALL.into_iter().flat_map(of).collect()
}

impl Case {
    fn name(&self) -> String {
        format!("{}, {}", self.fault.name, self.state.word())
    }

    /// What the run says, and what the record has of it; nothing new where what came before has not been acknowledged.
    fn says(&self) -> Vec<(&'static str, &'static str)> {
        let latched = [State::Stopped, State::Faulted].contains(&self.state);
        match self.state.rests() {
            true if latched || self.fault.at_rest.is_empty() => vec![("", "")],
            true => self.fault.at_rest.iter().map(|cause| ("", *cause)).collect(),
            false => self.fault.says.to_vec(),
        }
    }
}

const HEAD: &str = "# Faults of CAN drives, provoked

*Model only.* Written by `CUELOOM_WRITE=1 cargo test --test drives every_fault`, which looks at every row; without the
variable it looks at those while following and at a dozen others. The program on one side, two CiA 402 drives
in Python that are none of ours on the other ([can.md](can.md)), a cycle of 5 ms, silence noticed after 200 ms, for a desktop
is no rig's host; a scene of up to 32 mm/s of a leg under way at -12 dB. Times run from the fault to legs that are still and
braked; ways are the furthest leg's; braking is the hardest of a leg from the fault on, over 10 ms. After each row the cause
was taken away, presence let go and taken hold of again for longer than a warning lasts: nothing began by that, and no leg
fell. On a rig of steel measure them again, as [faults.md](faults.md) says.

| fault | state | time to rest | way | hardest braking |
| --- | --- | --- | --- | --- |
";

/// The fault, then its cause taken away and everything held: what the far end saw, and from which words on.
fn provoked(case: &Case, name: &str) -> (Vec<Truth>, [u32; 2]) {
    let homes = case.state == State::Homing;
    let desk = CanDesk::new(&if homes { homing_rig() } else { rig() });
    let arguments: &[&str] = if homes { &["--reference", "homing"] } else { &[] };
    let (mut bench, mut program, at) = desk.reach(case.state, arguments);
    let words: Vec<u32> = case.fault.words.iter().map(|word| bench.say(word)).collect();
    let says = case.says();
    let said: Vec<&str> = says.iter().map(|(words, _)| *words).collect();
    program.wait_for_any(&said, at);
    // Brakes are waited for a second at most.
    pass(2500);
    // What caused it goes away, the presence input is held: nothing may begin by that, with a warning of 3 s first.
    let cleared = bench.say("clear");
    for word in ["gate 1", "mat 1", "belt 1", "stop 1", "presence 0"] {
        bench.say(word);
    }
    pass(200);
    bench.say("presence 1");
    pass(3800);
    if case.fault.name == BOOT && !case.state.rests() {
        // Nothing is heard of a brake: whoever has looked at the legs ends that.
        assert!(program.said().contains("without torque, brakes not known to be on"), "{name}");
        bench.say("stop 0");
        pass(1500);
    }
    // One whose adapter is gone may have ended by itself.
    if program.child.try_wait().unwrap().is_none() {
        program.say("end");
    }
    program.end();
    let logged = read_container(&std::fs::read(desk.folder().join("run.mcap")).unwrap()).unwrap();
    let has = |words: &str| logged.events.iter().any(|(_, event)| event.contains(words));
    let named = says.iter().any(|(state, cause)| has(state) && has(cause));
    assert!(named && !logged.cut_off, "{name}: {:?}\n{}", logged.events, program.said());
    (bench.end(), [words[0], cleared])
}

fn moves(row: &Truth) -> bool {
    row.speed_m_s.iter().any(|v| v.abs() > 1e-4)
}

/// Nothing of what an act begins with: its warning, torque, brakes that open, motion.
fn nothing_begins(truth: &[Truth], from: u32, name: &str) {
    let mut after = truth.windows(2).filter(|pair| pair[0].words >= from);
    let begun = after.find(|pair| {
        pair[1].warning || moves(&pair[1]) || !pair[1].braked || (pair[1].power && !pair[0].power)
    });
    assert!(begun.is_none(), "{name}: something began: {begun:?}");
}

fn provoke(case: &Case) -> Measured {
    let (fault, state, name) = (case.fault, case.state, case.name());
    let (truth, [word, cleared]) = provoked(case, &name);
    ends_at_rest(&truth);
    let from = truth.iter().position(|row| row.words >= word).unwrap();
    let (_, hardest_m_s2) = inside(&truth[from..], CONTROLLED_M_S2);
    assert_eq!(truth.last().unwrap().fault, 0, "{name}: a leg fell, um");
    let first_s = truth.iter().find(|row| row.words >= cleared).unwrap().time_s;
    let looked_s = truth.last().unwrap().time_s - first_s;
    assert!(looked_s > 3.5, "{name}: looked for {looked_s} s");
    if state.rests() {
        nothing_begins(&truth, word, &name);
        assert!(truth[from..].iter().all(|row| row.braked && !row.power), "{name}: not at rest");
        eprintln!("{name}: stands");
        return Measured { rest_s: 0.0, way_m: 0.0, hardest_m_s2: 0.0 };
    }
    let (rest_s, way_m) = until_rest(&truth, word);
    let measured = Measured { rest_s, way_m, hardest_m_s2 };
    eprintln!("{name}: {}", measured.columns());
    assert!(rest_s <= fault.most_s, "{name}: {rest_s} s");
    let most_m = state.speed_m_s() * fault.slowed_s + 0.0005;
    assert!(way_m <= most_m, "{name}: {way_m} m, expected at most {most_m} m");
    nothing_begins(&truth, cleared, &name);
    measured
}

#[test]
fn every_fault_on_can_ends_at_rest_and_is_named() {
    let _alone = alone();
    let write = std::env::var_os("CUELOOM_WRITE").is_some();
    let only = std::env::var("CUELOOM_ONLY").unwrap_or_default();
    let mut cases = cases(write || !only.is_empty());
    cases.retain(|case| case.name().contains(&only));
    assert!(!cases.is_empty() && (only.is_empty() || !write), "`{only}` are not all");
    let measured = at_once(MOST, &cases, provoke);
    if write {
        let row = |(case, measured): (&Case, &Measured)| {
            let columns = match case.state.rests() {
                true => "stands | stands | stands".to_string(),
                false => measured.columns(),
            };
            format!("| {} | {} | {columns} |\n", case.fault.name, case.state.word())
        };
        let rows: String = cases.iter().zip(&measured).map(row).collect();
        std::fs::write(root().join("docs/faults-can.md"), format!("{HEAD}{rows}")).unwrap();
    }
}

/// The page has the grid as it stands above, row by row, and nothing that is not looked at any more.
#[test]
fn the_page_has_every_fault_on_can_in_every_state() {
    let page = std::fs::read_to_string(root().join("docs/faults-can.md")).unwrap();
    let rows = page.strip_prefix(HEAD).expect("the words before its rows");
    let of = |case: &Case| format!("| {} | {} | ", case.fault.name, case.state.word());
    let grid = cases(true);
    assert!(rows.lines().zip(&grid).all(|(row, case)| row.starts_with(&of(case))), "write the page anew");
    assert_eq!(rows.lines().count(), grid.len());
}
