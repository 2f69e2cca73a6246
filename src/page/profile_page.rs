//! The page of a checked profile: what was asked, how near it comes to every limit, what was found.

use super::html::Page;
use super::quantity::{Shown, figures};
use super::traces::{COLUMNS, Drawn, spectrum_picture, trace_picture};
use crate::check::{CAUTION, Finding, Margin, Report};
use crate::diag::{Severity, SourceText, Sources, render_human_in, sha256};
use crate::motion::{Envelope, Plan, Spectrum, Trace, envelope, spectra};
use crate::units::show;

/// Words that the report of a profile needs and the check does not have.
#[derive(Debug, Clone, Copy)]
pub struct Checked<'a> {
    /// The profile's path as typed.
    pub profile: &'a str,
    /// The rig file's path.
    pub rig: &'a str,
    /// Everything that was found, in the texts and by the check, the gravest first.
    pub findings: &'a [Finding],
    /// All texts that were read.
    pub sources: &'a Sources,
}

/// A checked profile as a page of HTML. `progress` hears a share 0..1.
pub fn profile_page(report: &Report, checked: Checked<'_>, progress: &dyn Fn(f64)) -> String {
    let plan = report.plan();
    let mut page = Page::new(&plan.scenario().title);
    let errors = checked.findings.iter().filter(|f| f.diagnostic.severity == Severity::Error).count();
    head(&mut page, plan, report, &checked, errors);
    findings(&mut page, &checked, errors);
    page.section("Margins");
    margins(&mut page, &report.margins);
    page.small(&format!("At most: {}.", report.bound));
    not_checked(&mut page, report);
    let envelope = envelope(plan, COLUMNS, &|share| progress(0.5 * share));
    axes(&mut page, plan, &envelope);
    legs(&mut page, plan, &envelope);
    let spectra = spectra(plan, &|share| progress(0.5 + 0.5 * share));
    spectrum(&mut page, plan, &spectra);
    super::model::torques(&mut page, plan);
    page.section("Cautions");
    page.paragraph(CAUTION);
    page.paragraph("Room to stop in is worked out by a model and not measured.");
    page.model_only(
        "with the seat empty, play the scene at a tenth of its gain, press the stop at the instants that the margins name, \
         and read from the drives how far each leg ran on; then raise the gain",
    );
    page.section("What was read");
    let hashed = |text: &SourceText| [format!("`{}`", text.name()), format!("`{}`", sha256(text.text()))];
    let rows: Vec<[String; 2]> = checked.sources.iter().map(|(_, text)| hashed(text)).collect();
    page.table(["file", "<SHA-256"], &rows);
    page.finish()
}

fn head(page: &mut Page, plan: &Plan, report: &Report, checked: &Checked<'_>, errors: usize) {
    page.paragraph(&format!("Profile `{}` on {} (`{}`).", checked.profile, plan.rig().name, checked.rig));
    page.paragraph(&format!(
        "{} s, {} layers, gain {}, {} samples a second.",
        figures(report.duration_s),
        report.layers.len(),
        figures(plan.gain()),
        plan.rate().hz()
    ));
    page.paragraph(&match (errors, report.fits_gain) {
        (0, _) => "It fits the rig file.".to_string(),
        (_, Some(gain)) if gain > 0.0 => {
            format!("It does not fit the rig file; it fits at gain {}.", (gain * 1000.0).floor() / 1000.0)
        }
        _ => "It does not fit the rig file.".to_string(),
    });
}

fn findings(page: &mut Page, checked: &Checked<'_>, errors: usize) {
    page.section("Findings");
    if checked.findings.is_empty() {
        page.paragraph("None.");
        return;
    }
    page.paragraph(&format!("{errors} errors of {} findings, the gravest first.", checked.findings.len()));
    for finding in checked.findings {
        page.verbatim(&render_human_in(&finding.diagnostic, checked.sources, false, 96));
        let shares = finding.blame.iter().take(5).map(|blame| {
            let (file, at) = checked.sources.place(blame.span);
            format!("{:.0} % {} (`{file}:{}`)", blame.share * 100.0, blame.label, at.line)
        });
        let shares: Vec<String> = shares.collect();
        page.list(shares.iter().map(String::as_str));
    }
}

fn margins(page: &mut Page, margins: &[Margin]) {
    let rows: Vec<[String; 7]> = margins
        .iter()
        .map(|margin| {
            [
                format!("`{}`", margin.part),
                match margin.quantity.word().strip_suffix('*') {
                    Some(word) => format!("{word} (model only)"),
                    None => margin.quantity.word().to_string(),
                },
                show(margin.peak, margin.dimension),
                show(margin.bound, margin.dimension),
                show(margin.limit, margin.dimension),
                format!("{:.3} s", margin.at_s),
                format!("{:.0} %", margin.used * 100.0),
            ]
        })
        .collect();
    page.table(["part", "<what", "peak", "at most", "limit", "at", "used"], &rows);
}

/// What the rig file says too little for.
fn not_checked(page: &mut Page, report: &Report) {
    if report.not_checked.is_empty() {
        return;
    }
    page.part("Not checked");
    let lines: Vec<String> = report
        .not_checked
        .iter()
        .map(|one| format!("`{}`: the rig file has no {}", one.rule, one.missing))
        .collect();
    page.list(lines.iter().map(String::as_str));
}

const NAMES: [&str; 3] = ["", " rate", " acceleration"];

fn axes(page: &mut Page, plan: &Plan, envelope: &Envelope) {
    page.section("The platform");
    for (limits, traces) in plan.rig().axes.iter().zip(&envelope.platform) {
        let shown = Shown::axis(limits.axis);
        for (order, (trace, name)) in traces.iter().zip(NAMES).enumerate() {
            let range = (order == 0).then_some((limits.min, limits.max));
            let words = format!("{}{name}, {}", limits.axis.word(), shown.per(order));
            one(page, envelope, trace, shown.factor, &words, range);
        }
    }
}

fn legs(page: &mut Page, plan: &Plan, envelope: &Envelope) {
    page.section("The legs");
    page.small("Smallest and largest value in each column; no peak is averaged away.");
    for (leg, traces) in plan.rig().actuators.iter().zip(&envelope.legs) {
        let shown = Shown::leg(leg);
        let names = if leg.crank.is_some() { " angle" } else { " length" };
        let limits = [
            leg.soft_ends_m(),
            (-leg.speed_m_s, leg.speed_m_s),
            (-leg.acceleration_m_s2, leg.acceleration_m_s2),
        ];
        for (order, (trace, name)) in traces.iter().zip([names, " speed", " acceleration"]).enumerate() {
            // Accelerations are read in m/s^2.
            let (factor, unit) = if order == 2 && leg.crank.is_none() {
                (1.0, "m/s^2".to_string())
            } else {
                (shown.factor, shown.per(order))
            };
            let words = format!("{}{name}, {unit}", leg.name);
            one(page, envelope, trace, factor, &words, limits.get(order).copied());
        }
    }
}

fn one(
    page: &mut Page,
    envelope: &Envelope,
    trace: &Trace,
    factor: f64,
    words: &str,
    limits: Option<(f64, f64)>,
) {
    let drawn = Drawn { trace, column_s: envelope.column_s, factor, words, limits };
    page.figure(&trace_picture(&drawn), "");
}

fn spectrum(page: &mut Page, plan: &Plan, spectra: &[Spectrum]) {
    page.section("Spectra of the platform's acceleration");
    for (limits, spectrum) in plan.rig().axes.iter().zip(spectra) {
        let bands: Vec<(f64, f64)> = plan
            .rig()
            .avoid
            .iter()
            .filter(|band| band.axis.is_none_or(|axis| axis == limits.axis))
            .map(|band| (band.low_hz, band.high_hz))
            .collect();
        let unit = if limits.axis.is_rotation() { "rad/s^2" } else { "m/s^2" };
        let words = format!("{}, ({unit})^2/Hz", limits.axis.word());
        match spectrum_picture(spectrum, &words, &bands) {
            Some(picture) => page.figure(&picture, ""),
            None => page.paragraph(&format!("{}: nothing moves.", limits.axis.word())),
        }
    }
    page.small(
        "Solid: the mean over the scene; dashed: the loudest four seconds at each frequency; hatched: bands that the rig \
         file wants avoided. Windows of about four seconds, half overlapped (Hann).",
    );
}
