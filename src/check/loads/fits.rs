//! The largest gain, and the largest factor on one statement, at which a load rule passes.

use super::Setup;
use super::gauge::{LoadGauge, Measure};
use super::pass::{Pass, Scope, Tally, Window};
use crate::check::fit;
use crate::check::rules::LOAD_RULES;
use crate::diag::Span;
use crate::motion::{Plan, Workers};

/// One rule that does not pass.
pub(super) struct Failing<'a> {
    pub(super) pass: &'a Pass<'a>,
    pub(super) setup: &'a Setup<'a>,
    pub(super) rule: usize,
    /// Its gauges alone.
    pub(super) gauges: Vec<LoadGauge>,
    /// Where it comes near.
    hot: Vec<Window>,
    used: f64,
}

impl<'a> Failing<'a> {
    pub(super) fn new(pass: &'a Pass<'a>, tally: &Tally, rule: usize) -> Self {
        let mine = |gauge: &LoadGauge| gauge.rule == rule;
        let used = tally.most_used_of(pass.gauges, rule);
        let hot = tally
            .again
            .iter()
            .filter(|(_, extremes)| {
                let of_rule = extremes.iter().zip(pass.gauges).filter(|(_, gauge)| mine(gauge));
                of_rule.fold(0.0, |most: f64, (extreme, _)| most.max(extreme.used)) >= 0.6 * used
            })
            .map(|(window, _)| *window)
            .collect();
        let gauges = pass.gauges.iter().filter(|gauge| mine(gauge)).cloned().collect();
        Self { pass, setup: pass.setup, rule, gauges, hot, used }
    }

    fn used(&self, plan: &Plan, scope: &Scope<'_>, workers: &impl Workers) -> f64 {
        Pass::new(plan, self.setup, &self.gauges).run(scope, workers).most_used()
    }

    /// Solved where it is tightest, verified on the whole plan.
    fn factor(&self, at: impl Fn(f64) -> Plan, workers: &impl Workers) -> Option<f64> {
        let is_sum = matches!(LOAD_RULES[self.rule].measure, Measure::Summed(_));
        let scope = if is_sum { Scope::All } else { Scope::Windows(&self.hot) };
        let mut factor = fit::largest_factor(self.used, |factor| self.used(&at(factor), &scope, workers))?;
        while factor > 0.0 {
            let most = self.used(&at(factor), &Scope::All, workers);
            if most <= 1.0 {
                return Some(factor);
            }
            factor = ((factor / most * 1000.0).floor() / 1000.0).min(factor - 0.001);
        }
        None
    }

    /// The largest gain.
    pub(super) fn gain(&self, workers: &impl Workers) -> Option<f64> {
        let plan = self.pass.plan;
        Some(plan.gain() * self.factor(|factor| plan.at_gain(plan.gain() * factor), workers)?)
    }

    /// The largest factor on the layers of one statement.
    pub(super) fn statement(&self, statement: Span, workers: &impl Workers) -> Option<f64> {
        self.factor(|factor| self.pass.plan.with_trim(statement, factor), workers)
    }
}
