//! From tallies to findings, margins, and what was not checked.

use super::blame;
use super::fits::Failing;
use super::gauge::LoadGauge;
use super::pass::{Pass, Tally};
use crate::check::gauge::Extreme;
use crate::check::rules::{LOAD_RULES, emergency_point, reversal};
use crate::check::verdict::advise_layer;
use crate::check::{Blame, Finding, Margin, Quantity, Unchecked};
use crate::diag::{Diagnostic, Severity, Sources, Span};
use crate::motion::Workers;
use crate::rig::Rig;
use std::collections::BTreeSet;

/// Statements that one rule's findings name, at most.
const STATEMENTS: usize = 4;

/// Rules for which the rig file has no data.
pub(in crate::check) fn not_checked(rig: &Rig) -> Vec<Unchecked> {
    let others = crate::check::rules::unchecked(rig);
    let loads = LOAD_RULES.iter().filter_map(|rule| {
        let missing = (rule.missing)(rig)?;
        Some(Unchecked { rule: rule.rule.slug, missing })
    });
    loads.chain(others).collect()
}

/// For every rule and leg the case that goes furthest.
pub(super) fn margins(pass: &Pass<'_>, tally: &Tally) -> Vec<Margin> {
    let mut worst: Vec<(&LoadGauge, &Extreme)> = Vec::new();
    for (gauge, extreme) in pass.gauges.iter().zip(&tally.extremes) {
        let same = |other: &&mut (&LoadGauge, &Extreme)| {
            (other.0.rule, other.0.leg, other.0.item) == (gauge.rule, gauge.leg, gauge.item)
        };
        match worst.iter_mut().find(same) {
            Some(other) if extreme.used > other.1.used => *other = (gauge, extreme),
            Some(_) => {}
            None => worst.push((gauge, extreme)),
        }
    }
    worst
        .into_iter()
        .map(|(gauge, extreme)| {
            let rule = &LOAD_RULES[gauge.rule];
            Margin {
                part: part(pass, gauge),
                quantity: rule.quantity,
                peak: extreme.peak,
                bound: extreme.bound,
                limit: limit(pass, gauge, extreme),
                used: extreme.used,
                dimension: rule.dimension,
                at_s: extreme.at_s,
            }
        })
        .collect()
}

/// The limit on the side of what was found: a leg may run on to either end.
fn limit(pass: &Pass<'_>, gauge: &LoadGauge, extreme: &Extreme) -> f64 {
    let leg = gauge.leg.and_then(|leg| pass.setup.rig.actuators.get(leg).zip(pass.setup.rest.legs.get(leg)));
    match leg {
        Some((leg, rest))
            if matches!(
                LOAD_RULES[gauge.rule].quantity,
                Quantity::PowerOffTravel | Quantity::EmergencyTravel
            ) && extreme.peak < rest.length_m =>
        {
            leg.min_m
        }
        _ => gauge.limit,
    }
}

/// `left, heavy pilot`
fn part(pass: &Pass<'_>, gauge: &LoadGauge) -> String {
    let leg = pass.setup.leg_name(gauge.leg);
    match (gauge.leg, gauge.case) {
        (Some(_), Some(_)) if pass.setup.demands.cases().len() > 1 => {
            format!("{leg}, {}", pass.setup.case_name(gauge.case))
        }
        (Some(_), None) if LOAD_RULES[gauge.rule].quantity == Quantity::RodEnd => {
            format!("{leg}, {} joint", if gauge.item == 0 { "lower" } else { "upper" })
        }
        (Some(_), _) => leg.to_string(),
        (None, Some(_)) => {
            let what = match LOAD_RULES[gauge.rule].quantity {
                Quantity::EmergencyTime => "platform",
                Quantity::EmergencyDeceleration | Quantity::EmergencyJolt => emergency_point(pass.setup.rig),
                _ => "supply",
            };
            format!("{what}, {}", pass.setup.case_name(gauge.case))
        }
        (None, None) => crate::check::rules::clearance::pair_name(pass.setup.rig, gauge.item),
    }
}

/// One finding for each rule and statement to blame, where a limit is passed; then what is worth knowing.
pub(super) fn findings(
    pass: &Pass<'_>,
    tally: &Tally,
    sources: &Sources,
    workers: &impl Workers,
) -> Vec<Finding> {
    let mut findings = Vec::new();
    for rule in 0..LOAD_RULES.len() {
        if tally.most_used_of(pass.gauges, rule) <= 1.0 {
            continue;
        }
        let failing = Failing::new(pass, tally, rule);
        let fits_gain = failing.gain(workers);
        for (at, extreme, blame) in worst(pass, tally, rule) {
            let gauge = &pass.gauges[at];
            let mut finding = finding(pass, tally, (at, gauge), &extreme, blame);
            finding.fits_gain = fits_gain;
            if let Some(layer) = finding.blame.first().filter(|_| fits_gain.is_some()) {
                let fits = failing.statement(layer.span, workers);
                advise_layer(&mut finding, pass.plan, fits, sources);
            }
            if fits_gain.is_none() {
                let help = "no smaller gain mends this: the load alone, or the rig file, asks too much";
                finding.diagnostic.help.push(help.to_string());
            }
            findings.push(finding);
        }
    }
    findings.extend(reversal::findings(pass.plan, pass.setup, &tally.forces));
    findings
}

/// The worst failing gauge for each statement that is most to blame, worst first.
fn worst(pass: &Pass<'_>, tally: &Tally, rule: usize) -> Vec<(usize, Extreme, Vec<Blame>)> {
    let mine = |(at, gauge): (usize, &LoadGauge)| (gauge.rule == rule).then_some(at);
    let mine: Vec<usize> = pass.gauges.iter().enumerate().filter_map(mine).collect();
    let whole = mine.iter().map(|at| (*at, tally.extremes[*at]));
    let windows = tally.again.iter().flat_map(|(_, extremes)| mine.iter().map(|at| (*at, extremes[*at])));
    let mut failing: Vec<(usize, Extreme)> =
        whole.chain(windows).filter(|(_, extreme)| extreme.used > 1.0).collect();
    failing.sort_by(|a, b| {
        b.1.used.total_cmp(&a.1.used).then(a.1.at_s.total_cmp(&b.1.at_s)).then(a.0.cmp(&b.0))
    });
    failing.truncate(40);
    let mut seen: BTreeSet<Option<Span>> = BTreeSet::new();
    let with_blame = failing.into_iter().map(|(at, extreme)| {
        let blame = blame::blame(pass, &pass.gauges[at], extreme.at_s);
        (at, extreme, blame)
    });
    with_blame
        .filter(|(_, _, blame)| seen.insert(blame.first().map(|blame| blame.span)))
        .take(STATEMENTS)
        .collect()
}

fn finding(
    pass: &Pass<'_>,
    tally: &Tally,
    (at, gauge): (usize, &LoadGauge),
    extreme: &Extreme,
    blame: Vec<Blame>,
) -> Finding {
    let rule = &LOAD_RULES[gauge.rule];
    let span = blame.first().map_or(pass.plan.scenario().title_span, |blame| blame.span);
    let mut title = (rule.title)(pass.setup, gauge, extreme);
    if gauge.case.is_some() && pass.setup.demands.cases().len() > 1 {
        title += &format!(" (load `{}`)", pass.setup.case_name(gauge.case));
    }
    let plays = tally.sums.as_ref().and_then(|sums| sums.plays.iter().find(|(gauge, _)| *gauge == at));
    let mut diagnostic = match rule.severity {
        Severity::Error if plays.is_none() => Diagnostic::error(rule.rule.slug, span, title),
        _ => Diagnostic::warning(rule.rule.slug, span, title),
    };
    if let Some(first) = blame.first() {
        diagnostic = diagnostic.label(format!("{:.0} % of it", first.share * 100.0));
        let mut named = vec![span];
        for other in &blame[1..] {
            if !named.contains(&other.span) && other.share.abs() >= 0.05 {
                named.push(other.span);
                diagnostic = diagnostic.also(other.span, format!("{:.0} %", other.share * 100.0));
            }
        }
    }
    if let Some(limit) = (rule.limit_span)(pass.setup.rig, gauge) {
        diagnostic = diagnostic.also(limit, "the rig's limit");
    }
    if let Some((_, plays)) = plays {
        diagnostic =
            diagnostic.help(format!("one play stays below it, and so do {plays} in a row; then let it cool"));
    }
    for help in rule.help {
        diagnostic = diagnostic.help(*help);
    }
    Finding {
        diagnostic,
        part: Some(part(pass, gauge)),
        at_s: Some(extreme.at_s),
        value: Some(extreme.bound),
        limit: Some(limit(pass, gauge, extreme)),
        dimension: rule.dimension,
        blame,
        fits_gain: None,
    }
}
