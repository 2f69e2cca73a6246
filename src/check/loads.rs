//! What a plan asks of screws, motors, drives, brakes and structure, under every load case.
//!
//! Two passes. The first looks at the whole plan on a coarse grid, eight samples in the shortest period of what plays just
//! then and at least 25 a second; sums (r.m.s., heat, energy, life) come from it, each sample held until the next, which a
//! test holds to within half a percent of all samples. The second looks again at every sample around the humps where the
//! first came near its furthest; between samples it adds an eighth of the second difference.
//! Friction makes torques jump, so no bound from derivatives holds here, and the report says that this was sampled.
//!
//! Cannot: change motion, write a finding's words (the rules do).

mod blame;
mod emergency;
mod findings;
mod fits;
mod gauge;
mod humps;
mod pass;
mod setup;
mod sums;

pub(super) use gauge::{LoadGauge, LoadRule, Measure, Reading, Sight, Window};
pub(super) use setup::Setup;

use super::{Finding, Unchecked};
use crate::diag::Sources;
use crate::motion::{Plan, Workers};
use pass::{Pass, Scope};

/// What came of it.
pub(super) struct Loads {
    pub(super) findings: Vec<Finding>,
    pub(super) margins: Vec<super::Margin>,
    pub(super) not_checked: Vec<Unchecked>,
    /// How it was sampled, in words; empty when there was nothing to look at.
    pub(super) bound: String,
}

/// Checks a plan against every load rule.
pub(super) fn check(plan: &Plan, sources: &Sources, workers: &impl Workers) -> Loads {
    let setup = Setup::new(plan.rig());
    let gauges = gauge::all(&setup);
    let not_checked = findings::not_checked(plan.rig());
    if gauges.is_empty() {
        return Loads { findings: Vec::new(), margins: Vec::new(), not_checked, bound: String::new() };
    }
    let pass = Pass::new(plan, &setup, &gauges);
    let tally = pass.run(&Scope::All, workers);
    Loads {
        findings: findings::findings(&pass, &tally, sources, workers),
        margins: findings::margins(&pass, &tally),
        not_checked,
        bound: format!(
            "; forces, torques and clearances sampled at {:.0} Hz (down to {:.0} Hz where nothing is quick), near their peaks \
             at {} Hz, plus an eighth of the second difference between samples",
            1.0 / pass.step_s(),
            1.0 / pass.longest_step_s(),
            plan.rate().hz()
        ),
    }
}

/// How far the furthest load gauge is used by a plan, all rules together; 0 without any.
pub(super) fn most_used(plan: &Plan, workers: &impl Workers) -> f64 {
    let setup = Setup::new(plan.rig());
    let gauges = gauge::all(&setup);
    if gauges.is_empty() {
        return 0.0;
    }
    Pass::new(plan, &setup, &gauges).run(&Scope::All, workers).most_used()
}
