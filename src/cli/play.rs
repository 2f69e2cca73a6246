//! `play`: check, and when it fits, play on the simulated rig.

use super::args::{Format, SceneArgs};
use super::compile::examine;
use super::output::{Failure, Outcome};
use std::path::{Path, PathBuf};

/// How a run goes.
pub(super) struct How {
    /// Do not wait for the clock.
    pub(super) fast: bool,
    /// Where its log goes.
    pub(super) log: Option<PathBuf>,
    /// Leave no render behind.
    pub(super) no_render: bool,
}

/// Checks `profile` and plays it.
///
/// # Errors
/// When something cannot be read or written, or the run fails.
pub(super) fn run(profile: &Path, args: &SceneArgs, how: &How, format: Format) -> Result<Outcome, Failure> {
    let (view, report) = examine(profile, args, format)?;
    super::print(&view, format)?;
    let Some(_cleared) = report.and_then(|report| report.clear()) else { return Ok(Outcome::Findings) };
    let _ = (how.fast, &how.log, how.no_render);
    Err(Failure("the player is not there yet".into()))
}
