//! Whole runs on drives, cranked by hand, on a far end that does at once what it is told.

use super::command::Command;
use super::director::Directs;
use super::drive_cycle::DriveCycle;
use super::forces::Forces;
use super::operator::Operator;
use super::rig_cycle::{Instant, Served};
use super::sample::{Swing, setup};
use super::scene::{MotionSource, Scene};
use super::*;
use crate::link::frame::{FrameFault, OrderKind, PowerState};
use crate::link::{DriveLink, DriveOrder, DriveReport, allocations::counted, sample::two_legs};
use crate::safety::operation::{Brakes, Cause, Input, Inputs, Permit, Phase, State as Run};
use source::Source;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex};

mod asked;
mod braked;
mod connecting;
mod faults;
mod forced;
mod host;
mod lost;
mod one_leg;
mod random;
mod refused;
mod source;
mod unallocated;
mod watched;

/// What a test does to the far end, and sees of it.
#[derive(Debug, Clone)]
struct Far {
    report: DriveReport,
    silent: bool,
    stranger: bool,
    orders: u64,
    warned: bool,
    /// The largest step of a leg that was braked or without torque, m.
    forced_m: f64,
    /// What the last order was to jog at, m/s.
    jog_m_s: Legs,
}

#[derive(Clone)]
struct Obedient(Arc<Mutex<Far>>);

impl Obedient {
    fn new(at_m: f64) -> Self {
        let legs = |value| Legs::filled(2, value);
        let inputs = Inputs { presence: Input::Open, ..Inputs::CLOSED };
        let report = DriveReport {
            round_trip_us: Some(900),
            state: PowerState::Off,
            brakes: Brakes::Set,
            inputs,
            power: false,
            homed: true,
            moving: false,
            fault: None,
            cause: None,
            lengths_m: legs(at_m),
            speeds_m_s: legs(0.0),
            forces_n: legs(f64::NAN),
            temperatures_c: legs(30.0),
            rejected: 0,
        };
        let far = Far {
            report,
            silent: false,
            stranger: false,
            orders: 0,
            warned: false,
            forced_m: 0.0,
            jog_m_s: legs(0.0),
        };
        Self(Arc::new(Mutex::new(far)))
    }

    fn with<T>(&self, act: impl FnOnce(&mut Far) -> T) -> T {
        act(&mut self.0.lock().unwrap())
    }

    fn presence(&self, input: Input) {
        self.with(|far| far.report.inputs.presence = input);
    }
}

impl DriveLink for Obedient {
    fn identify(&mut self, _: DriveTime) -> Result<Option<crate::link::FarEnd>, LinkFault> {
        Err(LinkFault::Silent)
    }

    fn poll(&mut self, _: DriveTime) -> Result<Option<DriveReport>, LinkFault> {
        self.with(|far| match far.stranger {
            true => Err(LinkFault::Stranger),
            false => Ok((!far.silent).then_some(far.report)),
        })
    }

    fn send(&mut self, _: DriveTime, order: &DriveOrder) -> Result<(), LinkFault> {
        self.with(|far| {
            far.orders += 1;
            far.warned |= order.warn;
            let jogs = order.kind == OrderKind::Jog;
            far.jog_m_s = if jogs { order.speeds_m_s } else { Legs::filled(2, 0.0) };
            let r = &mut far.report;
            r.power = order.kind != OrderKind::Off;
            r.brakes = if order.release && r.power { Brakes::Released } else { Brakes::Set };
            if order.kind == OrderKind::Follow {
                let step = r.lengths_m.iter().zip(order.lengths_m.iter()).map(|(a, b)| (a - b).abs());
                let step = step.fold(0.0, f64::max);
                if r.brakes != Brakes::Released {
                    far.forced_m = far.forced_m.max(step);
                } else {
                    r.lengths_m = order.lengths_m;
                }
            }
            Ok(())
        })
    }
}

/// A run with its operator.
struct Bench<L: DriveLink> {
    cycle: DriveCycle<L>,
    operator: Operator<'static>,
    frames: Source,
    commands: VecDeque<Command>,
    far: L,
    allocated: u64,
}

impl<L: DriveLink + Clone> Bench<L> {
    fn on(far: L, report: DriveReport, permit: Permit) -> Self {
        Self::with(setup(), far, report, permit)
    }

    fn with(setup: Setup, far: L, report: DriveReport, permit: Permit) -> Self {
        let setup: &'static Setup = Box::leak(Box::new(setup));
        let swing: &'static Swing = Box::leak(Box::new(Swing { length_s: 3.0, ..Swing::default() }));
        let mut frames = Vec::new();
        while frames.len() < Scene::frames(swing) as usize {
            swing.clone().fill(frames.len() as u64, &mut frames);
        }
        let push = Legs::filled(2, 100.0);
        let forces = Forces::with(&Arc::new(two_legs()), &push, &push, &push);
        let count = frames.len() as u64;
        let first = frames[0].legs_m;
        Self {
            cycle: DriveCycle::new(setup, far.clone(), count, forces, permit, report, 20_000),
            operator: Operator::new(setup, swing, first, true),
            frames: Source(frames, 0),
            commands: VecDeque::new(),
            far,
            allocated: 0,
        }
    }

    fn order(&mut self, order: Order) {
        let (view, commands) = (self.cycle.view(), &mut self.commands);
        self.operator.order(&view, order, &mut |command| {
            commands.push_back(command);
            true
        });
    }

    fn cycles(&mut self, count: usize) {
        for _ in 0..count {
            let (view, commands) = (self.cycle.view(), &mut self.commands);
            self.operator.look(&view, &mut |command| {
                commands.push_back(command);
                true
            });
            let at = Instant { due_us: view.tick * 1000, now_us: view.tick * 1000 };
            let (cycle, frames) = (&mut self.cycle, &mut self.frames);
            let (_, count) = counted(|| cycle.serve(at, &mut || commands.pop_front(), frames));
            self.allocated += count;
        }
    }

    fn state(&self) -> (Run, Cause) {
        let run = self.cycle.view().run.unwrap();
        (run.state(), run.cause())
    }

    fn until(&mut self, state: Run) {
        for _ in 0..12_000 {
            if self.state().0 == state && !matches!(self.phase(), Phase::Setting { .. }) {
                return;
            }
            self.cycles(1);
        }
        panic!("never {state:?}, but {:?} {:?}", self.state(), self.phase());
    }

    fn phase(&self) -> Phase {
        self.cycle.view().run.unwrap().phase()
    }

    fn rest(&mut self) {
        for _ in 0..8000 {
            if self.phase() == Phase::Rest {
                return;
            }
            self.cycles(1);
        }
        panic!("no rest: {:?} {:?}", self.state(), self.phase());
    }
}

/// Everything is vouched for, the seat vacant.
const FIT: Permit = Permit { commissioned: true, audition: true, vacant: true };

impl Bench<Obedient> {
    fn new(permit: Permit) -> Self {
        let far = Obedient::new(0.65);
        let report = far.with(|far| far.report);
        Self::on(far, report, permit)
    }

    fn fit() -> Self {
        Self::new(FIT)
    }

    /// One that only does what it is told, with a hand at this computer; the rig's own presence input is wired closed.
    fn by_hand(hand: &Hand) -> Self {
        let bench = Self::fit();
        bench.far.presence(Input::Closed);
        Self {
            cycle: bench.cycle.with_hand(Some(hand.clone())),
            operator: bench.operator.by_word(true),
            ..bench
        }
    }

    /// Cycles while the hand holds.
    fn held(&mut self, hand: &Hand, count: usize) {
        for _ in 0..count / 50 {
            hand.hold();
            self.cycles(50);
        }
    }

    /// Until it plays, the presence input taken hold of once.
    fn follow(&mut self) {
        self.cycles(50);
        // The path was made by now, with drives off.
        self.allocated = 0;
        self.far.presence(Input::Closed);
        self.until(Run::Following);
        self.cycles(600);
    }
}

#[test]
fn plays_from_park_to_park_and_a_cycle_never_allocates() {
    let mut bench = Bench::fit();
    bench.follow();
    bench.until(Run::Holding);
    bench.rest();
    assert_eq!(bench.state().1, Cause::SceneEnded);
    // Still held from the scene: that parks nothing.
    bench.cycles(500);
    assert_eq!(bench.state().0, Run::Holding);
    bench.far.presence(Input::Open);
    bench.cycles(10);
    bench.far.presence(Input::Closed);
    bench.until(Run::Parking);
    bench.until(Run::Parked);
    bench.cycles(400);
    assert!(bench.cycle.is_done() && bench.cycle.view().played_out);
    bench.far.with(|far| {
        assert!(far.warned && far.forced_m == 0.0, "{far:?}");
        assert!(far.report.lengths_m.iter().all(|at| (at - 0.65).abs() < 1e-9));
        assert!(!far.report.power && far.report.brakes == Brakes::Set);
    });
    assert_eq!(bench.allocated, 0);
}

#[test]
fn a_presence_input_that_was_always_held_starts_nothing() {
    let mut bench = Bench::fit();
    bench.far.presence(Input::Closed);
    bench.cycles(5000);
    assert_eq!(bench.state().0, Run::Parked);
    bench.far.presence(Input::Open);
    bench.cycles(5);
    bench.far.presence(Input::Closed);
    bench.until(Run::Following);
}

#[test]
fn letting_go_rests_on_the_path_and_only_a_word_and_a_hand_go_on() {
    let mut bench = Bench::fit();
    bench.follow();
    bench.far.presence(Input::Open);
    bench.rest();
    let at = bench.cycle.view().path_s;
    bench.far.presence(Input::Closed);
    bench.cycles(4000);
    assert_eq!((bench.state(), bench.cycle.view().path_s), ((Run::Holding, Cause::LetGo), at));
    bench.order(Order::Resume);
    bench.cycles(100);
    assert_eq!(bench.state().0, Run::Holding, "held since before the word");
    bench.far.presence(Input::Open);
    bench.cycles(5);
    bench.far.presence(Input::Closed);
    bench.until(Run::Following);
    bench.until(Run::Holding);
    assert!(bench.cycle.view().played_out);
}

#[test]
fn silence_and_faults_end_at_rest_and_want_to_be_acknowledged() {
    type Change = fn(&mut Far);
    let changes: [(Change, Change, Cause); 3] = [
        (|far| far.silent = true, |far| far.silent = false, Cause::LinkSilent),
        (
            |far| far.report.fault = Some((FrameFault::Drive, Some(0))),
            |far| far.report.fault = None,
            Cause::Trouble(crate::safety::operation::Trouble::Drive),
        ),
        (
            |far| far.report.inputs.stop = Input::Open,
            |far| far.report.inputs.stop = Input::Closed,
            Cause::StopInput,
        ),
    ];
    for (change, back, cause) in changes {
        let mut bench = Bench::fit();
        bench.follow();
        bench.far.with(change);
        bench.cycles(1200);
        assert_eq!(bench.state().1, cause);
        bench.far.with(back);
        bench.far.presence(Input::Open);
        bench.cycles(2000);
        bench.far.presence(Input::Closed);
        bench.cycles(4000);
        assert!(!bench.far.with(|far| far.report.power), "{cause:?}");
        bench.order(Order::Park);
        bench.far.presence(Input::Open);
        bench.cycles(10);
        bench.far.presence(Input::Closed);
        bench.cycles(1000);
        assert!(!bench.far.with(|far| far.report.power), "{cause:?}: parked without being acknowledged");
        bench.order(Order::Reset);
        bench.cycles(1000);
        assert_eq!(bench.state(), (Run::Holding, Cause::Acknowledged));
        bench.order(Order::Park);
        bench.far.presence(Input::Open);
        bench.cycles(10);
        bench.far.presence(Input::Closed);
        bench.until(Run::Parking);
        bench.until(Run::Parked);
        assert_eq!(bench.far.with(|far| far.forced_m), 0.0);
    }
}

#[test]
fn a_rig_moved_by_hand_is_found_where_it_is_and_must_be_parked_first() {
    let mut bench = Bench::fit();
    bench.cycles(50);
    bench.far.with(|far| far.report.lengths_m[0] += 0.03);
    bench.cycles(50);
    assert_eq!(bench.state().0, Run::Holding);
    bench.far.presence(Input::Closed);
    bench.cycles(500);
    assert_eq!(bench.state().0, Run::Holding);
    bench.order(Order::Park);
    bench.far.presence(Input::Open);
    bench.cycles(5);
    bench.far.presence(Input::Closed);
    bench.until(Run::Parking);
    bench.until(Run::Parked);
    bench.far.with(|far| assert!(far.report.lengths_m.iter().all(|at| (at - 0.65).abs() < 1e-9)));
}

#[test]
fn without_commissioning_or_audition_no_scene_begins() {
    for permit in [
        Permit { commissioned: false, audition: true, vacant: true },
        Permit { commissioned: true, audition: false, vacant: true },
    ] {
        let mut bench = Bench::new(permit);
        bench.cycles(50);
        bench.far.presence(Input::Closed);
        bench.cycles(5000);
        assert_eq!(bench.state().0, Run::Parked);
        assert!(!bench.far.with(|far| far.report.power || far.warned));
    }
}

#[test]
fn a_jog_waits_for_a_hand_and_ends_when_its_time_is_over() {
    let mut bench = Bench::fit();
    bench.cycles(50);
    bench.far.presence(Input::Closed);
    bench.order(Order::Pause);
    bench.cycles(10);
    let jog = Order::Jog { leg: None, part: 1.0, longest_s: 2.0 };
    bench.order(jog);
    bench.cycles(5000);
    assert_eq!(bench.state().0, Run::Parked, "held since before the word: it may be tied");
    assert!(!bench.far.with(|far| far.warned || far.report.power));
    bench.far.presence(Input::Open);
    bench.cycles(50);
    bench.far.presence(Input::Closed);
    bench.cycles(4500);
    assert_eq!((bench.state().0, bench.phase()), (Run::Jogging, Phase::Moving));
    assert_eq!(bench.far.with(|far| far.jog_m_s.to_vec()), [0.01, 0.01]);
    // Still held, and over all the same.
    bench.cycles(1500);
    assert_eq!((bench.phase(), bench.far.with(|far| far.report.power)), (Phase::Rest, false));
    // Said while it is held it is another jog, which waits for another hand.
    bench.order(jog);
    bench.cycles(5000);
    assert_eq!((bench.phase(), bench.operator.wanted()), (Phase::Rest, Some(jog)));
}

#[test]
fn by_word_nothing_begins_without_a_word_and_a_hand_after_it() {
    let hand = Hand::default();
    let mut bench = Bench::by_hand(&hand);
    bench.held(&hand, 5000);
    hand.let_go();
    bench.cycles(50);
    bench.held(&hand, 5000);
    assert_eq!(bench.state().0, Run::Parked, "no word");
    bench.order(Order::Start);
    assert_eq!(bench.operator.wanted(), Some(Order::Start));
    bench.held(&hand, 5000);
    assert_eq!(bench.state().0, Run::Parked, "held since before the word");
    assert!(!bench.far.with(|far| far.warned || far.report.power));
    hand.let_go();
    bench.cycles(50);
    bench.held(&hand, 5000);
    assert_eq!((bench.state().0, bench.operator.wanted()), (Run::Following, None));
    hand.let_go();
    bench.rest();
    assert_eq!(bench.state(), (Run::Holding, Cause::LetGo));
    let at = bench.far.with(|far| far.report.lengths_m);
    bench.held(&hand, 5000);
    assert_eq!(bench.far.with(|far| far.report.lengths_m), at, "holding again is no word");
    bench.order(Order::Resume);
    hand.let_go();
    bench.cycles(50);
    bench.held(&hand, 9000);
    assert_eq!((bench.state(), bench.operator.wanted()), ((Run::Holding, Cause::SceneEnded), None));
    bench
        .far
        .with(|far| assert!(!far.report.power && far.report.brakes == Brakes::Set && far.forced_m == 0.0));
}

#[test]
fn a_window_that_freezes_lets_go_and_its_thaw_begins_nothing() {
    let hand = Hand::default();
    let mut bench = Bench::by_hand(&hand);
    bench.cycles(50);
    bench.order(Order::Start);
    bench.cycles(50);
    bench.held(&hand, 5000);
    assert_eq!(bench.state().0, Run::Following);
    // Nothing is heard of the key, which is still down.
    bench.cycles(252);
    assert!(matches!(bench.phase(), Phase::Stopping { .. }), "{:?}", bench.phase());
    bench.rest();
    bench.order(Order::Resume);
    bench.held(&hand, 5000);
    assert_eq!((bench.state(), bench.phase()), ((Run::Holding, Cause::LetGo), Phase::Rest));
}

#[test]
fn by_word_a_jog_waits_for_the_hand_and_lasts_as_long_as_it() {
    let hand = Hand::default();
    let mut bench = Bench::by_hand(&hand);
    bench.cycles(50);
    bench.order(Order::Jog { leg: Some(1), part: -1.0, longest_s: f64::INFINITY });
    bench.cycles(5000);
    assert_eq!(bench.state().0, Run::Parked);
    bench.held(&hand, 4500);
    assert_eq!((bench.state().0, bench.phase()), (Run::Jogging, Phase::Moving));
    assert_eq!(bench.far.with(|far| far.jog_m_s.to_vec()), [0.0, -0.01]);
    hand.let_go();
    bench.rest();
    bench.held(&hand, 6000);
    assert_eq!((bench.phase(), bench.operator.wanted()), (Phase::Rest, None), "one word, one jog");
}
