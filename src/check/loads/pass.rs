//! The passes over a plan: coarse over all of it, fine where it matters.

use super::Setup;
use super::gauge::{LoadGauge, Measure, Reading, Sight, none, take};
use super::humps::Humps;
use super::sums::{Outcome, Rows, Sums};
use crate::check::gauge::Extreme;
use crate::check::rules::LOAD_RULES;
use crate::motion::{Frames, Plan, Workers};
use crate::rig::demand::{Moment, TOGETHER};
use crate::scenario::Content;
use crate::signal::BLOCK;
use std::collections::BTreeMap;

/// Longest step of the coarse grid, s.
const LONGEST_STEP_S: f64 = 0.01;
/// Coarse samples in the shortest period: a sine's peak then lies at most 8 % above its nearest sample.
const IN_A_PERIOD: f64 = 8.0;
/// Where nothing is quick, fewer of them are looked at, down to one in so many, and each stands for those after it.
const CALM: u64 = 4;
/// Coarse samples that are rendered, or found to be idle, at a time.
const SPAN: u64 = BLOCK as u64 / 2;
/// Spans that one worker takes at a time, and jobs that are in memory at a time.
const JOB: u64 = 4;
const ROUND: u64 = 32;
/// Samples beside a window, so that peaks on its edges have both sides.
const MARGIN: u64 = 2;

/// A pass over a plan.
pub(super) struct Pass<'a> {
    pub(super) plan: &'a Plan,
    pub(super) setup: &'a Setup<'a>,
    pub(super) gauges: &'a [LoadGauge],
    /// Samples of the plan in a coarse step.
    stride: u64,
}

/// A stretch that is looked at closely: to either side of a coarse sample as far as the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Window {
    /// Sample of the plan in its middle, a multiple of `every`.
    middle: u64,
    /// Samples of the plan from there to the next coarse one that was looked at.
    beside: u64,
    /// Every so many samples of the plan, as its gauges are read.
    every: u64,
}

/// Which parts of a plan.
pub(super) enum Scope<'a> {
    /// All, with sums.
    All,
    /// These alone, without sums.
    Windows(&'a [Window]),
}

/// What a plan asks.
#[derive(Debug, Clone)]
pub(super) struct Tally {
    /// One a gauge.
    pub(super) extremes: Vec<Extreme>,
    /// Windows that were looked at, with what they ask.
    pub(super) again: Vec<(Window, Vec<Extreme>)>,
    /// For each leg and case (leg first): least and most force, N, and when.
    pub(super) forces: Vec<[(f64, f64); 2]>,
    /// What came of sums besides their extremes.
    pub(super) sums: Option<Outcome>,
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

impl Part {
    fn take_forces(&mut self, moment: &Moment, at_s: f64) {
        let cases = moment.forces_n.len();
        for (case, forces) in moment.forces_n.iter().enumerate() {
            for (leg, force) in forces.iter().enumerate() {
                let Some([low, high]) = self.forces.get_mut(leg * cases + case) else { continue };
                if *force < low.0 {
                    *low = (*force, at_s);
                }
                if *force > high.0 {
                    *high = (*force, at_s);
                }
            }
        }
    }

    fn merge(&mut self, later: &Self) {
        self.extremes.iter_mut().zip(&later.extremes).for_each(|(a, b)| a.merge(b));
        for ([low, high], [other_low, other_high]) in self.forces.iter_mut().zip(&later.forces) {
            if other_low.0 < low.0 {
                *low = *other_low;
            }
            if other_high.0 > high.0 {
                *high = *other_high;
            }
        }
    }
}

/// Every how many samples a gauge is read; `None` where it is a sum.
fn every(gauge: &LoadGauge) -> Option<u64> {
    match LOAD_RULES[gauge.rule].measure {
        Measure::Sampled { every, .. } => Some(every as u64),
        Measure::Summed(_) => None,
    }
}

impl<'a> Pass<'a> {
    /// Of a plan, over some gauges.
    pub(super) fn new(plan: &'a Plan, setup: &'a Setup<'a>, gauges: &'a [LoadGauge]) -> Self {
        let highest_hz = plan
            .scenario()
            .layers
            .iter()
            .filter_map(|layer| match &layer.content {
                Content::Signal(signal) if crate::motion::axis(layer.line).is_some() => plan.band_hz(signal),
                _ => None,
            })
            .fold(0.0, |most: f64, (_, high)| most.max(high));
        let step_s = LONGEST_STEP_S.min(1.0 / (IN_A_PERIOD * highest_hz.max(1e-3)));
        let stride = ((step_s * f64::from(plan.rate().hz())) as u64).max(1);
        Self { plan, setup, gauges, stride }
    }

    /// The coarse step, s.
    pub(super) fn step_s(&self) -> f64 {
        self.plan.rate().step_s() * self.stride as f64
    }

    /// The step where nothing is quick, s.
    pub(super) fn longest_step_s(&self) -> f64 {
        self.step_s() * CALM as f64
    }

    /// Every how many coarse samples are looked at in the span that begins with coarse sample `from`: as many steps as
    /// fit into an eighth of the shortest period in it.
    fn thinned(&self, from: u64) -> u64 {
        let start_s = self.plan.rate().at_s(from * self.stride);
        let quickest_hz = self.plan.quickest_hz(start_s, start_s + self.step_s() * SPAN as f64);
        let steps = 1.0 / (quickest_hz * IN_A_PERIOD * self.step_s());
        // Of what never moves, infinitely many; the cast saturates.
        (steps as u64).clamp(1, CALM)
    }

    /// Looks at the plan.
    pub(super) fn run(&self, scope: &Scope<'_>, workers: &impl Workers) -> Tally {
        let (part, again, sums) = match scope {
            Scope::Windows(windows) => {
                let all: Vec<usize> = (0..self.gauges.len()).collect();
                let windows: Vec<_> = windows.iter().map(|window| (*window, all.clone())).collect();
                let (part, again) = self.fine(&windows, workers);
                (part, again, None)
            }
            Scope::All => {
                let (mut part, sums, humps) = self.coarse(workers);
                let (closer, again) = self.fine(&self.worth_again(&humps), workers);
                part.merge(&closer);
                (part, again, Some(sums))
            }
        };
        Tally { extremes: part.extremes, again, forces: part.forces, sums }
    }

    /// The whole plan on the coarse grid, and the highest humps of every gauge.
    fn coarse(&self, workers: &impl Workers) -> (Part, Outcome, Vec<Humps>) {
        let steps = self.plan.samples().div_ceil(self.stride);
        let mut sums = Sums::new(self.setup, self.gauges, self.step_s());
        let mut whole = self.nothing();
        let mut humps = vec![Humps::new(); self.gauges.len()];
        let jobs = steps.div_ceil(SPAN * JOB);
        let mut first = 0;
        while first < jobs {
            let parts = workers.map(ROUND.min(jobs - first), |job| {
                let from = (first + job) * SPAN * JOB;
                Look::new(self).coarse(from..(from + SPAN * JOB).min(steps), self.stride)
            });
            let mut fed = Vec::with_capacity(parts.len());
            for (part, of_part, rows) in parts {
                whole.merge(&part);
                humps.iter_mut().zip(&of_part).for_each(|(all, later)| all.merge(later));
                fed.push(rows);
            }
            sums.feed(&fed, workers);
            first += ROUND;
        }
        let outcome = sums.finish(self.plan.length_s(), &mut whole.extremes);
        (whole, outcome, humps)
    }

    /// The windows that may hold the furthest of some gauges, with the places of these.
    fn worth_again(&self, humps: &[Humps]) -> Vec<(Window, Vec<usize>)> {
        let mut found: BTreeMap<Window, Vec<usize>> = BTreeMap::new();
        let mut spans: BTreeMap<u64, u64> = BTreeMap::new();
        for (at, (gauge, humps)) in self.gauges.iter().zip(humps).enumerate() {
            let Some(every) = every(gauge) else { continue };
            for index in humps.near() {
                // As far as the coarser of its own span and of the one before, where it is the first.
                let span = index / SPAN * SPAN;
                let before = if index == span { span.saturating_sub(SPAN) } else { span };
                let mut thinned = |from| *spans.entry(from).or_insert_with(|| self.thinned(from));
                let beside = self.stride * thinned(span).max(thinned(before));
                let middle = index * self.stride / every * every;
                found.entry(Window { middle, beside, every }).or_default().push(at);
            }
        }
        // What is read at few instants may have hidden more from the coarse grid, and is read wherever a look is taken.
        let is_rare = |at: &usize| every(&self.gauges[*at]).is_some_and(|every| every > 1);
        let rare: Vec<usize> = (0..self.gauges.len()).filter(is_rare).collect();
        for (_, gauges) in found.iter_mut().filter(|(window, _)| window.every == 1) {
            gauges.extend(&rare);
        }
        found.into_iter().collect()
    }

    /// Some windows, for some gauges each.
    fn fine(
        &self,
        windows: &[(Window, Vec<usize>)],
        workers: &impl Workers,
    ) -> (Part, Vec<(Window, Vec<Extreme>)>) {
        /// Windows that one worker takes at a time.
        const TOGETHER: usize = 16;
        let lots: Vec<_> = windows.chunks(TOGETHER).collect();
        let parts = workers.map(lots.len() as u64, |lot| {
            let mut look = Look::new(self);
            let lot = lots[lot as usize].iter();
            lot.map(|(window, gauges)| (*window, look.fine(*window, gauges))).collect::<Vec<_>>()
        });
        let mut whole = self.nothing();
        let mut again = Vec::new();
        for (window, part) in parts.into_iter().flatten() {
            whole.merge(&part);
            again.push((window, part.extremes));
        }
        (whole, again)
    }

    fn nothing(&self) -> Part {
        let pairs = self.setup.rig.actuators.len() * self.setup.demands.cases().len();
        Part {
            extremes: self.gauges.iter().map(|_| none()).collect(),
            forces: vec![[(f64::INFINITY, 0.0), (f64::NEG_INFINITY, 0.0)]; pairs],
        }
    }
}

/// Buffers for looking at stretches one after the other.
struct Look<'a> {
    pass: &'a Pass<'a>,
    frames: Frames,
    /// Neighbouring samples.
    moments: Vec<Moment>,
    /// Gauges and how they are read, by every how many samples they are.
    rounds: BTreeMap<u64, Vec<(usize, Read)>>,
    /// The last readings of every gauge, the newest last.
    before: Vec<[Option<(Reading, f64)>; 5]>,
}

/// How a gauge is read.
type Read = fn(&Sight<'_>, &LoadGauge) -> Reading;

impl<'a> Look<'a> {
    fn new(pass: &'a Pass<'a>) -> Self {
        let mut rounds: BTreeMap<u64, Vec<(usize, Read)>> = BTreeMap::new();
        for (at, gauge) in pass.gauges.iter().enumerate() {
            if let Measure::Sampled { every, read } = LOAD_RULES[gauge.rule].measure {
                rounds.entry(every as u64).or_default().push((at, read));
            }
        }
        Self {
            rounds,
            pass,
            frames: pass.plan.frames(),
            moments: vec![pass.setup.demands.moment(); TOGETHER],
            before: vec![[None; 5]; pass.gauges.len()],
        }
    }

    /// A range of coarse samples.
    fn coarse(&mut self, steps: std::ops::Range<u64>, stride: u64) -> (Part, Vec<Humps>, Rows) {
        let pass = self.pass;
        let mut part = pass.nothing();
        let mut humps = vec![Humps::new(); pass.gauges.len()];
        let mut rows = Rows::new(pass.setup, steps.end - steps.start);
        let (rate, step_s) = (pass.plan.rate(), pass.step_s());
        let mut at_rest = None;
        for from in steps.clone().step_by(SPAN as usize) {
            let count = SPAN.min(steps.end - from);
            let start_s = rate.at_s(from * stride);
            if pass.plan.is_idle(start_s, start_s + step_s * count as f64) {
                // Level and at rest all the time: one look stands for all. Most of a long plan may be that.
                let rest = at_rest.get_or_insert_with(|| self.rest());
                part.merge(&at(rest, start_s));
                rows.push(pass.setup, &pass.setup.rest, count as usize);
                humps.iter_mut().for_each(Humps::pause);
                continue;
            }
            let thinned = pass.thinned(from);
            let looks = count.div_ceil(thinned) as usize;
            pass.plan.render_platform_sparse(start_s, step_s * thinned as f64, looks, &mut self.frames);
            for first in (0..looks).step_by(TOGETHER) {
                let held = self.samples(first, looks);
                for (k, (moment, held)) in (first..looks).zip(self.moments.iter().zip(held)) {
                    let step = k as u64 * thinned;
                    if held {
                        let (index, at_s) = (from + step, start_s + step_s * step as f64);
                        self.survey(moment, (index, thinned), at_s, &mut part, &mut humps);
                    }
                    // A pose in which nothing can be said is refused by rules of its own; sums go on as if it stood level.
                    let row = if held { moment } else { &pass.setup.rest };
                    rows.push(pass.setup, row, thinned.min(count - step) as usize);
                }
            }
        }
        humps.iter_mut().for_each(Humps::pause);
        (part, humps, rows)
    }

    /// What standing level asks.
    fn rest(&self) -> Part {
        let mut part = self.pass.nothing();
        let mut nowhere = vec![Humps::new(); self.pass.gauges.len()];
        self.survey(&self.pass.setup.rest, (0, 1), 0.0, &mut part, &mut nowhere);
        part
    }

    /// Takes every force at a moment, and the gauges that are due: those of which no coarse sample has been looked at since
    /// the last that was theirs. It is coarse sample `index`, the first of `thinned`.
    fn survey(
        &self,
        moment: &Moment,
        (index, thinned): (u64, u64),
        at_s: f64,
        part: &mut Part,
        humps: &mut [Humps],
    ) {
        let sight = Sight::new(self.pass.setup, moment);
        for (_, due) in self.rounds.iter().filter(|(every, _)| index % **every < thinned) {
            for (at, read) in due {
                let reading = read(&sight, &self.pass.gauges[*at]);
                take(&mut part.extremes[*at], reading, 0.0, at_s);
                humps[*at].push(index, reading.used);
            }
        }
        part.take_forces(moment, at_s);
    }

    /// Some gauges within a window.
    fn fine(&mut self, window: Window, gauges: &[usize]) -> Part {
        let plan = self.pass.plan;
        let half = (window.beside + MARGIN) * window.every;
        // The first is a multiple of `every`, as the middle is: rarely read gauges are met at the same samples.
        let first = window.middle.saturating_sub(half);
        let last = (window.middle + half).min(plan.samples().saturating_sub(1));
        let step_s = plan.rate().step_s() * window.every as f64;
        let mut part = self.pass.nothing();
        self.before.fill([None; 5]);
        let mut from = first;
        while from <= last {
            let count = ((last - from) / window.every + 1).min(BLOCK as u64);
            let start_s = plan.rate().at_s(from);
            plan.render_platform_sparse(start_s, step_s, count as usize, &mut self.frames);
            for first in (0..count as usize).step_by(TOGETHER) {
                let held = self.samples(first, count as usize);
                for (place, k) in
                    (first..count as usize).take(TOGETHER).enumerate().filter(|(at, _)| held[*at])
                {
                    let at_s = start_s + step_s * k as f64;
                    part.take_forces(&self.moments[place], at_s);
                    self.read(place, gauges, from + k as u64 * window.every, at_s, &mut part.extremes);
                }
            }
            from += count * window.every;
        }
        part
    }

    /// What some samples of the frames ask, from `first` on and before `end`; `false` where the pose is singular.
    fn samples(&mut self, first: usize, end: usize) -> [bool; TOGETHER] {
        let count = (end - first).min(TOGETHER);
        self.pass.setup.demands.together(&self.frames.platform, first, &mut self.moments[..count])
    }

    /// Reads some gauges at a moment worked out last, with what may stand between samples.
    fn read(&mut self, place: usize, gauges: &[usize], index: u64, at_s: f64, extremes: &mut [Extreme]) {
        let pass = self.pass;
        let sight = Sight::new(pass.setup, &self.moments[place]);
        for at in gauges.iter().copied() {
            let gauge = &pass.gauges[at];
            let Measure::Sampled { every, read } = &LOAD_RULES[gauge.rule].measure else { continue };
            if !index.is_multiple_of(*every as u64) {
                continue;
            }
            let reading = read(&sight, gauge);
            let [_, a, b, c, d] = self.before[at];
            self.before[at] = [a, b, c, d, Some((reading, at_s))];
            if let [Some(a), Some(b), Some(c), Some(d), Some(e)] = self.before[at] {
                take(&mut extremes[at], c.0, bend([a, b, c, d, e].map(|(reading, _)| reading.used)), c.1);
            }
            take(&mut extremes[at], reading, 0.0, at_s);
        }
    }
}

/// The same, later.
fn at(rest: &Part, at_s: f64) -> Part {
    Part {
        extremes: rest.extremes.iter().map(|extreme| Extreme { at_s, ..*extreme }).collect(),
        forces: rest.forces.iter().map(|[low, high]| [(low.0, at_s), (high.0, at_s)]).collect(),
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
