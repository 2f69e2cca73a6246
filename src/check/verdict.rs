//! From tallies to findings, margins and gains that fit.

use super::gauge::{Extreme, Gauge};
use super::rules::{GAUGE_RULES, GaugeRule};
use super::sweep::{Sweep, Tally};
use super::{Finding, Margin, Report, blame, fit};
use crate::diag::{Diagnostic, Severity, Sources, Span};
use crate::motion::{Plan, Workers};
use crate::rig::Interpolation;
use std::collections::BTreeSet;

/// Of the gains below one that fits, these parts of it are rendered too: small poses make use rise with the gain, and
/// this is where it would show if a rig's geometry did not.
const BELOW: [f64; 4] = [0.9, 0.75, 0.5, 0.25];

/// Margins, most used first.
pub(super) fn margins(plan: &Plan, gauges: &[Gauge], tally: &Tally) -> Vec<Margin> {
    let margin = |(gauge, extreme): (&Gauge, &Extreme)| Margin {
        part: gauge.part_name(plan.rig()),
        quantity: gauge.quantity,
        peak: gauge.signed(plan.rig(), extreme.peak),
        bound: gauge.signed(plan.rig(), extreme.bound),
        limit: gauge.signed(plan.rig(), gauge.limit(extreme.bound)),
        used: extreme.used,
        dimension: gauge.dimension(plan.rig()),
        at_s: extreme.at_s,
    };
    let mut margins: Vec<_> = gauges.iter().zip(&tally.extremes).map(margin).collect();
    margins.sort_by(|a, b| b.used.total_cmp(&a.used));
    margins
}

/// One finding for each rule and statement to blame, where a limit is passed.
pub(super) fn gauge_findings(
    sweep: &Sweep<'_>,
    tally: &Tally,
    near: &[(u64, Vec<Extreme>)],
    sources: &Sources,
    workers: &impl Workers,
) -> Vec<Finding> {
    let mut findings = Vec::new();
    for rule in GAUGE_RULES {
        let of_rule = |(at, gauge): (usize, &Gauge)| (gauge.quantity == rule.quantity).then_some(at);
        let mine: Vec<usize> = sweep.gauges.iter().enumerate().filter_map(of_rule).collect();
        if mine.iter().all(|at| tally.extremes[*at].used <= 1.0) {
            continue;
        }
        let gauges: Vec<Gauge> = mine.iter().map(|at| sweep.gauges[*at].clone()).collect();
        let alone = Sweep { gauges: &gauges, whole: false, ..*sweep };
        let most = mine.iter().fold(0.0_f64, |most, at| most.max(tally.extremes[*at].used));
        let hot: Vec<u64> = near
            .iter()
            .filter(|(_, extremes)| mine.iter().any(|at| extremes[*at].used >= (0.6 * most).max(1.0)))
            .map(|(stretch, _)| *stretch)
            .collect();
        let fits_gain = largest_gain(&alone, &hot, most, workers);
        for (gauge, extreme) in worst_by_statement(sweep, near, &mine) {
            let blame = blame::blame(sweep.plan, gauge, extreme.at_s);
            let mut finding = finding(sweep.plan, rule, gauge, &extreme, blame);
            finding.fits_gain = fits_gain;
            if let Some(layer) = finding.blame.first() {
                let fits = layer_factor(&alone, near, &mine, layer.span, workers);
                advise_layer(&mut finding, sweep.plan, fits, sources);
            }
            findings.push(finding);
        }
    }
    findings
}

/// The worst failing extreme for each statement that is most to blame for one, worst first.
fn worst_by_statement<'a>(
    sweep: &Sweep<'a>,
    near: &[(u64, Vec<Extreme>)],
    mine: &[usize],
) -> Vec<(&'a Gauge, Extreme)> {
    /// Failing stretches that are looked at, the worst of them: each costs a look at every layer that sounds then.
    const MOST: usize = 400;
    let mut failing: Vec<(usize, Extreme)> = near
        .iter()
        .flat_map(|(_, extremes)| mine.iter().map(|at| (*at, extremes[*at])))
        .filter(|(_, extreme)| extreme.used > 1.0)
        .collect();
    failing.sort_by(|a, b| {
        b.1.used.total_cmp(&a.1.used).then(a.1.at_s.total_cmp(&b.1.at_s)).then(a.0.cmp(&b.0))
    });
    failing.truncate(MOST);
    let mut seen: BTreeSet<Option<Span>> = BTreeSet::new();
    failing
        .into_iter()
        .filter(|(at, extreme)| {
            let blame = blame::blame(sweep.plan, &sweep.gauges[*at], extreme.at_s);
            seen.insert(blame.first().map(|blame| blame.span))
        })
        .map(|(at, extreme)| (&sweep.gauges[at], extreme))
        .collect()
}

fn finding(
    plan: &Plan,
    rule: &GaugeRule,
    gauge: &Gauge,
    extreme: &Extreme,
    blame: Vec<super::Blame>,
) -> Finding {
    let span = blame.first().map_or(plan.scenario().title_span, |blame| blame.span);
    let mut diagnostic = Diagnostic::error(rule.rule.slug, span, (rule.title)(plan.rig(), gauge, extreme));
    if let Some(first) = blame.first() {
        diagnostic = diagnostic.label(format!("{:.0} % of it at that instant", first.share * 100.0));
        let mut named = vec![span];
        for other in &blame[1..] {
            if !named.contains(&other.span) && other.share.abs() >= 0.05 {
                named.push(other.span);
                diagnostic = diagnostic.also(other.span, format!("{:.0} %", other.share * 100.0));
            }
        }
    }
    if let Some(limit) = (rule.limit_span)(plan.rig(), gauge) {
        diagnostic = diagnostic.also(limit, "the rig's limit");
    }
    Finding {
        diagnostic,
        part: Some(gauge.part_name(plan.rig())),
        at_s: Some(extreme.at_s),
        value: Some(gauge.signed(plan.rig(), extreme.bound)),
        limit: Some(gauge.signed(plan.rig(), gauge.limit(extreme.bound))),
        dimension: gauge.dimension(plan.rig()),
        blame,
        fits_gain: None,
    }
}

/// The largest gain at which one rule passes everywhere.
fn largest_gain(alone: &Sweep<'_>, hot: &[u64], used_now: f64, workers: &impl Workers) -> Option<f64> {
    let at = |factor: f64| alone.plan.at_gain(alone.plan.gain() * factor);
    let used = |factor: f64| Sweep { plan: &at(factor), ..*alone }.most_used(hot, workers);
    let mut factor = fit::largest_factor(used_now, used)?;
    let all: Vec<u64> = (0..alone.stretches()).collect();
    // What was solved on the hottest stretches must hold on all.
    while factor > 0.0 {
        let most = Sweep { plan: &at(factor), ..*alone }.most_used(&all, workers);
        if most <= 1.0 {
            return Some(alone.plan.gain() * factor);
        }
        factor = ((factor / most * 1000.0).floor() / 1000.0).min(factor - 0.001);
    }
    None
}

/// The largest factor on all layers of one statement at which one rule passes in every stretch that came near.
fn layer_factor(
    alone: &Sweep<'_>,
    near: &[(u64, Vec<Extreme>)],
    mine: &[usize],
    statement: Span,
    workers: &impl Workers,
) -> Option<f64> {
    let failing = |(_, extremes): &&(u64, Vec<Extreme>)| mine.iter().any(|at| extremes[*at].used > 1.0);
    let stretches: Vec<u64> = near.iter().filter(failing).map(|(stretch, _)| *stretch).collect();
    let used = |factor: f64| {
        Sweep { plan: &alone.plan.with_trim(statement, factor), ..*alone }.most_used(&stretches, workers)
    };
    let factor = fit::largest_factor(used(1.0), used)?;
    let all: Vec<u64> = (0..alone.stretches()).collect();
    let plan = alone.plan.with_trim(statement, factor);
    (Sweep { plan: &plan, ..*alone }.most_used(&all, workers) <= 1.0).then_some(factor)
}

/// Says what the worst layer could be, in its own number where it is written as one.
pub(super) fn advise_layer(finding: &mut Finding, plan: &Plan, factor: Option<f64>, sources: &Sources) {
    let Some((worst, factor)) = finding.blame.first().zip(factor) else { return };
    let layer = &plan.scenario().layers[worst.layer];
    let written = sources.snippet(layer.amplitude_span);
    let split = written
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | ' ')))
        .unwrap_or(written.len());
    let (number, unit) = written.split_at(split);
    let is_plain_unit =
        !unit.trim().is_empty() && !unit.contains(' ') && !unit.contains('(') && unit.trim() != "dB";
    if let (Ok(number), true) = (number.trim().parse::<f64>(), is_plain_unit) {
        let text = format!("{} {}", down_to_three_figures(number * factor), unit.trim());
        let line = format!("or change this layer alone, from {} to {text}", written.trim());
        finding.diagnostic.help.push(line);
        finding.diagnostic.fixes.push(crate::diag::Fix {
            title: format!("write {text}"),
            span: layer.amplitude_span,
            replacement: text,
        });
    } else {
        let share = libm::floor(factor * 1000.0) / 10.0;
        finding.diagnostic.help.push(format!("or bring this layer alone down to {share:.1} % of what it is"));
    }
}

/// Rounds towards zero, so that what is printed still fits.
fn down_to_three_figures(value: f64) -> String {
    if value == 0.0 {
        return "0".to_string();
    }
    let decimals = (2.0 - libm::floor(libm::log10(value.abs()))).clamp(0.0, 12.0);
    let scale = libm::pow(10.0, decimals);
    let text = format!("{:.*}", decimals as usize, (value * scale).trunc() / scale);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_string() } else { text }
}

/// The largest gain at which the whole scene fits, rendered at that gain and at several below it. `None` when something
/// is wrong that no gain mends.
pub(super) fn scene_gain(sweep: &Sweep<'_>, findings: &[Finding], workers: &impl Workers) -> Option<f64> {
    let errors: Vec<_> = findings.iter().filter(|f| f.diagnostic.severity == Severity::Error).collect();
    let mut gain = errors
        .iter()
        .map(|finding| finding.fits_gain)
        .try_fold(sweep.plan.gain(), |least, fits| fits.map(|fits| least.min(fits)))?;
    if errors.is_empty() {
        return Some(gain);
    }
    let all: Vec<u64> = (0..sweep.stretches()).collect();
    let used = |gain: f64| {
        let plan = sweep.plan.at_gain(gain);
        let loads = super::loads::most_used(&plan, workers);
        Sweep { plan: &plan, whole: false, ..*sweep }.most_used(&all, workers).max(loads)
    };
    while gain > 0.0 {
        let bad = std::iter::once(1.0).chain(BELOW).map(|part| part * gain).find(|gain| used(*gain) > 1.0);
        match bad {
            None => return Some(gain),
            Some(bad) => gain = ((bad * 1000.0).floor() / 1000.0).min(gain) - 0.001,
        }
    }
    None
}

/// Puts the gains that fit into the words of the findings, worst findings first. What the rig cannot do comes before
/// what the profile expects of itself.
pub(super) fn say_what_fits(findings: &mut [Finding], scene: Option<f64>) {
    for finding in findings.iter_mut() {
        let Some(gain) = finding.fits_gain else { continue };
        let text = format!("{gain:.3}");
        let text = text.trim_end_matches('0').trim_end_matches('.');
        let whole = match scene {
            Some(scene) if scene == gain => "the scene fits",
            _ => "this rule passes",
        };
        finding.diagnostic.help.insert(0, format!("{whole} at gain {text}"));
    }
    let excess = |f: &Finding| match (f.value, f.limit) {
        (Some(value), Some(limit)) if limit != 0.0 => (value / limit).abs(),
        _ => f64::INFINITY,
    };
    let own = |f: &Finding| f.diagnostic.rule == super::rules::expect::RULE.slug;
    findings.sort_by(|a, b| {
        let graver = b.diagnostic.severity.cmp(&a.diagnostic.severity);
        graver.then(own(a).cmp(&own(b))).then(excess(b).total_cmp(&excess(a)))
    });
}

/// How the check holds between samples, in words.
pub(super) fn bound_in_words(plan: &Plan, steps_per_cycle: u64) -> String {
    let curve = match plan.rig().drive.interpolation {
        Interpolation::Linear => "the drive's straight lines",
        Interpolation::Cubic => "the drive's cubic",
    };
    format!(
        "sampled at {} Hz; between samples: larger end plus h^2/8 times the largest second derivative, from layer \
         envelopes and rig geometry (jerk: h/2 times the largest first; stopping: first order); and {curve} through \
         every {} sample",
        plan.rate().hz(),
        match steps_per_cycle {
            1 => "single".to_string(),
            2 => "second".to_string(),
            3 => "third".to_string(),
            n => format!("{n}th"),
        }
    )
}

/// The report of a plan whose samples cannot be lined up with its drive's cycle.
pub(super) fn no_common_rate(plan: &Plan) -> Report {
    let cycle_us = plan.rig().drive.cycle_us;
    let title = format!("no sample rate up to 20 kHz fits a drive cycle of {cycle_us} us");
    let diagnostic = Diagnostic::error("drive-cycle", plan.scenario().title_span, title)
        .help("give the cycle of the rig file as 1 ms, 2 ms, 4 ms, or what your link really runs at");
    let finding = Finding {
        diagnostic,
        part: None,
        at_s: None,
        value: Some(f64::from(cycle_us) * 1e-6),
        limit: None,
        dimension: crate::units::Dimension::TIME,
        blame: Vec::new(),
        fits_gain: None,
    };
    Report::refusing(plan, finding)
}
