//! `commission`: the guided steps, one question after the other; or every day those of the brakes alone.

use super::args::DriveArgs;
use super::compile::read_rig;
use super::drive::{carrier, open};
use super::output::{Failure, Outcome, say};
use super::typed::{self, Typed};
use crate::commissioning::{Commissioning, Next};
use crate::diag::Sources;
use crate::drives::{DriveError, Records};
use crate::player::{self, today};
use std::path::{Path, PathBuf};

/// Asks every step and keeps the record; or of every brake, and keeps what it held.
///
/// # Errors
/// When the rig or the link is not there, a step does not come out right, or there is no record for the brakes to be in.
pub(super) fn run(
    file: &Path,
    drives: &DriveArgs,
    records: &Path,
    by: &str,
    brakes: bool,
) -> Result<Outcome, Failure> {
    let (mut sources, mut diagnostics) = (Sources::new(), Vec::new());
    let (_, rig) = read_rig(file, &mut sources, &mut diagnostics)?;
    let rig = rig.ok_or_else(|| {
        Failure(format!("`{}` has mistakes: see `cueloom rig {}`", file.display(), file.display()))
    })?;
    // Only who is there is wanted: while the questions are asked another window has the link, to jog.
    let (far, _) = player::connect(open(drives, &rig)?.link, &rig, false)?.leave();
    let (day, _) = today();
    let records = Records::of(records, carrier(drives));
    say(&format!("`{}` answered, drives {:?}; the link is free again\n", far.name, far.serials))?;
    let path = if brakes {
        // Before anybody works on a brake.
        records.before_brakes(&rig, &far, day)?;
        let mut commissioning = Commissioning::of_brakes(&rig);
        ask(&mut commissioning)?;
        let test = commissioning.brake_test(day, by).ok_or_else(unfinished)?;
        keep(|| records.brakes_tested(&rig, &far, test.clone()))?
    } else {
        say(
            "jog with `cueloom play ... --seat vacant` and its word `jog`, in another window; read docs/first-motion.md first\n",
        )?;
        let mut commissioning = Commissioning::of(&rig);
        ask(&mut commissioning)?;
        let record = commissioning.record(&rig.hash, far, day, by).ok_or_else(unfinished)?;
        keep(|| records.keep_commissioning(&record))?
    };
    let what = if brakes { "every brake was tested; it counts for today (UTC)" } else { "commissioned" };
    say(&format!("\n{what}; written {}\n", path.display()))?;
    Ok(Outcome::Clean)
}

/// Keeps what was answered. Where that fails it can be tried again, for it was measured on the rig.
fn keep(save: impl Fn() -> Result<PathBuf, DriveError>) -> Result<PathBuf, Failure> {
    loop {
        let error = match save() {
            Ok(path) => return Ok(path),
            Err(error) => error,
        };
        say(&format!("\n{error}\nthe answers are still here: mend that, and press Enter to try again\n> "))?;
        if let Typed::Ended | Typed::Failed(_) = typed::next(&mut std::io::stdin().lock()) {
            return Err(error.into());
        }
    }
}

fn unfinished() -> Failure {
    Failure("not all steps were answered: nothing was kept".into())
}

/// Every question until all are answered.
///
/// # Errors
/// When one does not come out right, or the answers end before the questions.
fn ask(commissioning: &mut Commissioning) -> Result<(), Failure> {
    let mut lines = std::io::stdin().lock();
    while let Some(question) = commissioning.question() {
        let (done, all) = commissioning.progress();
        say(&format!("\n{} of {all}: {}\n{}\n> ", done + 1, question.name, question.words))?;
        let line = match typed::next(&mut lines) {
            Typed::Line(line) => line,
            Typed::TooLong => {
                say(&format!("a line of more than {} bytes is no answer\n", typed::LONGEST))?;
                continue;
            }
            Typed::Ended => {
                return Err(Failure("the answers ended before the questions: nothing was kept".into()));
            }
            Typed::Failed(error) => return Err(error.into()),
        };
        match commissioning.answer(&line) {
            Next::Again(expected) => say(&format!("{expected}\n"))?,
            Next::Failed(why) => return Err(Failure(format!("{why}; nothing was kept"))),
            Next::Ask | Next::Done => {}
        }
    }
    Ok(())
}
