//! `rig`: what a rig file describes, as text, as a page, as a model; and a new one to fill in.

use super::args::Format;
use super::compile::{compile, read_rig};
use super::json;
use super::output::{Failure, Outcome, say, tell};
use super::written_over::may_write;
use crate::diag::{Severity, Sources, render_short};
use crate::files::{make_folder_of, save};
use crate::motion::Plan;
use crate::page::{RigFile, rig_page};
use crate::rig::advice::{Advice, advise};
use crate::rig::mjcf::mjcf;
use crate::rig::summary::{summarise, text};
use crate::rig::survey::{SymmetricBox, largest_box, map_axes, reach_map};
use crate::rig::{Rig, TEMPLATE};
use crate::time::SampleRate;
use serde::Serialize;
use std::io::Write;
use std::path::Path;
use std::sync::Arc;

/// What to write besides the words.
pub(super) struct Wanted<'a> {
    /// The page.
    pub(super) html: Option<&'a Path>,
    /// The model.
    pub(super) mjcf: Option<&'a Path>,
    /// A profile for the page.
    pub(super) profile: Option<&'a Path>,
    /// Name of a load for the model.
    pub(super) load: Option<&'a str>,
}

/// What was worked out pose by pose, for `--format json`.
#[derive(Serialize)]
pub(super) struct Surveyed {
    /// The two axes of the reach map, across and up.
    axes: Option<[&'static str; 2]>,
    /// Half of the largest symmetric box in them, rad or m.
    largest_box: Option<[f64; 2]>,
    /// The share of all ranges that fits at once, 0..1.
    together: f64,
    advice: Advice,
}

impl Surveyed {
    fn of(rig: &Rig) -> Self {
        let axes = map_axes(rig);
        let map = axes.and_then(|axes| reach_map(rig, axes, &[]));
        let biggest = map.as_ref().and_then(largest_box);
        let word = |at: usize| rig.axes.get(at).map_or("", |limits| limits.axis.word());
        Self {
            axes: axes.map(|(across, up)| [word(across), word(up)]),
            largest_box: biggest.map(|SymmetricBox { across, up }| [across, up]),
            together: crate::rig::survey::together(rig),
            advice: advise(rig, map.as_ref(), biggest),
        }
    }
}

/// Reads `file`, prints its mistakes, its summary and advice, and writes what is wanted besides.
///
/// # Errors
/// When it cannot be read, or something cannot be written.
pub(super) fn run(file: &Path, wanted: &Wanted<'_>, format: Format) -> Result<Outcome, Failure> {
    for (output, other) in [(wanted.html, wanted.mjcf), (wanted.mjcf, None)] {
        let inputs = [Some(file), wanted.profile, other].into_iter().flatten();
        output.map_or(Ok(()), |output| may_write(output, inputs))?;
    }
    let (mut sources, mut diagnostics) = (Sources::new(), Vec::new());
    let (_, rig) = read_rig(file, &mut sources, &mut diagnostics)?;
    let summary = rig.as_deref().map(summarise);
    let surveyed = rig.as_deref().map(Surveyed::of);
    match format {
        Format::Json => say(&json::rig(&diagnostics, &sources, summary.as_ref(), surveyed.as_ref()))?,
        _ => super::print_mistakes(&diagnostics, &sources, format)?,
    }
    if let (Some(summary), Some(surveyed), Format::Human) = (&summary, &surveyed, format) {
        say(&text(summary))?;
        say(&advice_text(&surveyed.advice))?;
    }
    let errors = diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error);
    let Some(rig) = rig.filter(|_| !errors) else {
        for path in [wanted.html, wanted.mjcf].into_iter().flatten() {
            tell(&format!("`{}` is not written: the rig file has mistakes", path.display()));
        }
        return Ok(Outcome::Findings);
    };
    // A load that is not there is refused before anything is written.
    let carrying = wanted.mjcf.map(|_| loaded(&rig, wanted.load)).transpose()?;
    if let Some(path) = wanted.html {
        let remarks: Vec<String> =
            diagnostics.iter().map(|diagnostic| render_short(diagnostic, &sources)).collect();
        let name = file.display().to_string();
        let plan = match wanted.profile {
            Some(profile) => Some(planned(profile, &rig, format)?),
            None => None,
        };
        let page = rig_page(&rig, RigFile { path: &name, remarks: &remarks, plan: plan.as_ref() });
        write(path, &page, format)?;
    }
    if let (Some(path), Some((load, rig))) = (wanted.mjcf, carrying) {
        write(path, &mjcf(&rig, load), format)?;
    }
    Ok(Outcome::Clean)
}

/// The name of one of the loads, the first without `wanted`, and the rig that carries it.
fn loaded<'a>(rig: &'a Rig, wanted: Option<&str>) -> Result<(&'a str, Rig), Failure> {
    let cases = rig.load_cases();
    let found = cases.iter().find(|(case, _)| wanted.is_none_or(|wanted| *case == wanted));
    let Some((name, payload)) = found else {
        let known: Vec<String> = cases.iter().map(|(case, _)| format!("`{case}`")).collect();
        let (wanted, known) = (wanted.unwrap_or_default(), known.join(", "));
        return Err(Failure(format!("the rig file has no load `{wanted}`; it has {known}")));
    };
    Ok((name, rig.carrying(payload)))
}

/// A profile on the rig, as it is written, at 1000 samples a second.
fn planned(profile: &Path, rig: &Arc<Rig>, format: Format) -> Result<Plan, Failure> {
    let mut compiled = compile(profile, None)?;
    let plan = match (&compiled.scenario, SampleRate::new(1000)) {
        (Some(scenario), Some(rate)) if !compiled.has_errors() => {
            match Plan::new(scenario.clone(), rig.clone(), 1.0, rate) {
                Ok(plan) => Some(plan),
                Err(errors) => {
                    compiled.diagnostics.extend(crate::check::refusals(scenario, rig, &errors));
                    None
                }
            }
        }
        _ => None,
    };
    plan.ok_or_else(|| {
        // Words of the profile's mistakes go before the failure.
        let _ = super::print_mistakes(&compiled.diagnostics, &compiled.sources, format);
        Failure(format!("`{}` cannot be put on this rig; the page is not written", profile.display()))
    })
}

/// Writes a text and says where.
pub(super) fn write(path: &Path, text: &str, format: Format) -> Result<(), Failure> {
    make_folder_of(path)?;
    save(path, |out| out.write_all(text.as_bytes()))?;
    match format {
        Format::Human => say(&format!("\nwritten: {}\n", path.display())),
        _ => Ok(()),
    }
}

fn advice_text(advice: &Advice) -> String {
    let part = |title: &str, lines: &[String]| {
        let lines: String = lines.iter().map(|line| format!("  - {line}\n")).collect();
        if lines.is_empty() { String::new() } else { format!("\n{title}\n{lines}") }
    };
    part("look again: this may be a mistake in the file", &advice.look_again)
        + &part("what limits it", &advice.limits)
        + &part("weight", &advice.balance)
}

/// A rig file to fill in: printed, or written where there is none yet.
///
/// # Errors
/// When something is there already, or cannot be written.
pub(super) fn new(output: Option<&Path>) -> Result<Outcome, Failure> {
    let Some(path) = output else {
        say(TEMPLATE)?;
        return Ok(Outcome::Clean);
    };
    if path.exists() {
        return Err(Failure(format!(
            "`{}` is there already and is left as it is; name another file",
            path.display()
        )));
    }
    make_folder_of(path)?;
    save(path, |out| out.write_all(TEMPLATE.as_bytes()))?;
    say(&format!(
        "written: {0}\nnext: measure, change every number, then `cueloom rig {0}` and `cueloom rig {0} --html rig.html`\n",
        path.display()
    ))?;
    Ok(Outcome::Clean)
}
