//! What can happen between two samples: bounds from the layers' envelopes and the rig's geometry.
//!
//! For a quantity f sampled every h, the peak inside a step is at most the larger end plus h^2/8 times the supremum of
//! |f''| (jerk: plus h/2 times that of |f'|). Source: the error bound of linear interpolation, any numerical analysis
//! text, e.g. Stoer and Bulirsch, Introduction to Numerical Analysis, 2.1.4.

use super::Quantity;
use super::coarse::STRIDE;
use super::gauge::{Extreme, Gauge, Part};
use crate::motion::{Frames, Plan};
use crate::rig::stopping::{self, Reach};
use crate::rig::{Interpolation, Rig, kinematics};
use crate::signal::{BLOCK, Majorant};

/// How many times a step is halved at most, where the samples leave too much open.
const HALVINGS: u32 = 6;

/// Samples to either side of one that are looked between together with it, at most.
const SWING: usize = 16;

/// Ticks that are looked at together between samples, unless they do not fit a block at the step.
const TOGETHER: usize = 16;

/// An allowance of this part of the value is small enough to report.
const SMALL: f64 = 0.05;

/// Bounds that hold over one block and a little to either side.
pub(super) struct Between {
    step_s: f64,
    axes: Vec<Majorant>,
    legs: Vec<[f64; 5]>,
    /// |length - length at level| of each leg.
    travel_m: Vec<f64>,
    /// How far any stop in this block can run on, where that can be said.
    reach: Option<Reach>,
}

impl Between {
    pub(super) fn new(plan: &Plan) -> Self {
        let (axes, legs) = (plan.rig().axes.len(), plan.rig().actuators.len());
        Self {
            step_s: plan.rate().step_s(),
            axes: vec![Majorant::default(); axes],
            legs: vec![[0.0; 5]; legs],
            travel_m: vec![0.0; legs],
            reach: None,
        }
    }

    /// Takes the bounds over `block`.
    pub(super) fn set(&mut self, plan: &Plan, block: u64) {
        let rig = plan.rig();
        // The drive's curve reaches three set-points to either side.
        // … and the first look one of its steps.
        let curve_s = 3.0 * f64::from(rig.drive.cycle_us) * 1e-6 + self.step_s;
        let reach_s = curve_s.max(STRIDE as f64 * self.step_s);
        let start_s = plan.rate().at_s(block * BLOCK as u64);
        plan.majorants(start_s - reach_s, start_s + BLOCK as f64 * self.step_s + reach_s, &mut self.axes);
        let mut sup = [[0.0; 5]; 6];
        let mut way = [[0.0; 5]; 6];
        for (at, majorant) in self.axes.iter().enumerate() {
            sup[at] = majorant.0;
            way[at] = [majorant.0[0], majorant.0[0], 0.0, 0.0, 0.0];
        }
        let (sup, way) = (&sup[..self.axes.len()], &way[..self.axes.len()]);
        for (leg, actuator) in rig.actuators.iter().enumerate() {
            // Where a leg gets shorter than its shortest it fails its stroke whatever this bound says.
            self.legs[leg] = kinematics::leg_bound(rig, leg, sup, actuator.min_m);
            self.travel_m[leg] = kinematics::leg_bound(rig, leg, way, actuator.min_m)[1];
        }
        self.reach = stopping::reach(rig, &self.legs);
    }

    /// What a sampled derivative `order` of a part may exceed its samples by within this block.
    pub(super) fn allowance(&self, part: Part, order: usize) -> f64 {
        self.allowance_over(part, order, self.step_s)
    }

    /// The same for samples `step_s` apart.
    pub(super) fn allowance_over(&self, part: Part, order: usize, step_s: f64) -> f64 {
        let sup = match part {
            Part::Leg(leg) => &self.legs[leg],
            Part::Axis(axis) => &self.axes[axis].0,
        };
        match order {
            0..=2 => step_s * step_s / 8.0 * sup[order + 2],
            _ => step_s / 2.0 * sup[4],
        }
    }

    /// What the drive's own curve may go beyond the exact motion where that has at most these accelerations and jerks.
    pub(super) fn drive_excess(&self, rig: &Rig, quantity: Quantity, acceleration: f64, jerk: f64) -> f64 {
        let cycle_s = f64::from(rig.drive.cycle_us) * 1e-6;
        let cubic_s = if rig.drive.interpolation == Interpolation::Cubic { cycle_s } else { 0.0 };
        match quantity {
            Quantity::Stroke => cycle_s * cycle_s / 8.0 * (acceleration + 2.0 * cubic_s * jerk),
            Quantity::Speed => cubic_s * cycle_s / 4.0 * jerk,
            Quantity::Acceleration => 2.0 * cubic_s * jerk,
            _ => 0.0,
        }
    }

    /// The furthest that `gauge` can be used in this block, without a look at a single sample.
    pub(super) fn most_used(&self, rig: &Rig, gauge: &Gauge) -> f64 {
        let reach = match (gauge.part, gauge.quantity) {
            (Part::Axis(axis), Quantity::Stopping) => {
                let [value, rate, acceleration, ..] = self.axes[axis].0;
                value + self.reach.map_or(f64::INFINITY, |reach| reach.way(rate, acceleration))
            }
            (Part::Axis(axis), _) => self.axes[axis].0[0],
            (Part::Leg(leg), quantity) => {
                let (travel, [_, speed, acceleration, jerk, _]) = (self.travel_m[leg], self.legs[leg]);
                let beside = self.drive_excess(rig, quantity, acceleration, jerk);
                match quantity {
                    Quantity::Stroke => travel + beside,
                    Quantity::Speed => speed + beside,
                    Quantity::Acceleration => acceleration + beside,
                    Quantity::Jerk => jerk,
                    _ => travel + self.reach.map_or(f64::INFINITY, |reach| self.leg_way(rig, leg, reach)),
                }
            }
        };
        let room = (gauge.high - gauge.rest).min(gauge.rest - gauge.low);
        let most = reach / room;
        if most.is_nan() { f64::INFINITY } else { most }
    }

    /// How much a leg's length changes while the platform runs on, straight in its own coordinates.
    fn leg_way(&self, rig: &Rig, leg: usize, reach: Reach) -> f64 {
        let mut way = [[0.0; 5]; 6];
        for (way, axis) in way.iter_mut().zip(&self.axes) {
            let run_on = reach.way(axis.0[1], axis.0[2]);
            *way = [axis.0[0] + run_on, run_on, 0.0, 0.0, 0.0];
        }
        let bound = kinematics::leg_bound(rig, leg, &way[..self.axes.len()], rig.actuators[leg].min_m);
        bound[1] + bound[2] / 8.0
    }

    /// Takes the samples of a block, and looks between them where their allowance is a large part of their value or
    /// where it alone would carry them past the limit: halves the step until the allowance is small, or until nothing
    /// further out than `extreme` can be there. `closer` is a buffer for that.
    pub(super) fn take(
        &self,
        plan: &Plan,
        gauge: &Gauge,
        order: usize,
        (first, row): (u64, &[f64]),
        extreme: &mut Extreme,
        closer: &mut Frames,
    ) {
        let allowance = self.allowance(gauge.part, order);
        let used = |value: f64| gauge.used(value + if value < gauge.rest { -allowance } else { allowance });
        let mut open = [true; BLOCK];
        // The furthest first: once it is settled, most of the others cannot go beyond it.
        while let Some((k, value)) = (0..row.len())
            .filter(|k| open[*k])
            .map(|k| (k, row[k]))
            .max_by(|a, b| used(a.1).total_cmp(&used(b.1)).then(b.0.cmp(&a.0)))
            .filter(|(_, value)| used(*value) > extreme.used)
        {
            open[k] = false;
            let is_small = allowance <= SMALL * (value - gauge.rest).abs();
            let is_clear = used(value) <= 1.0 || gauge.used(value) > 1.0;
            if is_small && is_clear || !used(value).is_finite() {
                extreme.take(gauge, value, allowance, plan.rate().at_s(first + k as u64));
                continue;
            }
            // Its neighbours that could go beyond belong to the same swing and are looked at with it.
            let (before, here_on) = open.split_at_mut(k);
            let swing = |open: &bool, value: &f64| *open && used(*value) > extreme.used;
            let left = before.iter().zip(row).rev().take_while(|(o, v)| swing(o, v)).count().min(SWING);
            let right =
                here_on[1..].iter().zip(&row[k + 1..]).take_while(|(o, v)| swing(o, v)).count().min(SWING);
            open[k - left..=k + right].fill(false);
            let ticks = (first + (k - left) as u64, first + (k + right) as u64);
            self.look_closer(plan, gauge, order, ticks, extreme, closer);
        }
    }

    /// Looks between the samples at these ticks, the first and the last, and one step to either side.
    fn look_closer(
        &self,
        plan: &Plan,
        gauge: &Gauge,
        order: usize,
        ticks: (u64, u64),
        extreme: &mut Extreme,
        closer: &mut Frames,
    ) {
        let allowance = self.allowance(gauge.part, order);
        let (from, to) = (ticks.0.saturating_sub(1), ticks.1 + 1);
        let shrunk =
            |halving: u32| allowance / f64::from(1_u32 << (if order < 3 { 2 * halving } else { halving }));
        let mut halving = 1;
        loop {
            let parts = 1_u64 << halving;
            let step_s = self.step_s / parts as f64;
            let mut nearest = *extreme;
            // Rendered from ticks that are the same whatever is looked at: an instant then has the same value each time,
            // to the last digit, and what is skipped does not show.
            let together = TOGETHER.min(BLOCK >> halving);
            for start in (from / together as u64 * together as u64..=to).step_by(together) {
                let start_s = plan.rate().at_s(start);
                plan.render_sparse(start_s, step_s, together << halving, closer);
                let wanted = from.saturating_sub(start) * parts..=(to - start) * parts;
                for (k, value) in gauge.part.row(closer, order).iter().enumerate() {
                    if wanted.contains(&(k as u64)) {
                        nearest.take(gauge, *value, shrunk(halving), start_s + step_s * k as f64);
                    }
                }
            }
            if nearest == *extreme {
                return;
            }
            let small = SMALL * (nearest.peak - gauge.rest).abs();
            let is_clear = nearest.used <= 1.0 || gauge.used(nearest.peak) > 1.0;
            if shrunk(halving) <= small && is_clear || halving == HALVINGS {
                *extreme = nearest;
                return;
            }
            // Straight to where the allowance of such a peak is small.
            halving = (halving + 1..HALVINGS).find(|halving| shrunk(*halving) <= small).unwrap_or(HALVINGS);
        }
    }
}
