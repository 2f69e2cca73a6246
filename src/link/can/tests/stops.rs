//! What keeps legs up and others' runs alone: brakes before power, one question a cycle, farewells, and which settings of
//! a drive count.

use super::super::network::NmtCommand;
use super::super::setup::PARAMETERS;
use super::*;

/// Cycles in which the right leg goes at 20 mm/s and its contacts say that its brake is off; the last report.
fn runs(world: &mut World, cycles: usize) -> DriveReport {
    let mut last = None;
    for _ in 0..cycles {
        world.fakes[1].position -= 40;
        last = Some(world.cycles(1, OrderKind::Follow, true));
    }
    last.unwrap()
}

#[test]
fn a_drive_that_is_not_heard_has_no_speed_and_moves_nothing() {
    let mut world = World::enabled();
    let report = runs(&mut world, 60);
    assert!((report.speeds_m_s[1] - 0.02).abs() < 1e-6, "{report:?}");
    world.fakes[1].mute = true;
    let report = world.cycles(70, OrderKind::Follow, true);
    assert_eq!(report.cause.map(|cause| cause.what), Some("the drive sends no reports any more"));
    assert!(report.speeds_m_s[1].is_nan() && report.speeds_m_s[0] == 0.0, "{report:?}");
    assert!(!report.moving && report.brakes == Brakes::Unknown);
    // A jog that was under way with it does not keep the others from their brakes.
    let mut world = World::enabled();
    let speeds_m_s = Legs::from_slice(&[0.0, 0.01]).unwrap();
    for cycle in 0..200 {
        world.fakes[1].mute = cycle > 100;
        world.now_us += CYCLE_US;
        let report = world.link.poll(DriveTime(world.now_us)).unwrap();
        let kind = if cycle > 100 { OrderKind::Hold } else { OrderKind::Jog };
        let order = DriveOrder { speeds_m_s, ..world.order(kind, true) };
        world.link.send(DriveTime(world.now_us), &order).unwrap();
        world.exchange();
        if cycle > 152 {
            assert!(report.is_some_and(|report| !report.moving), "{cycle}");
        }
    }
}

#[test]
fn brakes_close_by_taking_torque_away_and_off_is_off() {
    let mut world = World::enabled();
    world.cycles(3, OrderKind::Follow, true);
    world.cycles(3, OrderKind::Follow, false);
    assert!(world.words().iter().all(|words| words.last() == Some(&0x07)), "{:?}", world.words());
    world.cycles(3, OrderKind::Off, false);
    assert!(world.words().iter().all(|words| words.ends_with(&[0x07, 0x00])));
    assert_eq!(world.cycles(5, OrderKind::Off, false).fault, None);
}

#[test]
fn brakes_that_are_never_asked_to_open_are_closed_again() {
    let mut world = World::ready();
    world.cycles(300, OrderKind::Hold, false);
    assert!(world.words().iter().all(|words| words.last() == Some(&0x07)), "{:?}", world.words());
}

/// A drive takes its brake's time to leave operation enabled; this one takes longer than that.
#[test]
fn whatever_ends_a_run_brakes_close_before_power_goes() {
    let mut world = World::enabled();
    world.cycles(3, OrderKind::Follow, true);
    world.fakes[0].stays = true;
    // The one that is not heard is told the same.
    world.fakes[1].mute = true;
    world.cycles(100, OrderKind::Follow, true);
    let from = world.sent.len();
    world.cycles(900, OrderKind::Off, false);
    let words = |world: &World, node: u16| -> Vec<u8> {
        let orders = world.sent[from..].iter().filter(|frame| frame.id() == 0x200 + node);
        let mut words: Vec<u8> = orders.map(|frame| frame.data()[0]).collect();
        words.dedup();
        words
    };
    assert_eq!([words(&world, 1), words(&world, 2)], [vec![0x07], vec![0x07]]);
    world.cycles(200, OrderKind::Off, false);
    assert_eq!([words(&world, 1), words(&world, 2)], [vec![0x07, 0x00], vec![0x07, 0x00]]);
    // One that has closed its brake is off at once, and one that stops quickly by itself is left to that.
    let mut world = World::enabled();
    world.fakes[1].status = 0x217;
    world.cycles(3, OrderKind::Off, false);
    assert!(world.fakes[0].words.ends_with(&[0x0F, 0x07, 0x00]), "{:x?}", world.fakes[0].words);
    assert!(world.fakes[1].words.ends_with(&[0x0F, 0x07, 0x02]), "{:x?}", world.fakes[1].words);
}

/// A homing in which one drive fails: the other is told to halt, and neither is waited for.
#[test]
fn a_homing_that_is_broken_off_moves_nothing_whatever_the_drives_make_of_it() {
    let mut world = World::enabled();
    assert!(world.cycles(30, OrderKind::Home, true).moving);
    world.fakes[0].status = 0x218;
    world.cycles(2, OrderKind::Home, true);
    let report = world.cycles(3, OrderKind::Hold, true);
    assert!(!report.moving && !report.homed && report.fault.is_some(), "{report:?}");
    assert_eq!(world.fakes[1].words.last(), Some(&0x10F), "halt");
}

/// What the bus's load counts.
#[test]
fn one_object_is_asked_about_in_a_cycle() {
    let mut world = World::enabled();
    let limits = |world: &World| world.fakes.iter().map(|fake| fake.get(0x6072)).collect::<Vec<_>>();
    assert_eq!(limits(&world), [500, 500]);
    let mut most = 0;
    for _ in 0..20 {
        let from = world.sent.len();
        world.now_us += CYCLE_US;
        world.link.poll(DriveTime(world.now_us)).unwrap();
        let order =
            DriveOrder { force_limits_n: Legs::filled(2, 200.0), ..world.order(OrderKind::Follow, true) };
        world.link.send(DriveTime(world.now_us), &order).unwrap();
        world.exchange();
        let asked = world.sent[from..].iter().filter(|frame| frame.id() & 0x780 == cob::SDO_QUESTION);
        most = most.max(asked.count());
    }
    // 200 N are 24.87 % of the rated torque.
    assert_eq!((most, limits(&world)), (1, vec![248, 248]));
}

#[test]
fn a_link_that_is_dropped_says_nothing_and_one_that_leaves_says_it_to_drives_that_are_off() {
    let mut world = World::ready();
    let World { link, far, .. } = &mut world;
    link.leave().unwrap();
    let mut said = Vec::new();
    while let Ok(Some(frame)) = far.receive() {
        said.push(frame);
    }
    let to = |node: u8| {
        let off = CanFrame::of(cob::RPDO1, node, &[0; 6]);
        let life = CanFrame::of(cob::SDO_QUESTION, node, &[0x23, 0x16, 0x10, 1, 0, 0, 0, 0]);
        [off, life, NmtCommand::PreOperational.to(node)]
    };
    assert!([to(1), to(2)].concat().iter().all(|frame| said.contains(frame)), "{said:?}");
    assert_eq!(said.len(), 7, "and the synchronisation");
    // Under torque it is for the drives' own time-outs to end it.
    let mut world = World::enabled();
    world.link.leave().unwrap();
    assert_eq!(world.far.receive(), Ok(None));
    let World { link, mut far, .. } = World::ready();
    drop(link);
    assert_eq!(far.receive(), Ok(None));
}

/// Objects that decide how a drive stops: CiA 301 and CiA 402.
#[test]
fn what_decides_how_a_drive_stops_is_in_the_sum_and_on_the_page() {
    let sum = |object: Option<(u16, u8)>| {
        let mut world = World::new();
        // That one is written besides, and kept by most.
        world.fakes[1].refuses.push((0x6007, 0, 0x0601_0002));
        object.into_iter().for_each(|object| _ = world.fakes[1].objects.insert(object, [2, 0, 0, 0]));
        world.identify().unwrap().parameters
    };
    let without = sum(None);
    let stop = [
        (0x6007, 0),
        (0x1029, 1),
        (0x605A, 0),
        (0x605B, 0),
        (0x605C, 0),
        (0x605D, 0),
        (0x605E, 0),
        (0x6084, 0),
        (0x6085, 0),
        (0x60C6, 0),
    ];
    for object in stop {
        assert_ne!(sum(Some(object)), without, "{object:x?}");
    }
    let page = include_str!("../../../../docs/can.md");
    let start = page.find("Changing one of").unwrap();
    let list = &page[start..start + page[start..].find("voids").unwrap()];
    let named = list.matches("0x").count();
    let mut wanted: Vec<u16> = PARAMETERS.iter().map(|object| object.index).collect();
    wanted.dedup();
    for index in &wanted {
        assert!(list.contains(&format!("0x{index:04X}")), "{index:x}");
    }
    assert_eq!(named, wanted.len(), "{list}");
}
