//! Limits with blame: one rule a file, a report at the end.
//!
//! Cannot: change motion, clear a plan that has an error, start a thread (it is handed its workers).

mod band_share;
mod between;
mod blame;
mod coarse;
mod drive_curve;
mod expectation;
mod fit;
mod floor;
mod gauge;
mod layers;
mod loads;
mod report;
mod rules;
mod stopping_room;
mod sweep;
mod verdict;

pub use report::{Blame, CAUTION, Cleared, Finding, LayerSummary, Margin, Quantity, Report, Unchecked};
pub use rules::RULES;
pub use rules::axis::refusals;

use crate::diag::Sources;
use crate::motion::{Plan, Workers};
use gauge::Gauge;
use sweep::Sweep;

/// Checks a plan against its rig. Same report on any number of workers. `progress` hears a share 0..1; `sources` hold
/// the profile and the rig file, for advice in the author's own words.
pub fn run(
    plan: &Plan,
    sources: &Sources,
    workers: &impl Workers,
    progress: &(dyn Fn(f64) + Sync),
) -> Report {
    check(plan, sources, workers, progress, None)
}

/// The same, and `tell` hears the margins as soon as they are known: what fits takes longer to find than whether it
/// does, and nothing else is begun before.
pub fn run_telling(
    plan: &Plan,
    sources: &Sources,
    workers: &impl Workers,
    progress: &(dyn Fn(f64) + Sync),
    tell: &mut dyn FnMut(&[Margin]),
) -> Report {
    check(plan, sources, workers, progress, Some(tell))
}

/// Who hears margins early.
type Told<'t> = &'t mut dyn FnMut(&[Margin]);

fn check(
    plan: &Plan,
    sources: &Sources,
    workers: &impl Workers,
    progress: &(dyn Fn(f64) + Sync),
    tell: Option<Told<'_>>,
) -> Report {
    let Some((rate, steps_per_cycle)) = rules::cycle::check_rate(&plan.rig().drive, plan.rate()) else {
        return verdict::no_common_rate(plan);
    };
    let checked = match rules::tracking::narrow(plan.at_rate(rate)) {
        Ok(narrow) => rules::resonance::watch(&narrow),
        Err(report) => return *report,
    };
    let gauges: Vec<Gauge> =
        rules::GAUGE_RULES.iter().flat_map(|rule| (rule.gauges)(checked.rig())).collect();
    let sweep = Sweep { plan: &checked, gauges: &gauges, steps_per_cycle, whole: true };
    let motion = || {
        let (tally, near) = sweep.run(workers, progress);
        let margins = verdict::margins(&checked, &gauges, &tally);
        (tally, near, margins)
    };
    // One long layer keeps one worker alone, so layers come first, while there is other work beside them.
    let others = || (layers::summaries(&checked, workers), loads::check(&checked, sources, workers));
    let ((tally, near, mut margins), (layers, loads)) = match tell {
        None => workers.both(motion, others),
        Some(tell) => {
            let motion = motion();
            tell(&motion.2);
            (motion, others())
        }
    };
    let mut findings = verdict::gauge_findings(&sweep, &tally, &near, sources, workers);
    margins.extend(loads.margins);
    margins.sort_by(|a, b| b.used.total_cmp(&a.used));
    findings.extend(loads.findings);
    findings.extend(rules::avoid::findings(&checked, &tally.bands));
    findings.extend(rules::resonance::findings(&checked, &tally.bands));
    findings.extend(rules::rest::findings(&checked));
    findings.extend(rules::sample_band::findings(&checked));
    findings.extend(rules::expect::findings(&checked, &tally.expectations, &margins));
    findings.extend(rules::lost_motion::findings(&checked, &layers));
    findings.extend(rules::bandwidth::findings(&checked));
    let fits_gain = verdict::scene_gain(&sweep, &findings, workers);
    verdict::say_what_fits(&mut findings, fits_gain);
    Report {
        findings,
        margins,
        layers,
        duration_s: plan.length_s(),
        fits_gain,
        bound: verdict::bound_in_words(&checked, steps_per_cycle)
            + &loads.bound
            + &rules::tracking::in_words(plan),
        not_checked: loads.not_checked,
        plan: plan.clone(),
    }
}
