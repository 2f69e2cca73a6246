//! Brakes that are not confirmed after a stop: the drives hold, no word ends that, and the program names the ways out.

use super::bench::{Bench, Program};
use super::desk::{Desk, beside_others};
use super::states::{State, pass};
use cueloom::audition::Entry;
use cueloom::drives::Records;
use std::process::Command;

/// Held by the drives, after brakes that stuck while a scene was followed.
fn held(desk: &Desk) -> (Bench, Program) {
    let mut bench = desk.bench("udp", &[]);
    let mut program = desk.play("udp", &bench.address.clone(), "-12dB", &[]);
    let at = State::Following.reach(&mut bench, &mut program);
    bench.say("stick 1");
    let at = program.wait_for("faulted: held by the drives, brakes not known to be on", at);
    program.wait_for("press the hard-wired stop", at);
    (bench, program)
}

pub(crate) fn interrupt(program: &Program) {
    let id = program.child.id().to_string();
    assert!(Command::new("kill").args(["-INT", &id]).status().unwrap().success());
}

#[test]
fn ctrl_c_once_more_ends_a_program_that_cannot_come_to_rest_and_the_far_end_brakes() {
    let _shared = beside_others();
    let desk = Desk::new();
    let (bench, mut program) = held(&desk);
    let before = program.said().len();
    interrupt(&program);
    program.wait_for("Ctrl-C again, more than a second later, ends this program at once", before);
    pass(1500);
    assert_eq!(program.child.try_wait().unwrap(), None, "{}", program.said());
    interrupt(&program);
    assert_eq!(program.end(), Some(130), "{}", program.said());
    pass(1500);
    // Its own brakes are not confirmed to it either: like the program, it goes on holding.
    let truth = bench.end();
    let last = truth.last().unwrap();
    assert!(last.braked && last.power && last.speed_m_s.iter().all(|speed| speed.abs() < 1e-4), "{last:?}");
    assert_ne!(last.fault, 0, "it has found the silence itself");
    // Nobody wrote down how it ended.
    let entries = Records::at(&desk.folder.path().join("records")).entries().unwrap();
    assert!(matches!(&entries[..], [Entry::Begun { record, .. }] if record == "run.mcap"), "{entries:?}");
}

#[test]
fn the_hard_wired_stop_takes_the_power_and_the_run_can_end() {
    let _shared = beside_others();
    let desk = Desk::new();
    let (mut bench, mut program) = held(&desk);
    let before = program.said().len();
    bench.say("stop 0");
    program.wait_for("faulted: drives off, brakes not known to be on", before);
    program.say("end");
    assert_eq!(program.end(), Some(2), "{}", program.said());
    assert!(!bench.end().last().unwrap().power);
    let entries = Records::at(&desk.folder.path().join("records")).entries().unwrap();
    let trip = entries.iter().position(|entry| matches!(entry, Entry::Trip { .. }));
    assert!(trip.is_some() && matches!(entries.last(), Some(Entry::Ended { .. })), "{entries:?}");
}
