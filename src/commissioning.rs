//! Commissioning: what must be seen on the steel, with the seat empty, before anything follows a profile. A guided list
//! of steps as a pure machine: an answer in, the next question out; the record at the end.
//!
//! Feedback agrees with a reversed wire or a swapped leg; only steel tells. So the steps ask what a person sees and
//! measures, and compare it with what the rig file says.

mod steps;

pub use steps::{Question, Wanted, steps};

use crate::diag::sha256;
use crate::rig::Rig;
use serde::{Deserialize, Serialize};

/// A record is void after so many days (own choice: a year).
pub const MOST_DAYS: u64 = 365;

/// A brake test is due again after so many days (common practice: daily).
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

/// What a commissioning leaves behind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CommissioningRecord {
    /// Hash of the rig file.
    pub rig: String,
    /// Who answered: name, drives, parameters.
    pub drives: FarEnd,
    /// Days since 1970-01-01.
    pub day: u64,
    /// The day of the last brake test.
    pub brakes_day: u64,
    /// Who did it.
    pub by: String,
    /// Every step with its answer.
    pub steps: Vec<Answered>,
}

impl CommissioningRecord {
    /// A hash of the record without its brake tests, which are repeated daily.
    pub fn hash(&self) -> String {
        let text = serde_json::to_string(&Self { brakes_day: 0, ..self.clone() }).unwrap_or_default();
        sha256(&text)
    }

    /// Why it does not hold for this rig and these drives today; `None` when it does.
    pub fn void(&self, rig_hash: &str, drives: &FarEnd, day: u64) -> Option<String> {
        if self.rig != rig_hash {
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
        if day < self.day || day < self.brakes_day {
            return Some("it is dated in the future: see this computer's clock".to_string());
        }
        let age = day - self.day;
        if age > MOST_DAYS {
            return Some(format!("it is {age} days old, and {MOST_DAYS} are the most"));
        }
        let age = day - self.brakes_day;
        (age > BRAKE_DAYS).then(|| {
            format!(
                "the last brake test is {age} days ago: test every brake, then `cueloom commission --brakes`"
            )
        })
    }
}

/// A commissioning under way.
#[derive(Debug, Clone, PartialEq)]
pub struct Commissioning {
    steps: Vec<Question>,
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
    /// For a rig.
    pub fn of(rig: &Rig) -> Self {
        Self { steps: steps(rig), answers: Vec::new(), failed: None }
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

    /// The record, once all steps are done.
    pub fn record(&self, rig_hash: &str, drives: FarEnd, day: u64, by: &str) -> Option<CommissioningRecord> {
        (self.failed.is_none() && self.question().is_none()).then(|| CommissioningRecord {
            rig: rig_hash.to_string(),
            drives,
            day,
            brakes_day: day,
            by: by.to_string(),
            steps: self.answers.clone(),
        })
    }
}

#[cfg(test)]
mod tests;
