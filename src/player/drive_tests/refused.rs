//! What is asked for and does not begin is seen at once, with its reason.

use super::*;
use crate::player::Ready;
use crate::record::What;
use crate::safety::operation::{Refusal, Request, Trouble};

fn not_now(request: Request, why: Refusal) -> Option<What> {
    Some(What::NotNow { request, why })
}

/// Asks, lets go, and takes hold.
fn ask(bench: &mut Bench<Obedient>, order: Order) {
    bench.far.presence(Input::Open);
    bench.order(order);
    bench.cycles(10);
    bench.far.presence(Input::Closed);
    bench.cycles(20);
}

#[test]
fn a_scene_that_a_fault_cut_short_is_not_begun_again_and_that_is_said() {
    let mut bench = Bench::fit();
    bench.follow();
    bench.far.with(|far| far.report.fault = Some((FrameFault::Drive, Some(0))));
    bench.cycles(2500);
    bench.far.with(|far| far.report.fault = None);
    bench.order(Order::Reset);
    bench.cycles(10);
    ask(&mut bench, Order::Park);
    bench.until(Run::Parked);
    let view = bench.cycle.view();
    assert_eq!(
        (view.ready, view.refused.what),
        (Ready { fresh: false, placed: true, interrupted: false }, None)
    );
    let run = view.run.unwrap();
    assert_eq!(view.ready.refusal(&run, Request::Start), Some(Refusal::Begun), "not offered");
    ask(&mut bench, Order::Start);
    assert_eq!(bench.state().0, Run::Parked);
    assert_eq!(bench.cycle.view().refused.what, not_now(Request::Start, Refusal::Begun));
    // Something else begins, and it is not said any more.
    ask(&mut bench, Order::Home);
    assert_eq!((bench.state().0, bench.cycle.view().refused.what), (Run::Homing, None));
}

#[test]
fn a_leg_a_hair_outside_its_limits_needs_a_jog_and_no_homing() {
    let mut bench = Bench::fit();
    bench.cycles(50);
    let low_m = setup().limits.legs()[0].low_m;
    bench.far.with(|far| far.report.lengths_m[0] = low_m - 2e-5);
    bench.cycles(50);
    assert!(!bench.cycle.view().ready.placed);
    ask(&mut bench, Order::Park);
    assert_eq!(bench.state().0, Run::Holding);
    assert_eq!(bench.cycle.view().refused.what, not_now(Request::Park, Refusal::Outside));
    // What is said to help does.
    ask(&mut bench, Order::Jog { leg: Some(0), part: 1.0, longest_s: 1.0 });
    assert_eq!((bench.state().0, bench.cycle.view().refused.what), (Run::Jogging, None));
}

#[test]
fn a_gain_that_cannot_be_had_is_said_until_the_next_order() {
    let mut bench = Bench::fit();
    bench.cycles(50);
    assert_eq!(bench.operator.remark(), None);
    bench.order(Order::Gain(1.5));
    let remark = bench.operator.remark().unwrap();
    assert!(remark.words.contains("a gain of 1.5 times the checked one"), "{remark:?}");
    bench.order(Order::Pause);
    assert_eq!(bench.operator.remark(), None);
    bench.order(Order::Gain(1.5));
    assert_eq!(bench.operator.remark().unwrap().number, remark.number + 1);
}

/// By a hair, so that it could be taken for placed: no brake opens for a path that cannot begin.
#[test]
fn after_a_fault_a_leg_outside_its_limits_is_said_to_need_a_jog() {
    let mut bench = Bench::fit();
    bench.cycles(50);
    let low_m = setup().limits.legs()[0].low_m;
    bench.far.with(|far| far.report.lengths_m[0] = low_m + 2e-5);
    bench.cycles(50);
    ask(&mut bench, Order::Park);
    bench.until(Run::Parking);
    while bench.phase() != Phase::Moving {
        bench.cycles(1);
    }
    bench.cycles(5);
    // It falls silent near the end of its stroke, and comes to rest a hair beyond.
    bench.far.with(|far| far.silent = true);
    bench.cycles(1500);
    assert_eq!(bench.state(), (Run::Faulted, Cause::LinkSilent));
    bench.far.with(|far| (far.silent, far.report.lengths_m[0]) = (false, low_m - 3e-4));
    bench.far.with(|far| far.report.brakes = Brakes::Set);
    bench.rest();
    bench.order(Order::Reset);
    bench.cycles(10);
    assert_eq!((bench.state().0, bench.cycle.view().ready.placed), (Run::Holding, false));
    ask(&mut bench, Order::Park);
    assert_eq!((bench.state().0, bench.phase()), (Run::Holding, Phase::Rest));
    assert_eq!(bench.cycle.view().refused.what, not_now(Request::Park, Refusal::Outside));
    ask(&mut bench, Order::Jog { leg: Some(0), part: 1.0, longest_s: 1.0 });
    assert_eq!(bench.state().0, Run::Jogging);
}

#[test]
fn after_frames_that_came_too_slowly_it_parks() {
    let mut bench = Bench::fit();
    bench.follow();
    bench.frames = Source(Vec::new(), 0);
    bench.rest();
    assert_eq!(bench.state(), (Run::Faulted, Cause::Trouble(Trouble::FramesLow)));
    bench.order(Order::Reset);
    bench.cycles(10);
    ask(&mut bench, Order::Park);
    bench.until(Run::Parked);
}
