//! A cycle allocates nothing, whatever goes wrong and whatever is asked for; drives with physics at its far end, which do
//! not either.

use super::watched::Watched;
use super::*;
use crate::link::{SimAct, SimDrives, SimFault, SimInput};

fn presence(far: &Watched, input: Input) {
    far.with(|drives| drives.act(SimAct::Input(SimInput::Presence, input)));
}

/// From park until that act moves, the presence input taken hold of after it was asked for; what is allocated from the
/// asking on counts.
fn moving(order: Order, state: Run) -> (Bench<Watched>, Watched) {
    let (mut bench, far) = Watched::bench();
    bench.cycles(50);
    bench.allocated = 0;
    take_up(&mut bench, &far, order, state);
    (bench, far)
}

fn take_up(bench: &mut Bench<Watched>, far: &Watched, order: Order, state: Run) {
    presence(far, Input::Open);
    bench.cycles(30);
    bench.order(order);
    bench.cycles(30);
    presence(far, Input::Closed);
    bench.until(state);
    while bench.phase() != Phase::Moving {
        bench.cycles(1);
    }
    bench.cycles(300);
    assert_eq!((bench.state().0, bench.phase()), (state, Phase::Moving));
}

/// What each of these does to a cycle is different: silence of either side, a set-point that the governor holds back, legs
/// that are found elsewhere, a far end that is somebody else.
#[test]
fn a_fault_and_the_way_to_park_after_it_allocate_nothing() {
    let faults = [
        SimFault::Mute,
        SimFault::Deaf,
        SimFault::Drive { leg: 1 },
        SimFault::Slip { leg: 0, by_m: 0.03 },
        SimFault::Snag { leg: 1, force_n: 900.0 },
        SimFault::BrakesStick,
        SimFault::Unhomed,
        SimFault::Stranger,
    ];
    for fault in faults {
        let (mut bench, far) = moving(Order::Start, Run::Engaging);
        bench.until(Run::Following);
        bench.cycles(600);
        far.with(|drives| drives.act(SimAct::Fault(fault)));
        bench.cycles(1);
        presence(&far, Input::Open);
        bench.cycles(2_500);
        assert_eq!(bench.state().0, Run::Faulted, "{fault:?} {:?}", bench.state());
        far.with(|drives| drives.act(SimAct::Clear));
        bench.cycles(50);
        if fault != SimFault::Stranger {
            bench.order(Order::Reset);
            bench.cycles(50);
        }
        if bench.state().0 == Run::Holding {
            take_up(&mut bench, &far, Order::Park, Run::Parking);
            bench.until(Run::Parked);
            bench.cycles(100);
        }
        assert_eq!(bench.allocated, 0, "{fault:?}");
    }
}

#[test]
fn a_jog_that_runs_against_its_end_and_a_pause_allocate_nothing() {
    let (mut bench, far) = moving(Order::Jog { leg: None, part: -1.0, longest_s: 60.0 }, Run::Jogging);
    // 40 mm down to where the legs' ends are kept free, at 10 mm/s.
    bench.cycles(6_000);
    presence(&far, Input::Open);
    bench.rest();
    take_up(&mut bench, &far, Order::Jog { leg: Some(1), part: 1.0, longest_s: 1.0 }, Run::Jogging);
    bench.cycles(1_000);
    bench.rest();
    assert_eq!(bench.allocated, 0);
    let (mut bench, _) = moving(Order::Start, Run::Engaging);
    bench.until(Run::Following);
    bench.order(Order::Gain(0.5));
    bench.cycles(600);
    bench.order(Order::Pause);
    bench.until(Run::Holding);
    bench.cycles(300);
    bench.order(Order::EmergencyStop);
    bench.rest();
    assert_eq!((bench.state().0, bench.allocated), (Run::Stopped, 0));
}

/// The path is made once the reference is known, at rest: in that cycle and in no other.
#[test]
fn a_homing_allocates_in_the_one_cycle_at_rest_that_makes_the_path() {
    let (mut bench, _) = moving(Order::Home, Run::Homing);
    bench.until(Run::Holding);
    bench.rest();
    assert_eq!(bench.allocated, 0, "its path was there");
    let (drives, _hand) = SimDrives::new(&two_legs(), &[0.65, 0.65]);
    let far = Watched::of(drives);
    far.with(|drives| drives.act(SimAct::Fault(SimFault::Unhomed)));
    let report = far.with(|drives| drives.poll(DriveTime(0))).unwrap().unwrap();
    assert!(!report.homed);
    let mut bench = Bench::on(far.clone(), report, FIT);
    bench.cycles(50);
    take_up(&mut bench, &far, Order::Home, Run::Homing);
    assert_eq!(bench.allocated, 0, "until it is homed");
    let mut made_in = Vec::new();
    for _ in 0..40_000 {
        let before = bench.phase();
        bench.cycles(1);
        if std::mem::take(&mut bench.allocated) > 0 {
            made_in.push((before, bench.phase()));
        }
        if bench.phase() == Phase::Rest && !made_in.is_empty() {
            break;
        }
    }
    bench.cycles(500);
    assert_eq!((made_in, bench.allocated), (vec![(Phase::Rest, Phase::Rest)], 0), "{:?}", bench.state());
}
