//! `report`: a profile, checked, as a page to print.

use super::args::{CheckedArgs, Format};
use super::compile::examine;
use super::output::{Failure, Outcome, tell};
use super::progress::Progress;
use super::written_over::may_write;
use crate::page::{Checked, profile_page};
use std::path::Path;

/// Checks `profile` and writes the page to `output`; where the check could not run, what stands in its way is printed.
///
/// # Errors
/// When something cannot be read or written.
pub(super) fn run(
    profile: &Path,
    output: &Path,
    args: &CheckedArgs,
    format: Format,
) -> Result<Outcome, Failure> {
    let (view, report) = examine(profile, args, format)?;
    let Some(report) = report else {
        super::print(&view, format)?;
        tell(&format!("`{}` is not written: the profile was not checked", output.display()));
        return Ok(Outcome::Findings);
    };
    may_write(output, view.inputs())?;
    let checked = Checked {
        profile: &view.profile,
        rig: view.rig.as_ref().map_or("", |rig| rig.file.as_str()),
        findings: &view.findings,
        sources: &view.sources,
    };
    let progress = Progress::new("report");
    let page = profile_page(&report, checked, &|share| progress.set(share));
    progress.finish();
    super::rig::write(output, &page, Format::Human)?;
    Ok(if view.has_findings(false) { Outcome::Findings } else { Outcome::Clean })
}
