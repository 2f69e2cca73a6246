//! What drives are told that they may use, order by order, against forces that are worked out here once more.

use super::*;
use crate::check::{self, Cleared};
use crate::diag::{SourceText, Sources};
use crate::motion::{Plan, Serial};
use crate::rig::Rig;
use crate::scenario::{NoFiles, resolve};
use crate::time::SampleRate;

/// A far end that keeps the kind and the limits of every order.
#[derive(Clone)]
struct Kept {
    far: Obedient,
    sent: Arc<Mutex<Vec<(OrderKind, Legs)>>>,
}

impl DriveLink for Kept {
    fn identify(&mut self, now: DriveTime) -> Result<Option<crate::link::FarEnd>, LinkFault> {
        self.far.identify(now)
    }
    fn poll(&mut self, now: DriveTime) -> Result<Option<DriveReport>, LinkFault> {
        self.far.poll(now)
    }
    fn send(&mut self, now: DriveTime, order: &DriveOrder) -> Result<(), LinkFault> {
        self.sent.lock().unwrap().push((order.kind, order.force_limits_n));
        self.far.send(now, order)
    }
}

/// The sample rig with a joint of 3 degrees each way, so that what moves weighs more than what leans.
fn narrow() -> Rig {
    let mut rig = two_legs();
    rig.axes.iter_mut().for_each(|axis| (axis.min, axis.max) = (-RANGE_RAD, RANGE_RAD));
    rig
}

const RANGE_RAD: f64 = 0.05;

/// A roll of 2.2 degrees at 1.5 Hz, at so many dB.
fn cleared(rig: Rig, level_db: f64) -> Cleared {
    let text = "scene \"rolls\" {\n    at 0 s roll sine(2.2 deg, 1.5 Hz) for 6 s rise 2 s fall 2 s\n}\n";
    let mut sources = Sources::new();
    let source = sources.add(SourceText::new("rolls.cues", text));
    let parsed = crate::lang::parse(source, text);
    let resolved = resolve(&parsed.file, source, None, &mut sources, &NoFiles);
    let rate = SampleRate::new(1000).unwrap();
    let gain = libm::pow(10.0, level_db / 20.0);
    let plan = Plan::new(Arc::new(resolved.scenario.unwrap()), Arc::new(rig), gain, rate).unwrap();
    let report = check::run(&plan, &sources, &Serial, &|_| {});
    let cleared = report.clear();
    cleared.unwrap_or_else(|| panic!("{}", report.findings[0].diagnostic.title))
}

/// A run with the forces of a plan, and what was sent in it.
struct Told {
    bench: Bench<Kept>,
    sent: Arc<Mutex<Vec<(OrderKind, Legs)>>>,
}

impl Told {
    fn by(cleared: &Cleared) -> Self {
        let far = Obedient::new(0.65);
        let report = far.with(|far| far.report);
        let sent: Arc<Mutex<Vec<_>>> = Arc::default();
        let bench = Bench::on(Kept { far, sent: sent.clone() }, report, FIT);
        let (forces, _) = Forces::of(cleared);
        let frames = bench.frames.0.len() as u64;
        let cycle = DriveCycle::new(&setup(), bench.far.clone(), frames, forces, FIT, report, 20_000);
        Self { bench: Bench { cycle, ..bench }, sent }
    }

    /// Asks for an act and takes hold, until it moves; then so many cycles.
    fn act(&mut self, order: Order, state: Run) {
        self.bench.far.far.presence(Input::Open);
        self.bench.cycles(50);
        self.bench.order(order);
        self.bench.cycles(20);
        self.bench.far.far.presence(Input::Closed);
        self.bench.until(state);
        while self.bench.phase() != Phase::Moving {
            self.bench.cycles(1);
        }
        self.bench.cycles(300);
    }

    /// The limits in all orders of a kind, which are the same, N.
    fn limits_n(&self, kind: OrderKind) -> Legs {
        let sent = self.sent.lock().unwrap();
        let of_kind: Vec<Legs> =
            sent.iter().filter(|(sent, _)| *sent == kind).map(|(_, limits)| *limits).collect();
        assert!(!of_kind.is_empty(), "{kind:?}");
        assert!(of_kind.iter().all(|limits| *limits == of_kind[0]), "{kind:?}");
        of_kind[0]
    }
}

/// Of what is needed a third more, and a tenth of the thrust of 3000 N.
fn allowed_n(needed_n: f64) -> f64 {
    needed_n * 4.0 / 3.0 + 300.0
}

/// 120 kg stand 0.3 m above the joint on two upright legs 0.5 m behind and 0.4 m beside it: what they push with for a
/// lean and for a turn about both axes, rad and rad/s^2.
fn needed_n([pitch, roll]: [f64; 2], [pitch_up, roll_up]: [f64; 2]) -> f64 {
    let topples = 120.0 * 9.80665 * 0.3;
    let inertia = 12.0 + 120.0 * 0.3 * 0.3;
    let torque = |lean: f64, up: f64| inertia * up + topples * libm::sin(lean);
    torque(pitch, pitch_up) / (2.0 * 0.5) + torque(roll, roll_up) / (2.0 * 0.4)
}

fn near(found_n: Legs, expected_n: f64) {
    // Legs that lean a little, and a lever that gets shorter with its angle, are left out here.
    let off = |found_n: &f64| (found_n / expected_n - 1.0).abs();
    assert!(
        found_n.len() == 2 && found_n.iter().all(|found| off(found) < 0.01),
        "{found_n:?} N, not {expected_n} N"
    );
}

#[test]
fn what_creeps_may_use_what_holds_it_and_what_follows_what_its_level_needs() {
    let lean = [RANGE_RAD; 2];
    let creep_n = allowed_n(needed_n(lean, [0.0; 2]));
    // On the way to a scene a leg speeds up by 1.8 m/s^2 at most: what 0.09 m/s lose in 0.05 s.
    let moves_n = needed_n(lean, [0.0, 1.8 / 0.4]);
    // At 0 dB a leg goes 0.145 m/s at level, which it loses by 2.9 m/s^2 in 0.05 s.
    let amplitude = 2.2_f64.to_radians();
    let fastest_m_s = 0.4 * amplitude * std::f64::consts::TAU * 1.5;
    let stops_n = needed_n([0.0; 2], [0.0, fastest_m_s / 0.05 / 0.4]);
    assert!(stops_n > 1.2 * moves_n, "{stops_n} {moves_n}");
    // A quarter of it at -12 dB: there the way to the scene needs more.
    for (level_db, act_n) in [(0.0, allowed_n(stops_n)), (-12.0, allowed_n(moves_n))] {
        let mut told = Told::by(&cleared(narrow(), level_db));
        told.act(Order::Jog { leg: None, part: 1.0, longest_s: 9.0 }, Run::Jogging);
        near(told.limits_n(OrderKind::Jog), creep_n);
        // While torque is built up.
        near(told.limits_n(OrderKind::Hold), creep_n);
        let mut told = Told::by(&cleared(narrow(), level_db));
        told.act(Order::Home, Run::Homing);
        near(told.limits_n(OrderKind::Home), creep_n);
        let mut told = Told::by(&cleared(narrow(), level_db));
        told.act(Order::Start, Run::Engaging);
        told.bench.until(Run::Following);
        told.bench.cycles(600);
        near(told.limits_n(OrderKind::Follow), act_n);
        near(told.limits_n(OrderKind::Hold), creep_n);
        // A stop is part of the act.
        told.sent.lock().unwrap().clear();
        told.bench.far.far.presence(Input::Open);
        told.bench.rest();
        near(told.limits_n(OrderKind::Follow), act_n);
    }
}

/// No leg is told more than it can give, however much the plan would need.
#[test]
fn no_limit_is_beyond_a_legs_thrust() {
    let mut rig = narrow();
    rig.actuators.iter_mut().for_each(|leg| leg.thrust_n = 150.0);
    let (forces, _) = Forces::of(&cleared(rig, 0.0));
    assert_eq!(forces.act_n.to_vec(), [150.0; 2]);
    // 39.7 N and a third more, and a tenth of 150 N.
    assert!(forces.creep_n.iter().all(|limit| (limit - 67.9).abs() < 0.7), "{:?}", forces.creep_n);
}
