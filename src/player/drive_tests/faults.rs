//! Every fault in every state, on simulated drives: the legs come to rest along their line and within the platform's
//! ranges, braked, the cause is named, and nothing begins again by itself.
//!
//! `CUELOOM_WRITE=1 cargo test --lib every_fault_in_every_state` writes docs/faults-simulated.md anew.

use super::watched::Watched;
use super::*;
use crate::files;
use crate::link::{SimAct, SimFault, SimInput};
use crate::rig::{Rig, kinematics};
use std::fmt::Write as _;
use std::io::Write as _;

const STATES: [Run; 9] = [
    Run::Parked,
    Run::Homing,
    Run::Jogging,
    Run::Engaging,
    Run::Following,
    Run::Holding,
    Run::Parking,
    Run::Stopped,
    Run::Faulted,
];

/// States in which brakes are on and drives off.
const AT_REST: [Run; 3] = [Run::Parked, Run::Stopped, Run::Faulted];

/// What is done, and how a run says it; where nothing is said of it, it goes on.
struct Wrong {
    name: &'static str,
    act: SimAct,
    says: &'static str,
}

fn wrongs() -> Vec<Wrong> {
    let open = |name, input, says| Wrong { name, act: SimAct::Input(input, Input::Open), says };
    let fault = |name, fault, says| Wrong { name, act: SimAct::Fault(fault), says };
    let (deaf, far) = ("the far end heard nothing", "a leg is too far from its set-point");
    vec![
        open("operator lets go", SimInput::Presence, "the presence input was let go"),
        open("gate opened", SimInput::Gate, "a gate is open"),
        open("mat stepped on", SimInput::Mat, "a mat is stepped on"),
        open("belt opened", SimInput::Belt, "the belt is open"),
        open("stop device", SimInput::Stop, "a stop device is actuated"),
        fault("far end falls silent", SimFault::Mute, "the link fell silent"),
        fault("orders do not arrive", SimFault::Deaf, deaf),
        fault("orders arrive damaged", SimFault::Corrupt, deaf),
        fault("orders come 400 ms late", SimFault::Late { by_us: 400_000 }, deaf),
        fault("orders come twice", SimFault::Twice, ""),
        fault("orders come swapped", SimFault::Swapped, ""),
        fault("drive fault", SimFault::Drive { leg: 1 }, "a drive reports a fault"),
        fault("too hot", SimFault::Hot { leg: 0 }, "a drive or motor is too hot"),
        fault("end switch", SimFault::EndSwitch { leg: 0 }, "a leg is on an end switch"),
        fault("brakes stick", SimFault::BrakesStick, "the brakes were not confirmed on"),
        fault("encoder slips 30 mm", SimFault::Slip { leg: 0, by_m: 0.03 }, far),
        fault("pushed by hand 2 mm", SimFault::Push { leg: 0, by_m: 0.002 }, ""),
        fault("reference lost", SimFault::Unhomed, "does not know where its legs are"),
        fault("snagged cable 900 N", SimFault::Snag { leg: 1, force_n: 900.0 }, "force is not what the plan"),
        fault("another rig answers", SimFault::Stranger, "another rig answers"),
    ]
}

/// A leg's fastest in a state, m/s: creep, a quarter of the rig's speed for ways, what the scene asks for.
fn fastest_m_s(state: Run) -> f64 {
    match state {
        Run::Homing | Run::Jogging => 0.021,
        Run::Engaging | Run::Following | Run::Parking => 0.25,
        _ => 0.001,
    }
}

fn presence(far: &Watched, input: Input) {
    far.with(|drives| drives.act(SimAct::Input(SimInput::Presence, input)));
}

/// An order, then a hand that takes hold, until that state moves.
fn take_up(bench: &mut Bench<Watched>, far: &Watched, order: Order, state: Run) {
    presence(far, Input::Open);
    bench.cycles(30);
    bench.order(order);
    bench.cycles(30);
    presence(far, Input::Closed);
    for _ in 0..12_000 {
        if bench.state().0 == state && bench.phase() == Phase::Moving {
            return;
        }
        bench.cycles(1);
    }
    panic!("never {state:?}, but {:?} {:?}", bench.state(), bench.phase());
}

fn reach(state: Run) -> (Bench<Watched>, Watched) {
    let (bench, far) = Watched::bench();
    let mut bench = Bench { operator: bench.operator.by_word(true), ..bench };
    bench.cycles(50);
    match state {
        Run::Homing => take_up(&mut bench, &far, Order::Home, Run::Homing),
        Run::Jogging => {
            let jog = Order::Jog { leg: None, part: 1.0, longest_s: f64::INFINITY };
            take_up(&mut bench, &far, jog, Run::Jogging);
        }
        Run::Engaging => take_up(&mut bench, &far, Order::Start, Run::Engaging),
        Run::Following | Run::Holding | Run::Parking | Run::Stopped | Run::Faulted => {
            take_up(&mut bench, &far, Order::Start, Run::Following);
            bench.cycles(900);
        }
        _ => {}
    }
    match state {
        Run::Holding => {
            bench.order(Order::Pause);
            bench.until(Run::Holding);
            bench.cycles(300);
        }
        Run::Parking => take_up(&mut bench, &far, Order::Park, Run::Parking),
        Run::Stopped => bench.order(Order::EmergencyStop),
        Run::Faulted => far.with(|drives| drives.act(SimAct::Fault(SimFault::Hot { leg: 1 }))),
        _ => {}
    }
    if AT_REST.contains(&state) {
        bench.rest();
        bench.cycles(300);
        far.with(|drives| drives.act(SimAct::Clear));
    }
    bench.cycles(100);
    assert_eq!(bench.state().0, state);
    (bench, far)
}

/// What legs did in a while.
struct Seen {
    /// Cycles until all was still, and braked or held.
    busy: usize,
    way_m: f64,
    hardest_m_s2: f64,
    moved: bool,
    /// The furthest that a joint was past its range, rad.
    past_rad: f64,
    /// The fastest that legs left the line of a stop of the far end's own, as a share of their speed when it began.
    off_line: f64,
}

/// How far the platform is past its ranges with legs so long, rad; `pose` is where it is.
fn past_rad(rig: &Rig, at_m: &Legs, pose: &mut [f64]) -> f64 {
    let at = kinematics::forward(rig, at_m, pose).unwrap();
    pose.copy_from_slice(at.as_slice());
    let past = rig.axes.iter().zip(pose).map(|(axis, at)| (*at - axis.max).max(axis.min - *at));
    past.fold(f64::NEG_INFINITY, f64::max)
}

fn watch(bench: &mut Bench<Watched>, far: &Watched, cycles: usize) -> Seen {
    let (rig, mut pose) = (two_legs(), vec![0.0; 2]);
    let stood_m = far.with(|drives| drives.lengths_m());
    let mut seen = Seen {
        busy: 0,
        way_m: 0.0,
        hardest_m_s2: 0.0,
        moved: false,
        past_rad: f64::NEG_INFINITY,
        off_line: 0.0,
    };
    let mut before = far.with(|drives| drives.speeds_m_s());
    let mut line: Option<Legs> = None;
    for cycle in 1..=cycles {
        bench.cycles(1);
        let (at_m, speeds, braked) =
            far.with(|drives| (drives.lengths_m(), drives.speeds_m_s(), drives.is_braked()));
        let stops = far.with(|drives| drives.is_stopping());
        let moves = speeds.iter().any(|speed| speed.abs() > 1e-3);
        let change = speeds.iter().zip(before.iter()).map(|(a, b)| (a - b).abs() * 1e3).fold(0.0, f64::max);
        let way = at_m.iter().zip(stood_m.iter()).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        seen.hardest_m_s2 = seen.hardest_m_s2.max(change);
        seen.way_m = seen.way_m.max(way);
        seen.moved |= moves;
        seen.past_rad = seen.past_rad.max(past_rad(&rig, &at_m, &mut pose));
        line = if stops { line.or(Some(before)) } else { None };
        if let Some(line) = line.filter(|line| line.iter().any(|speed| speed.abs() > 0.02)) {
            let across = (speeds[0] * line[1] - speeds[1] * line[0]).abs();
            seen.off_line = seen.off_line.max(across / (line[0] * line[0] + line[1] * line[1]));
        }
        // Where brakes are not known to be on, drives hold the legs: that is rest, too.
        if moves || !(braked || bench.phase() == Phase::Standing && bench.state().0 == Run::Faulted) {
            seen.busy = cycle;
        }
        before = speeds;
    }
    seen
}

/// One row of the table.
fn provoke(wrong: &Wrong, state: Run) -> String {
    const LONG: usize = 4_500;
    let name = format!("{} in {state:?}", wrong.name);
    let (mut bench, far) = reach(state);
    far.with(|drives| drives.act(wrong.act));
    let seen = watch(&mut bench, &far, LONG);
    let (after, cause) = bench.state();
    // A leg that lost its torque is driven by its load until its brake has closed; a brake slows by 20 m/s^2.
    assert!(seen.hardest_m_s2 < 20.1, "{name}: {} m/s^2", seen.hardest_m_s2);
    // Homing looks for the ends of the legs, where the joint is past its range.
    assert!(seen.past_rad <= 0.0 || state == Run::Homing, "{name}: {} rad past its range", seen.past_rad);
    let falls = matches!(wrong.act, SimAct::Fault(SimFault::Drive { .. }));
    assert!(seen.off_line < 0.1 || falls, "{name}: {} off the line of its stop", seen.off_line);
    if AT_REST.contains(&state) {
        assert!(!seen.moved && seen.busy == 0, "{name}: something moved");
    }
    let what = if after == state && seen.busy == LONG {
        "goes on | | |".to_string()
    } else if seen.busy == 0 {
        format!("{}: {} | stands | stands | stands", after.word(), cause.words())
    } else {
        assert!(seen.busy < LONG, "{name}: no rest, {after:?} {cause:?} {:?}", bench.phase());
        let rest_s = seen.busy as f64 * 1e-3;
        if !ENDS.contains(&cause) {
            let switch_in_homing = wrong.name == "end switch" && state == Run::Homing;
            let says = if switch_in_homing { "a drive reports a fault" } else { wrong.says };
            assert!(!says.is_empty() && cause.words().contains(says), "{name}: {}", cause.words());
            // Along its path it is slowed for half a second; a leg without torque falls for 30 ms, and by the brake.
            let most_m = fastest_m_s(state) * rest_s.min(0.6) + 0.0025;
            assert!(
                rest_s < 1.2 && seen.way_m < most_m || switch_in_homing,
                "{name}: {rest_s} s, {}",
                seen.way_m
            );
        }
        let (way_mm, hardest) = (seen.way_m * 1e3, seen.hardest_m_s2);
        format!("{}: {} | {rest_s:.2} s | {way_mm:.1} mm | {hardest:.1} m/s^2", after.word(), cause.words())
    };
    // The cause goes away, everything is let go, and taken hold of again: nothing begins by that.
    for input in [SimInput::Presence, SimInput::Gate, SimInput::Mat, SimInput::Belt, SimInput::Stop] {
        let is = if input == SimInput::Presence { Input::Open } else { Input::Closed };
        far.with(|drives| drives.act(SimAct::Input(input, is)));
    }
    far.with(|drives| drives.act(SimAct::Clear));
    bench.cycles(2_000);
    presence(&far, Input::Closed);
    let seen = watch(&mut bench, &far, 3_600);
    assert!(!seen.moved && seen.busy == 0, "{name}: something began again, {:?}", bench.state());
    assert!(far.with(|drives| drives.is_braked()), "{name}: not braked");
    what
}

/// How an act ends that nothing stops.
const ENDS: [Cause; 3] = [Cause::Homed, Cause::SceneEnded, Cause::Parked];

const HEAD: &str = "# Faults on simulated drives

*Model only.* Written by `CUELOOM_WRITE=1 cargo test --lib every_fault_in_every_state`, from simulated drives that are
cranked by hand: a cycle of 1 ms, silence noticed after 20 ms, brakes that take 30 ms, legs of up to 0.3 m/s and 3 m/s^2.
Times run from the fault to legs that are still and braked, or held by their drives where brakes do not close; ways are
the furthest leg's. After each row the cause was taken away, everything was let go, and taken hold of again for 3.6 s:
nothing moved by that. On a rig of steel measure them again, as [faults.md](faults.md) says.

| fault | state | what became of it | time to rest | way | hardest braking |
| --- | --- | --- | --- | --- | --- |
";

#[test]
fn every_fault_in_every_state_ends_at_rest_and_nothing_begins_again() {
    let wrongs = wrongs();
    let row = |wrong: &Wrong| STATES.map(|state| (state, provoke(wrong, state)));
    // Two at a time: what is shared is two processors.
    let (some, others) = wrongs.split_at(wrongs.len() / 2);
    let rows: Vec<_> = std::thread::scope(|scope| {
        let others = scope.spawn(|| others.iter().map(row).collect::<Vec<_>>());
        let mut rows: Vec<_> = some.iter().map(row).collect();
        rows.extend(others.join().unwrap());
        rows
    });
    let mut text = String::from(HEAD);
    for (wrong, states) in wrongs.iter().zip(rows) {
        for (state, row) in states {
            let _ = writeln!(text, "| {} | {} | {row} |", wrong.name, state.word());
        }
    }
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/faults-simulated.md");
    if std::env::var_os("CUELOOM_WRITE").is_some() {
        files::save(&path, |out| out.write_all(text.as_bytes())).unwrap();
    }
    let kept = files::read_text(&path, files::MAX_TOML_BYTES).unwrap();
    assert_eq!(kept, text, "see the top of this file for how to write it anew");
}
