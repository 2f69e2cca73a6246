use super::cia402::control;
use super::network::cob;
use super::*;
use crate::link::frame::{FrameFault, OrderKind, PowerState};
use crate::link::{DriveLink, DriveOrder, DriveReport, DriveTime, LinkFault, sample::two_legs};
use crate::rig::Rig;
use crate::rig::can::{CanInputs, CanLeg, CanPart, PositionMode, Reference, Terminal};
use crate::safety::Legs;
use crate::safety::operation::{Brakes, Input};
use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

mod fake;
mod joins;
mod stops;
mod unallocated;

use fake::{Fake, Stalling};

const CYCLE_US: u64 = 1000;

/// Two legs of 600 to 900 mm: 10000 counts for 5 mm from 600 mm on, the second the other way round.
fn rig() -> Rig {
    let mut rig = two_legs();
    let leg = |node, longer| CanLeg {
        node,
        vendor: 7,
        product: 8,
        serial: None,
        counts_per_turn: 10_000,
        lead_m: 0.005,
        longer,
        zero_m: 0.6,
        rated_nm: 0.64,
        brake: Some((20, 21)),
        sag_m: None,
        homed_bit: None,
    };
    let at = |bit| Some(Terminal { leg: 1, bit });
    rig.parts.can = Some(CanPart {
        bit_rate: 1_000_000,
        host: 127,
        mode: PositionMode::CyclicSynchronous,
        reference: Reference::Homing(17),
        following_m: 0.005,
        legs: vec![leg(1, true), leg(2, false)],
        inputs: CanInputs { presence: at(16), gate: at(17), ..CanInputs::default() },
        warning: None,
        span: crate::diag::Span::new(crate::diag::SourceId(0), 0, 0),
    });
    // A millisecond fits 1 Mbit/s with forces and inputs every third cycle.
    rig.drive.detection_s = 0.05;
    rig
}

struct World {
    link: CanLink<Stalling>,
    stalls: Arc<AtomicBool>,
    far: QueueCan,
    fakes: Vec<Fake>,
    now_us: u64,
    sent: Vec<CanFrame>,
}

impl World {
    fn new() -> Self {
        Self::of(&rig())
    }

    fn of(rig: &Rig) -> Self {
        let (near, far) = QueueCan::pair();
        let stalls = Arc::new(AtomicBool::new(false));
        let wire = Stalling { wire: near, waiting: VecDeque::new(), stalls: stalls.clone() };
        let link = CanLink::new(wire, rig).unwrap();
        // Both at 650 mm.
        let fakes = vec![Fake::new(1, 100_000), Fake::new(2, -100_000)];
        Self { link, stalls, far, fakes, now_us: 1000, sent: Vec::new() }
    }

    fn exchange(&mut self) {
        while let Ok(Some(frame)) = self.far.receive() {
            self.sent.push(frame);
            self.fakes.iter_mut().for_each(|fake| fake.answer(&frame, &mut self.far));
        }
        self.fakes.iter_mut().for_each(|fake| fake.pass(&mut self.far));
    }

    fn identify(&mut self) -> Result<crate::link::FarEnd, LinkFault> {
        for _ in 0..4000 {
            self.now_us += CYCLE_US;
            if let Some(far) = self.link.identify(DriveTime(self.now_us))? {
                return Ok(far);
            }
            self.exchange();
        }
        panic!("never ready");
    }

    fn order(&self, kind: OrderKind, release: bool) -> DriveOrder {
        DriveOrder {
            apply_at: DriveTime(self.now_us),
            kind,
            warn: false,
            release,
            lengths_m: Legs::filled(2, 0.651),
            speeds_m_s: Legs::filled(2, 0.0),
            force_limits_n: Legs::filled(2, 402.2),
            windows_m: Legs::filled(2, 0.0031),
        }
    }

    /// So many cycles with this order; the last report.
    fn cycles(&mut self, count: usize, kind: OrderKind, release: bool) -> DriveReport {
        let mut last = None;
        for _ in 0..count {
            self.now_us += CYCLE_US;
            last = self.link.poll(DriveTime(self.now_us)).unwrap().or(last);
            let order = self.order(kind, release);
            self.link.send(DriveTime(self.now_us), &order).unwrap();
            self.exchange();
        }
        last.expect("a report")
    }

    fn ready() -> Self {
        let mut world = Self::new();
        world.identify().unwrap();
        world.cycles(20, OrderKind::Off, false);
        world
    }

    fn enabled() -> Self {
        let mut world = Self::ready();
        world.cycles(20, OrderKind::Hold, false);
        world.fakes.iter_mut().for_each(|fake| fake.inputs ^= 3 << 20);
        world.cycles(5, OrderKind::Hold, true);
        world
    }

    fn words(&self) -> [&[u16]; 2] {
        [&self.fakes[0].words, &self.fakes[1].words]
    }
}

#[test]
fn drives_are_made_ready_and_nothing_is_enabled() {
    let mut world = World::new();
    let far = world.identify().unwrap();
    assert_eq!((far.name.as_str(), far.legs, far.cycle_us), ("CiA 402, nodes 1 2", 2, 1000));
    assert_eq!(far.serials, [501, 502]);
    let report = world.cycles(10, OrderKind::Off, false);
    assert_eq!(world.words(), [[control::DISABLE_VOLTAGE].as_slice(); 2]);
    assert_eq!((report.state, report.power, report.fault), (PowerState::Off, false, None));
    assert!(report.lengths_m.iter().all(|at| (at - 0.65).abs() < 1e-12), "{report:?}");
    // 0.064 N m at 5 mm; the second drive turns the other way, so the same torque pulls.
    assert!((report.forces_n[0] - 80.425).abs() < 1e-3 && (report.forces_n[1] + 80.425).abs() < 1e-3);
    assert_eq!((report.brakes, report.round_trip_us), (Brakes::Set, Some(1000)));
    // What the rig file names is told; what it does not is not known.
    let inputs = report.inputs;
    assert_eq!((inputs.presence, inputs.gate), (Input::Closed, Input::Closed));
    assert_eq!((inputs.mat, inputs.belt, inputs.stop), (Input::Unknown, Input::Unknown, Input::Unknown));
    assert!(!report.homed, "nothing was homed");
    // A parameter that somebody changes is another sum.
    let mut other = World::new();
    other.fakes[0].objects.insert((0x605E, 0), [2, 0, 0, 0]);
    assert_ne!(other.identify().unwrap().parameters, far.parameters);
}

#[test]
fn nothing_is_written_to_a_stranger_and_a_drive_that_runs() {
    let mut world = World::new();
    world.fakes[1].objects.insert((0x1018, 1), [9, 0, 0, 0]);
    let fault = CanFault::OtherDrive { node: 2, object: Object::at(0x1018, 1), found: 9, expected: 7 };
    assert_eq!(world.identify(), Err(LinkFault::Can(fault)));
    assert!(world.fakes[1].written.is_empty());
    let mut world = World::new();
    world.fakes[0].objects.insert((0x6041, 0), [0x37, 0x16, 0, 0]);
    assert!(matches!(world.identify(), Err(LinkFault::Can(CanFault::Running { node: 1, .. }))));
    assert!(world.fakes[0].written.is_empty());
}

#[test]
fn a_node_that_is_not_there_is_named() {
    let mut world = World::new();
    world.fakes[1].mute = true;
    let object = Object::at(0x1000, 0);
    assert_eq!(world.identify(), Err(LinkFault::Can(CanFault::Silent { node: 2, object })));
}

#[test]
fn torque_comes_step_by_step_with_its_limit_set_before() {
    let mut world = World::ready();
    let report = world.cycles(20, OrderKind::Hold, false);
    assert!(report.power && report.state == PowerState::Hold);
    for (fake, target) in world.fakes.iter().zip([100_000, -100_000]) {
        assert_eq!(fake.words, [0x00, 0x06, 0x07, 0x0F]);
        // 402.2 N are 50 % and a little more of the rated torque.
        assert!(fake.written.contains(&(0x6072, 0, 500)), "{:x?}", fake.written);
        // 2000 counts a millimetre: what the rig file says at first, and then what the order does.
        let windows: Vec<u32> = fake.written.iter().filter(|at| at.0 == 0x6065).map(|at| at.2).collect();
        assert_eq!(windows, [10_000, 6_200]);
        assert_eq!(fake.target, target, "it holds where it stands");
    }
    // 651 mm: 51 mm from zero, 2 counts a micrometre; 3 counts of the way are made up for in a millisecond.
    world.cycles(668, OrderKind::Follow, true);
    assert_eq!((world.fakes[0].target, world.fakes[1].target), (102_000, -102_000));
    let beats = world.sent.iter().filter(|frame| frame.id() == 0x77F).count();
    assert!(beats > 2, "{beats}");
}

#[test]
fn a_drive_that_does_not_keep_its_torque_limit_gives_no_torque() {
    let mut world = World::new();
    world.fakes[0].refuses.push((0x6072, 0, 0x0609_0031));
    world.identify().unwrap();
    let report = world.cycles(50, OrderKind::Hold, false);
    assert!(!report.power && !world.fakes[0].words.contains(&0x07));
    assert_eq!(report.fault, Some((FrameFault::Drive, Some(0))));
    let cause = report.cause.unwrap();
    assert_eq!((cause.code, cause.meaning), (0x6072, "the value is too large"));
}

#[test]
fn a_drive_that_leaves_by_itself_is_a_fault_and_is_not_enabled_again() {
    // Switched off by its enable input; a quick stop by a limit switch.
    for (status, word) in [(0x240, control::DISABLE_VOLTAGE), (0x217, control::QUICK_STOP)] {
        let mut world = World::enabled();
        world.fakes[1].status = status;
        let before = world.fakes[1].words.len();
        let report = world.cycles(2, OrderKind::Follow, true);
        assert_eq!(report.fault, Some((FrameFault::Drive, Some(1))), "{status:x}");
        let report = world.cycles(50, OrderKind::Follow, true);
        assert!(!report.power && report.fault.is_some());
        assert!(
            world.fakes[1].words[before..].iter().all(|sent| *sent == word),
            "{:x?}",
            world.fakes[1].words
        );
        // The other one still follows to its rest.
        assert_eq!(world.fakes[0].words.last(), Some(&0x0F));
    }
}

#[test]
fn emergencies_faults_modes_and_silence_are_named() {
    type Change = fn(&mut World);
    let changes: [(Change, FrameFault, &str); 6] = [
        (
            |world| _ = world.far.send(&CanFrame::of(cob::EMERGENCY, 2, &[0x10, 0x43, 0, 0, 0, 0, 0, 0])),
            FrameFault::Hot,
            "emergency",
        ),
        (|world| world.fakes[1].status = 0x218, FrameFault::Drive, "emergency"),
        (|world| world.fakes[1].mode = 1, FrameFault::Drive, "the drive fell back to mode"),
        (|world| world.fakes[1].status |= 0x2000, FrameFault::Following, "the statusword says"),
        (|world| world.fakes[1].mute = true, FrameFault::Drive, "the drive sends no reports any more"),
        (
            |world| _ = world.far.send(&CanFrame::of(cob::HEARTBEAT, 2, &[0])),
            FrameFault::Drive,
            "the drive began anew by itself: end this run, see to its supply, start again",
        ),
    ];
    for (change, fault, words) in changes {
        let mut world = World::enabled();
        change(&mut world);
        let report = world.cycles(70, OrderKind::Follow, true);
        assert_eq!(report.fault, Some((fault, Some(1))), "{words}: {report:?}");
        let cause = report.cause.unwrap();
        assert_eq!(cause.what, words);
        // Without an emergency the drive is asked for its code: 0x7305 of the encoder.
        let code = match cause.what {
            "emergency" if fault == FrameFault::Hot => (0x4310, "motor too hot"),
            "emergency" => (0x7305, "encoder"),
            "the drive fell back to mode" => (1, ""),
            _ => (0, cause.meaning),
        };
        assert_eq!((cause.code, cause.meaning), code);
    }
}

#[test]
fn all_silent_is_a_silent_link() {
    let mut world = World::enabled();
    world.fakes.iter_mut().for_each(|fake| fake.mute = true);
    world.cycles(2, OrderKind::Follow, true);
    let late: Vec<_> = (0..100)
        .map(|_| {
            world.now_us += CYCLE_US;
            world.link.poll(DriveTime(world.now_us)).unwrap()
        })
        .collect();
    assert!(late.iter().all(Option::is_none));
}

#[test]
fn faults_are_left_by_an_edge_only_while_off() {
    let mut world = World::enabled();
    world.fakes[0].status = 0x218;
    world.cycles(400, OrderKind::Follow, true);
    assert!(!world.fakes[0].words.contains(&control::FAULT_RESET));
    assert!(world.cycles(100, OrderKind::Off, false).fault.is_some());
    let report = world.cycles(800, OrderKind::Off, false);
    assert!(world.fakes[0].words.ends_with(&[0x00, 0x80, 0x00]), "{:x?}", world.fakes[0].words);
    assert_eq!(report.fault, None);
}

#[test]
fn drives_that_stopped_because_the_program_was_away_are_told_to_go_on() {
    let mut world = World::ready();
    world.now_us += 2_000_000;
    world.cycles(3, OrderKind::Off, false);
    world.far.send(&CanFrame::of(cob::EMERGENCY, 1, &[0x30, 0x81, 0, 0, 0, 0, 0, 0])).unwrap();
    world.fakes[0].status = 0x218;
    let report = world.cycles(100, OrderKind::Off, false);
    assert_eq!(report.fault, None, "excused");
    assert_eq!(world.cycles(600, OrderKind::Off, false).fault, None, "and over");
    // The same while nobody was away is a fault.
    world.cycles(2000, OrderKind::Off, false);
    world.far.send(&CanFrame::of(cob::EMERGENCY, 1, &[0x30, 0x81, 0, 0, 0, 0, 0, 0])).unwrap();
    assert_eq!(world.cycles(3, OrderKind::Off, false).fault, Some((FrameFault::Silence, Some(0))));
}

#[test]
fn homing_begins_by_order_on_both_legs_and_is_believed_when_it_is_reached() {
    let mut world = World::enabled();
    world.cycles(30, OrderKind::Home, true);
    assert_eq!(world.words().map(|words| words.last().copied()), [Some(0x1F); 2]);
    // Bit 12 alone: attained, not reached yet.
    let report = world.cycles(300, OrderKind::Home, true);
    assert_eq!((report.state, report.homed, report.moving), (PowerState::Home, false, true));
    world.fakes[0].status = 0x1637;
    assert!(!world.cycles(5, OrderKind::Home, true).homed, "one leg alone is not enough");
    world.fakes[1].status = 0x1637;
    let report = world.cycles(5, OrderKind::Home, true);
    assert!(report.homed && report.state != PowerState::Home && !report.moving);
}

#[test]
fn a_jog_is_slow_begins_softly_and_ends_with_the_hand() {
    let mut world = World::enabled();
    let mut targets = Vec::new();
    for _ in 0..1000 {
        world.now_us += CYCLE_US;
        world.link.poll(DriveTime(world.now_us)).unwrap();
        let speeds_m_s = Legs::from_slice(&[5.0, 0.0]).unwrap();
        let order = DriveOrder { speeds_m_s, ..world.order(OrderKind::Jog, true) };
        world.link.send(DriveTime(world.now_us), &order).unwrap();
        world.exchange();
        targets.push(world.fakes[0].target);
    }
    // 15 mm/s at most: 30 counts a millisecond; 0.05 m/s^2: 0.1 counts a millisecond more each.
    let steps: Vec<_> = targets.windows(2).map(|pair| pair[1] - pair[0]).collect();
    assert_eq!((steps.iter().max(), steps[..5].iter().max()), (Some(&30), Some(&1)));
    world.cycles(400, OrderKind::Jog, true);
    let at = world.fakes[0].target;
    let report = world.cycles(10, OrderKind::Jog, true);
    assert_eq!((world.fakes[0].target, report.moving), (at, false));
    assert_eq!(world.fakes[1].target, -100_000);
}

#[test]
fn what_no_drive_can_do_is_not_sent() {
    let mut world = World::enabled();
    let order = DriveOrder { lengths_m: Legs::filled(2, f64::NAN), ..world.order(OrderKind::Follow, true) };
    assert_eq!(world.link.send(DriveTime(world.now_us), &order), Err(LinkFault::NotANumber));
    let order = DriveOrder { lengths_m: Legs::filled(3, 0.65), ..order };
    let count = LinkFault::Count { found: 3, expected: 2 };
    assert_eq!(world.link.send(DriveTime(world.now_us), &order), Err(count));
    let mut rig = rig();
    rig.drive.cycle_us = 1234;
    assert_eq!(CanLink::new(QueueCan::pair().0, &rig).unwrap_err(), CanSetupError::Period(1234));
    rig.parts.can = None;
    assert_eq!(CanLink::new(QueueCan::pair().0, &rig).unwrap_err(), CanSetupError::NoTable);
}
