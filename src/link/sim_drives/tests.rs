use super::*;
use crate::link::frame::{FrameFault, OrderKind, PowerState};
use crate::link::sample::two_legs;

/// Orders every millisecond, as a program sends them.
struct Bench {
    drives: SimDrives,
    hand: SimHand,
    now_us: u64,
    /// Milliseconds of the swing so far.
    swung_ms: u64,
    /// Hardest change of speed seen, m/s^2.
    hardest_m_s2: f64,
    /// By how much more the swing's set-points are out, m.
    jump_m: f64,
    /// How far from their set-points orders let legs be, m.
    window_m: f64,
}

impl Bench {
    fn new() -> Self {
        Self::standing_at(0.65)
    }

    fn standing_at(at_m: f64) -> Self {
        let (drives, hand) = SimDrives::new(&two_legs(), &[at_m, at_m]);
        Self { drives, hand, now_us: 0, swung_ms: 0, hardest_m_s2: 0.0, jump_m: 0.0, window_m: 0.1 }
    }

    fn pass(&mut self, order: Option<(OrderKind, bool, Legs)>) -> Option<DriveReport> {
        self.now_us += 1000;
        let before = self.drives.speeds_m_s();
        let report = self.drives.poll(DriveTime(self.now_us)).unwrap();
        let changes = before
            .iter()
            .zip(self.drives.speeds_m_s().iter())
            .map(|(a, b)| (a - b).abs() * 1e3)
            .fold(0.0, f64::max);
        self.hardest_m_s2 = self.hardest_m_s2.max(changes);
        if let Some((kind, release, lengths_m)) = order {
            let legs = |value| Legs::filled(2, value);
            let order = DriveOrder {
                apply_at: DriveTime(self.now_us + 1000),
                kind,
                warn: false,
                release,
                lengths_m,
                speeds_m_s: if kind == OrderKind::Jog { lengths_m } else { legs(0.0) },
                force_limits_n: legs(5000.0),
                windows_m: legs(self.window_m),
            };
            self.drives.send(DriveTime(self.now_us), &order).unwrap();
        }
        report
    }

    /// The last report after `ms` of one order; of nothing but silence where it is `None`.
    fn for_ms(&mut self, ms: usize, order: Option<(OrderKind, bool, Legs)>) -> Option<DriveReport> {
        (0..ms).map(|_| self.pass(order)).last().flatten()
    }

    /// Released and holding.
    fn ready(&mut self) -> Legs {
        let stand = self.drives.lengths_m();
        self.for_ms(5, Some((OrderKind::Off, false, stand)));
        self.for_ms(100, Some((OrderKind::Hold, true, stand)));
        stand
    }

    /// Both legs on out and in, 100 mm/s at most, for `ms`.
    fn swing(&mut self, ms: u64) -> Option<DriveReport> {
        let stand = Legs::filled(2, 0.65);
        let mut last = None;
        for _ in 0..ms {
            let at = self.jump_m + 0.02 * (1.0 - libm::cos(5.0 * self.swung_ms as f64 * 1e-3));
            self.swung_ms += 1;
            last = self.pass(Some((OrderKind::Follow, true, Legs::from_fn(2, |leg| stand[leg] + at))));
        }
        last
    }

    fn rests(&mut self) {
        assert!(self.drives.is_braked() && self.drives.speeds_m_s().iter().all(|v| *v == 0.0));
    }
}

#[test]
fn torque_comes_before_brakes_open_and_nothing_else_moves_legs() {
    let mut bench = Bench::new();
    let stand = bench.drives.lengths_m();
    // Set-points without brakes off, and brakes off without torque, do nothing.
    let far = Legs::filled(2, 0.70);
    let report = bench.for_ms(200, Some((OrderKind::Off, true, far))).unwrap();
    assert!(!report.power && report.brakes == Brakes::Set);
    let report = bench.for_ms(200, Some((OrderKind::Follow, false, far))).unwrap();
    assert!(report.power && report.brakes == Brakes::Set && report.state == PowerState::Hold);
    assert_eq!(bench.drives.lengths_m(), stand);
    let report = bench.for_ms(200, Some((OrderKind::Hold, true, far))).unwrap();
    assert!(report.brakes == Brakes::Released && report.state == PowerState::Hold);
    // The measured place is a whole count: the loop takes that out.
    let moved =
        bench.drives.lengths_m().iter().zip(stand.iter()).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    assert!(moved < 1e-6, "{moved}");
}

#[test]
fn follows_and_stops_by_itself_when_orders_stay_away() {
    let mut bench = Bench::new();
    bench.ready();
    let report = bench.swing(900).unwrap();
    assert!(report.state == PowerState::Follow && report.fault.is_none());
    let wanted = 0.65 + 0.02 * (1.0 - libm::cos(5.0 * 0.9));
    assert!((report.lengths_m[0] - wanted).abs() < 0.004, "{} {wanted}", report.lengths_m[0]);
    assert!(report.speeds_m_s[0].abs() > 0.05);
    let before = bench.hardest_m_s2;
    let report = bench.for_ms(600, None).unwrap();
    assert_eq!(report.fault, Some((FrameFault::Silence, None)));
    bench.rests();
    // Along the path, no harder than the rig's legs may be braked, and the loop's lag.
    assert!(before < 3.0 && bench.hardest_m_s2 < 1.25 * 3.0 + 1e-9, "{before} {}", bench.hardest_m_s2);
    // Orders that come again move nothing before the fault was seen and the drives were off.
    bench.for_ms(300, Some((OrderKind::Follow, true, Legs::filled(2, 0.65))));
    bench.rests();
    let report = bench.for_ms(10, Some((OrderKind::Off, false, Legs::filled(2, 0.65)))).unwrap();
    assert_eq!((report.state, report.fault), (PowerState::Off, None));
}

#[test]
fn homes_only_on_an_order_and_jogs_slowly() {
    let mut bench = Bench::new();
    bench.drives.act(SimAct::Fault(SimFault::Unhomed));
    let stand = bench.ready();
    let report = bench.swing(300).unwrap();
    assert!(!report.homed && report.state == PowerState::Hold, "{report:?}");
    let report = bench.for_ms(200, Some((OrderKind::Jog, true, Legs::filled(2, 0.5)))).unwrap();
    assert!((report.speeds_m_s[1] - 0.02).abs() < 1e-3, "{}", report.speeds_m_s[1]);
    let report = bench.for_ms(6_000, Some((OrderKind::Home, true, stand))).unwrap();
    assert!(report.homed && report.fault.is_none() && !report.moving, "{report:?}");
    // 10 mm of soft end and 7 mm from the short end of 600 mm.
    assert!((report.lengths_m[0] - 0.617).abs() < 1e-5, "{}", report.lengths_m[0]);
    // Counting began where the count was lost: what is reported is the rig's length for all that.
    let truly_m = bench.drives.lengths_m()[1];
    assert!((truly_m - 0.617).abs() < 2e-5, "{truly_m}");
    assert!(bench.hardest_m_s2 < 1.25 * 3.0 + 1e-9, "{}", bench.hardest_m_s2);
}

#[test]
fn set_points_that_jump_are_caught_up_with_or_end_in_a_stop_as_short_as_any() {
    let jump = |by_m: f64| {
        let mut bench = Bench::new();
        bench.ready();
        bench.swing(400);
        let (from_m, rate_m_s) = (bench.drives.lengths_m()[0], bench.drives.speeds_m_s()[0]);
        bench.jump_m = by_m;
        bench.swing(if by_m > 0.012 { 200 } else { 500 });
        (bench, from_m, rate_m_s)
    };
    let (mut bench, ..) = jump(0.008);
    let wanted_m = 0.658 + 0.02 * (1.0 - libm::cos(5.0 * 0.9));
    let (at_m, report) = (bench.drives.lengths_m()[0], bench.pass(None).unwrap());
    assert!(report.fault.is_none() && (at_m - wanted_m).abs() < 0.004, "{at_m} {wanted_m}");
    assert!(bench.hardest_m_s2 < 1.25 * 3.0 + 1e-9, "{}", bench.hardest_m_s2);
    let (mut bench, from_m, rate_m_s) = jump(0.02);
    assert_eq!(bench.pass(None).unwrap().fault, Some((FrameFault::Following, Some(0))));
    bench.rests();
    // The square of its speed over twice 3 m/s^2, the loop's lag, and the way until it is noticed.
    let (way_m, most_m) = (bench.drives.lengths_m()[0] - from_m, rate_m_s * rate_m_s / 6.0);
    assert!(rate_m_s > 0.05 && way_m < most_m + 0.02 * rate_m_s + 0.001, "{way_m} {most_m}");
    assert!(bench.hardest_m_s2 < 1.25 * 3.0 + 1e-9, "{}", bench.hardest_m_s2);
}

#[test]
fn an_order_may_say_a_narrower_window_and_not_a_wider_one() {
    for (window_m, by_m, trips) in
        [(0.1, 0.011, false), (0.1, 0.013, true), (0.003, 0.002, false), (0.003, 0.004, true)]
    {
        let mut bench = Bench::new();
        bench.window_m = window_m;
        bench.ready();
        bench.drives.act(SimAct::Fault(SimFault::Slip { leg: 0, by_m }));
        let fault = bench.pass(None).unwrap().fault;
        assert_eq!(fault, trips.then_some((FrameFault::Following, Some(0))), "{window_m} {by_m}");
    }
}

#[test]
fn a_leg_that_loses_its_torque_in_a_stop_is_braked_at_once() {
    let mut bench = Bench::new();
    bench.ready();
    bench.swing(400);
    bench.drives.act(SimAct::Fault(SimFault::Slip { leg: 0, by_m: 0.03 }));
    bench.swing(2);
    assert!(!bench.drives.is_braked());
    bench.drives.act(SimAct::Fault(SimFault::Drive { leg: 1 }));
    let report = bench.swing(32).unwrap();
    // What came first is what is told; the brake takes 30 ms all the same.
    assert!(bench.drives.is_braked() && report.fault == Some((FrameFault::Following, Some(0))), "{report:?}");
}

#[test]
fn a_jog_goes_no_further_onto_a_switch_and_comes_off_it() {
    let mut bench = Bench::standing_at(0.6002);
    bench.drives.act(SimAct::Fault(SimFault::Unhomed));
    bench.ready();
    let jog = |bench: &mut Bench, left: f64, right: f64| {
        let speeds = Legs::from_slice(&[left, right]).unwrap();
        let report = bench.for_ms(300, Some((OrderKind::Jog, true, speeds))).unwrap();
        assert_eq!((report.state, report.fault), (PowerState::Jog, None));
        bench.drives.lengths_m()
    };
    let near = |found_m: &Legs, wanted_m: [f64; 2]| {
        assert!(found_m.iter().zip(wanted_m).all(|(a, b)| (a - b).abs() < 2e-4), "{found_m:?} {wanted_m:?}");
    };
    near(&jog(&mut bench, -0.01, -0.01), [0.6002, 0.6002]);
    near(&jog(&mut bench, 0.01, 0.0), [0.6032, 0.6002]);
    // A leg that may not go keeps the other standing.
    near(&jog(&mut bench, -0.01, -0.01), [0.6032, 0.6002]);
    let report = bench.for_ms(4_000, Some((OrderKind::Home, true, Legs::filled(2, 0.0)))).unwrap();
    assert!(report.homed && (bench.drives.lengths_m()[0] - 0.617).abs() < 2e-5, "{report:?}");
    let mut bench = Bench::standing_at(0.8998);
    bench.drives.act(SimAct::Fault(SimFault::Unhomed));
    bench.ready();
    near(&jog(&mut bench, 0.01, 0.01), [0.8998, 0.8998]);
    let report = bench.for_ms(2_000, Some((OrderKind::Home, true, Legs::filled(2, 0.0)))).unwrap();
    assert!(report.fault.is_none() && bench.drives.lengths_m()[0] < 0.87, "{report:?}");
}

#[test]
fn a_switch_that_is_always_closed_is_no_reference() {
    let homed = |at_once: bool| {
        let mut bench = Bench::new();
        bench.drives.act(SimAct::Fault(SimFault::Unhomed));
        bench.ready();
        let home = Some((OrderKind::Home, true, Legs::filled(2, 0.0)));
        bench.for_ms(if at_once { 1 } else { 500 }, home);
        bench.drives.act(SimAct::Fault(SimFault::EndSwitch { leg: 1 }));
        bench.for_ms(6_000, home).unwrap()
    };
    for at_once in [true, false] {
        let report = homed(at_once);
        assert!(!report.homed && report.fault == Some((FrameFault::Homing, Some(1))), "{report:?}");
    }
}

#[test]
fn torque_that_comes_on_beyond_a_soft_end_moves_nothing_and_a_jog_goes_inward_only() {
    // The soft end is at 605 mm.
    let mut bench = Bench::standing_at(0.603);
    let stand = bench.ready();
    bench.for_ms(200, Some((OrderKind::Jog, true, Legs::filled(2, -0.01))));
    let off_m = (bench.drives.lengths_m()[0] - stand[0]).abs();
    assert!(off_m < 1e-6 && bench.hardest_m_s2 < 0.01, "{off_m} {}", bench.hardest_m_s2);
    bench.for_ms(500, Some((OrderKind::Jog, true, Legs::filled(2, 0.01))));
    assert!(bench.drives.lengths_m()[0] > 0.6075);
    bench.for_ms(1_000, Some((OrderKind::Jog, true, Legs::filled(2, -0.01))));
    assert!((bench.drives.lengths_m()[0] - 0.605).abs() < 1e-4, "{}", bench.drives.lengths_m()[0]);
}

/// A fault in the middle of a swing: what is reported, how hard it may stop.
fn provoke(fault: SimFault) -> (DriveReport, f64) {
    let mut bench = Bench::new();
    bench.ready();
    bench.swing(400);
    assert!(bench.hand.act(SimAct::Fault(fault)));
    let report = bench.swing(600).unwrap();
    bench.rests();
    (report, bench.hardest_m_s2)
}

#[test]
fn every_fault_of_the_drives_is_named_and_ends_at_rest() {
    for (fault, found, most_m_s2) in [
        (SimFault::Drive { leg: 1 }, (FrameFault::Drive, Some(1)), 20.01),
        (SimFault::Hot { leg: 0 }, (FrameFault::Hot, Some(0)), 3.76),
        (SimFault::EndSwitch { leg: 1 }, (FrameFault::EndSwitch, Some(1)), 3.76),
        (SimFault::Slip { leg: 0, by_m: 0.03 }, (FrameFault::Following, Some(0)), 3.76),
        (SimFault::Deaf, (FrameFault::Silence, None), 3.76),
        (SimFault::Corrupt, (FrameFault::Silence, None), 3.76),
    ] {
        let (report, hardest) = provoke(fault);
        assert_eq!(report.fault, Some(found), "{fault:?}");
        assert!(hardest < most_m_s2, "{fault:?}: {hardest}");
    }
}

#[test]
fn orders_twice_and_swapped_change_nothing_and_late_ones_stop_it() {
    let at = |fault: Option<SimFault>| {
        let mut bench = Bench::new();
        bench.ready();
        bench.swing(200);
        fault.into_iter().for_each(|fault| bench.drives.act(SimAct::Fault(fault)));
        (bench.swing(700).unwrap(), bench.drives.lengths_m())
    };
    let (plain, place) = at(None);
    for fault in [SimFault::Twice, SimFault::Swapped] {
        let (report, where_to) = at(Some(fault));
        assert!(report.rejected > 300 && report.fault.is_none(), "{report:?}");
        let off = place.iter().zip(where_to.iter()).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(off < 2e-4, "{fault:?}: {off}");
    }
    assert!(plain.rejected == 0 && plain.fault.is_none(), "{plain:?}");
    let (report, _) = at(Some(SimFault::Late { by_us: 400_000 }));
    assert_eq!(report.fault, Some((FrameFault::Silence, None)));
}

#[test]
fn a_snag_shows_in_the_force_and_a_push_in_the_place() {
    let mut bench = Bench::new();
    let stand = bench.ready();
    let free = bench.for_ms(200, Some((OrderKind::Hold, true, stand))).unwrap().forces_n;
    // Half of 120 kg on each of two upright legs, and what tips it: the centre is 0.3 m below the pivot.
    assert!(free.iter().all(|force| force.is_finite()), "{free:?}");
    bench.drives.act(SimAct::Fault(SimFault::Snag { leg: 1, force_n: 900.0 }));
    let snagged = bench.for_ms(50, Some((OrderKind::Hold, true, stand))).unwrap().forces_n;
    assert!((snagged[1] - free[1] - 900.0).abs() < 1.0 && (snagged[0] - free[0]).abs() < 1.0, "{snagged:?}");
    let mut bench = Bench::new();
    let before = bench.for_ms(5, None).unwrap().lengths_m;
    bench.drives.act(SimAct::Fault(SimFault::Push { leg: 0, by_m: 0.004 }));
    let after = bench.for_ms(5, None).unwrap();
    assert!((after.lengths_m[0] - before[0] - 0.004).abs() < 1e-5 && after.brakes == Brakes::Set);
}

#[test]
fn who_is_silent_or_strange_is_not_taken_for_the_same() {
    let (mut drives, mut hand) = SimDrives::new(&two_legs(), &[]);
    let at = DriveTime;
    let far = drives.identify(at(0)).unwrap().unwrap();
    assert!(hand.act(SimAct::Fault(SimFault::Stranger)));
    assert_ne!(drives.identify(at(1000)).unwrap().unwrap().fingerprint(), far.fingerprint());
    drives.act(SimAct::Fault(SimFault::Mute));
    assert_eq!(drives.identify(at(2000)).unwrap(), None);
    assert_eq!(drives.poll(at(3000)).unwrap(), None);
    drives.act(SimAct::Clear);
    assert!(drives.poll(at(4000)).unwrap().is_some());
    drop(drives);
    assert!(!hand.act(SimAct::Clear));
}
