//! Anything in any order, on drives with physics: what legs truly do.

use super::watched::Watched;
use super::*;
use crate::link::{SimAct, SimFault, SimInput};
use proptest::prelude::*;

#[derive(Debug, Clone, Copy)]
enum Step {
    Order(Order),
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
    let input =
        prop::sample::select(vec![SimInput::Presence, SimInput::Presence, SimInput::Gate, SimInput::Stop]);
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
    ]);
    prop_oneof![
        4 => order.prop_map(Step::Order),
        4 => (input, prop::bool::weighted(0.7)).prop_map(|(input, closed)| {
            Step::Act(SimAct::Input(input, if closed { Input::Closed } else { Input::Open }))
        }),
        1 => fault.prop_map(|fault| Step::Act(SimAct::Fault(fault))),
        1 => Just(Step::Act(SimAct::Clear)),
    ]
}

/// What has been done, and how legs stood before this cycle.
struct Watch {
    presence: bool,
    gate: bool,
    stop: bool,
    /// A leg has lost its torque for good: until its brake has closed its load drives it.
    fell: bool,
    /// Cycles for which nothing moved.
    still: usize,
    speeds_m_s: Legs,
}

impl Watch {
    fn acted(&mut self, act: SimAct) {
        let closed = |input| input == Input::Closed;
        match act {
            SimAct::Input(SimInput::Presence, input) => self.presence = closed(input),
            SimAct::Input(SimInput::Gate, input) => self.gate = closed(input),
            SimAct::Input(SimInput::Stop, input) => self.stop = closed(input),
            SimAct::Fault(SimFault::Drive { .. } | SimFault::BrakesStick) => self.fell = true,
            _ => {}
        }
    }

    /// One cycle later: nothing began to move but under a hand that holds, and nothing moved harder than brakes slow it.
    fn look(&mut self, far: &Watched) -> Result<(), TestCaseError> {
        let (at_m, speeds) = far.with(|drives| (drives.lengths_m(), drives.speeds_m_s()));
        let fastest = speeds.iter().fold(0.0, |most: f64, speed| most.max(speed.abs()));
        let change =
            speeds.iter().zip(self.speeds_m_s.iter()).map(|(a, b)| (a - b).abs() * 1e3).fold(0.0, f64::max);
        prop_assert!(change < 20.1, "{} m/s^2", change);
        prop_assert!(at_m.iter().all(|at| *at < 0.895), "{:?}", at_m);
        if self.still > 200 && fastest > 2e-3 && !self.fell {
            prop_assert!(self.presence && self.gate && self.stop, "began to move: {:?}", speeds);
        }
        self.still = if fastest < 5e-4 { self.still + 1 } else { 0 };
        self.speeds_m_s = speeds;
        Ok(())
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn whatever_comes_in_whatever_order_legs_move_only_under_a_hand_and_end_braked(
        steps in prop::collection::vec((50..1500_usize, step()), 6..20),
    ) {
        let (mut bench, far) = Watched::bench();
        let mut watch = Watch {
            presence: false,
            gate: true,
            stop: true,
            fell: false,
            still: 0,
            speeds_m_s: Legs::filled(2, 0.0),
        };
        for (cycles, step) in steps {
            match step {
                Step::Order(order) => bench.order(order),
                Step::Act(act) => {
                    far.with(|drives| drives.act(act));
                    watch.acted(act);
                }
            }
            for _ in 0..cycles {
                bench.cycles(1);
                watch.look(&far)?;
            }
        }
        // Everything is mended and let go: it comes to rest, braked, and stays there.
        for act in [SimAct::Clear, SimAct::Input(SimInput::Presence, Input::Open)] {
            far.with(|drives| drives.act(act));
            watch.acted(act);
        }
        for _ in 0..9000 {
            bench.cycles(1);
            watch.look(&far)?;
        }
        let rests = far.with(|drives| drives.is_braked() && drives.speeds_m_s().iter().all(|speed| *speed == 0.0));
        prop_assert!(rests, "{:?} {:?}", bench.state(), bench.phase());
    }
}
