//! The report for programs. Its shape is documented in docs/report-json.md and numbered; keys are only ever added.

use super::rig::Surveyed;
use super::view::View;
use crate::audition::{Entry, Levels, Unsigned};
use crate::check::Finding;
use crate::diag::{Diagnostic, Label, Severity, Sources, Span, sha256};
use crate::drives::{Kept, Vouched};
use crate::player::Played;
use crate::record::{Change, Sweep, Wear};
use crate::rig::summary::Summary;
use crate::units::Dimension;
use serde::Serialize;
use std::path::PathBuf;

/// Goes up when a key is taken away or changes its meaning.
pub(super) const SCHEMA_VERSION: u32 = 1;

#[derive(Serialize)]
struct Document<'a> {
    schema_version: u32,
    profile: &'a str,
    scene: Option<&'a str>,
    sources: Vec<Source<'a>>,
    rig: Option<Rig<'a>>,
    gain: f64,
    rate_hz: u32,
    fits: bool,
    fits_gain: Option<f64>,
    duration_s: Option<f64>,
    bound: Option<&'a str>,
    not_checked: Vec<Unchecked<'a>>,
    findings: Vec<Found<'a>>,
    margins: Vec<Margin<'a>>,
    layers: Vec<Layer<'a>>,
}

#[derive(Serialize)]
struct Unchecked<'a> {
    rule: &'a str,
    missing: &'a str,
}

#[derive(Serialize)]
struct Source<'a> {
    file: &'a str,
    sha256: String,
}

#[derive(Serialize)]
struct Rig<'a> {
    file: &'a str,
    name: &'a str,
    sha256: &'a str,
}

#[derive(Serialize)]
struct Found<'a> {
    rule: &'a str,
    severity: &'a str,
    message: &'a str,
    file: &'a str,
    line: u32,
    column: u32,
    end_line: u32,
    end_column: u32,
    label: &'a str,
    part: Option<&'a str>,
    at_s: Option<f64>,
    value: Option<f64>,
    limit: Option<f64>,
    unit: Option<String>,
    blame: Vec<Blame<'a>>,
    fits_gain: Option<f64>,
    help: &'a [String],
    related: Vec<Related<'a>>,
    fixes: Vec<Fix<'a>>,
}

#[derive(Serialize)]
struct Blame<'a> {
    label: &'a str,
    file: &'a str,
    line: u32,
    share: f64,
}

#[derive(Serialize)]
struct Related<'a> {
    file: &'a str,
    line: u32,
    column: u32,
    label: &'a str,
}

#[derive(Serialize)]
struct Fix<'a> {
    title: &'a str,
    file: &'a str,
    start_byte: u32,
    end_byte: u32,
    replacement: &'a str,
}

#[derive(Serialize)]
struct Margin<'a> {
    actuator: &'a str,
    quantity: &'a str,
    peak: f64,
    bound: f64,
    limit: f64,
    used: f64,
    unit: String,
    at_s: f64,
}

#[derive(Serialize)]
struct Layer<'a> {
    label: &'a str,
    channel: &'a str,
    file: &'a str,
    line: u32,
    peak: f64,
    rms: Option<f64>,
    unit: String,
}

/// The report as one line of JSON.
pub(super) fn json(view: &View) -> String {
    let sources = &view.sources;
    let measured = view.measured.as_ref();
    let document = Document {
        schema_version: SCHEMA_VERSION,
        profile: &view.profile,
        scene: view.scene.as_deref(),
        sources: sources
            .iter()
            .map(|(_, text)| Source { file: text.name(), sha256: sha256(text.text()) })
            .collect(),
        rig: view.rig.as_ref().map(|rig| Rig { file: &rig.file, name: &rig.name, sha256: &rig.hash }),
        gain: view.gain,
        rate_hz: view.rate_hz,
        fits: measured.is_some() && !view.findings.iter().any(|f| f.diagnostic.severity == Severity::Error),
        fits_gain: measured.and_then(|measured| measured.fits_gain),
        duration_s: measured.map(|measured| measured.duration_s),
        bound: measured.map(|measured| measured.bound.as_str()),
        not_checked: measured.map_or_else(Vec::new, |measured| {
            let unchecked = |u: &crate::check::Unchecked| Unchecked { rule: u.rule, missing: u.missing };
            measured.not_checked.iter().map(unchecked).collect()
        }),
        findings: view.findings.iter().map(|finding| found(finding, sources)).collect(),
        margins: measured.map_or_else(Vec::new, |measured| measured.margins.iter().map(margin).collect()),
        layers: measured.map_or_else(Vec::new, |measured| {
            let row =
                |layer: &'_ super::view::LayerView| (sources.place(layer.span), layer.dimension.si_unit());
            let layers = measured.layers.iter().map(|layer| {
                let ((file, at), unit) = row(layer);
                let (label, channel, line) = (layer.label.as_str(), layer.channel, at.line);
                Layer { label, channel, file, line, peak: layer.peak, rms: layer.rms, unit }
            });
            layers.collect()
        }),
    };
    line(&document)
}

/// Mistakes in texts that were not checked against a rig, as one line of JSON.
pub(super) fn mistakes(mistakes: &[Diagnostic], sources: &Sources) -> String {
    let findings: Vec<Finding> = mistakes.iter().cloned().map(Finding::unmeasured).collect();
    let findings: Vec<Found<'_>> = findings.iter().map(|finding| found(finding, sources)).collect();
    line(&serde_json::json!({ "schema_version": SCHEMA_VERSION, "findings": findings }))
}

/// A rig file's mistakes, what it describes and what was worked out pose by pose, as one line of JSON.
pub(super) fn rig(
    mistakes: &[Diagnostic],
    sources: &Sources,
    summary: Option<&Summary>,
    surveyed: Option<&Surveyed>,
) -> String {
    let findings: Vec<Finding> = mistakes.iter().cloned().map(Finding::unmeasured).collect();
    let findings: Vec<Found<'_>> = findings.iter().map(|finding| found(finding, sources)).collect();
    line(
        &serde_json::json!({ "schema_version": SCHEMA_VERSION, "findings": findings, "rig": summary, "survey": surveyed }),
    )
}

/// How a run ended, as one line of JSON; on drives also where it ended and what is kept of it.
pub(super) fn played(played: &Played, written: &[PathBuf], on: Option<(&Vouched, Kept)>) -> String {
    let drives = on.map(|(vouched, kept)| {
        serde_json::json!({
            "state": played.run.map(|run| run.state().word()),
            "cause": played.run.map(|run| run.cause().words()),
            "tripped": played.tripped.map(|cause| cause.words()),
            "level_db": vouched.rung.level_db,
            "load": vouched.rung.load,
            "kept": kept.word(),
            "kept_words": kept.words(),
            "least_gain": played.least_gain,
            "overridden": vouched.overridden,
            "commissioning_void": vouched.void,
            "audition_missing": vouched.missing,
        })
    });
    let legs: Vec<_> = played
        .legs
        .iter()
        .map(|(name, leg)| {
            serde_json::json!({
                "actuator": name,
                "peak_m": leg.peak_m,
                "rms_m": leg.rms_m,
                "lag_s": leg.lag_s,
                "rms_after_lag_m": leg.rms_after_lag_m,
                "peak_after_lag_m": leg.peak_after_lag_m,
            })
        })
        .collect();
    line(&serde_json::json!({
        "schema_version": SCHEMA_VERSION,
        "state": played.state.word(),
        "played_out": played.played_out,
        "time_s": played.time_s,
        "cycles": played.cycles,
        "tracking": legs,
        "interventions": played.interventions,
        "latest_us": played.late.max_us(),
        "dropped": played.dropped,
        "remarks": played.remarks,
        "log_error": played.log_error,
        "drives": drives,
        "written": written.iter().map(|path| path.display().to_string()).collect::<Vec<_>>(),
    }))
}

/// What a sweep tells, and what is not as it was.
/// `first_day` is the day of the one that was kept first, since 1970-01-01; `None` where there is none to hold it against.
pub(super) fn sweep(sweep: &Sweep, first_day: Option<u64>, changes: &[Change]) -> String {
    let changes: Vec<_> = changes
        .iter()
        .map(|change| serde_json::json!({ "words": change.words, "look": change.look }))
        .collect();
    line(&serde_json::json!({
        "schema_version": SCHEMA_VERSION, "sweep": sweep, "first_day": first_day, "changes": changes
    }))
}

/// The ladder: its levels, what is in its file, the run that waits to be signed off.
pub(super) fn ladder(levels: &Levels, entries: &[Entry], to_sign: Option<&Unsigned>) -> String {
    line(&serde_json::json!({
        "schema_version": SCHEMA_VERSION,
        "levels_db": levels.all_db().collect::<Vec<_>>(),
        "entries": entries,
        "to_sign": to_sign.map(run),
    }))
}

/// A run that was signed off.
pub(super) fn signed(signed: &Unsigned) -> String {
    line(&serde_json::json!({ "schema_version": SCHEMA_VERSION, "signed": run(signed) }))
}

/// Work that was noted, and in which folder.
pub(super) fn noted(folder: &std::path::Path, remark: &str) -> String {
    let folder = folder.display().to_string();
    line(&serde_json::json!({ "schema_version": SCHEMA_VERSION, "maintenance": remark, "folder": folder }))
}

fn run(run: &Unsigned) -> serde_json::Value {
    let Unsigned { rung, day, record, .. } = run;
    serde_json::json!({ "level_db": rung.level_db, "load": rung.load, "day": day, "record": record })
}

/// What legs and brakes have done.
pub(super) fn wear(wear: &Wear) -> String {
    line(&serde_json::json!({ "schema_version": SCHEMA_VERSION, "wear": wear }))
}

/// A command that could not run, as one line of JSON.
pub(super) fn failure(words: &str) -> String {
    line(&serde_json::json!({ "schema_version": SCHEMA_VERSION, "failure": words }))
}

fn line(document: &impl Serialize) -> String {
    // These types hold nothing that JSON cannot say: numbers without a finite value come out as null.
    serde_json::to_string(document).unwrap_or_else(|error| format!("{{\"failure\":\"{error}\"}}")) + "\n"
}

fn margin(margin: &crate::check::Margin) -> Margin<'_> {
    Margin {
        actuator: &margin.part,
        quantity: margin.quantity.word(),
        peak: margin.peak,
        bound: margin.bound,
        limit: margin.limit,
        used: margin.used,
        unit: margin.dimension.si_unit(),
        at_s: margin.at_s,
    }
}

fn found<'a>(finding: &'a Finding, sources: &'a Sources) -> Found<'a> {
    let diagnostic = &finding.diagnostic;
    let span = diagnostic.primary.span;
    let (file, at) = sources.place(span);
    let end = sources.get(span.source).line_column(span.end.max(span.start));
    let measured = finding.value.is_some() || finding.limit.is_some();
    Found {
        rule: diagnostic.rule,
        severity: diagnostic.severity.word(),
        message: &diagnostic.title,
        file,
        line: at.line,
        column: at.column,
        end_line: end.line,
        end_column: end.column,
        label: &diagnostic.primary.text,
        part: finding.part.as_deref(),
        at_s: finding.at_s,
        value: finding.value,
        limit: finding.limit,
        unit: measured.then(|| Dimension::si_unit(finding.dimension)),
        blame: finding.blame.iter().map(|blame| self::blame(blame, sources)).collect(),
        fits_gain: finding.fits_gain,
        help: &diagnostic.help,
        related: diagnostic.secondary.iter().map(|label| related(label, sources)).collect(),
        fixes: diagnostic.fixes.iter().map(|fix| self::fix(fix, sources)).collect(),
    }
}

fn blame<'a>(blame: &'a crate::check::Blame, sources: &'a Sources) -> Blame<'a> {
    let (file, at) = sources.place(blame.span);
    Blame { label: &blame.label, file, line: at.line, share: blame.share }
}

fn related<'a>(label: &'a Label, sources: &'a Sources) -> Related<'a> {
    let (file, at) = sources.place(label.span);
    Related { file, line: at.line, column: at.column, label: &label.text }
}

fn fix<'a>(fix: &'a crate::diag::Fix, sources: &'a Sources) -> Fix<'a> {
    let Span { source, start, end } = fix.span;
    let file = sources.get(source).name();
    Fix { title: &fix.title, file, start_byte: start, end_byte: end, replacement: &fix.replacement }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::report::sample;
    use serde_json::Value;

    /// Every key of a value with its path: `findings[].blame[].share`.
    fn keys(value: &Value, path: &str, found: &mut std::collections::BTreeSet<String>) {
        match value {
            Value::Object(map) => map.iter().for_each(|(key, value)| {
                let path = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
                keys(value, &path, found);
                found.insert(path);
            }),
            Value::Array(list) => list.iter().for_each(|value| keys(value, &format!("{path}[]"), found)),
            _ => {}
        }
    }

    #[test]
    fn the_promised_keys_are_there_with_their_values() {
        let value: Value = serde_json::from_str(&json(&sample())).unwrap();
        assert_eq!(value["schema_version"], 1);
        assert_eq!(value["duration_s"], 83.5);
        assert_eq!((&value["fits"], &value["fits_gain"]), (&false.into(), &0.6554.into()));
        let finding = &value["findings"][0];
        for (key, expected) in [
            ("rule", Value::from("speed")),
            ("severity", "error".into()),
            ("file", "stall.cues".into()),
            ("line", 2.into()),
            ("column", 5.into()),
            ("at_s", 12.431.into()),
            ("value", 0.381.into()),
            ("limit", 0.25.into()),
            ("unit", "m/s".into()),
            ("fits_gain", 0.6554.into()),
        ] {
            assert_eq!(finding[key], expected, "{key}");
        }
        assert_eq!(finding["blame"][0]["label"], "stall / pitch noise");
        assert_eq!((&finding["blame"][0]["line"], &finding["blame"][0]["share"]), (&2.into(), &0.87.into()));
        let margin = &value["margins"][0];
        assert_eq!((&margin["actuator"], &margin["quantity"]), (&"left".into(), &"speed".into()));
        assert_eq!((&margin["peak"], &margin["limit"]), (&0.381.into(), &0.25.into()));
        assert_eq!((&margin["unit"], &margin["at_s"]), (&"m/s".into(), &12.431.into()));
    }

    #[test]
    fn the_page_documents_exactly_these_keys() {
        let page = include_str!("../../docs/report-json.md");
        let mut written = std::collections::BTreeSet::new();
        keys(&serde_json::from_str(&json(&sample())).unwrap(), "", &mut written);
        let documented = page.lines().filter_map(|line| line.strip_prefix("| `")?.split('`').next());
        let documented: std::collections::BTreeSet<String> = documented.map(str::to_string).collect();
        assert_eq!(written, documented);
    }

    #[test]
    fn a_run_on_drives_says_where_it_ended_and_what_is_kept_of_it() {
        use crate::audition::{Key, Load, Rung};
        use crate::safety::operation::{Cause, Operation, Permit, Timing};
        let word = |word: &str| word.to_string();
        let key = Key {
            motion: word("m"),
            rig: word("r"),
            tune: word(""),
            commissioning: word("c"),
            drives: word("d"),
            program: word("p"),
        };
        let vouched = Vouched {
            key,
            rung: Rung { level_db: -6, load: Load::Ballasted },
            void: None,
            missing: vec![word("-12 dB vacant: not signed off")],
            overridden: Some(word("a show")),
            permit: Permit { commissioned: true, audition: true, vacant: false },
        };
        let run = Operation::new(Timing::of(2000));
        let over = Played {
            run: Some(run),
            tripped: Some(Cause::LinkSilent),
            least_gain: 0.5,
            ..crate::player::sample::played_out()
        };
        let value: Value =
            serde_json::from_str(&played(&over, &[], Some((&vouched, Kept::Tripped)))).unwrap();
        let drives = &value["drives"];
        for (key, expected) in [
            ("state", Value::from("not connected")),
            ("cause", "nothing was connected yet".into()),
            ("tripped", "the link fell silent".into()),
            ("kept", "tripped".into()),
            ("level_db", (-6).into()),
            ("load", "ballasted".into()),
            ("least_gain", 0.5.into()),
            ("overridden", "a show".into()),
        ] {
            assert_eq!(drives[key], expected, "{key}");
        }
        assert_eq!(drives["audition_missing"][0], "-12 dB vacant: not signed off");
        let simulated: Value = serde_json::from_str(&played(&over, &[], None)).unwrap();
        assert_eq!(simulated["drives"], Value::Null);
    }

    #[test]
    fn a_first_sweep_is_told_from_one_that_is_as_before() {
        let swept = Sweep { legs: Vec::new(), tap_hz: Some(11.0), of: "d".into() };
        let value = |day| serde_json::from_str::<Value>(&sweep(&swept, day, &[])).unwrap();
        assert_eq!([&value(None)["first_day"], &value(Some(9))["first_day"]], [&Value::Null, &9.into()]);
    }

    #[test]
    fn one_line_whatever_the_words() {
        assert_eq!(json(&sample()).matches('\n').count(), 1);
        assert_eq!(failure("a\n\"b\""), "{\"failure\":\"a\\n\\\"b\\\"\",\"schema_version\":1}\n");
    }
}
