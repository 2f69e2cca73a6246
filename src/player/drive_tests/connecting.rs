//! Who answers and how quickly, before anything is engaged: what is turned away, and in which words.

use super::*;
use crate::link::{Asking, FarEnd};

/// What a far end answers, and how it was asked.
#[derive(Debug)]
struct Answers {
    legs: usize,
    cycle_us: u32,
    /// Questions who is there that get no answer, and how many there were.
    unheard: usize,
    asked: usize,
    /// How long round trips take, microseconds: the slow ones, how many there are of them, and all others.
    slow_us: u64,
    slow: usize,
    trip_us: u64,
    /// Polls without a report, by their numbers.
    silent: std::ops::Range<usize>,
    polls: usize,
    orders: Vec<DriveOrder>,
    left: bool,
}

impl Answers {
    /// The sample rig's own, quick and never silent.
    fn quick() -> Self {
        Self {
            legs: 2,
            cycle_us: 1000,
            unheard: 0,
            asked: 0,
            slow_us: 0,
            slow: 0,
            trip_us: 900,
            silent: 0..0,
            polls: 0,
            orders: Vec::new(),
            left: false,
        }
    }
}

#[derive(Clone)]
struct Asked(Arc<Mutex<Answers>>, DriveReport);

impl DriveLink for Asked {
    fn identify(&mut self, _: DriveTime) -> Result<Option<FarEnd>, LinkFault> {
        let mut answers = self.0.lock().unwrap();
        answers.asked += 1;
        let far = FarEnd {
            name: "a bench".into(),
            legs: answers.legs,
            cycle_us: answers.cycle_us,
            firmware: 1,
            parameters: 2,
            serials: vec![7; answers.legs],
        };
        Ok((answers.asked > answers.unheard).then_some(far))
    }

    fn poll(&mut self, _: DriveTime) -> Result<Option<DriveReport>, LinkFault> {
        let mut answers = self.0.lock().unwrap();
        let now = answers.polls;
        answers.polls += 1;
        // Well after the first twenty, which do not count.
        let is_slow = (100..100 + answers.slow).contains(&now);
        let round_trip_us = Some(if is_slow { answers.slow_us } else { answers.trip_us });
        Ok((!answers.silent.contains(&now)).then_some(DriveReport { round_trip_us, ..self.1 }))
    }

    fn send(&mut self, _: DriveTime, order: &DriveOrder) -> Result<(), LinkFault> {
        self.0.lock().unwrap().orders.push(*order);
        Ok(())
    }

    fn leave(&mut self) -> Result<(), LinkFault> {
        self.0.lock().unwrap().left = true;
        Ok(())
    }

    fn asking(&self) -> Asking {
        Asking { every_us: 20_000, most_us: 1_000_000 }
    }
}

/// Connects; what came of it, and how the far end was asked.
fn asked(answers: Answers) -> (Result<LinkMeasure, PlayError>, Answers) {
    let answers = Arc::new(Mutex::new(answers));
    let report = Obedient::new(0.65).with(|far| far.report);
    let connected = connect(Asked(answers.clone(), report), &two_legs(), true);
    let measured = connected.map(|connected| {
        assert_eq!((connected.far.name.as_str(), connected.far.legs), ("a bench", 2));
        connected.measure
    });
    let answers = Arc::into_inner(answers).unwrap().into_inner().unwrap();
    // Whatever comes of it, nothing is told but to stay off, without a force to do anything else by.
    let is_off = |order: &DriveOrder| {
        let zero = order.force_limits_n.iter().chain(order.speeds_m_s.iter()).all(|value| *value == 0.0);
        order.kind == OrderKind::Off && !order.warn && !order.release && zero
    };
    assert!(answers.orders.iter().all(is_off), "{:?}", answers.orders);
    (measured, answers)
}

/// One that is too slow, in words.
fn too_slow(answers: Answers) -> (LinkMeasure, String) {
    let (measured, answers) = asked(answers);
    let error = measured.expect_err("it does not hold the cycle");
    assert!(answers.left && answers.orders.len() == 270, "{}: {}", answers.left, answers.orders.len());
    let PlayError::Slow { measure, cycle_us: 1000 } = error else { panic!("{error:?}") };
    (measure, error.to_string())
}

const ADVICE: &str = "use a longer cycle or a better link, or give the link's delay in the rig file";

/// Two cycles of 1 ms, and 1 ms of the link both ways.
#[test]
fn round_trips_may_take_four_milliseconds_but_for_one_in_a_hundred() {
    let (measured, answers) = asked(Answers { trip_us: 4000, ..Answers::quick() });
    let measure = measured.unwrap();
    assert_eq!((measure.median_us, measure.p99_us, measure.longest_us), (4000, 4000, 4000));
    assert_eq!((measure.orders, measure.reports, measure.most_us), (250, 250, 4000));
    assert!(!answers.left, "it is played on");
    let (measure, words) = too_slow(Answers { trip_us: 4001, ..Answers::quick() });
    assert_eq!((measure.p99_us, measure.reports), (4001, 250));
    let slow = "99 % of answers came within 4001 us, expected 4000 us";
    assert_eq!(words, format!("the link does not hold a cycle of 1000 us: {slow}; {ADVICE}"));
    // Two of 250 are less than one in a hundred, three are more.
    let some = |slow| Answers { slow, slow_us: 9000, ..Answers::quick() };
    let measure = asked(some(2)).0.unwrap();
    assert_eq!((measure.median_us, measure.p99_us, measure.longest_us), (900, 900, 9000));
    assert_eq!(too_slow(some(3)).0.p99_us, 9000);
}

/// A silence by which a run would stop, 20 ms here, is too long before one as well.
#[test]
fn gaps_are_borne_as_long_as_a_run_would_bear_them() {
    let gap = |silent| Answers { silent, ..Answers::quick() };
    let measure = asked(gap(100..120)).0.unwrap();
    assert_eq!((measure.gap_us, measure.patience_us, measure.reports), (20_000, 20_000, 230));
    let (measure, words) = too_slow(gap(100..121));
    assert_eq!((measure.gap_us, measure.p99_us), (21_000, 900));
    let silence = "the longest silence was 21000 us, expected at most 20000 us";
    assert_eq!(words, format!("the link does not hold a cycle of 1000 us: {silence}; {ADVICE}"));
    // At its end, too, where no report comes after it; and before a far end has taken the run on nothing is due.
    assert_eq!(too_slow(gap(249..270)).0.gap_us, 21_000);
    assert_eq!(asked(gap(0..20)).0.unwrap().gap_us, 0);
}

#[test]
fn one_that_never_reports_is_too_slow_whatever_it_is_called() {
    let (measure, words) = too_slow(Answers { silent: 0..270, ..Answers::quick() });
    assert_eq!((measure.reports, measure.p99_us, measure.gap_us), (0, u64::MAX, 270_000));
    let said = "no report answered any of 250 orders, and the longest silence was 270000 us";
    assert!(words.contains(said) && words.ends_with(ADVICE), "{words}");
}

#[test]
fn another_rig_gets_no_order_and_is_named_with_what_was_expected() {
    let cases = [
        (3, 1000, "the link answers as `a bench` with 3 legs at 1000 us, expected 2 legs at 1000 us"),
        (2, 2000, "the link answers as `a bench` with 2 legs at 2000 us, expected 2 legs at 1000 us"),
    ];
    for (legs, cycle_us, words) in cases {
        let (measured, answers) = asked(Answers { legs, cycle_us, ..Answers::quick() });
        let error = measured.expect_err("another rig");
        let PlayError::WrongRig { found, .. } = &error else { panic!("{error:?}") };
        assert_eq!((found.legs, found.cycle_us), (legs, cycle_us));
        assert_eq!((error.to_string().as_str(), answers.polls, answers.orders.len()), (words, 0, 0));
    }
}

#[test]
fn whoever_does_not_answer_is_asked_for_a_while_and_then_not_there() {
    // Every 20 ms for a second.
    assert!(asked(Answers { unheard: 50, ..Answers::quick() }).0.is_ok());
    let (measured, answers) = asked(Answers { unheard: usize::MAX, ..Answers::quick() });
    let error = measured.expect_err("nobody");
    assert_eq!((error.to_string().as_str(), answers.asked), ("the link is silent", 52));
    assert!(answers.orders.is_empty() && answers.polls == 0);
}
