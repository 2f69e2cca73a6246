//! What goes wrong on drives, done for real at the far end, in every state: the legs come to rest inside the rig's
//! limits and the joint's ranges, along their line where the far end stops by itself, braked; nothing moves again by
//! itself; and the record names the cause.
//!
//! `CUELOOM_WRITE=1 cargo test --test drives every_fault` goes through the whole grid, and writes the table of
//! docs/faults.md anew from what it measures. `CUELOOM_ONLY="slips, jogging"` looks at those whose names hold that.

use super::bench::{Truth, root};
use super::desk::{
    CONTROLLED_M_S2, Desk, SHORTEST_M, alone, beside_others, ends_at_rest, inside, inside_from,
};
use super::states::{State, pass};
use super::together::{all_at_once, at_once};
use cueloom::player::wait;
use cueloom::record::read_container;
use std::fmt::Write as _;
use std::time::Duration;

/// How the far end is told, what the program must say, how long it may take to rest and until it is slowed, s, in which
/// states besides following it is provoked where legs move, and what is said where brakes are on and drives off; there
/// nothing may move whatever comes.
struct Fault {
    name: &'static str,
    words: &'static [&'static str],
    says: &'static str,
    most_s: f64,
    slowed_s: f64,
    elsewhere: &'static [State],
    at_rest: &'static str,
}

/// Runs side by side that two processors bear.
const MOST: usize = 6;

/// In all states in which legs may move but following, which is always looked at.
const ALL: &[State] = &[State::Homing, State::Jogging, State::Engaging, State::Holding, State::Parking];

/// Homing looks for the switch, and a jog is what brings a leg off it.
const ON_PATHS: &[State] = &[State::Engaging, State::Holding, State::Parking];

/// Along its path a clock is slowed in half a second, and brakes take 0.1 s.
const fn slowed(name: &'static str, words: &'static [&'static str], says: &'static str) -> Fault {
    Fault { name, words, says, most_s: 1.2, slowed_s: 0.6, elsewhere: ALL, at_rest: "" }
}

/// Off the path, at once.
const fn braked(name: &'static str, words: &'static [&'static str], says: &'static str) -> Fault {
    Fault { name, words, says, most_s: 0.8, slowed_s: 0.15, elsewhere: ALL, at_rest: "" }
}

/// Silence is noticed after 0.2 s here, for a desktop is no rig's host.
const fn silent(name: &'static str, words: &'static [&'static str], says: &'static str) -> Fault {
    Fault { name, words, says, most_s: 1.0, slowed_s: 0.35, elsewhere: ALL, at_rest: "" }
}

const DEAF: &str = "the far end heard nothing for too long";
const SILENT: &str = "the link fell silent";
const DRIVE: &str = "a drive reports a fault";
const FORCE: &str = "a leg's force is not what the plan explains";
const HOT: &str = "a drive or motor is too hot";
const MOVED: &str = "the legs were moved while the drives were off";

/// Brakes that close, whatever they are told, and are not confirmed, neither on nor off.
const STUCK: &str = "brakes close unconfirmed";

const FAULTS: [Fault; 18] = [
    slowed("operator lets go", &["presence 0"], "the presence input was let go"),
    slowed("gate opened", &["gate 0"], "a gate is open"),
    slowed("mat stepped on", &["mat 0"], "a mat is stepped on"),
    slowed("belt opened", &["belt 0"], "the belt is open"),
    Fault {
        at_rest: "a stop device is actuated",
        ..braked("stop device", &["stop 0"], "a stop device is actuated")
    },
    Fault { at_rest: DRIVE, ..braked("drive fault bit", &["fault 1"], DRIVE) },
    braked("torque goes without a word", &["torque 1"], DRIVE),
    Fault { at_rest: HOT, ..slowed("too hot", &["hot 2"], HOT) },
    Fault { elsewhere: ON_PATHS, ..braked("end switch", &["switch 1"], "a leg is on an end switch") },
    Fault { at_rest: "brakes were not confirmed", ..braked(STUCK, &["stick 1"], "brake") },
    Fault {
        at_rest: MOVED,
        ..braked("encoder slips", &["slip 1 30000"], "a leg is too far from its set-point")
    },
    Fault { elsewhere: &[], at_rest: MOVED, ..braked("moved by hand", &["push 1 5000"], "") },
    // What the drives report is looked at for 60 ms.
    Fault { slowed_s: 0.25, elsewhere: ON_PATHS, ..braked("snagged cable", &["snag 1 900"], FORCE) },
    Fault { at_rest: SILENT, ..silent("far end falls silent", &["mute 1"], SILENT) },
    Fault { at_rest: SILENT, ..silent("answers come 400 ms late", &["slow 400"], SILENT) },
    silent("orders do not arrive", &["deaf 1"], DEAF),
    silent("orders arrive damaged", &["corrupt 1"], DEAF),
    silent("orders come 400 ms late", &["late 400"], DEAF),
];

/// One fault in one state over one link.
struct Case {
    fault: &'static Fault,
    state: State,
    link: &'static str,
}

/// What every run of the tests looks at besides all faults while following over a network.
const CHOSEN: [(&str, State, &str); 27] = [
    ("operator lets go", State::Homing, "udp"),
    ("far end falls silent", State::Homing, "udp"),
    ("torque goes without a word", State::Homing, "udp"),
    ("gate opened", State::Jogging, "udp"),
    ("orders do not arrive", State::Jogging, "udp"),
    ("encoder slips", State::Jogging, "udp"),
    ("belt opened", State::Engaging, "udp"),
    ("drive fault bit", State::Engaging, "udp"),
    ("far end falls silent", State::Engaging, "udp"),
    ("mat stepped on", State::Holding, "udp"),
    ("end switch", State::Holding, "udp"),
    ("encoder slips", State::Holding, "udp"),
    ("stop device", State::Parking, "udp"),
    ("orders arrive damaged", State::Parking, "udp"),
    (STUCK, State::Parking, "udp"),
    ("moved by hand", State::Parked, "udp"),
    ("mat stepped on", State::Parked, "udp"),
    ("drive fault bit", State::Parked, "udp"),
    (STUCK, State::Parked, "udp"),
    ("far end falls silent", State::Braked, "udp"),
    ("moved by hand", State::Braked, "udp"),
    ("gate opened", State::Stopped, "udp"),
    ("orders do not arrive", State::Faulted, "udp"),
    ("far end falls silent", State::Following, "serial"),
    ("orders come 400 ms late", State::Following, "serial"),
    ("orders arrive damaged", State::Following, "serial"),
    ("encoder slips", State::Homing, "serial"),
];

/// Every fault while following over a network; `all` of the rest, or the chosen.
fn cases(all: bool) -> Vec<Case> {
    let mut cases = Vec::new();
    for state in State::ALL {
        for link in ["udp", "serial"] {
            if link == "serial" && cfg!(not(feature = "serial")) {
                continue;
            }
            let plain = state == State::Following && link == "udp";
            let fits = |fault: &&Fault| {
                // What nothing is said of while legs move is for rest only.
                let moves = state == State::Following && !fault.says.is_empty();
                let here = moves || fault.elsewhere.contains(&state) || state.rests();
                let chosen = || CHOSEN.contains(&(fault.name, state, link));
                here && (plain || all || chosen())
            };
            cases.extend(FAULTS.iter().filter(fits).map(|fault| Case { fault, state, link }));
        }
    }
    cases
}

pub(crate) struct Measured {
    pub(crate) rest_s: f64,
    pub(crate) way_m: f64,
    pub(crate) hardest_m_s2: f64,
}

impl Measured {
    /// As columns of a table.
    pub(crate) fn columns(&self) -> String {
        let (rest_s, way_mm, hardest) = (self.rest_s, self.way_m * 1e3, self.hardest_m_s2);
        format!("{rest_s:.2} s | {way_mm:.1} mm | {hardest:.1} m/s^2")
    }
}

/// From the word on: until all legs are braked and still, and how far the furthest leg went.
pub(crate) fn until_rest(truth: &[Truth], word: u32) -> (f64, f64) {
    until(truth, word, |row| moves(row) || !row.braked)
}

fn moves(row: &Truth) -> bool {
    row.speed_m_s.iter().any(|speed| speed.abs() > 1e-3)
}

fn until(truth: &[Truth], word: u32, moving: impl Fn(&Truth) -> bool) -> (f64, f64) {
    let first = truth.iter().position(|row| row.words >= word).unwrap();
    let last = truth.iter().rposition(moving).unwrap_or(first).max(first);
    let way = |leg: usize| (truth[last].at_m[leg] - truth[first].at_m[leg]).abs();
    (truth[last].time_s - truth[first].time_s, way(0).max(way(1)))
}

/// How fast legs leave the line of a stop of the far end's own before brakes close, as a share of their speed when it
/// begins; of one from less than 10 mm/s nothing is told.
fn off_line(truth: &[Truth]) -> f64 {
    let Some(begins) = truth.iter().position(|row| row.state == 5) else { return 0.0 };
    let [a, b] = truth[begins].speed_m_s;
    let square = a * a + b * b;
    let stop = truth[begins..].iter().take_while(|row| row.state == 5 && row.brakes == [false, false]);
    let across = stop.map(|row| (row.speed_m_s[0] * b - row.speed_m_s[1] * a).abs());
    if square > 1e-4 { across.fold(0.0, f64::max) / square } else { 0.0 }
}

impl Case {
    /// A leg without torque is left to its load until its brake has closed; and brakes may close on legs that move.
    fn falls(&self) -> bool {
        ["drive fault bit", "torque goes without a word", STUCK].contains(&self.fault.name)
    }

    fn name(&self) -> String {
        format!("{}, {}, {}", self.fault.name, self.state.word(), self.link)
    }

    /// How long it may take to rest, s. Where legs creep by themselves a far end that is not heard is told to hold, and
    /// its power is removed a second later.
    fn most_s(&self) -> f64 {
        let creeps = matches!(self.state, State::Homing | State::Jogging);
        let more_s = if creeps && self.fault.says == SILENT { 1.0 } else { 0.0 };
        self.fault.most_s + more_s
    }

    /// How hard a leg may be braked, m/s^2. One without torque is left to its load until its brake has closed, and the
    /// brake of the bench takes 20.
    fn hardest_m_s2(&self) -> f64 {
        if self.falls() || self.most_s() > self.fault.most_s { 25.0 } else { CONTROLLED_M_S2 }
    }

    /// How far a leg may go, m: at the state's speed until it is slowed, half as far while it is, and what it falls.
    fn furthest_m(&self) -> f64 {
        let falls_m = if self.hardest_m_s2() > CONTROLLED_M_S2 { 0.0025 } else { 0.0005 };
        self.state.speed_m_s() * self.fault.slowed_s + falls_m
    }
}

/// Nothing of what an act begins with: its warning, torque, brakes that open, motion. That torque ends which held the
/// legs while nothing was heard of brakes is none.
pub(crate) fn nothing_begins(truth: &[Truth], from: u32, name: &str) {
    let after = truth.windows(2).filter(|pair| pair[0].words >= from);
    let opens = |pair: &[Truth]| (0..2).any(|leg| pair[0].brakes[leg] && !pair[1].brakes[leg]);
    let begun = after
        .into_iter()
        .find(|pair| pair[1].warning || moves(&pair[1]) || opens(pair) || (pair[1].power && !pair[0].power));
    assert!(begun.is_none(), "{name}: something began: {begun:?}");
}

/// The fault, then its cause taken away and everything held: what the far end saw, and from which words on.
fn provoked(case: &Case, name: &str) -> (Vec<Truth>, [u32; 2]) {
    let (fault, state) = (case.fault, case.state);
    let desk = Desk::new();
    let mut bench = desk.bench(case.link, state.bench());
    let mut program = desk.play(case.link, &bench.address.clone(), "-12dB", &[]);
    let at = state.reach(&mut bench, &mut program);
    let mut word = 0;
    for told in fault.words {
        word = bench.say(told);
    }
    let latched = [State::Stopped, State::Faulted].contains(&state);
    let says = match state.rests() {
        true if latched => "",
        true => fault.at_rest,
        false => fault.says,
    };
    program.wait_for(says, at);
    pass(1800);
    // What caused it goes away, the presence input is held: nothing may begin by that.
    let cleared = bench.say("clear");
    for name in ["gate 1", "mat 1", "belt 1", "stop 1", "presence 0"] {
        bench.say(name);
    }
    pass(200);
    bench.say("presence 1");
    pass(700);
    // One at rest that lost its far end ends by itself.
    if program.child.try_wait().unwrap().is_none() {
        program.say("end");
    }
    program.end();
    let logged = read_container(&std::fs::read(desk.folder.path().join("run.mcap")).unwrap()).unwrap();
    let named = logged.events.iter().any(|(_, words)| words.contains(says));
    assert!(named && !logged.cut_off, "{name}: {:?}\n{}", logged.events, program.said());
    (bench.end(), [word, cleared])
}

fn provoke(case: &Case) -> Measured {
    let (fault, state) = (case.fault, case.state);
    let name = case.name();
    let (truth, [word, cleared]) = provoked(case, &name);
    ends_at_rest(&truth);
    let from = truth.iter().position(|row| row.words >= word).unwrap();
    let shortest_m = if state == State::Homing { 0.430 } else { SHORTEST_M };
    let most_m_s2 = if state.rests() { CONTROLLED_M_S2 } else { case.hardest_m_s2() };
    // That state is come to by a drive's fault.
    let before_m_s2 = if state == State::Faulted { 25.0 } else { CONTROLLED_M_S2 };
    inside_from(shortest_m, &truth[..from], before_m_s2);
    let (_, hardest_m_s2) = inside_from(shortest_m, &truth[from..], most_m_s2);
    if state.rests() {
        nothing_begins(&truth, word, &name);
        assert!(
            truth[from..].iter().all(|row| row.braked && !row.power && !moves(row)),
            "{name}: not at rest"
        );
        return Measured { rest_s: 0.0, way_m: 0.0, hardest_m_s2: 0.0 };
    }
    let (rest_s, way_m) =
        if fault.name == STUCK { until(&truth, word, moves) } else { until_rest(&truth, word) };
    assert!(rest_s <= case.most_s(), "{name}: {rest_s} s");
    assert!(way_m <= case.furthest_m(), "{name}: {way_m} m, expected at most {} m", case.furthest_m());
    let off_line = off_line(&truth[from..]);
    assert!(off_line < 0.15 || case.falls(), "{name}: {off_line} off the line of its stop");
    nothing_begins(&truth, cleared, &name);
    Measured { rest_s, way_m, hardest_m_s2 }
}

#[test]
fn every_fault_ends_at_rest_and_is_named() {
    let _alone = alone();
    let write = std::env::var_os("CUELOOM_WRITE").is_some();
    let only = std::env::var("CUELOOM_ONLY").unwrap_or_default();
    let mut cases = cases(write || !only.is_empty());
    cases.retain(|case| case.name().contains(&only));
    assert!(!cases.is_empty() && (only.is_empty() || !write), "`{only}` are not all");
    let measured = at_once(MOST, &cases, provoke);
    if write {
        let mut text = String::from(HEAD);
        for (case, m) in cases.iter().zip(&measured) {
            let row = match case.state.rests() {
                true => "stands | stands | stands".to_string(),
                false => m.columns(),
            };
            let _ = writeln!(text, "| {} | {} | {} | {row} |", case.fault.name, case.state.word(), case.link);
        }
        text += TAIL;
        std::fs::write(root().join("docs/faults.md"), text).unwrap();
    }
}

const HEAD: &str = "# Faults, provoked

*Model only.* Written by `CUELOOM_WRITE=1 cargo test --test drives every_fault`, which looks at every row; without the
variable it looks at those while following over a network and at two dozen others. The program on one side, the reference
receiver of `controller/` with simulated legs on the other, a scene of up to 32 mm/s of a leg under way at -12 dB, the
link's patience set to 200 ms because a desktop is no rig's host. Holding is a pause in place, brakes off. Times run from
the fault to legs that are still and braked; ways are the furthest leg's; braking is the hardest of a leg from the fault
on, over 10 ms. After each row the cause was taken away, presence let go and taken hold of again: nothing began by that.
CAN drives have [a page of their own](faults-can.md). On a rig of steel measure them again: a camera or the drives' own
scope, each fault provoked with the seat empty, from the fault to standing brakes.

| fault | state | link | time to rest | way | hardest braking |
| --- | --- | --- | --- | --- | --- |
";

const TAIL: &str = "
A leg whose drive gives up, or whose power is removed (homing and jogging beside a far end that is not heard), is left to
its load until its brake has closed, 30 ms later: that is the braking beyond 5 m/s^2, and 1 to 2 mm of the way. Which way
the load drives it makes it more where the leg gets shorter.

# Faults of the program and its computer

Looked at in every run of the tests, at the far end and in the record (`tests/far/`):

| what | what becomes of it |
| --- | --- |
| killed at any instant | the far end stops by itself and brakes; the record is good to its last tenths of a second |
| stands still for less than the link's patience | legs ride through: what came late is caught up with, and no set-point steps back; on CAN, where set-points carry no date, the path goes on from where it was, one set-point a cycle |
| stands still for longer | the far end stops by itself; when the program goes on it ends the run, and names itself and not the link |
| the record's disk becomes full, or is full from the first | the run ends along its path, or does not begin; nothing moves until the program is begun anew |
| the record is taken by nobody | the same once 4 s of it wait; no cycle waits |
| no file can be opened any more | before: it does not begin, in words; under way: it goes on, and says what could not be kept |
| the wall clock is set an hour forth and back | nothing notices: cycles and records count the monotonic clock |
| frames come twice, or in another order | nothing notices |
| another rig answers, or drives with other parameters | it is said, and nothing begins; under way the run ends as at silence |

Standing still for longer, a full disk, no more files, a clock that is set, and frames twice are provoked in every state in
which drives are on, over a network, a serial line and CAN; frames in another order (a bus keeps them in order) and another
rig that answers (on a bus it begins with its boot-up: see [there](faults-can.md)) over a network and a serial line.

The audio device lost while a scene is played was looked at by hand (a sound server that was killed): nothing on the drives
notices, for the sound goes by the path and never the path by the sound.
";

/// The page has the grid as it stands above, row by row, and nothing that is not looked at any more.
#[test]
#[cfg(feature = "serial")]
fn the_page_has_every_fault_in_every_state() {
    let page = std::fs::read_to_string(root().join("docs/faults.md")).unwrap();
    let rows =
        page.strip_prefix(HEAD).and_then(|rest| rest.strip_suffix(TAIL)).expect("the words around its rows");
    let of = |case: &Case| format!("| {} | {} | {} | ", case.fault.name, case.state.word(), case.link);
    let grid = cases(true);
    assert!(rows.lines().zip(&grid).all(|(row, case)| row.starts_with(&of(case))), "write the page anew");
    assert_eq!(rows.lines().count(), grid.len());
}

/// A jog is one word that lasts; those after it are heard meanwhile.
#[test]
fn a_word_is_heard_while_a_jog_is_under_way() {
    let _shared = beside_others();
    let desk = Desk::new();
    let mut bench = desk.bench("udp", &[]);
    let mut program = desk.play("udp", &bench.address.clone(), "-12dB", &[]);
    let at = State::Jogging.reach(&mut bench, &mut program);
    let word = bench.say("belt 1");
    program.say("emergency");
    program.wait_for("stopped: brakes on: emergency stop asked for", at);
    program.say("end");
    program.end();
    let truth = bench.end();
    ends_at_rest(&truth);
    let (rest_s, way_m) = until_rest(&truth, word);
    assert!(rest_s < 0.5 && way_m < 0.003, "{rest_s} s, {way_m} m");
}

#[test]
fn frames_that_come_twice_or_out_of_order_change_nothing() {
    // Four runs at a time are enough for two processors.
    let _alone = alone();
    let cases: &[(&str, &str)] = &[
        ("double 1", "udp"),
        ("swap 1", "udp"),
        #[cfg(feature = "serial")]
        ("double 1", "serial"),
        #[cfg(feature = "serial")]
        ("swap 1", "serial"),
    ];
    all_at_once(cases, |&(word, link)| {
        let desk = Desk::new();
        let mut bench = desk.bench(link, &[]);
        let mut program = desk.play(link, &bench.address.clone(), "-12dB", &[]);
        let at = desk.until_following(&mut bench, &program);
        bench.say(word);
        program.wait_for("the scene was played to its end", at);
        program.say("end");
        program.end();
        let truth = bench.end();
        ends_at_rest(&truth);
        let (speed, _) = inside(&truth, CONTROLLED_M_S2);
        assert!(speed < 0.14 && truth.iter().all(|row| row.fault == 0), "{word}, {link}: {speed}");
    });
}

/// The way out is blocked, the way back is not; and no fault comes of it.
#[test]
fn a_jog_ends_at_an_end_switch_and_comes_back_from_it() {
    let _shared = beside_others();
    let desk = Desk::new();
    let mut bench = desk.bench("udp", &[]);
    let mut program = desk.play("udp", &bench.address.clone(), "-12dB", &[]);
    let at = State::Jogging.reach(&mut bench, &mut program);
    let word = bench.say("long 2");
    pass(400);
    let rested = bench.say("belt 1");
    let at = program.wait_for("holding: brakes on", at);
    bench.say("presence 0");
    // The word of the jog lasts four seconds, whatever became of it.
    pass(2500);
    program.say("jog all - 2");
    pass(200);
    let back = bench.say("presence 1");
    let at = program.wait_for("jogging: MOVING", at);
    program.wait_for("holding: brakes on", at);
    program.say("end");
    program.end();
    let truth = bench.end();
    ends_at_rest(&truth);
    inside(&truth, CONTROLLED_M_S2);
    assert!(truth.iter().all(|row| row.fault == 0));
    let at_m = |word: u32| truth.iter().find(|row| row.words >= word).unwrap().at_m;
    let (from_m, rest_m, last_m) = (at_m(word), at_m(rested), truth.last().unwrap().at_m);
    let (_, way_m) = until(&truth, word, |row| moves(row) && row.words < back);
    assert!((0..2).all(|leg| (rest_m[leg] - from_m[leg]).abs() < 0.001) && way_m < 0.001, "{way_m} m");
    assert!((0..2).all(|leg| last_m[leg] < rest_m[leg] - 0.005), "{rest_m:?} {last_m:?}");
}

#[test]
fn another_rig_and_a_void_record_move_nothing() {
    let _shared = beside_others();
    let desk = Desk::new();
    let mut bench = desk.bench("udp", &[]);
    bench.say("name somebody else");
    let mut program = desk.play("udp", &bench.address.clone(), "-12dB", &[]);
    program.wait_for("other drives answer", 0);
    let at = program.wait_for("parked: brakes on", 0);
    bench.say("presence 1");
    wait(Duration::from_millis(500));
    program.say("end");
    program.end();
    assert!(program.said()[at..].contains("no commissioning record holds"), "{}", program.said());
    let truth = bench.end();
    assert!(truth.iter().all(|row| row.braked && !row.power));
}

#[test]
fn a_rung_without_those_below_is_refused_and_an_override_is_loud() {
    let _shared = beside_others();
    let desk = Desk::new();
    let bench = desk.bench("udp", &[]);
    let mut program = desk.play("udp", &bench.address.clone(), "-6dB", &["--override", "a test"]);
    program.wait_for("audition: -12 dB vacant: not signed off", 0);
    program.wait_for("OVERRIDE", 0);
    program.wait_for("parked: brakes on", 0);
    program.say("end");
    program.end();
    assert!(desk.run(&["audition"]).contains("OVERRIDE    -6 dB vacant  a test"));
    let log = desk.run(&["log", "run.mcap"]);
    assert!(log.contains("override       a test"), "{log}");
}
