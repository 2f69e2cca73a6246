//! What is known before a stretch is looked at.

use super::sweep::{Sweep, Tally};

/// How far every gauge has been used, and the peak that every expectation has seen, by stretches looked at before: work
/// that cannot go beyond it is skipped. Bounds that skip are not all wider than what a closer look would say, so what was
/// looked at before must not hang on which thread was faster.
#[derive(Clone)]
pub(super) struct Floor {
    pub(super) gauges: Vec<f64>,
    pub(super) peaks: Vec<f64>,
}

impl Floor {
    pub(super) fn new(sweep: &Sweep<'_>) -> Self {
        Self {
            gauges: vec![0.0; sweep.gauges.len()],
            peaks: vec![0.0; sweep.plan.scenario().expectations.len()],
        }
    }

    pub(super) fn raise(&mut self, tally: &Tally) {
        let used = tally.extremes.iter().map(|extreme| extreme.used);
        let peaks = tally.expectations.iter().map(|sum| sum.peak);
        self.gauges.iter_mut().zip(used).for_each(|(known, used)| *known = known.max(used));
        self.peaks.iter_mut().zip(peaks).for_each(|(known, peak)| *known = known.max(peak));
    }
}
