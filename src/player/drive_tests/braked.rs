//! What only brakes hold is looked at for as long as they do, and what was heard of them is not believed too long.

use super::*;

/// In the warning before the start.
fn warned() -> Bench<Obedient> {
    let mut bench = Bench::fit();
    bench.cycles(50);
    bench.far.presence(Input::Closed);
    bench.cycles(500);
    assert!(matches!(bench.phase(), Phase::Warning { standing: false, .. }), "{:?}", bench.phase());
    bench
}

#[test]
fn a_brake_that_lets_go_in_the_warning_ends_it() {
    let mut bench = warned();
    for _ in 0..20 {
        bench.far.with(|far| far.report.brakes = Brakes::Released);
        bench.cycles(1);
    }
    assert_eq!(bench.state(), (Run::Faulted, Cause::BrakesNotSet));
    assert!(!bench.far.with(|far| far.report.power));
}

#[test]
fn legs_that_are_moved_in_the_warning_begin_nothing() {
    let mut bench = warned();
    bench.far.with(|far| far.report.lengths_m[0] -= 0.003);
    bench.cycles(5000);
    assert_eq!((bench.state(), bench.phase()), ((Run::Holding, Cause::MovedByHand), Phase::Rest));
    bench.far.with(|far| assert!(far.forced_m == 0.0 && !far.report.power));
    // One that slides is a fault of its own.
    let mut bench = warned();
    bench.far.with(|far| far.report.speeds_m_s[0] = -0.01);
    bench.cycles(2);
    assert_eq!(bench.state(), (Run::Faulted, Cause::Trouble(crate::safety::operation::Trouble::BrakeSlips)));
}

#[test]
fn a_stop_device_that_only_the_far_end_saw_is_a_stop_device() {
    let mut bench = Bench::fit();
    bench.follow();
    bench.far.with(|far| far.report.fault = Some((FrameFault::Stop, None)));
    bench.cycles(1);
    bench.far.with(|far| far.report.fault = None);
    bench.rest();
    assert_eq!(bench.state(), (Run::Stopped, Cause::StopInput));
}

/// The far end keeps the fault for as long as drives hold: what it saw may be over long since.
#[test]
fn torque_that_holds_unbraked_legs_ends_by_a_stop_that_is_seen_and_by_none_that_was() {
    let mut bench = Bench::fit();
    bench.follow();
    let mut cycles = |count: usize, stop| {
        for _ in 0..count {
            bench.far.with(|far| {
                far.report.fault = Some((FrameFault::Stop, None));
                far.report.brakes = Brakes::Unknown;
                far.report.inputs.stop = stop;
            });
            bench.cycles(1);
        }
        (bench.state(), bench.phase(), bench.far.with(|far| far.report.power))
    };
    let (state, phase, power) = cycles(6000, Input::Closed);
    assert_eq!((state, phase, power), ((Run::Faulted, Cause::BrakesNotSet), Phase::Standing, true));
    let (.., power) = cycles(2, Input::Open);
    assert!(!power);
}

/// A pause in the very cycle in which brakes are confirmed off: the run was about to move, the path was not.
#[test]
fn what_was_not_begun_cannot_be_gone_on_with() {
    let paused = (0..5).find_map(|after| {
        let mut bench = Bench::fit();
        bench.cycles(50);
        bench.far.presence(Input::Closed);
        while !matches!(bench.phase(), Phase::Releasing { .. }) {
            bench.cycles(1);
        }
        bench.cycles(after);
        bench.commands.push_back(Command::Pause);
        bench.cycles(1);
        matches!(bench.phase(), Phase::Stopping { .. }).then_some(bench)
    });
    let mut bench = paused.unwrap();
    bench.cycles(3000);
    let view = bench.cycle.view();
    let run = view.run.unwrap();
    assert_eq!((run.task(), view.task), (Some(Run::Engaging), None), "{:?}", bench.state());
    let refusal = view.ready.refusal(&run, crate::safety::operation::Request::Resume);
    assert_eq!(refusal, Some(crate::safety::operation::Refusal::Nothing));
}
