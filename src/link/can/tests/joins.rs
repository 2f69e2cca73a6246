//! Set-points that begin where the leg does not quite stand, reports that are lost, and brakes without contacts.

use super::*;

#[test]
fn the_first_set_point_is_no_step_wherever_the_leg_stands() {
    let mut world = World::enabled();
    let mut targets = vec![100_000];
    for _ in 0..1000 {
        world.cycles(1, OrderKind::Follow, true);
        targets.push(world.fakes[0].target);
    }
    // A millimetre, faded at 1.5 mm/s: 3 counts a millisecond.
    let steps: Vec<i32> = targets.windows(2).map(|pair| pair[1] - pair[0]).collect();
    assert_eq!((steps.iter().min(), steps.iter().max(), targets[1]), (Some(&0), Some(&3), 100_000));
    assert_eq!((targets[600] < 102_000, targets[1000]), (true, 102_000));
    // Holding between, it begins where it stands then.
    world.cycles(5, OrderKind::Hold, true);
    world.cycles(5, OrderKind::Follow, true);
    assert_eq!(world.fakes[0].target, 102_000);
}

#[test]
fn set_points_that_begin_too_far_away_are_a_fault_and_no_step_either() {
    let mut world = World::enabled();
    let order = DriveOrder { lengths_m: Legs::filled(2, 0.6535), ..world.order(OrderKind::Follow, true) };
    let mut report = None;
    for _ in 0..3 {
        world.now_us += CYCLE_US;
        report = world.link.poll(DriveTime(world.now_us)).unwrap();
        world.link.send(DriveTime(world.now_us), &order).unwrap();
        world.exchange();
    }
    let report = report.unwrap();
    assert_eq!(report.fault, Some((FrameFault::Following, Some(0))));
    assert_eq!(report.cause.unwrap().what, "its set-points begin elsewhere than where the leg stands");
    assert!(world.fakes[0].target < 100_010, "{}", world.fakes[0].target);
}

#[test]
fn a_lost_report_makes_no_round_trip_longer_for_good() {
    let mut world = World::ready();
    for leg in [0, 1, 0, 0, 1, 1, 0, 1] {
        world.fakes[leg].mute = true;
        world.cycles(1, OrderKind::Off, false);
        world.fakes[leg].mute = false;
        let report = world.cycles(20, OrderKind::Off, false);
        assert_eq!((report.round_trip_us, report.fault), (Some(1000), None));
    }
}

/// However late a drive is, that is how old what it says is; and a report that is lost on top of it changes nothing.
#[test]
fn a_drive_that_answers_late_is_late_for_good() {
    for (late, lost) in [([0, 2], 1), ([2, 0], 1), ([1, 1], 0)] {
        let mut world = World::of(&rig());
        for (fake, late) in world.fakes.iter_mut().zip(late) {
            fake.late = late;
        }
        world.identify().unwrap();
        let expected = Some(1000 * (1 + late.into_iter().max().unwrap() as u64));
        let report = world.cycles(60, OrderKind::Off, false);
        assert_eq!((report.round_trip_us, report.fault), (expected, None), "{late:?}");
        world.fakes[lost].unsaid.pop_front();
        let report = world.cycles(60, OrderKind::Off, false);
        assert_eq!((report.round_trip_us, report.fault), (expected, None), "{late:?}");
    }
}

/// What a wire that stood still never sent is asked for again, and no drive is called silent for it.
#[test]
fn a_question_that_did_not_go_out_is_asked_again() {
    let mut world = World::enabled();
    let order = DriveOrder { windows_m: Legs::filled(2, 0.002), ..world.order(OrderKind::Hold, true) };
    let mut report = None;
    for cycle in 0..700 {
        // The window changes in the cycle in which it stands still.
        world.stalls.store((1..4).contains(&cycle), Ordering::Relaxed);
        world.now_us += CYCLE_US;
        report = world.link.poll(DriveTime(world.now_us)).unwrap().or(report);
        let wanted = if cycle == 0 { world.order(OrderKind::Hold, true) } else { order };
        world.link.send(DriveTime(world.now_us), &wanted).unwrap();
        world.exchange();
    }
    assert_eq!(report.unwrap().fault, None);
    for fake in &world.fakes {
        assert_eq!(fake.objects[&(0x6065, 0)], 4000_u32.to_le_bytes(), "2 mm");
    }
}

/// No contacts: 0.1 mm are 200 counts.
fn without_contacts() -> World {
    let mut rig = rig();
    for leg in &mut rig.parts.can.as_mut().unwrap().legs {
        (leg.brake, leg.sag_m) = (None, Some(0.000_1));
    }
    let mut world = World::of(&rig);
    world.identify().unwrap();
    world
}

#[test]
fn without_contacts_a_brake_is_known_by_its_leg() {
    let mut world = without_contacts();
    assert_eq!(world.cycles(200, OrderKind::Off, false).brakes, Brakes::Unknown);
    assert_eq!(world.cycles(150, OrderKind::Off, false).brakes, Brakes::Set);
    assert_eq!(
        world.cycles(400, OrderKind::Hold, true).brakes,
        Brakes::Unknown,
        "not before it had its time"
    );
    world.fakes[1].position += 200;
    let report = world.cycles(200, OrderKind::Hold, true);
    assert_eq!((report.brakes, report.fault), (Brakes::Released, None));
    // One leg that sags is enough, under torque or without.
    for (under_torque, what) in [
        (true, "the leg sagged as its brake let go: the drive does not hold it"),
        (false, "the leg sagged without torque: its brake does not hold it"),
    ] {
        let mut world = without_contacts();
        world.cycles(400, OrderKind::Off, false);
        if under_torque {
            world.cycles(100, OrderKind::Hold, true);
        }
        world.fakes[1].position += 201;
        let kind = if under_torque { OrderKind::Hold } else { OrderKind::Off };
        let report = world.cycles(2, kind, under_torque);
        assert_eq!((report.brakes, report.fault), (Brakes::Unknown, Some((FrameFault::Brake, Some(1)))));
        assert_eq!(report.cause.unwrap().what, what);
        assert_eq!(world.cycles(1100, OrderKind::Off, false).brakes, Brakes::Set);
    }
}
