//! What this computer itself does wrong: it is late, cannot write its record, or does not look any more.

use super::super::clock::CrankedClock;
use super::super::real_time::{Rings, serve};
use super::super::rig_cycle::Directed;
use super::super::session::Cycle;
use super::*;
use crate::player::window::Frames;
use crate::safety::operation::Trouble;
use rtrb::RingBuffer;
use std::sync::atomic::AtomicBool;

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

/// A far end that keeps when each set-point came, and where it was.
#[derive(Clone)]
struct Kept {
    far: Obedient,
    dated: bool,
    /// Microseconds, and m of the first leg.
    came: Arc<Mutex<Vec<(u64, f64)>>>,
}

impl DriveLink for Kept {
    fn identify(&mut self, now: DriveTime) -> Result<Option<crate::link::FarEnd>, LinkFault> {
        self.far.identify(now)
    }
    fn poll(&mut self, now: DriveTime) -> Result<Option<DriveReport>, LinkFault> {
        self.far.poll(now)
    }
    fn send(&mut self, now: DriveTime, order: &DriveOrder) -> Result<(), LinkFault> {
        self.came.lock().unwrap().push((now.0, order.lengths_m[0]));
        self.far.send(now, order)
    }
    fn is_dated(&self) -> bool {
        self.dated
    }
}

/// So many cycles of a run, and then no more.
struct Few<L: DriveLink>(DriveCycle<L>, usize);

impl<L: DriveLink> Served for Few<L> {
    fn view(&self) -> command::View {
        self.0.view()
    }
    fn is_done(&self) -> bool {
        self.1 == 0
    }
    fn serve(
        &mut self,
        at: Instant,
        commands: &mut dyn FnMut() -> Option<Command>,
        frames: &mut dyn Frames,
    ) -> Cycle {
        self.1 -= 1;
        self.0.serve(at, commands, frames)
    }
    fn end(self) {}
    fn directed(&mut self, how: Directed) {
        self.0.directed(how);
    }
    fn catches_up_us(&self) -> u64 {
        self.0.catches_up_us()
    }
}

/// While following, 60 cycles of 1 ms, of which the tenth is 400 us and the twentieth 15 ms late, where the link's
/// patience is 20 ms: how long after each other set-points came, microseconds, and how far apart they were, m.
fn stalled(dated: bool) -> Vec<(u64, f64)> {
    let kept = Kept { far: Obedient::new(0.65), dated, came: Arc::default() };
    let report = kept.far.with(|far| far.report);
    let mut bench = Bench::on(kept.clone(), report, FIT);
    bench.cycles(50);
    kept.far.presence(Input::Closed);
    bench.until(Run::Following);
    bench.cycles(600);
    kept.came.lock().unwrap().clear();
    let Bench { cycle, frames: Source(all, next), .. } = bench;
    let (mut frames_in, frames) = RingBuffer::new(all.len());
    all.iter().skip(next).for_each(|frame| frames_in.push(*frame).unwrap());
    let (_commands, commands) = RingBuffer::new(1);
    let (views, _views) = RingBuffer::new(64);
    let (entries, _entries) = RingBuffer::new(256);
    let clock = CrankedClock::default();
    let late = |at| if at == 20 { 15_000 } else { u64::from(at == 10) * 400 };
    clock.late_us.lock().unwrap().extend((1..=60).map(late));
    serve(Few(cycle, 60), Rings { frames, commands, views, entries }, &clock, 1000, &AtomicBool::new(false));
    let came = kept.came.lock().unwrap();
    came.windows(2).map(|pair| (pair[1].0 - pair[0].0, (pair[1].1 - pair[0].1).abs())).collect()
}

#[test]
fn set_points_that_are_taken_as_they_come_never_come_in_a_burst() {
    let gaps = |dated| stalled(dated).iter().map(|(gap_us, _)| *gap_us).collect::<Vec<_>>();
    let mut caught_up = [1000; 59];
    (caught_up[8], caught_up[9]) = (1400, 600);
    let mut moved_on = caught_up;
    // From the nineteenth to the twentieth; dated, the fifteen that were missed go out at once.
    (caught_up[18], moved_on[18]) = (16_000, 16_000);
    caught_up[19..34].fill(0);
    assert_eq!(gaps(true), caught_up);
    assert_eq!(gaps(false), moved_on);
    // The path goes on from where it was: never more than a cycle's way in a step.
    let steps: Vec<f64> = stalled(false).iter().map(|(_, step_m)| *step_m).collect();
    let most_m = steps[..15].iter().fold(0.0_f64, |most, step| most.max(*step));
    assert!(most_m > 1e-6 && steps.iter().all(|step| *step < 1.5 * most_m), "{steps:?}");
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
        // Legs were fast in the last report that counts: nobody waits for it to say that they stand.
        bench.far.with(|far| far.report.speeds_m_s = Legs::filled(2, 0.05));
        bench.cycles(1);
        bench.far.with(change);
        bench.cycles(100);
        assert_eq!(bench.state().1, cause);
        assert!(!matches!(bench.phase(), Phase::Moving), "{:?}", bench.phase());
        bench.cycles(600);
        assert!(!matches!(bench.phase(), Phase::Moving | Phase::Stopping { .. }), "{:?}", bench.phase());
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
