//! The passes over a plan: coarse over all of it, fine where it matters.

use super::Setup;
use super::gauge::{LoadGauge, Measure, Reading, Sight, none, take};
use super::sums::{Row, Sums};
use crate::check::gauge::Extreme;
use crate::check::rules::LOAD_RULES;
use crate::motion::{Frames, Plan, Workers};
use crate::scenario::Content;
use crate::signal::BLOCK;
use std::collections::BTreeMap;

/// Longest step of the coarse grid, s.
const LONGEST_STEP_S: f64 = 0.01;
/// Coarse samples in the shortest period: a sine's peak then lies at most 8 % above its nearest sample.
const IN_A_PERIOD: f64 = 8.0;
/// Stretches whose coarse peak comes this near the furthest are looked at again.
const NEAR: f64 = 0.9;
/// Stretches that are looked at again for one gauge, at most.
const MOST_AGAIN: usize = 12;
/// Coarse samples in a stretch: a coarse block is then a few fine ones.
const SPAN: usize = 64;
/// Spans that one worker takes at a time, and jobs that are in memory at a time.
const JOB: u64 = 64;
const ROUND: u64 = 8;

/// A pass over a plan.
pub(super) struct Pass<'a> {
    pub(super) plan: &'a Plan,
    pub(super) setup: &'a Setup<'a>,
    pub(super) gauges: &'a [LoadGauge],
}

/// Which stretches.
pub(super) enum Scope<'a> {
    /// All, with sums.
    All,
    /// These alone, every sample, without sums.
    Spans(&'a [u64]),
}

/// What a plan asks.
#[derive(Debug, Clone)]
pub(super) struct Tally {
    /// One a gauge.
    pub(super) extremes: Vec<Extreme>,
    /// Stretches that were looked at again, with what they ask.
    pub(super) again: Vec<(u64, Vec<Extreme>)>,
    /// For each leg and case (leg first): least and most force, N, and when.
    pub(super) forces: Vec<[(f64, f64); 2]>,
    /// What came of sums besides their extremes.
    pub(super) sums: Option<super::sums::Outcome>,
}

impl Tally {
    pub(super) fn most_used(&self) -> f64 {
        self.extremes.iter().fold(0.0, |most: f64, extreme| most.max(extreme.used))
    }

    /// The same over the gauges of one rule.
    pub(super) fn most_used_of(&self, gauges: &[LoadGauge], rule: usize) -> f64 {
        let mine = self.extremes.iter().zip(gauges).filter(|(_, gauge)| gauge.rule == rule);
        mine.fold(0.0, |most: f64, (extreme, _)| most.max(extreme.used))
    }
}

/// What one stretch, or several, ask.
#[derive(Clone)]
struct Part {
    extremes: Vec<Extreme>,
    forces: Vec<[(f64, f64); 2]>,
}

impl Pass<'_> {
    /// Samples of the plan in a coarse step.
    fn stride(&self) -> u64 {
        let highest_hz = self
            .plan
            .scenario()
            .layers
            .iter()
            .filter_map(|layer| match &layer.content {
                Content::Signal(signal) if crate::motion::axis(layer.line).is_some() => {
                    self.plan.band_hz(signal)
                }
                _ => None,
            })
            .fold(0.0, |most: f64, (_, high)| most.max(high));
        let step_s = LONGEST_STEP_S.min(1.0 / (IN_A_PERIOD * highest_hz.max(1e-3)));
        ((step_s * f64::from(self.plan.rate().hz())) as u64).max(1)
    }

    /// The coarse step, s.
    pub(super) fn step_s(&self) -> f64 {
        self.plan.rate().step_s() * self.stride() as f64
    }

    /// How many stretches the plan has.
    pub(super) fn spans(&self) -> u64 {
        self.plan.samples().div_ceil(self.stride() * SPAN as u64)
    }

    /// Looks at the plan.
    pub(super) fn run(&self, scope: &Scope<'_>, workers: &impl Workers) -> Tally {
        match scope {
            Scope::Spans(spans) => {
                let all = self.sampled();
                let spans: Vec<_> = spans.iter().map(|span| (*span, all.clone())).collect();
                self.fine(&spans, workers)
            }
            Scope::All => {
                let (mut tally, peaks) = self.coarse(workers);
                let again = self.worth_again(&peaks);
                let fine = self.fine(&again, workers);
                tally.extremes.iter_mut().zip(&fine.extremes).for_each(|(a, b)| a.merge(b));
                tally.again = fine.again;
                tally
            }
        }
    }

    /// The whole plan on the coarse grid, and for every stretch how far each gauge is used.
    fn coarse(&self, workers: &impl Workers) -> (Tally, Vec<Vec<f32>>) {
        let stride = self.stride();
        let mut sums = Sums::new(self.setup, self.gauges, self.step_s());
        let gauges = self.sampled();
        let mut whole = self.nothing();
        let mut peaks = Vec::new();
        let jobs = self.spans().div_ceil(JOB);
        let mut first = 0;
        while first < jobs {
            let parts = workers.map(ROUND.min(jobs - first), |job| {
                let mut look = Look::new(self);
                let mut rows = Vec::new();
                let from = (first + job) * JOB;
                let spans = from..(from + JOB).min(self.spans());
                let parts: Vec<Part> =
                    spans.map(|span| look.span(span, stride, &gauges, Some(&mut rows))).collect();
                (parts, rows)
            });
            for (parts, rows) in parts {
                for part in parts {
                    whole.extremes.iter_mut().zip(&part.extremes).for_each(|(a, b)| a.merge(b));
                    merge_forces(&mut whole.forces, &part.forces);
                    peaks.push(part.extremes.iter().map(|extreme| extreme.used as f32).collect());
                }
                sums.feed(&rows);
            }
            first += ROUND;
        }
        let outcome = sums.finish(self.plan.length_s(), &mut whole.extremes);
        let tally =
            Tally { extremes: whole.extremes, again: Vec::new(), forces: whole.forces, sums: Some(outcome) };
        (tally, peaks)
    }

    /// The gauges that are read at instants, by their places.
    fn sampled(&self) -> Vec<usize> {
        let is_sampled =
            |at: &usize| matches!(LOAD_RULES[self.gauges[*at].rule].measure, Measure::Sampled { .. });
        (0..self.gauges.len()).filter(is_sampled).collect()
    }

    /// The stretches that may hold the furthest of some gauges, with the places of these.
    fn worth_again(&self, peaks: &[Vec<f32>]) -> Vec<(u64, Vec<usize>)> {
        let mut found: BTreeMap<u64, Vec<usize>> = BTreeMap::new();
        for at in self.sampled() {
            let used = |span: &Vec<f32>| span.get(at).copied().unwrap_or(0.0);
            let most = peaks.iter().map(used).fold(0.0, f32::max);
            let mut near: Vec<(usize, f32)> = peaks
                .iter()
                .map(used)
                .enumerate()
                .filter(|(_, used)| *used > 0.0 && f64::from(*used) >= NEAR * f64::from(most))
                .collect();
            near.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
            for (span, _) in near.iter().take(MOST_AGAIN) {
                found.entry(*span as u64).or_default().push(at);
            }
        }
        // What is read at few instants may have hidden more from the coarse grid, and is read wherever a look is taken.
        let is_rare = |at: &usize| matches!(LOAD_RULES[self.gauges[*at].rule].measure, Measure::Sampled { every, .. } if every > 1);
        let rare: Vec<usize> = self.sampled().into_iter().filter(is_rare).collect();
        for gauges in found.values_mut() {
            gauges.extend(&rare);
            gauges.sort_unstable();
            gauges.dedup();
        }
        found.into_iter().collect()
    }

    /// Every sample of some stretches, for some gauges each.
    fn fine(&self, spans: &[(u64, Vec<usize>)], workers: &impl Workers) -> Tally {
        let stride = self.stride();
        let parts = workers.map(spans.len() as u64, |job| {
            let (span, gauges) = &spans[job as usize];
            (*span, Look::new(self).span(*span, stride, gauges, None))
        });
        let mut whole = self.nothing();
        let mut again = Vec::new();
        for (span, part) in parts {
            whole.extremes.iter_mut().zip(&part.extremes).for_each(|(a, b)| a.merge(b));
            again.push((span, part.extremes));
        }
        Tally { extremes: whole.extremes, again, forces: whole.forces, sums: None }
    }

    fn nothing(&self) -> Part {
        let pairs = self.setup.rig.actuators.len() * self.setup.demands.cases().len();
        Part {
            extremes: self.gauges.iter().map(|_| none()).collect(),
            forces: vec![[(f64::INFINITY, 0.0), (f64::NEG_INFINITY, 0.0)]; pairs],
        }
    }
}

fn merge_forces(into: &mut [[(f64, f64); 2]], from: &[[(f64, f64); 2]]) {
    for ([low, high], [other_low, other_high]) in into.iter_mut().zip(from) {
        if other_low.0 < low.0 {
            *low = *other_low;
        }
        if other_high.0 > high.0 {
            *high = *other_high;
        }
    }
}

/// Buffers for looking at stretches one after the other.
struct Look<'a> {
    pass: &'a Pass<'a>,
    frames: Frames,
    moment: crate::rig::demand::Moment,
    /// What standing level asks, once it was looked at: most of a long plan may be that.
    at_rest: Option<(Part, Row)>,
    /// The last readings of every gauge, the newest last.
    before: Vec<[Option<(Reading, f64)>; 5]>,
}

impl<'a> Look<'a> {
    fn new(pass: &'a Pass<'a>) -> Self {
        Self {
            pass,
            frames: pass.plan.frames(),
            moment: pass.setup.demands.moment(),
            at_rest: None,
            before: vec![[None; 5]; pass.gauges.len()],
        }
    }

    /// Some gauges over one stretch: on the coarse grid where it is to give `rows` for the sums, else on every sample.
    fn span(&mut self, span: u64, stride: u64, gauges: &[usize], mut rows: Option<&mut Vec<Row>>) -> Part {
        let (plan, mut part, fine) = (self.pass.plan, self.pass.nothing(), rows.is_none());
        let first = span * SPAN as u64 * stride;
        let last = (first + SPAN as u64 * stride).min(plan.samples());
        // A fine stretch reaches into its neighbours, so that peaks on a seam have both sides.
        let (first, last) =
            if fine { (first.saturating_sub(2), (last + 2).min(plan.samples())) } else { (first, last) };
        let step = if fine { 1 } else { stride };
        let step_s = plan.rate().step_s() * step as f64;
        self.before.fill([None; 5]);
        let mut at = first;
        while at < last {
            let count = ((last - at).div_ceil(step) as usize).min(BLOCK);
            let start_s = plan.rate().at_s(at);
            if plan.is_idle(start_s, start_s + step_s * count as f64) {
                self.idle(start_s, count, gauges, &mut part, rows.as_deref_mut());
            } else {
                plan.render_platform_sparse(start_s, step_s, count, &mut self.frames);
                for k in 0..count {
                    let at_s = start_s + step_s * k as f64;
                    if self.sample(k) {
                        self.read(gauges, (at / step) as usize + k, at_s, fine, &mut part);
                    }
                    if let Some(rows) = rows.as_deref_mut() {
                        rows.push(Row::of(self.pass.setup, &self.moment));
                    }
                }
            }
            at += count as u64 * step;
        }
        part
    }

    /// Level and at rest all the time: one look stands for all.
    fn idle(
        &mut self,
        start_s: f64,
        count: usize,
        gauges: &[usize],
        part: &mut Part,
        rows: Option<&mut Vec<Row>>,
    ) {
        if self.at_rest.is_none() {
            self.moment.clone_from(&self.pass.setup.rest);
            let mut part = self.pass.nothing();
            self.read(gauges, 0, 0.0, false, &mut part);
            self.at_rest = Some((part, Row::of(self.pass.setup, &self.moment)));
        }
        let Some((rest, row)) = &self.at_rest else { return };
        for (extreme, rest) in part.extremes.iter_mut().zip(&rest.extremes) {
            extreme.merge(&Extreme { at_s: start_s, ..*rest });
        }
        for (forces, [low, high]) in part.forces.iter_mut().zip(&rest.forces) {
            merge_forces(std::slice::from_mut(forces), &[[(low.0, start_s), (high.0, start_s)]]);
        }
        if let Some(rows) = rows {
            rows.extend(std::iter::repeat_n(row.clone(), count));
        }
    }

    /// What sample `k` of the frames asks; `false` where the pose is singular.
    fn sample(&mut self, k: usize) -> bool {
        let mut parts = [[0.0; 6]; 3];
        let axes = self.frames.platform.len().min(6);
        for (j, block) in self.frames.platform.iter().take(6).enumerate() {
            for (order, part) in parts.iter_mut().enumerate() {
                part[j] = block.0[order][k];
            }
        }
        let [q, rate, up] = &parts;
        self.pass.setup.demands.at(&q[..axes], &rate[..axes], &up[..axes], &mut self.moment)
    }

    /// Reads some gauges at the moment that was worked out last.
    fn read(&mut self, gauges: &[usize], index: usize, at_s: f64, fine: bool, part: &mut Part) {
        let pass = self.pass;
        let sight = Sight::new(pass.setup, &self.moment);
        for at in gauges.iter().copied() {
            let gauge = &pass.gauges[at];
            let Measure::Sampled { every, read } = &LOAD_RULES[gauge.rule].measure else { continue };
            if !index.is_multiple_of(*every) {
                continue;
            }
            let reading = read(&sight, gauge);
            let extreme = &mut part.extremes[at];
            if fine {
                let [_, a, b, c, d] = self.before[at];
                self.before[at] = [a, b, c, d, Some((reading, at_s))];
                if let [Some(a), Some(b), Some(c), Some(d), Some(e)] = self.before[at] {
                    take(extreme, c.0, bend([a, b, c, d, e].map(|(reading, _)| reading.used)), c.1);
                }
            }
            take(extreme, reading, 0.0, at_s);
        }
        if fine {
            return;
        }
        let cases = pass.setup.demands.cases().len();
        for (case, forces) in self.moment.forces_n.iter().enumerate() {
            for (leg, force) in forces.iter().enumerate() {
                let Some([low, high]) = part.forces.get_mut(leg * cases + case) else { continue };
                if *force < low.0 {
                    *low = (*force, at_s);
                }
                if *force > high.0 {
                    *high = (*force, at_s);
                }
            }
        }
    }
}

/// What may be added beside the middle of five neighbouring readings: an eighth of the second difference, the least of
/// the three around it. Where friction turns, a reading jumps; a jump spoils two of the three and is no curvature.
fn bend([a, b, c, d, e]: [f64; 5]) -> f64 {
    let second = |before: f64, middle: f64, after: f64| (after - 2.0 * middle + before).abs();
    let least = second(a, b, c).min(second(b, c, d)).min(second(c, d, e));
    if least.is_finite() { least / 8.0 } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The worst phase: the peak is half a step from its nearest samples. Told to within a ten-thousandth.
    #[test]
    fn curvature_counts_and_jumps_do_not() {
        let sine = [-2.5, -1.5, -0.5, 0.5, 1.5].map(|k: f64| libm::cos(k * 0.1));
        let bound = sine[2] + bend(sine);
        assert!((1.0 - 1e-4..1.0 + 1e-4).contains(&bound), "{bound}");
        assert!(bend([0.0, 0.0, 0.0, 1.0, 1.0]).abs() < 1e-15);
        assert!(bend([0.0, 0.0, 1.0, 1.0, 1.0]).abs() < 1e-15);
        assert_eq!(bend([0.0, 0.0, f64::INFINITY, 1.0, 1.0]), 0.0);
    }
}
