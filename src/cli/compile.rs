//! A profile's path to everything that is known of it: texts, scene, rig, mistakes, report. All commands come here.

use super::args::{CheckedArgs, Format, SceneArgs};
use super::output::{Failure, tell};
use super::progress::Progress;
use super::view::{Measured, RigView, View};
use crate::check::{Finding, Report};
use crate::diag::{Diagnostic, Severity, SourceId, SourceText, Sources, Span};
use crate::drives::Records;
use crate::files::{self, Disk, MAX_PROFILE_BYTES, MAX_TOML_BYTES};
use crate::motion::Plan;
use crate::player::today;
use crate::rig::Rig;
use crate::rig::advice::look_again;
use crate::scenario::Scenario;
use crate::threads::Threads;
use crate::{lang, scenario};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What the texts say, as far as they could be understood.
pub(super) struct Compiled {
    /// The profile's path, as typed.
    pub(super) profile: PathBuf,
    /// The profile, its libraries, settings and rig.
    pub(super) sources: Sources,
    /// The scene; `None` when mistakes left nothing of it.
    pub(super) scenario: Option<Arc<Scenario>>,
    /// Mistakes and notes.
    pub(super) diagnostics: Vec<Diagnostic>,
}

impl Compiled {
    /// Whether a text holds an error.
    pub(super) fn has_errors(&self) -> bool {
        self.diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error)
    }
}

/// Reads and resolves a profile.
///
/// # Errors
/// When the file itself cannot be read.
pub(super) fn compile(profile: &Path, scene: Option<&str>) -> Result<Compiled, Failure> {
    let text = files::read_text(profile, MAX_PROFILE_BYTES)?;
    let mut sources = Sources::new();
    let source = sources.add(SourceText::new(profile.display().to_string(), text));
    let text = sources.get(source).text().to_string();
    let parsed = lang::parse(source, &text);
    let resolved = scenario::resolve(&parsed.file, source, scene, &mut sources, &Disk);
    let mut diagnostics = parsed.errors;
    diagnostics.extend(resolved.diagnostics);
    let scenario = resolved.scenario.map(Arc::new);
    Ok(Compiled { profile: profile.to_path_buf(), sources, scenario, diagnostics })
}

/// A rig and the file it stands in.
pub(super) struct FoundRig {
    /// The file.
    pub(super) path: PathBuf,
    /// `None` when its file has errors; they are among the diagnostics.
    pub(super) rig: Option<Arc<Rig>>,
    /// What looks like a mistake in it, as notes.
    pub(super) doubts: Vec<Diagnostic>,
}

/// Finds and reads the rig file: `named`, else what the settings near the profile name.
///
/// # Errors
/// When none is named anywhere, or the file cannot be read.
pub(super) fn find_rig(compiled: &mut Compiled, named: Option<&Path>) -> Result<FoundRig, Failure> {
    let path = match named {
        Some(path) => path.to_path_buf(),
        None => rig_in_settings(compiled)?.ok_or_else(|| Failure(advice(&compiled.profile)))?,
    };
    let (source, rig) = read_rig(&path, &mut compiled.sources, &mut compiled.diagnostics)?;
    let doubts = rig.as_deref().map_or_else(Vec::new, |rig| {
        look_again(rig).iter().map(|doubt| doubt.note(Span::new(source, 0, 0))).collect()
    });
    Ok(FoundRig { path, rig, doubts })
}

/// Reads one rig file into `sources`.
///
/// # Errors
/// When the file cannot be read.
pub(super) fn read_rig(
    path: &Path,
    sources: &mut Sources,
    diagnostics: &mut Vec<Diagnostic>,
) -> Result<(SourceId, Option<Arc<Rig>>), Failure> {
    let text = files::read_text(path, MAX_TOML_BYTES)?;
    let source = sources.add(SourceText::new(path.display().to_string(), text));
    let loaded = crate::rig::load(source, sources.get(source).text());
    diagnostics.extend(loaded.diagnostics);
    Ok((source, loaded.rig.map(Arc::new)))
}

fn rig_in_settings(compiled: &mut Compiled) -> Result<Option<PathBuf>, Failure> {
    let Some(path) = files::find_settings(&compiled.profile) else { return Ok(None) };
    let text = files::read_text(&path, MAX_TOML_BYTES)?;
    let source = compiled.sources.add(SourceText::new(path.display().to_string(), text));
    let (settings, mistakes) = files::parse_settings(source, compiled.sources.get(source).text());
    compiled.diagnostics.extend(mistakes);
    let Some(rig) = settings.rig else {
        return Err(Failure(format!(
            "`{}` names no rig; add `rig = \"rigs/my-rig.toml\"` to it, or give --rig FILE",
            path.display()
        )));
    };
    let rig_path = path.parent().unwrap_or(Path::new("")).join(&rig.path);
    if rig_path.is_file() {
        return Ok(Some(rig_path));
    }
    let (line, name) = (compiled.sources.get(source).line_column(rig.span.start).line, path.display());
    Err(Failure(format!(
        "`{name}` line {line} names the rig file `{}`, and there is none at `{}`",
        rig.path,
        rig_path.display()
    )))
}

fn advice(profile: &Path) -> String {
    format!(
        "no rig file to check `{}` against\n\
         give one:       --rig rigs/my-rig.toml\n\
         or name it once, in a file `{}` in the profile's folder or above it:\n\
         \x20               rig = \"rigs/my-rig.toml\"\n\
         `cueloom schema rig` describes what a rig file holds",
        profile.display(),
        files::SETTINGS_NAME
    )
}

/// A plan of the scene on the rig; what stands in its way is added to the diagnostics.
pub(super) fn plan(compiled: &mut Compiled, rig: &Arc<Rig>, args: &SceneArgs) -> Option<Plan> {
    let scenario = compiled.scenario.clone()?;
    match Plan::new(scenario.clone(), rig.clone(), args.gain.factor(), args.rate) {
        Ok(plan) => Some(plan),
        Err(errors) => {
            compiled.diagnostics.extend(crate::check::refusals(&scenario, rig, &errors));
            None
        }
    }
}

/// Compiles, checks, and gathers what there is to tell. The report is there when the check ran.
///
/// # Errors
/// When a file cannot be read or no rig is named.
pub(super) fn examine(
    profile: &Path,
    args: &CheckedArgs,
    format: Format,
) -> Result<(View, Option<Report>), Failure> {
    examine_part(profile, &args.scene, (&Records::at(&args.records.of(profile)), false), 1.0, format)
}

/// The same at a part of the gain, to try it out: what the scene expects of its whole strength is not asked of less.
///
/// # Errors
/// When a file cannot be read or no rig is named.
pub(super) fn examine_part(
    profile: &Path,
    args: &SceneArgs,
    (records, on_drives): (&Records, bool),
    part: f64,
    format: Format,
) -> Result<(View, Option<Report>), Failure> {
    let mut compiled = compile(profile, args.scene.as_deref())?;
    let found = match find_rig(&mut compiled, args.rig.as_deref()) {
        Ok(found) => found,
        // Mistakes in the profile are worth telling even where there is no rig to check against.
        Err(Failure(words)) if compiled.has_errors() => {
            super::print_mistakes(&compiled.diagnostics, &compiled.sources, format)?;
            return Err(Failure(words));
        }
        Err(failure) => return Err(failure),
    };
    let mut report = None;
    if !compiled.has_errors()
        && let Some(rig) = &found.rig
        && let Some(plan) = plan(&mut compiled, rig, args)
    {
        let plan = plan.at_part(part);
        let plan = match records.straying(&plan, today().0) {
            Ok(plan) => plan,
            // Where no drives are asked for, it is no reason not to check.
            Err(error) if !on_drives => {
                tell(&format!("what legs strayed in runs before is not taken off the margins: {error}"));
                plan
            }
            Err(error) => return Err(error.into()),
        };
        let threads = args.threads.map_or_else(Threads::all, |threads| Threads::new(threads.get()));
        let progress = Progress::new("check");
        report = Some(crate::check::run(&plan, &compiled.sources, &threads, &|share| progress.set(share)));
        progress.finish();
    }
    let Compiled { profile, sources, scenario, diagnostics } = compiled;
    let mut findings: Vec<_> = diagnostics.into_iter().chain(found.doubts).map(Finding::unmeasured).collect();
    let measured = report.as_ref().zip(scenario.as_deref()).map(|(report, scenario)| {
        findings.extend(report.findings.iter().cloned());
        Measured::of(report, scenario)
    });
    findings.sort_by_key(|finding| std::cmp::Reverse(finding.diagnostic.severity));
    let view = View {
        profile: profile.display().to_string(),
        scene: scenario.map(|scenario| scenario.title.clone()),
        sources,
        rig: found.rig.map(|rig| RigView {
            file: found.path.display().to_string(),
            name: rig.name.clone(),
            hash: rig.hash.clone(),
        }),
        gain: args.gain.factor() * part,
        rate_hz: args.rate.hz(),
        findings,
        measured,
    };
    Ok((view, report))
}
