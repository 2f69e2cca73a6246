//! The guided steps of a commissioning, asked while the drives are connected and the seat is vacant, so that legs can be
//! jogged and homed from step to step.

use crate::commissioning::{Commissioning, Next, Question};
use crate::drives::Records;
use crate::link::FarEnd;
use crate::rig::Rig;

/// A commissioning as it is asked.
#[derive(Debug, Default)]
pub struct Steps {
    asked: Option<Commissioning>,
    /// Of which rig file, by its hash, and of which far end.
    of: Option<(String, FarEnd)>,
    /// Who does it.
    pub by: String,
    /// An answer that is typed.
    pub typed: String,
    /// What came of the last answer: what was expected, why it failed, where it was written.
    said: Option<String>,
}

impl Steps {
    /// Begins from the first step. Nothing is kept before the last.
    pub fn begin(&mut self, rig: &Rig, far: &FarEnd) {
        self.ask(Commissioning::of(rig), rig, far);
    }

    /// Begins the daily test of the brakes alone; not where there is no record to keep it in.
    pub fn begin_brakes(&mut self, records: &Records, rig: &Rig, far: &FarEnd, day: u64) {
        match records.before_brakes(rig, far, day) {
            Ok(_) => self.ask(Commissioning::of_brakes(rig), rig, far),
            Err(error) => self.said = Some(error.to_string()),
        }
    }

    fn ask(&mut self, asked: Commissioning, rig: &Rig, far: &FarEnd) {
        self.asked = Some(asked);
        self.of = Some((rig.hash.clone(), far.clone()));
        (self.typed, self.said) = (String::new(), None);
    }

    /// Gives it up; nothing is kept.
    pub fn give_up(&mut self) {
        if self.asked.take().is_some() {
            self.said = Some("given up: nothing was kept".to_string());
        }
    }

    /// A far end answers to a rig file's run. Steps go on where they were, for some of them end a session (a cable that is
    /// pulled), unless it is another rig.
    pub fn meet(&mut self, rig_hash: &str, far: &FarEnd) {
        let is_same = |of: &(String, FarEnd)| of.0 == rig_hash && of.1 == *far;
        if !self.of.as_ref().is_some_and(is_same) {
            self.give_up();
        }
    }

    /// What is asked now, which of how many it is.
    pub fn question(&self) -> Option<(&Question, usize, usize)> {
        let asked = self.asked.as_ref()?;
        let (done, all) = asked.progress();
        asked.question().map(|question| (question, done + 1, all))
    }

    /// What came of the last answer.
    pub fn said(&self) -> Option<&str> {
        self.said.as_deref()
    }

    /// Takes an answer; after the last one what was asked for is kept, for `rig` and `far`. Whether it was the last.
    pub fn answer(&mut self, text: &str, records: &Records, rig: &Rig, far: &FarEnd, day: u64) -> bool {
        let Some(asked) = &mut self.asked else { return false };
        match asked.answer(text) {
            Next::Again(expected) => self.said = Some(expected),
            Next::Ask => (self.typed, self.said) = (String::new(), None),
            Next::Failed(why) => {
                self.asked = None;
                self.said = Some(format!("{why}; nothing was kept"));
            }
            Next::Done => {
                let (is_over, said) = kept(asked, records, rig, far, (day, self.by.trim()));
                self.said = Some(said);
                match is_over {
                    true => self.asked = None,
                    false => asked.take_back(),
                }
                return is_over;
            }
        }
        false
    }
}

/// Keeps what was answered: whether that is done with, and what is to be said of it. What could not be kept has not to be
/// measured again: the last question stands, and its answer tries once more.
fn kept(
    asked: &Commissioning,
    records: &Records,
    rig: &Rig,
    far: &FarEnd,
    (day, by): (u64, &str),
) -> (bool, String) {
    let (what, kept) = if asked.is_daily() {
        let test = asked.brake_test(day, by);
        ("every brake was tested, for today (UTC)", test.map(|test| records.brakes_tested(rig, far, test)))
    } else {
        let record = asked.record(&rig.hash, far.clone(), day, by);
        ("commissioned", record.map(|record| records.keep_commissioning(&record)))
    };
    match kept {
        Some(Ok(path)) => {
            (true, format!("{what}; written {}; it counts from the next connection on", path.display()))
        }
        Some(Err(error)) => {
            (false, format!("{error}; the answers are still here, and the last one is asked for again"))
        }
        None => (true, "not all steps were answered: nothing was kept".to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::commissioning::sample::right;
    use crate::link::sample::two_legs;

    fn far() -> FarEnd {
        FarEnd { name: "f".into(), legs: 2, cycle_us: 2000, firmware: 1, parameters: 2, serials: vec![3, 4] }
    }

    #[test]
    fn nothing_is_kept_before_the_last_answer_and_a_wrong_one_ends_it() {
        let folder = tempfile::tempdir().unwrap();
        let (records, rig) = (Records::at(folder.path()), two_legs());
        let mut steps = Steps { by: " Ada ".into(), ..Steps::default() };
        assert!(!steps.answer("yes", &records, &rig, &far(), 9), "not begun");
        steps.begin(&rig, &far());
        steps.answer("perhaps", &records, &rig, &far(), 9);
        assert_eq!(steps.said(), Some("expected yes or no"));
        steps.answer("no", &records, &rig, &far(), 9);
        assert!(steps.question().is_none() && steps.said().unwrap().contains("nothing was kept"));
        steps.begin(&rig, &far());
        let mut answers = 0;
        while let Some((question, at, all)) = steps.question() {
            let text = right(question);
            assert!(records.commissioning().unwrap().is_none() && at <= all);
            assert_eq!(steps.answer(&text, &records, &rig, &far(), 9), at == all, "{text}");
            answers += 1;
        }
        let record = records.commissioning().unwrap().unwrap();
        assert_eq!((record.by.as_str(), record.steps.len(), record.brakes.day), ("Ada", answers, 9));
        assert_eq!(record.void(&rig, &far(), 9), None);
    }

    #[test]
    fn the_daily_test_asks_of_every_brake_and_a_no_keeps_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let (records, rig) = (Records::at(folder.path()), two_legs());
        let mut steps = Steps { by: "Bea".into(), ..Steps::default() };
        steps.begin_brakes(&records, &rig, &far(), 9);
        assert!(steps.question().is_none() && steps.said().unwrap().contains("commission first"));
        records.keep_commissioning(&crate::commissioning::sample::record(&rig, &far(), 9)).unwrap();
        let brakes = || records.commissioning().unwrap().unwrap().brakes;
        let (before, mut asked) = (brakes(), Vec::new());
        for too_little in ["no", "0.001 N*m"] {
            steps.begin_brakes(&records, &rig, &far(), 11);
            steps.answer(too_little, &records, &rig, &far(), 11);
            assert!(steps.question().is_none() && steps.said().unwrap().contains("nothing was kept"));
            assert_eq!(brakes(), before, "{too_little}");
        }
        steps.begin_brakes(&records, &rig, &far(), 11);
        while let Some((question, _, all)) = steps.question() {
            let text = right(question);
            asked.push(question.name.clone());
            assert_eq!(brakes(), before);
            assert_eq!(steps.answer(&text, &records, &rig, &far(), 11), asked.len() == all);
        }
        assert_eq!(asked, ["brake of left", "brake of right"]);
        assert!(steps.said().unwrap().starts_with("every brake was tested"), "{:?}", steps.said());
        let after = brakes();
        assert_eq!((after.day, after.by.as_str(), after.held.len()), (11, "Bea", 2));
        assert_eq!(records.commissioning().unwrap().unwrap().void(&rig, &far(), 11), None);
        let other = FarEnd { parameters: 3, ..far() };
        steps.begin_brakes(&records, &rig, &other, 12);
        assert!(steps.question().is_none(), "other drives");
        assert!(steps.said().unwrap().contains("a drive's parameters were changed"), "{:?}", steps.said());
    }

    /// What was measured on the rig is not lost with a disk that is full.
    #[test]
    fn what_could_not_be_kept_can_be_kept_again() {
        let (folder, rig) = (tempfile::tempdir().unwrap(), two_legs());
        let file = folder.path().join("records");
        std::fs::write(&file, "in the way").unwrap();
        let (records, mut steps) = (Records::at(&file), Steps { by: "Ada".into(), ..Steps::default() });
        steps.begin(&rig, &far());
        let all = steps.question().unwrap().2;
        for _ in 0..all {
            let text = right(steps.question().unwrap().0);
            assert!(!steps.answer(&text, &records, &rig, &far(), 9));
        }
        assert!(steps.said().unwrap().contains("the answers are still here"), "{:?}", steps.said());
        assert_eq!(steps.question().unwrap().1, all, "the last one again");
        std::fs::remove_file(&file).unwrap();
        let text = right(steps.question().unwrap().0);
        assert!(steps.answer(&text, &records, &rig, &far(), 9));
        assert_eq!(records.commissioning().unwrap().unwrap().void(&rig, &far(), 9), None);
    }

    /// A pulled cable is one of the steps, and ends the session.
    #[test]
    fn steps_wait_for_the_same_rig_and_for_no_other() {
        let (mut steps, rig) = (Steps::default(), two_legs());
        let folder = tempfile::tempdir().unwrap();
        let at = |steps: &Steps| steps.question().map(|(_, at, _)| at);
        let other = FarEnd { parameters: 3, ..far() };
        for (hash, far_end, goes_on) in [("0", far(), true), ("1", far(), false), ("0", other, false)] {
            steps.begin(&rig, &far());
            steps.answer("yes", &Records::at(folder.path()), &rig, &far(), 9);
            assert_eq!(at(&steps), Some(2));
            steps.meet(hash, &far_end);
            assert_eq!(at(&steps), goes_on.then_some(2));
        }
        assert!(steps.said().unwrap().contains("nothing was kept"));
    }
}
