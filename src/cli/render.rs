//! `render`: a profile to a file of samples. It does not check, so that what does not fit can be looked at.

use super::args::{Format, SceneArgs};
use super::compile::{compile, find_rig, plan};
use super::output::{Failure, Outcome, say, tell};
use super::progress::Progress;
use super::written_over::may_write;
use crate::files::{SeriesKind, write_series};
use std::path::Path;

/// Renders `profile` to `output`.
///
/// # Errors
/// When something cannot be read or written.
pub(super) fn run(
    profile: &Path,
    output: &Path,
    args: &SceneArgs,
    format: Format,
) -> Result<Outcome, Failure> {
    // A wrong suffix is told before any work.
    SeriesKind::of(output)?;
    let mut compiled = compile(profile, args.scene.as_deref())?;
    let found = find_rig(&mut compiled, args.rig.as_deref())?;
    let plan = match &found.rig {
        Some(rig) if !compiled.has_errors() => plan(&mut compiled, rig, args),
        _ => None,
    };
    super::print_mistakes(&compiled.diagnostics, &compiled.sources, format)?;
    let Some(plan) = plan else { return Ok(Outcome::Findings) };
    may_write(output, compiled.sources.iter().map(|(_, text)| Path::new(text.name())))?;
    let progress = Progress::new("render");
    let written = write_series(output, &plan, &|share| progress.set(share));
    progress.finish();
    for path in written? {
        say(&format!("{}\n", path.display()))?;
    }
    tell("rendered, not checked: `cueloom check` says whether it fits the rig file");
    Ok(Outcome::Clean)
}
