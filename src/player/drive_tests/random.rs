//! Anything in any order, on drives with physics: what legs truly do.

use super::watched::Watched;
use super::*;
use crate::link::{SimAct, SimFault, SimInput};
use crate::player::command::View;
use crate::player::sample::Bent;
use crate::player::thresholds::largest_m;
use crate::rig::{Rig, kinematics};
use crate::safety::{Limits, within_joints};
use proptest::prelude::*;

#[derive(Debug, Clone, Copy)]
enum Step {
    Order(Order),
    /// Asked for and taken hold of as it should be; what warns before it goes by.
    Begin(Order),
    Act(SimAct),
}

fn step() -> impl Strategy<Value = Step> {
    let order = prop::sample::select(vec![
        Order::Start,
        Order::Pause,
        Order::Resume,
        Order::Park,
        Order::Home,
        Order::Stop,
        Order::EmergencyStop,
        Order::Reset,
        Order::Gain(0.5),
        Order::Jog { leg: Some(1), part: 1.0, longest_s: 3.0 },
        Order::Jog { leg: None, part: -1.0, longest_s: f64::INFINITY },
    ]);
    let begun = prop::sample::select(vec![
        Order::Start,
        Order::Park,
        Order::Jog { leg: None, part: -1.0, longest_s: f64::INFINITY },
        Order::Jog { leg: None, part: 1.0, longest_s: f64::INFINITY },
        Order::Jog { leg: Some(0), part: -1.0, longest_s: f64::INFINITY },
    ]);
    // Presence as often as all others.
    let input = prop::sample::select(vec![
        SimInput::Presence,
        SimInput::Presence,
        SimInput::Presence,
        SimInput::Presence,
        SimInput::Gate,
        SimInput::Mat,
        SimInput::Belt,
        SimInput::Stop,
    ]);
    let fault = prop::sample::select(vec![
        SimFault::Mute,
        SimFault::Deaf,
        SimFault::Late { by_us: 60_000 },
        SimFault::Twice,
        SimFault::Swapped,
        SimFault::Corrupt,
        SimFault::Drive { leg: 1 },
        SimFault::Hot { leg: 0 },
        SimFault::EndSwitch { leg: 0 },
        SimFault::BrakesStick,
        SimFault::Slip { leg: 0, by_m: 0.03 },
        SimFault::Push { leg: 1, by_m: 0.002 },
        SimFault::Unhomed,
        SimFault::Snag { leg: 1, force_n: 900.0 },
        SimFault::Stranger,
    ]);
    prop_oneof![
        3 => order.prop_map(Step::Order),
        1 => begun.prop_map(Step::Begin),
        4 => (input, prop::bool::weighted(0.7)).prop_map(|(input, closed)| {
            Step::Act(SimAct::Input(input, if closed { Input::Closed } else { Input::Open }))
        }),
        1 => fault.prop_map(|fault| Step::Act(SimAct::Fault(fault))),
        1 => Just(Step::Act(SimAct::Clear)),
    ]
}

/// Where legs stand at first, m, and how far the joint goes, rad: at park, which stands a little before the end of a narrow
/// joint, nearer to that end, and near the ends of the strokes where the joint goes further than they do.
fn begins() -> impl Strategy<Value = (f64, f64)> {
    prop::sample::select(vec![(0.65, 0.3), (0.65, 0.22), (0.643, 0.22), (0.613, 0.3), (0.887, 0.3)])
}

/// The sample rig with a joint that goes so far, rad.
fn jointed(range_rad: f64) -> Rig {
    let mut rig = two_legs();
    rig.axes.iter_mut().for_each(|axis| (axis.min, axis.max) = (-range_rad, range_rad));
    rig
}

/// What has been done, and how legs stood before this cycle.
struct Watch {
    rig: Rig,
    pose: [f64; 2],
    /// Presence, gate, mat, belt and stop: whether they are closed.
    closed: [bool; 5],
    /// Since legs stood inside their limits by a reference that was right, it was wrong, or looked for: the program knows of
    /// no ends.
    is_lost: bool,
    /// Brakes stick, so that legs come down to their ends when power is removed.
    is_loose: bool,
    /// A leg has lost its torque for good: until its brake has closed its load drives it.
    fell: bool,
    /// Cycles for which nothing moved.
    still: usize,
    speeds_m_s: Legs,
}

impl Watch {
    fn acted(&mut self, act: SimAct) {
        match act {
            SimAct::Input(which, input) => self.closed[which as usize] = input == Input::Closed,
            SimAct::Fault(SimFault::Slip { .. } | SimFault::Unhomed) => self.is_lost = true,
            SimAct::Clear => self.is_loose = false,
            SimAct::Fault(SimFault::Drive { .. }) => self.fell = true,
            SimAct::Fault(SimFault::BrakesStick) => (self.fell, self.is_loose) = (true, true),
            _ => {}
        }
    }

    /// One cycle later: nothing began to move but under a hand that holds, and nothing moved harder than brakes slow it.
    fn look(&mut self, bench: &Bench<Watched>, far: &Watched) -> Result<(), TestCaseError> {
        let (at_m, speeds) = far.with(|drives| (drives.lengths_m(), drives.speeds_m_s()));
        let fastest = speeds.iter().fold(0.0, |most: f64, speed| most.max(speed.abs()));
        let change =
            speeds.iter().zip(self.speeds_m_s.iter()).map(|(a, b)| (a - b).abs() * 1e3).fold(0.0, f64::max);
        prop_assert!(change < 20.1, "{} m/s^2", change);
        prop_assert!(at_m.iter().all(|at| *at < 0.895), "{:?}", at_m);
        self.look_at_ends(&bench.cycle.view(), &at_m)?;
        if self.still > 200 && fastest > 2e-3 && !self.fell {
            prop_assert!(self.closed == [true; 5], "began to move: {:?} {:?}", speeds, self.closed);
        }
        self.still = if fastest < 5e-4 { self.still + 1 } else { 0 };
        self.speeds_m_s = speeds;
        Ok(())
    }

    /// Legs inside their strokes and the platform inside the joint's ranges, as far as anybody knows where they are.
    fn look_at_ends(&mut self, view: &View, at_m: &Legs) -> Result<(), TestCaseError> {
        let run = view.run.unwrap();
        let pose = kinematics::forward(&self.rig, at_m, &self.pose).unwrap();
        self.pose.copy_from_slice(pose.as_slice());
        let past = self.rig.axes.iter().zip(self.pose).map(|(axis, at)| (at - axis.max).max(axis.min - at));
        let past_rad = past.fold(f64::NEG_INFINITY, f64::max);
        // Soft ends at 0.61 and 0.89 m, and of 2 mm by which somebody may push a leg some have a part in each.
        let inside = at_m.iter().all(|at| (0.607..0.895).contains(at)) && past_rad < 0.01;
        let homes = run.state() == Run::Homing;
        let is_right = run.seen().link && run.seen().homed && largest_m(&view.legs_m, at_m) < 1e-4;
        self.is_lost = homes || self.is_loose || (self.is_lost && !(inside && is_right));
        prop_assert!(inside || self.is_lost, "{:?} m, {} rad past: {:?}", at_m, past_rad, run.state());
        Ok(())
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn whatever_comes_in_whatever_order_legs_move_only_under_a_hand_and_end_braked(
        (at_m, range_rad) in begins(),
        steps in prop::collection::vec((50..1500_usize, step()), 6..20),
    ) {
        let rig = jointed(range_rad);
        let limits = within_joints(&rig, Limits::of(&rig).unwrap()).unwrap();
        let (mut bench, far) = Watched::bench_with(Setup::with(&rig, limits, Arc::new(Bent)).unwrap(), at_m);
        let mut watch = Watch {
            rig,
            pose: [0.0; 2],
            closed: [false, true, true, true, true],
            is_lost: false,
            is_loose: false,
            fell: false,
            still: 0,
            speeds_m_s: Legs::filled(2, 0.0),
        };
        for (cycles, step) in steps {
            let presence = |input| Step::Act(SimAct::Input(SimInput::Presence, input));
            let steps = match step {
                Step::Begin(order) => vec![
                    (30, presence(Input::Open)),
                    (30, Step::Order(order)),
                    (3_100 + cycles, presence(Input::Closed)),
                ],
                step => vec![(cycles, step)],
            };
            for (cycles, step) in steps {
                match step {
                    Step::Order(order) | Step::Begin(order) => bench.order(order),
                    Step::Act(act) => {
                        far.with(|drives| drives.act(act));
                        watch.acted(act);
                    }
                }
                for _ in 0..cycles {
                    bench.cycles(1);
                    watch.look(&bench, &far)?;
                }
            }
        }
        // Everything is mended and let go: it comes to rest, braked, and stays there.
        for act in [SimAct::Clear, SimAct::Input(SimInput::Presence, Input::Open)] {
            far.with(|drives| drives.act(act));
            watch.acted(act);
        }
        for _ in 0..9000 {
            bench.cycles(1);
            watch.look(&bench, &far)?;
        }
        let rests = far.with(|drives| drives.is_braked() && drives.speeds_m_s().iter().all(|speed| *speed == 0.0));
        prop_assert!(rests, "{:?} {:?}", bench.state(), bench.phase());
    }
}
