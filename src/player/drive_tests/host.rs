//! What this computer itself does wrong: it is late, cannot write its record, or does not look any more.

use super::super::rig_cycle::Directed;
use super::*;
use crate::safety::operation::Trouble;

/// One cycle, so late.
fn late(bench: &mut Bench<Obedient>, late_us: u64) {
    let view = bench.cycle.view();
    let at = Instant { due_us: view.tick * 1000, now_us: view.tick * 1000 + late_us };
    bench.cycle.serve(at, &mut || None, &mut bench.frames);
}

/// The link's patience is 20 ms here.
#[test]
fn a_far_end_that_heard_nothing_from_a_late_computer_is_not_to_blame() {
    let silence = |bench: &mut Bench<Obedient>, fault| bench.far.with(|far| far.report.fault = fault);
    for (late_us, cause) in [
        (0, Trouble::Silence),
        (9_000, Trouble::Silence),
        (11_000, Trouble::HostLate),
        (19_000, Trouble::HostLate),
        (21_000, Trouble::HostLate),
    ] {
        let mut bench = Bench::fit();
        bench.follow();
        late(&mut bench, late_us);
        silence(&mut bench, Some((FrameFault::Silence, None)));
        bench.cycles(1);
        bench.rest();
        assert_eq!(bench.state(), (Run::Faulted, Cause::Trouble(cause)), "{late_us} us");
    }
    // A computer that was late some time ago has no part in it.
    let mut bench = Bench::fit();
    bench.follow();
    late(&mut bench, 19_000);
    bench.cycles(20);
    silence(&mut bench, Some((FrameFault::Silence, None)));
    bench.cycles(1);
    bench.rest();
    assert_eq!(bench.state().1, Cause::Trouble(Trouble::Silence));
}

#[test]
fn what_came_late_is_caught_up_with_for_as_long_as_the_far_end_waits() {
    assert_eq!(Bench::fit().cycle.catches_up_us(), 20_000);
}

#[test]
fn cycles_that_are_caught_up_with_are_not_the_links_silence() {
    // How many of them after each other, and then how many in time without a report: the link is silent after 20.
    for (burst, more, silent) in [(18, 5, false), (18, 21, true), (0, 19, false), (0, 21, true)] {
        let mut bench = Bench::fit();
        bench.follow();
        bench.far.with(|far| far.silent = true);
        let now_us = (bench.cycle.view().tick + burst) * 1000;
        for _ in 0..burst {
            let at = Instant { due_us: bench.cycle.view().tick * 1000, now_us };
            bench.cycle.serve(at, &mut || None, &mut bench.frames);
        }
        bench.cycles(more);
        let cause = bench.state().1;
        assert_eq!(cause == Cause::LinkSilent, silent, "{burst} and {more}: {cause:?}");
    }
}

/// Another rig, or reports that are old when they come, however regularly: in a run, and at rest.
#[test]
fn strangers_and_old_reports_end_a_run_as_silence_does() {
    // Later than the far end's patience of 20 ms.
    let old = |far: &mut Far| far.report.round_trip_us = Some(20_001);
    for (strange, cause) in [(true, Cause::Trouble(Trouble::WrongRig)), (false, Cause::LinkSilent)] {
        let change = |far: &mut Far| if strange { far.stranger = true } else { old(far) };
        let mut bench = Bench::fit();
        bench.follow();
        bench.far.with(change);
        bench.cycles(100);
        assert_eq!(bench.state().1, cause);
        assert!(!matches!(bench.phase(), Phase::Moving), "{:?}", bench.phase());
        let mut bench = Bench::fit();
        bench.cycles(50);
        bench.far.with(change);
        bench.cycles(100);
        bench.far.presence(Input::Closed);
        bench.cycles(5000);
        assert_eq!(bench.state().1, cause, "at rest");
        assert!(bench.far.with(|far| !far.warned && !far.report.power));
    }
}

#[test]
fn a_lost_record_ends_the_run_along_its_path_and_nothing_begins_without_one() {
    let mut bench = Bench::fit();
    bench.follow();
    bench.cycle.record_lost();
    bench.cycles(1);
    let run = bench.cycle.view().run.unwrap();
    assert_eq!(run.demand().motion, crate::safety::operation::Motion::Slow, "along the path");
    bench.rest();
    assert_eq!(bench.state(), (Run::Faulted, Cause::Trouble(Trouble::RecordLost)));
    let at_m = bench.far.with(|far| far.report.lengths_m);
    let jog = Order::Jog { leg: None, part: 1.0, longest_s: 9.0 };
    for order in [Order::Reset, Order::Park, Order::Resume, Order::Home, jog] {
        bench.far.presence(Input::Open);
        bench.order(order);
        bench.cycles(50);
        bench.far.presence(Input::Closed);
        bench.order(order);
        bench.cycles(4000);
        assert_eq!(bench.state().0, Run::Faulted, "{order:?}");
    }
    assert!(bench.far.with(|far| !far.report.power && far.report.lengths_m == at_m));
    // Lost before anything began.
    let mut bench = Bench::fit();
    bench.cycle.record_lost();
    bench.cycles(50);
    bench.far.presence(Input::Closed);
    bench.cycles(5000);
    assert_eq!(bench.state(), (Run::Faulted, Cause::Trouble(Trouble::RecordLost)));
    assert!(bench.far.with(|far| !far.report.power && !far.warned));
}

/// A terminal that blocks, or a thread that is gone: nobody could stop the run.
#[test]
fn who_does_not_look_has_let_go() {
    let mut bench = Bench::fit();
    bench.follow();
    bench.cycle.directed(Directed::Silent);
    bench.cycles(1);
    assert!(matches!(bench.phase(), Phase::Stopping { .. }), "{:?}", bench.phase());
    bench.rest();
    assert_eq!(bench.state(), (Run::Holding, Cause::LetGo));
    assert!(!bench.cycle.is_done());
    bench.cycle.directed(Directed::Gone);
    bench.cycles(1);
    assert!(bench.cycle.is_done());
}
