//! What `expect` statements measure, summed stretch by stretch.

use super::between::Between;
use super::coarse::Coarse;
use super::gauge::Part;
use crate::motion::{Frames, Plan, axis};
use crate::scenario::{Expectation, Measure};
use crate::signal::{BLOCK, Order};

/// What one expectation has seen so far.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Sum {
    /// Largest |value|, SI.
    pub(super) peak: f64,
    /// The same with what may happen between samples.
    pub(super) bound: f64,
    /// When, s.
    pub(super) at_s: f64,
    /// Sum of squares over the samples.
    pub(super) squares: f64,
}

/// Ticks of the samples inside the stretch of an expectation: first, and one past the last.
fn ticks(plan: &Plan, expectation: &Expectation) -> (u64, u64) {
    let rate = f64::from(plan.rate().hz());
    let tick = |time_s: f64| (time_s.max(0.0) * rate - 1e-6).ceil().max(0.0) as u64;
    // Stretches are written in the scene's own time.
    let (from_s, to_s) = (expectation.over_s.0 / plan.tempo(), expectation.over_s.1 / plan.tempo());
    (tick(from_s), tick(to_s + plan.rate().step_s()))
}

/// The coordinate of the rig that an expectation speaks of.
pub(super) fn coordinate(plan: &Plan, expectation: &Expectation) -> Option<usize> {
    let axis = axis(expectation.line?)?;
    plan.rig().axes.iter().position(|limits| limits.axis == axis)
}

fn order(expectation: &Expectation) -> usize {
    match expectation.order {
        Order::Value => 0,
        Order::Rate => 1,
        Order::Acceleration => 2,
    }
}

impl Sum {
    /// Whether the samples of a block have to be seen: not outside the stretch, and not for a peak that a first look
    /// shows to be below one that is known, here or elsewhere, or below all that is allowed.
    pub(super) fn needs_samples(
        &mut self,
        plan: &Plan,
        expectation: &Expectation,
        block: u64,
        (between, coarse): (&Between, &Coarse),
        known: f64,
    ) -> bool {
        let Some(at) = coordinate(plan, expectation) else { return false };
        let first = block * BLOCK as u64;
        let (from, to) = ticks(plan, expectation);
        if from >= first + BLOCK as u64 || to <= first {
            return false;
        }
        if expectation.measure != Measure::Peak {
            return true;
        }
        let (low, high) = coarse.range(between, Part::Axis(at), order(expectation));
        let most = low.abs().max(high.abs());
        if most <= self.peak.max(known) {
            return false;
        }
        let is_allowed = expectation.at_most && most <= expectation.bound;
        if is_allowed {
            self.bound = self.bound.max(most);
        }
        !is_allowed
    }

    pub(super) fn add(
        &mut self,
        plan: &Plan,
        expectation: &Expectation,
        block: u64,
        frames: &Frames,
        between: &Between,
    ) {
        let Some(at) = coordinate(plan, expectation) else { return };
        let first = block * BLOCK as u64;
        let (from, to) = ticks(plan, expectation);
        let within = |tick: u64| (tick.clamp(first, first + frames.count as u64) - first) as usize;
        let order = order(expectation);
        for k in within(from)..within(to) {
            let value = frames.platform[at].0[order][k];
            self.squares += value * value;
            if value.abs() > self.peak {
                (self.peak, self.at_s) = (value.abs(), plan.rate().at_s(first + k as u64));
            }
        }
        if within(from) < within(to) {
            let samples = frames.platform[at].0[order][within(from)..within(to)].iter();
            let peak = samples.fold(0.0, |peak: f64, value| peak.max(value.abs()));
            self.bound = self.bound.max(peak + between.allowance(Part::Axis(at), order));
        }
    }

    pub(super) fn merge(&mut self, other: &Self) {
        self.squares += other.squares;
        self.bound = self.bound.max(other.bound);
        if other.peak > self.peak || (other.peak == self.peak && other.at_s < self.at_s) {
            (self.peak, self.at_s) = (other.peak, other.at_s);
        }
    }

    /// Root of the mean square over every sample of the expectation's stretch, the silent ones included.
    pub(super) fn rms(&self, plan: &Plan, expectation: &Expectation) -> f64 {
        let (from, to) = ticks(plan, expectation);
        (self.squares / to.saturating_sub(from).max(1) as f64).sqrt()
    }
}
