use super::*;
use crate::units::Dimension;

fn two_legs() -> Rig {
    let text = include_str!("../../profiles/rigs/club-two-axis.toml");
    crate::rig::load(crate::diag::SourceId(0), text).rig.unwrap()
}

fn right(question: &Question) -> String {
    match &question.wanted {
        Wanted::Yes => "yes".into(),
        Wanted::Word(words) => words[0].clone(),
        Wanted::Between(low, high, Dimension::ANGLE) => format!("{} rad", 0.5 * (low + high)),
        Wanted::Between(low, high, _) => format!("{} mm", 500.0 * (low + high)),
    }
}

fn drives() -> FarEnd {
    FarEnd { name: "a".into(), legs: 2, cycle_us: 1000, firmware: 1, parameters: 2, serials: vec![3, 4] }
}

fn done() -> Commissioning {
    let mut commissioning = Commissioning::of(&two_legs());
    while let Some(question) = commissioning.question() {
        let answer = right(question);
        assert!(!matches!(commissioning.answer(&answer), Next::Failed(_) | Next::Again(_)), "{answer}");
    }
    commissioning
}

#[test]
fn every_right_answer_leads_to_a_record() {
    let record = done().record("hash", drives(), 100, "Ada").unwrap();
    assert_eq!(record.steps.len(), 6 + 2 + 2 * 2 + 2 + 3);
    assert_eq!(record.void("hash", &drives(), 101), None);
    let names: Vec<&str> = record.steps.iter().map(|step| step.step.as_str()).collect();
    assert!(
        names.contains(&"brake of left")
            && names.contains(&"leg right")
            && names.contains(&"roll by an outside measure")
    );
}

#[test]
fn every_wrong_answer_ends_it_without_a_record() {
    let count = Commissioning::of(&two_legs()).progress().1;
    for wrong_at in 0..count {
        let mut commissioning = Commissioning::of(&two_legs());
        for at in 0..=wrong_at {
            let question = commissioning.question().unwrap().clone();
            let answer = match &question.wanted {
                _ if at < wrong_at => right(&question),
                Wanted::Yes => "no".into(),
                Wanted::Word(words) => words[1].clone(),
                Wanted::Between(_, _, Dimension::ANGLE) => "-1 deg".into(),
                Wanted::Between(..) => "-10 mm".into(),
            };
            let next = commissioning.answer(&answer);
            assert_eq!(matches!(next, Next::Failed(_)), at == wrong_at, "{question:?} {answer} {next:?}");
        }
        assert_eq!(commissioning.record("hash", drives(), 1, "x"), None);
        assert!(matches!(commissioning.answer("yes"), Next::Failed(_)));
    }
}

#[test]
fn what_is_no_answer_is_asked_again_and_half_a_record_is_none() {
    let mut commissioning = Commissioning::of(&two_legs());
    assert_eq!(commissioning.answer("perhaps"), Next::Again("expected yes or no".into()));
    assert_eq!(commissioning.answer("yes"), Next::Ask);
    assert_eq!((commissioning.progress().0, commissioning.record("h", drives(), 1, "x")), (1, None));
}

#[test]
fn a_record_says_why_it_is_void() {
    let record = done().record("hash", drives(), 100, "Ada").unwrap();
    let void = |rig: &str, drives: &FarEnd, day| record.void(rig, drives, day).unwrap_or_default();
    assert!(void("other", &drives(), 100).contains("rig file was changed"));
    assert!(void("hash", &FarEnd { serials: vec![3, 5], ..drives() }, 100).contains("other drives"));
    assert!(void("hash", &FarEnd { parameters: 9, ..drives() }, 100).contains("parameters"));
    assert!(void("hash", &FarEnd { firmware: 9, ..drives() }, 100).contains("controller's program"));
    assert!(void("hash", &drives(), 99).contains("future"));
    assert!(void("hash", &drives(), 102).contains("brake test is 2 days ago"));
    let tested = CommissioningRecord { brakes_day: 470, ..record.clone() };
    assert!(tested.void("hash", &drives(), 470).unwrap().contains("370 days old"));
    assert_eq!(tested.hash(), record.hash(), "a brake test does not make another record");
    assert_ne!(CommissioningRecord { day: 101, ..record.clone() }.hash(), record.hash());
}

/// Seventeen millimetres at the platform's edge are no degree, and a number alone is nothing.
#[test]
fn an_answer_of_another_kind_is_asked_again() {
    let all = steps(&two_legs());
    let of = |name: &str| all.iter().find(|question| question.name == name).unwrap();
    let (angle, length) = (of("pitch by an outside measure"), of("10 mm of left"));
    for (question, text) in [
        (angle, "17 mm"),
        (angle, "0.0175"),
        (angle, "1"),
        (length, "0.01"),
        (length, "0.57 deg"),
        (length, "10"),
    ] {
        let expected = question.judge(text).unwrap_err();
        assert!(expected.contains("expected a number with its unit"), "{text}: {expected}");
    }
    assert_eq!((angle.judge("1 deg"), length.judge("10 mm")), (Ok(None), Ok(None)));
    assert!(angle.judge("-1 deg").unwrap().is_some() && length.judge("12 mm").unwrap().is_some());
}
