use super::sample::{done, right};
use super::*;
use crate::units::Dimension;

/// The demo, whose rig file says most of what can be asked for.
fn two_legs() -> Rig {
    let text = include_str!("../../profiles/rigs/club-two-axis.toml");
    crate::rig::load(crate::diag::SourceId(0), text).rig.unwrap()
}

fn drives() -> FarEnd {
    FarEnd { name: "a".into(), legs: 2, cycle_us: 1000, firmware: 1, parameters: 2, serials: vec![3, 4] }
}

fn record() -> CommissioningRecord {
    sample::record(&two_legs(), &drives(), 100)
}

#[test]
fn every_right_answer_leads_to_a_record() {
    let record = record();
    assert_eq!(record.steps.len(), 6 + 2 + 2 * 2 + 2 + 2 + 2);
    assert_eq!(record.void(&two_legs(), &drives(), 100), None);
    let names: Vec<&str> = record.steps.iter().map(|step| step.step.as_str()).collect();
    for name in ["brake of left", "leg right", "roll by an outside measure", "homed twice, right"] {
        assert!(names.contains(&name), "{name}");
    }
    // What was measured is kept, and not only that it was.
    let held = &record.brakes.held;
    assert_eq!(
        held.iter().map(|held| held.step.as_str()).collect::<Vec<_>>(),
        ["brake of left", "brake of right"]
    );
    assert!(held.iter().all(|held| held.answer.ends_with(" N*m")), "{held:?}");
    assert_eq!((record.brakes.day, record.brakes.by.as_str()), (100, "Ada"));
    let twice = record.steps.iter().find(|step| step.step == "homed twice, left").unwrap();
    assert_eq!(twice.answer, "7 mm, 7.1 mm");
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
                Wanted::Twice(_) => "7 mm, 7.3 mm".into(),
                Wanted::Held(load) => format!("{} N*m", 0.9 * load.least_nm),
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
    let (record, rig) = (record(), two_legs());
    let void = |drives: &FarEnd, day| record.void(&rig, drives, day).unwrap_or_default();
    let other = Rig { hash: "other".to_string(), ..two_legs() };
    assert!(record.void(&other, &drives(), 100).unwrap().contains("rig file was changed"));
    assert!(void(&FarEnd { serials: vec![3, 5], ..drives() }, 100).contains("other drives"));
    assert!(void(&FarEnd { parameters: 9, ..drives() }, 100).contains("parameters"));
    assert!(void(&FarEnd { firmware: 9, ..drives() }, 100).contains("controller's program"));
    assert!(void(&drives(), 99).contains("future"));
    let test = |day| BrakeTest { day, ..record.brakes.clone() };
    let tested = CommissioningRecord { brakes: test(470), ..record.clone() };
    assert!(tested.void(&rig, &drives(), 470).unwrap().contains("370 days old"));
    assert_eq!(tested.hash(), record.hash(), "a brake test does not make another record");
    assert_ne!(CommissioningRecord { day: 101, ..record.clone() }.hash(), record.hash());
}

/// A date is a whole day, so today's alone is never believed for longer than one.
#[test]
fn a_brake_test_counts_on_its_own_date_and_on_no_other() {
    let (record, rig) = (record(), two_legs());
    let void = |day| record.void(&rig, &drives(), day);
    assert_eq!(void(100), None);
    assert!(void(101).unwrap().contains("the last brake test is 1 day old"), "{:?}", void(101));
    assert!(void(102).unwrap().contains("2 days old"), "{:?}", void(102));
    assert_eq!(record.void_but_for_brakes(&rig, &drives(), 101), None, "and may be repeated");
    let repeated = done(Commissioning::of_brakes(&rig)).brake_test(101, "Bea").unwrap();
    assert_eq!(repeated.held.len(), 2);
    let tested = CommissioningRecord { brakes: repeated, ..record.clone() };
    assert_eq!(tested.void(&rig, &drives(), 101), None);
    // A stamp alone is none.
    let stamped =
        |held| CommissioningRecord { brakes: BrakeTest { day: 101, by: "x".into(), held }, ..record.clone() };
    let void = |held| stamped(held).void(&rig, &drives(), 101).unwrap();
    assert!(void(Vec::new()).contains("`brake of left` is missing"), "{}", void(Vec::new()));
    let one = vec![record.brakes.held[0].clone()];
    assert!(void(one.clone()).contains("`brake of right` is missing"), "{}", void(one));
    let slipped = |step: &str, answer: &str| Answered { step: step.into(), answer: answer.into() };
    let weak = vec![slipped("brake of left", "no"), slipped("brake of right", "no")];
    assert!(void(weak.clone()).contains("`brake of left` is not answered as it must be"), "{}", void(weak));
}

/// A clock that was ahead when the brakes were tested is put right, and so is their date, by another test.
#[test]
fn a_brake_test_dated_in_the_future_is_mended_by_another() {
    let mut record = record();
    record.brakes.day = 107;
    let why = record.void(&two_legs(), &drives(), 100).unwrap();
    assert!(why.contains("the last brake test is dated in the future") && why.contains("--brakes"), "{why}");
    assert_eq!(record.void_but_for_brakes(&two_legs(), &drives(), 100), None);
}

#[test]
fn a_slip_of_the_pen_in_newtons_is_none_of_an_answer() {
    let mut brakes = Commissioning::of_brakes(&two_legs());
    let Wanted::Held(load) = brakes.question().unwrap().wanted.clone() else { panic!("a brake") };
    let (least_n, given_nm) = (load.least_n.unwrap(), load.given_nm.unwrap());
    let given_n = given_nm * least_n / load.least_nm;
    let Next::Again(said) = brakes.answer(&format!("{} N", 5.1 * given_n)) else { panic!("taken") };
    assert!(said.contains("more than 5 times the") && said.contains(" N"), "{said}");
    assert_eq!(brakes.answer(&format!("{} N", 4.9 * given_n)), Next::Ask);
}

#[test]
fn the_brakes_alone_leave_no_record_and_a_no_leaves_nothing() {
    let mut daily = Commissioning::of_brakes(&two_legs());
    assert!(daily.is_daily() && !Commissioning::of(&two_legs()).is_daily());
    let answer = right(daily.question().unwrap());
    assert_eq!((daily.answer(&answer), daily.brake_test(1, "x")), (Next::Ask, None));
    assert!(
        matches!(daily.answer("no"), Next::Failed(why) if why.starts_with("brake of right: answered `no`"))
    );
    assert_eq!(daily.brake_test(1, "x"), None);
    let all = done(Commissioning::of_brakes(&two_legs()));
    assert!(all.brake_test(1, "x").is_some() && all.record("hash", drives(), 1, "x").is_none());
}

/// Whichever step is missing, or holds what is no right answer, is named; the first of them first.
#[test]
fn a_record_vouches_only_with_every_step_of_its_rig() {
    let (record, rig) = (record(), two_legs());
    let void = |steps: Vec<Answered>| {
        CommissioningRecord { steps, ..record.clone() }.void(&rig, &drives(), 100).unwrap_or_default()
    };
    assert!(void(Vec::new()).contains("the step `vacant` is missing"), "{}", void(Vec::new()));
    for at in 0..record.steps.len() {
        let (mut without, mut wrong) = (record.steps.clone(), record.steps.clone());
        let name = without.remove(at).step;
        assert!(
            void(without.clone()).contains(&format!("the step `{name}` is missing")),
            "{}",
            void(without)
        );
        wrong[at].answer = "perhaps".to_string();
        let words = format!("the step `{name}` is not answered as it must be");
        assert!(void(wrong.clone()).contains(&words), "{}", void(wrong));
    }
    // What was asked before, that the brake held and not what.
    let mut before = record.steps.clone();
    before
        .iter_mut()
        .filter(|step| step.step == "brake of right")
        .for_each(|step| step.answer = "yes".into());
    assert!(void(before.clone()).contains("`brake of right` is not answered"), "{}", void(before));
}

#[test]
fn two_readings_that_differ_by_more_than_is_said_end_it() {
    let all = steps(&two_legs());
    let twice = all.iter().find(|question| question.name == "homed twice, left").unwrap();
    assert!(twice.words.contains("0.2 mm"), "{}", twice.words);
    for agrees in ["12.3 mm, 12.5 mm", "12.5 mm, 12.3 mm", "0.0123 m,12.3 mm", "-0.1 mm, 0.1 mm"] {
        assert_eq!(twice.judge(agrees), Ok(None), "{agrees}");
    }
    for wrong in ["12.30 mm, 12.51 mm", "12.51 mm, 12.30 mm", "-0.2 mm, 0.1 mm"] {
        let why = twice.judge(wrong).unwrap().unwrap();
        assert!(why.contains("apart, expected 0.2 mm at most: the reference is not repeatable"), "{why}");
    }
    for none in ["yes", "12.3 mm", "12.3, 12.4 mm", "12,3 mm, 12,4 mm", "1 deg, 1 deg", "1 mm, 1 mm, 1 mm"] {
        assert!(twice.judge(none).unwrap_err().contains("expected"), "{none}");
    }
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
