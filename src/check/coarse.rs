//! A first look at a stretch: every sixteenth sample with a wider allowance. Most blocks need no second look.

use super::Quantity;
use super::between::Between;
use super::gauge::{Extreme, Gauge, Part};
use super::stopping_room::{Allowances, rest};
use super::sweep::STRETCH;
use crate::motion::{Frames, Plan};
use crate::signal::{BLOCK, Jet};
use std::ops::Range;

/// Samples of the plan in a step of the first look.
pub(super) const STRIDE: usize = 16;

/// Steps in a block.
const STEPS: usize = BLOCK / STRIDE;

/// Instants that speak of a block: its own, both ends included, and one step more to either side.
const COUNT: usize = STEPS + 3;

/// A first look at a whole stretch, rendered at once, of which one block at a time is spoken of: what a layer costs to
/// begin is then paid once a stretch.
pub(super) struct Coarse {
    frames: Frames,
    stretch: Option<u64>,
    /// Where the instants of the block that is spoken of lie in the frames.
    here: Range<usize>,
    start_s: f64,
    step_s: f64,
}

impl Coarse {
    pub(super) fn new(plan: &Plan) -> Self {
        Self {
            frames: plan.frames(),
            stretch: None,
            here: 0..COUNT,
            start_s: 0.0,
            step_s: STRIDE as f64 * plan.rate().step_s(),
        }
    }

    /// Turns to a block. Its stretch is rendered when it is the first of it to be asked for.
    pub(super) fn look(&mut self, plan: &Plan, block: u64) {
        let (stretch, place) = (block / STRETCH, (block % STRETCH) as usize);
        self.here = place * STEPS..place * STEPS + COUNT;
        if self.stretch.replace(stretch) != Some(stretch) {
            self.start_s = plan.rate().at_s(stretch * STRETCH * BLOCK as u64) - self.step_s;
            plan.render_sparse(self.start_s, self.step_s, BLOCK, &mut self.frames);
        }
    }

    /// The lowest and highest that a derivative of a part can be around the block.
    pub(super) fn range(&self, between: &Between, part: Part, order: usize) -> (f64, f64) {
        let row = part.row(&self.frames, order);
        let allowance = between.allowance_over(part, order, self.step_s);
        let spread = |(low, high): (f64, f64), value: &f64| (low.min(*value), high.max(*value));
        let (low, high) = row[self.here.clone()].iter().fold((f64::INFINITY, f64::NEG_INFINITY), spread);
        (low - allowance, high + allowance)
    }

    /// The furthest that a gauge, other than a stopping one, can be used in the block.
    pub(super) fn most_used(&self, plan: &Plan, between: &Between, gauge: &Gauge) -> f64 {
        let order = gauge.quantity.order();
        let (low, high) = self.range(between, gauge.part, order);
        let size = |order| {
            let (low, high) = self.range(between, gauge.part, order);
            low.abs().max(high.abs())
        };
        let beside = match gauge.part {
            Part::Leg(_) => between.drive_excess(plan.rig(), gauge.quantity, size(2), size(3)),
            Part::Axis(_) => 0.0,
        };
        gauge.used(low - beside).max(gauge.used(high + beside))
    }

    /// Where the platform would stop from within this block: its middle for all of it first, then step by step.
    /// False where a limit is too near to call from here.
    pub(super) fn stopping(
        &self,
        plan: &Plan,
        between: &Between,
        gauges: &[Gauge],
        extremes: &mut [Extreme],
    ) -> bool {
        let before = extremes.to_vec();
        self.stop_at(plan, between, self.here.start + COUNT / 2, COUNT / 2, gauges, extremes);
        if *extremes == *before {
            return true;
        }
        extremes.copy_from_slice(&before);
        for k in self.here.start + 1..self.here.end - 1 {
            self.stop_at(plan, between, k, 1, gauges, extremes);
        }
        let tight = |(gauge, extreme): (&Gauge, &Extreme)| {
            gauge.quantity == Quantity::Stopping && extreme.used > 1.0 && gauge.used(extreme.peak) <= 1.0
        };
        let is_tight = gauges.iter().zip(extremes.iter()).any(tight);
        if is_tight {
            extremes.copy_from_slice(&before);
        }
        !is_tight
    }

    /// The stop at step `k`, with what up to `around` steps to either side may add to it.
    fn stop_at(
        &self,
        plan: &Plan,
        between: &Between,
        k: usize,
        around: usize,
        gauges: &[Gauge],
        extremes: &mut [Extreme],
    ) {
        let mut platform = [Jet::default(); 6];
        let platform = &mut platform[..plan.rig().axes.len()];
        platform.iter_mut().zip(&self.frames.platform).for_each(|(jet, block)| *jet = block.at(k));
        let rest = rest(plan.rig(), platform);
        let near = k.saturating_sub(around).max(self.here.start)..(k + around + 1).min(self.here.end);
        // One step is covered from either end, so half of it counts; the whole block counts from its middle.
        let half_s = if around == 1 { self.step_s / 2.0 } else { self.step_s * around as f64 };
        let allowances = Allowances::new(&self.frames, between, near, self.step_s, half_s, rest.as_ref());
        let at_s = self.start_s + k as f64 * self.step_s;
        allowances.take(rest.as_ref(), at_s, gauges, extremes);
    }
}
