//! The guided steps by the program itself, on simulated drives: what is asked every day, and what is kept of it.

use super::bench::{PROGRAM, Program};
use super::desk::{Desk, beside_others, right};
use cueloom::commissioning::{CommissioningRecord, brakes, steps};
use cueloom::rig::Rig;
use std::io::Write;
use std::process::{Command, Output, Stdio};

fn rig(desk: &Desk) -> Rig {
    let text = std::fs::read_to_string(desk.folder.path().join("rig.toml")).unwrap();
    cueloom::rig::load(cueloom::diag::SourceId(0), &text).rig.unwrap()
}

/// `commission` with these answers, a line each.
fn commission(desk: &Desk, more: &[&str], answers: &[String]) -> Output {
    let mut child = Command::new(PROGRAM)
        .args(["commission", "rig.toml", "--link", "sim", "--by", "a test"])
        .args(more)
        .current_dir(desk.folder.path())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // One that ends before reads no more of them.
    let _ = child.stdin.take().unwrap().write_all((answers.join("\n") + "\n").as_bytes());
    child.wait_with_output().unwrap()
}

#[test]
fn the_daily_test_asks_of_every_brake_and_keeps_what_it_held() {
    let _shared = beside_others();
    let desk = Desk::new();
    let rig = rig(&desk);
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).to_string();
    let held: Vec<String> = brakes(&rig).iter().map(right).collect();
    let none = commission(&desk, &["--brakes"], &held);
    assert!(text(&none.stderr).contains("commission first"), "{}", text(&none.stderr));
    assert!(
        !text(&none.stdout).contains("brake of"),
        "nobody works on a brake in vain: {}",
        text(&none.stdout)
    );
    let all: Vec<String> = steps(&rig).iter().map(right).collect();
    let done = commission(&desk, &[], &all);
    assert!(done.status.success(), "{}", text(&done.stderr));
    let path = desk.folder.path().join("records/simulated/commissioning.json");
    let kept =
        || serde_json::from_str::<CommissioningRecord>(&std::fs::read_to_string(&path).unwrap()).unwrap();
    let before = kept();
    let held_before: Vec<&str> = before.brakes.held.iter().map(|held| held.answer.as_str()).collect();
    assert_eq!(held_before, held.iter().map(String::as_str).collect::<Vec<_>>());
    for (wrong, words) in
        [("no", "brake of right: answered `no`"), ("0.01 N*m", "expected"), ("", "the answers ended")]
    {
        let mut answers = vec![held[0].clone()];
        answers.extend((!wrong.is_empty()).then(|| wrong.to_string()));
        let ended = commission(&desk, &["--brakes"], &answers);
        let said = text(&ended.stderr);
        assert_eq!(ended.status.code(), Some(2), "{said}");
        assert!(said.contains(words) && said.contains("nothing was kept"), "{wrong}: {said}");
        assert_eq!(kept(), before, "{wrong}");
    }
    let tested = commission(&desk, &["--brakes"], &["2 N*m".to_string(), "2.1 N*m".to_string()]);
    let said = text(&tested.stdout);
    assert!(tested.status.success(), "{}", text(&tested.stderr));
    for asked in ["1 of 2: brake of left", "2 of 2: brake of right", "at least", "every brake was tested"] {
        assert!(said.contains(asked), "{asked} in {said}");
    }
    let after = kept();
    let answers: Vec<&str> = after.brakes.held.iter().map(|held| held.answer.as_str()).collect();
    assert_eq!(answers, ["2 N*m", "2.1 N*m"]);
    assert_eq!((after.steps.clone(), after.hash()), (before.steps.clone(), before.hash()));
}

/// A disk that is full at the end of it costs nobody another hour beside the rig.
#[test]
fn answers_that_could_not_be_kept_are_kept_once_there_is_room() {
    let _shared = beside_others();
    let desk = Desk::new();
    let in_the_way = desk.folder.path().join("records/simulated");
    std::fs::write(&in_the_way, "no folder").unwrap();
    let mut command = Command::new(PROGRAM);
    command.args(["commission", "rig.toml", "--link", "sim", "--by", "a test"]);
    let mut program = Program::started(command.current_dir(desk.folder.path()));
    for question in &steps(&rig(&desk)) {
        program.say(&right(question));
    }
    let at = program.wait_for("press Enter to try again", 0);
    program.say("");
    program.wait_for("press Enter to try again", at);
    std::fs::remove_file(&in_the_way).unwrap();
    program.say("");
    assert_eq!(program.end(), Some(0), "{}", program.said());
    assert!(in_the_way.join("commissioning.json").exists());
}
