//! What is asked for waits for a hand, but not through what would have ended a motion.

use super::*;
use crate::player::command::View;
use crate::player::rig_cycle::Directed;

/// Asks for the start, changes something, sets it right again, and takes hold.
fn waits_through(change: fn(&mut Far), right: fn(&mut Far)) -> Bench<Obedient> {
    let mut bench = Bench::fit();
    bench.cycles(50);
    assert_eq!(bench.operator.wanted(), Some(Order::Start));
    bench.far.with(change);
    bench.cycles(50);
    bench.far.with(right);
    bench.cycles(50);
    bench.far.presence(Input::Closed);
    bench.cycles(4500);
    bench
}

#[test]
fn an_opened_gate_a_stop_and_a_moved_leg_void_what_was_asked_for() {
    type Change = fn(&mut Far);
    let cases: [(Change, Change, &str); 5] = [
        (
            |far| far.report.inputs.gate = Input::Open,
            |far| far.report.inputs.gate = Input::Closed,
            "a gate is open",
        ),
        (|far| far.report.inputs.mat = Input::Unknown, |far| far.report.inputs.mat = Input::Closed, "a mat"),
        (
            |far| far.report.inputs.belt = Input::Open,
            |far| far.report.inputs.belt = Input::Closed,
            "the belt",
        ),
        (
            |far| far.report.inputs.stop = Input::Open,
            |far| far.report.inputs.stop = Input::Closed,
            "a stop device",
        ),
        // Encoders that jump and jump back.
        (|far| far.report.lengths_m[0] += 0.03, |far| far.report.lengths_m[0] -= 0.03, "the legs were moved"),
    ];
    for (change, right, why) in cases {
        let mut bench = waits_through(change, right);
        assert!(matches!(bench.state().0, Run::Parked | Run::Stopped), "{why}: {:?}", bench.state());
        assert_eq!((bench.phase(), bench.operator.wanted()), (Phase::Rest, None), "{why}");
        let remark = bench.operator.remark().unwrap();
        assert!(remark.words.starts_with(&format!("start: not any more: {why}")), "{remark:?}");
        // Asked for anew it begins.
        bench.order(Order::Reset);
        bench.cycles(10);
        bench.order(Order::Start);
        bench.far.presence(Input::Open);
        bench.cycles(10);
        bench.far.presence(Input::Closed);
        bench.until(Run::Following);
    }
}

/// Whoever asks first and then leaves through the gate, closes it and takes hold, has done it in that order.
#[test]
fn what_was_open_when_it_was_asked_for_may_be_closed() {
    let mut bench = Bench::fit();
    bench.far.with(|far| far.report.inputs.gate = Input::Open);
    bench.cycles(50);
    bench.far.with(|far| far.report.inputs.gate = Input::Closed);
    bench.cycles(50);
    bench.far.presence(Input::Closed);
    bench.until(Run::Following);
}

/// Whoever directs the run stands still for a while; the presence input is tied. Nobody has let go of anything.
#[test]
fn a_thread_that_stood_still_is_no_hand_that_lets_go() {
    for order in [Order::Start, Order::Home, Order::Jog { leg: None, part: 1.0, longest_s: 9.0 }] {
        let mut bench = Bench::fit();
        bench.far.presence(Input::Closed);
        bench.cycles(50);
        bench.order(order);
        bench.cycle.directed(Directed::Silent);
        bench.cycles(50);
        bench.cycle.directed(Directed::Yes);
        bench.cycles(4500);
        assert_eq!((bench.state().0, bench.operator.wanted()), (Run::Parked, None), "{order:?}");
        assert!(bench.operator.remark().unwrap().words.contains("nothing was known of the presence input"));
    }
}

#[test]
fn legs_that_were_moved_void_the_way_to_park() {
    let mut bench = Bench::fit();
    bench.follow();
    bench.until(Run::Holding);
    bench.far.presence(Input::Open);
    bench.rest();
    bench.cycles(50);
    assert_eq!((bench.state().1, bench.operator.wanted()), (Cause::SceneEnded, Some(Order::Park)));
    for _ in 0..2 {
        bench.far.with(|far| far.report.lengths_m[1] += 0.003);
        bench.cycles(50);
        assert_eq!((bench.state(), bench.operator.wanted()), ((Run::Holding, Cause::MovedByHand), None));
        bench.order(Order::Park);
        bench.cycles(50);
        assert_eq!(bench.operator.wanted(), Some(Order::Park));
    }
    bench.far.presence(Input::Closed);
    bench.until(Run::Parked);
}

/// What was said of a jog that is over comes late.
#[test]
fn a_jog_that_goes_on_begins_none() {
    let mut bench = Bench::fit();
    bench.far.presence(Input::Closed);
    bench.cycles(50);
    bench.commands.push_back(Command::Jog { speeds_m_s: Legs::filled(2, 0.01), begins: false });
    bench.cycles(50);
    assert_eq!((bench.state().0, bench.phase()), (Run::Parked, Phase::Rest));
    let mut bench = Bench::fit();
    bench.cycles(50);
    bench.order(Order::Jog { leg: None, part: 1.0, longest_s: 9.0 });
    bench.cycles(10);
    bench.far.presence(Input::Closed);
    bench.cycles(50);
    assert_eq!(bench.state().0, Run::Jogging);
    // And that is what is said while it goes on.
    let mut said = None;
    let later = View { tick: bench.cycle.view().tick + 60, ..bench.cycle.view() };
    bench.operator.look(&later, &mut |command| said.replace(command).is_none());
    assert!(matches!(said, Some(Command::Jog { begins: false, .. })), "{said:?}");
}

/// A report that stays away is silence, and no leg that left its path.
#[test]
fn what_was_measured_long_ago_is_held_against_nothing() {
    let far = Obedient::new(0.65);
    let report = far.with(|far| far.report);
    // What is obeyed at once needs no more room than 2 mm.
    let mut bench = Bench::with(setup().no_faster_than(&Legs::filled(2, 0.0)), far, report, FIT);
    bench.cycles(50);
    bench.far.presence(Input::Closed);
    bench.until(Run::Engaging);
    while bench.phase() != Phase::Moving {
        bench.cycles(1);
    }
    bench.cycles(300);
    // A leg lags, by less than is borne; then nothing is heard for 20 ms at 90 mm/s.
    bench.far.with(|far| far.report.lengths_m[0] -= 0.0015);
    bench.cycles(1);
    bench.far.with(|far| far.silent = true);
    bench.cycles(2000);
    assert_eq!(bench.state(), (Run::Faulted, Cause::LinkSilent));
}
