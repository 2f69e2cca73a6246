//! Every fault in every state, on simulated drives: the legs come to rest, braked, and nothing begins again by itself.
//!
//! `CUELOOM_WRITE=1 cargo test --lib every_fault_in_every_state` writes docs/faults-simulated.md anew.

use super::watched::Watched;
use super::*;
use crate::files;
use crate::link::{SimAct, SimFault, SimInput};
use std::fmt::Write as _;
use std::io::Write as _;

const STATES: [Run; 6] = [Run::Parked, Run::Homing, Run::Jogging, Run::Following, Run::Holding, Run::Parking];

fn causes() -> Vec<(&'static str, SimAct)> {
    let open = |input| SimAct::Input(input, Input::Open);
    vec![
        ("operator lets go", open(SimInput::Presence)),
        ("gate opened", open(SimInput::Gate)),
        ("mat stepped on", open(SimInput::Mat)),
        ("belt opened", open(SimInput::Belt)),
        ("stop device", open(SimInput::Stop)),
        ("far end falls silent", SimAct::Fault(SimFault::Mute)),
        ("orders do not arrive", SimAct::Fault(SimFault::Deaf)),
        ("orders arrive damaged", SimAct::Fault(SimFault::Corrupt)),
        ("orders come 400 ms late", SimAct::Fault(SimFault::Late { by_us: 400_000 })),
        ("orders come twice", SimAct::Fault(SimFault::Twice)),
        ("orders come swapped", SimAct::Fault(SimFault::Swapped)),
        ("drive fault", SimAct::Fault(SimFault::Drive { leg: 1 })),
        ("too hot", SimAct::Fault(SimFault::Hot { leg: 0 })),
        ("end switch", SimAct::Fault(SimFault::EndSwitch { leg: 0 })),
        ("brakes stick", SimAct::Fault(SimFault::BrakesStick)),
        ("encoder slips 30 mm", SimAct::Fault(SimFault::Slip { leg: 0, by_m: 0.03 })),
        ("pushed by hand 2 mm", SimAct::Fault(SimFault::Push { leg: 0, by_m: 0.002 })),
        ("reference lost", SimAct::Fault(SimFault::Unhomed)),
    ]
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
        Run::Following | Run::Holding | Run::Parking => {
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
        _ => {}
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
}

fn watch(bench: &mut Bench<Watched>, far: &Watched, cycles: usize) -> Seen {
    let stood_m = far.with(|drives| drives.lengths_m());
    let mut seen = Seen { busy: 0, way_m: 0.0, hardest_m_s2: 0.0, moved: false };
    let mut before = far.with(|drives| drives.speeds_m_s());
    for cycle in 1..=cycles {
        bench.cycles(1);
        let (at_m, speeds, braked) =
            far.with(|drives| (drives.lengths_m(), drives.speeds_m_s(), drives.is_braked()));
        let moves = speeds.iter().any(|speed| speed.abs() > 1e-3);
        let change = speeds.iter().zip(before.iter()).map(|(a, b)| (a - b).abs() * 1e3).fold(0.0, f64::max);
        let way = at_m.iter().zip(stood_m.iter()).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        seen.hardest_m_s2 = seen.hardest_m_s2.max(change);
        seen.way_m = seen.way_m.max(way);
        seen.moved |= moves;
        // Where brakes are not known to be on, drives hold the legs: that is rest, too.
        if moves || !(braked || bench.phase() == Phase::Standing && bench.state().0 == Run::Faulted) {
            seen.busy = cycle;
        }
        before = speeds;
    }
    seen
}

/// One row of the table.
fn provoke(name: &str, act: SimAct, state: Run) -> String {
    const LONG: usize = 4_500;
    let (mut bench, far) = reach(state);
    far.with(|drives| drives.act(act));
    let seen = watch(&mut bench, &far, LONG);
    let (after, cause) = bench.state();
    // A leg that lost its torque is driven by its load until its brake has closed; a brake slows by 20 m/s^2.
    assert!(seen.hardest_m_s2 < 20.1, "{name} in {state:?}: {} m/s^2", seen.hardest_m_s2);
    if state == Run::Parked {
        assert!(!seen.moved && seen.busy == 0, "{name} in {state:?}: something moved");
    }
    let what = if after == state && seen.busy == LONG {
        "goes on".to_string()
    } else if seen.busy == 0 {
        format!("{}: {} | stands | stands | stands", after.word(), cause.words())
    } else {
        assert!(seen.busy < LONG, "{name} in {state:?}: no rest, {after:?} {cause:?} {:?}", bench.phase());
        format!(
            "{}: {} | {:.2} s | {:.1} mm | {:.1} m/s^2",
            after.word(),
            cause.words(),
            seen.busy as f64 * 1e-3,
            seen.way_m * 1e3,
            seen.hardest_m_s2
        )
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
    assert!(!seen.moved && seen.busy == 0, "{name} in {state:?}: something began again, {:?}", bench.state());
    what
}

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
    let mut text = String::from(HEAD);
    for (name, act) in causes() {
        for state in STATES {
            let row = provoke(name, act, state);
            let row = if row == "goes on" { "goes on | | |".to_string() } else { row };
            let _ = writeln!(text, "| {name} | {} | {row} |", state.word());
        }
    }
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/faults-simulated.md");
    if std::env::var_os("CUELOOM_WRITE").is_some() {
        files::save(&path, |out| out.write_all(text.as_bytes())).unwrap();
    }
    let kept = files::read_text(&path, files::MAX_TOML_BYTES).unwrap();
    assert_eq!(kept, text, "see the top of this file for how to write it anew");
}
