//! Commissioning: what must be seen on the steel, with the seat empty, before anything follows a profile. A guided list
//! of steps as a pure machine: an answer in, the next question out; the record at the end.
//!
//! Feedback agrees with a reversed wire or a swapped leg; only steel tells. So the steps ask what a person sees and
//! measures, and compare it with what the rig file says.

mod brake_load;
#[cfg(test)]
pub(crate) mod sample;
mod steps;

pub use brake_load::BrakeLoad;
pub use steps::{Question, Wanted, brakes, steps};

use crate::diag::sha256;
use crate::rig::Rig;
use serde::{Deserialize, Serialize};

/// A record is void after so many days (own choice: a year).
pub const MOST_DAYS: u64 = 365;

/// A brake test counts on so many dates, its own the first of them (common practice: daily). Dates are those of UTC, whole
/// days: what was tested late in the evening before counts no more, so that no test is ever believed for longer than a day.
pub const BRAKE_DAYS: u64 = 1;

/// Who is at the far end.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FarEnd {
    /// Its name.
    pub name: String,
    /// How many legs it has.
    pub legs: usize,
    /// Time between orders that it expects, microseconds.
    pub cycle_us: u32,
    /// Version of its program.
    pub firmware: u32,
    /// A sum over the drives' parameters.
    pub parameters: u64,
    /// The drives' serial numbers.
    pub serials: Vec<u64>,
}

impl FarEnd {
    /// Everything that tells these drives from others, in one line.
    pub fn fingerprint(&self) -> String {
        let serials: Vec<String> = self.serials.iter().map(u64::to_string).collect();
        format!("{} {} {:016x} {:08x}", self.name, serials.join(","), self.parameters, self.firmware)
    }
}

/// One step, answered.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Answered {
    /// The step's name.
    pub step: String,
    /// What was typed.
    pub answer: String,
}

/// A test of every brake.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct BrakeTest {
    /// Days since 1970-01-01.
    pub day: u64,
    /// Who did it.
    pub by: String,
    /// What each brake held.
    pub held: Vec<Answered>,
}

/// What a commissioning leaves behind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CommissioningRecord {
    /// Hash of the rig file.
    pub rig: String,
    /// Who answered: name, drives, parameters.
    pub drives: FarEnd,
    /// Days since 1970-01-01.
    pub day: u64,
    /// The last test of the brakes; records of before this was kept have none, and are void by it.
    #[serde(default)]
    pub brakes: BrakeTest,
    /// Who did it.
    pub by: String,
    /// Every step with its answer.
    pub steps: Vec<Answered>,
}

impl CommissioningRecord {
    /// A hash of the record without its brake tests, which are repeated daily.
    pub fn hash(&self) -> String {
        let untested = Self { brakes: BrakeTest::default(), ..self.clone() };
        let text = serde_json::to_string(&untested).unwrap_or_default();
        sha256(&text)
    }

    /// Why it does not hold for this rig and these drives today; `None` when it does.
    pub fn void(&self, rig: &Rig, drives: &FarEnd, day: u64) -> Option<String> {
        self.void_but_for_brakes(rig, drives, day).or_else(|| self.brakes_void(rig, day))
    }

    /// The same, whatever the test of the brakes: what has to hold before that is repeated.
    pub fn void_but_for_brakes(&self, rig: &Rig, drives: &FarEnd, day: u64) -> Option<String> {
        if self.rig != rig.hash {
            return Some("the rig file was changed since".to_string());
        }
        if self.drives.serials != drives.serials || self.drives.name != drives.name {
            return Some(format!("other drives answer (`{}`, {:?})", drives.name, drives.serials));
        }
        if self.drives.parameters != drives.parameters {
            return Some("a drive's parameters were changed since".to_string());
        }
        if self.drives.firmware != drives.firmware {
            return Some("the controller's program was changed since".to_string());
        }
        if day < self.day {
            return Some("it is dated in the future: see this computer's clock".to_string());
        }
        let age = day - self.day;
        if age > MOST_DAYS {
            return Some(format!("it is {age} days old, and {MOST_DAYS} are the most"));
        }
        let lack = first_lack(&steps(rig), &self.steps)?;
        Some(format!("{lack}: commission anew"))
    }

    fn brakes_void(&self, rig: &Rig, day: u64) -> Option<String> {
        const REPEAT: &str =
            "test every brake with `cueloom commission --brakes`, or `Test the brakes` in the window";
        if day < self.brakes.day {
            return Some(format!(
                "the last brake test is dated in the future: see this computer's clock, then {REPEAT}"
            ));
        }
        let age = day - self.brakes.day;
        if age >= BRAKE_DAYS {
            let days = if age == 1 { "day" } else { "days" };
            return Some(format!(
                "the last brake test is {age} {days} old, and it is due every day: {REPEAT}"
            ));
        }
        let lack = first_lack(&brakes(rig), &self.brakes.held)?;
        Some(format!("of the last brake test {lack}: {REPEAT}"))
    }
}

/// The first question that is not answered, or not as it must be.
fn first_lack(questions: &[Question], answers: &[Answered]) -> Option<String> {
    questions.iter().find_map(|question| {
        let name = &question.name;
        let Some(found) = answers.iter().find(|found| found.step == *name) else {
            return Some(format!("the step `{name}` is missing"));
        };
        let why = question.judge(&found.answer).unwrap_or_else(Some)?;
        Some(format!("the step `{name}` is not answered as it must be ({why})"))
    })
}

/// A commissioning under way, or the daily test of the brakes alone.
#[derive(Debug, Clone, PartialEq)]
pub struct Commissioning {
    steps: Vec<Question>,
    /// Which of them are repeated every day.
    brakes: Vec<String>,
    answers: Vec<Answered>,
    failed: Option<String>,
}

/// What an answer leads to.
#[derive(Debug, Clone, PartialEq)]
pub enum Next {
    /// Not an answer to this question: what was expected.
    Again(String),
    /// The next question.
    Ask,
    /// It ends here: what was seen is not what the rig file says.
    Failed(String),
    /// All steps are done.
    Done,
}

impl Commissioning {
    /// Every step, for a rig.
    pub fn of(rig: &Rig) -> Self {
        Self::asking(steps(rig), rig)
    }

    /// The brakes alone, for a rig: what is repeated every day.
    pub fn of_brakes(rig: &Rig) -> Self {
        Self::asking(brakes(rig), rig)
    }

    fn asking(steps: Vec<Question>, rig: &Rig) -> Self {
        let brakes = brakes(rig).into_iter().map(|question| question.name).collect();
        Self { steps, brakes, answers: Vec::new(), failed: None }
    }

    /// Whether it asks of the brakes alone, and leaves no record of its own.
    pub fn is_daily(&self) -> bool {
        self.steps.len() == self.brakes.len()
    }

    /// What is asked now; `None` at the end.
    pub fn question(&self) -> Option<&Question> {
        if self.failed.is_some() { None } else { self.steps.get(self.answers.len()) }
    }

    /// How far it has come, and of how many.
    pub fn progress(&self) -> (usize, usize) {
        (self.answers.len(), self.steps.len())
    }

    /// Takes an answer.
    pub fn answer(&mut self, text: &str) -> Next {
        let Some(question) = self.question().cloned() else {
            return self.failed.clone().map_or(Next::Done, Next::Failed);
        };
        let text = text.trim();
        match question.judge(text) {
            Err(expected) => Next::Again(expected),
            Ok(Some(wrong)) => {
                self.failed = Some(wrong.clone());
                Next::Failed(wrong)
            }
            Ok(None) => {
                self.answers.push(Answered { step: question.name.clone(), answer: text.to_string() });
                if self.question().is_some() { Next::Ask } else { Next::Done }
            }
        }
    }

    /// The last answer is asked for once more.
    pub fn take_back(&mut self) {
        self.answers.pop();
    }

    /// What the brakes held, once all steps are done.
    pub fn brake_test(&self, day: u64, by: &str) -> Option<BrakeTest> {
        let is_done = self.failed.is_none() && self.question().is_none();
        let held = self.answers.iter().filter(|answer| self.brakes.contains(&answer.step));
        is_done.then(|| BrakeTest { day, by: by.to_string(), held: held.cloned().collect() })
    }

    /// The record, once all steps are done; none of the brakes alone.
    pub fn record(&self, rig_hash: &str, drives: FarEnd, day: u64, by: &str) -> Option<CommissioningRecord> {
        let brakes = self.brake_test(day, by).filter(|_| !self.is_daily())?;
        let (rig, by, steps) = (rig_hash.to_string(), by.to_string(), self.answers.clone());
        Some(CommissioningRecord { rig, drives, day, brakes, by, steps })
    }
}

#[cfg(test)]
mod tests;
