//! A run that its operator ends has not failed, whatever was typed before; and while one is under way, nothing is noted
//! that it would not hear of.

use super::bench::{PROGRAM, Program};
use super::desk::{Desk, beside_others, far_end};
use super::states::pass;
use cueloom::audition::Entry;
use cueloom::commissioning::FarEnd;
use cueloom::drives::Records;
use std::process::{Command, Output};

/// Connected to simulated drives, the record of their commissioning there.
fn connected() -> (Desk, Program, usize) {
    let desk = Desk::new();
    let drives = FarEnd { name: "simulated drives".into(), parameters: 0, serials: vec![1, 2], ..far_end() };
    desk.commission("records/simulated", drives);
    let program = desk.play("sim", "", "-12dB", &[]);
    let at = program.wait_for("parked: brakes on", 0);
    (desk, program, at)
}

#[test]
fn a_jog_and_then_the_end_is_no_failure_and_no_byte_on_the_way_to_it_is_one() {
    let _shared = beside_others();
    let (_desk, mut program, at) = connected();
    program.say_bytes(b"jog \xff + 1\n");
    let at = program.wait_for("`jog \u{fffd} + 1` is not a word that is known here", at);
    program.say_bytes(&[b'x'; 5000]);
    program.say("");
    let at = program.wait_for("a line of more than 4096 bytes is no word", at);
    program.say("jog all + 1");
    pass(200);
    program.say("presence closed");
    let at = program.wait_for("jogging: MOVING", at);
    let at = program.wait_for("holding: brakes on", at);
    program.say("end");
    assert_eq!(program.end(), Some(1), "{}", program.said());
    assert!(!program.said()[at..].contains("ended early"), "{}", program.said());
}

#[test]
fn ctrl_c_at_rest_and_an_input_that_ends_are_no_failures() {
    let _shared = beside_others();
    let (_desk, mut program, _) = connected();
    let id = program.child.id().to_string();
    assert!(Command::new("kill").args(["-INT", &id]).status().unwrap().success());
    assert_eq!(program.end(), Some(1), "{}", program.said());
    assert!(!program.said().contains("ended early"), "{}", program.said());
    let (_desk, mut program, at) = connected();
    program.falls_silent();
    program.wait_for("standard input has ended", at);
    assert_eq!(program.end(), Some(1), "{}", program.said());
}

/// What the run was vouched for at its beginning it goes by to its end.
#[test]
fn work_on_the_rig_is_noted_when_no_run_is_under_way_or_was_killed() {
    let _shared = beside_others();
    let (desk, mut program, _) = connected();
    let note = || -> Output {
        let mut command = Command::new(PROGRAM);
        command.args(["audition", "--records", "records/simulated", "--maintenance", "new belt"]);
        command.current_dir(desk.folder.path()).output().unwrap()
    };
    let refused = note();
    let said = String::from_utf8_lossy(&refused.stderr).to_string();
    assert_eq!(refused.status.code(), Some(2), "{said}");
    assert!(said.contains("not noted: a run on drives is under way"), "{said}");
    program.child.kill().unwrap();
    program.child.wait().unwrap();
    assert!(note().status.success(), "nobody is there any more");
    let entries = Records::at(&desk.folder.path().join("records/simulated")).entries().unwrap();
    assert!(matches!(&entries[..], [Entry::Begun { .. }, Entry::Maintenance { .. }]), "{entries:?}");
}
