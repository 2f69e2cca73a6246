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
}

impl Bench {
    fn new() -> Self {
        let (drives, hand) = SimDrives::new(&two_legs(), &[]);
        Self { drives, hand, now_us: 0, swung_ms: 0, hardest_m_s2: 0.0 }
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
            let at = 0.02 * (1.0 - libm::cos(5.0 * self.swung_ms as f64 * 1e-3));
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
    assert!(bench.hardest_m_s2 < 1.25 * 3.0 + 1e-9, "{}", bench.hardest_m_s2);
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
