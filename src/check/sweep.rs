//! One pass over a plan: every gauge, every expectation and every avoided band, stretch by stretch.
//!
//! A stretch is a fixed number of blocks whatever the number of threads, so the same plan gives the same bytes.

use super::between::Between;
use super::coarse::Coarse;
use super::drive_curve::segment;
use super::floor::Floor;
use super::gauge::{Extreme, Gauge, Part};
use super::{Quantity, band_share, expectation, stopping_room};
use crate::motion::{Frames, Plan, Workers};
use crate::rig::kinematics;
use crate::signal::{BLOCK, Jet, Majorant};
use std::ops::Range;
use std::sync::atomic::{AtomicU64, Ordering};

/// Blocks in a stretch: 3.8 s at 1 kHz, so that mistakes apart in time are found apart. A first look at all of it,
/// sixteen instants a block and some around, fits one block.
pub(super) const STRETCH: u64 = 15;

/// Batches that a plan is cut into at most, whatever its length: each leaves a tally in memory.
const BATCHES: u64 = 128;

/// Batches that are looked at at once, at least.
const SMALLEST_ROUND: usize = 2;

/// Stretches whose spectra one worker takes at a time: neighbouring windows share a half, ends of a lot do not.
const LOT: u64 = 8;

/// Stretches that go further than this are kept one by one, for blame and for the search of a gain that fits.
const KEPT: f64 = 1.0;

/// What a pass looks at.
pub(super) struct Sweep<'a> {
    pub(super) plan: &'a Plan,
    pub(super) gauges: &'a [Gauge],
    /// Sample steps in a drive cycle.
    pub(super) steps_per_cycle: u64,
    /// Expectations and avoided bands too, not only gauges.
    pub(super) whole: bool,
}

/// What a stretch, or a whole plan, asks of everything.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tally {
    /// One a gauge.
    pub(super) extremes: Vec<Extreme>,
    /// One an expectation of the scenario.
    pub(super) expectations: Vec<expectation::Sum>,
    /// One an avoided band and coordinate that it speaks of.
    pub(super) bands: Vec<band_share::Worst>,
}

impl Tally {
    fn merge(&mut self, other: &Self) {
        self.extremes.iter_mut().zip(&other.extremes).for_each(|(a, b)| a.merge(b));
        self.expectations.iter_mut().zip(&other.expectations).for_each(|(a, b)| a.merge(b));
        self.bands.iter_mut().zip(&other.bands).for_each(|(a, b)| a.merge(b));
    }
}

/// Stretches that one worker looks at, one after the other.
type Batch<'s> = &'s [u64];

/// What one worker looks at next.
#[derive(Debug, Clone, PartialEq)]
enum Look<'s> {
    /// Gauges and expectations over some stretches.
    Stretches(Batch<'s>),
    /// Spectra of the windows that begin in some blocks.
    Windows(Range<u64>),
}

impl Look<'_> {
    /// The block that it begins with.
    fn start(&self) -> u64 {
        match self {
            Self::Stretches(batch) => batch.first().map_or(0, |stretch| stretch * STRETCH),
            Self::Windows(blocks) => blocks.start,
        }
    }
}

impl Sweep<'_> {
    /// How many stretches the plan has.
    pub(super) fn stretches(&self) -> u64 {
        self.plan.blocks().div_ceil(STRETCH)
    }

    /// The whole plan: the tally, and the stretches that come near a limit.
    pub(super) fn run(
        &self,
        workers: &impl Workers,
        progress: &(dyn Fn(f64) + Sync),
    ) -> (Tally, Vec<(u64, Vec<Extreme>)>) {
        let all: Vec<u64> = (0..self.stretches()).collect();
        let batches = self.rounds(&all).into_iter();
        let mut rounds: Vec<Vec<_>> =
            batches.map(|round| round.into_iter().map(Look::Stretches).collect()).collect();
        // Last and largest: whoever has nothing else to do there takes one.
        match rounds.last_mut() {
            Some(round) => round.extend(self.lots().map(Look::Windows)),
            None => rounds.push(self.lots().map(Look::Windows).collect()),
        }
        let (count, done) = (rounds.iter().map(Vec::len).sum::<usize>(), AtomicU64::new(0));
        let (mut floor, mut parts) = (Floor::new(self), Vec::with_capacity(count));
        for round in &rounds {
            let found = workers.map(round.len() as u64, |at| {
                let part = match &round[at as usize] {
                    Look::Stretches(batch) => self.batch(batch, &floor),
                    Look::Windows(blocks) => (self.windows(blocks.clone()), Vec::new()),
                };
                progress((done.fetch_add(1, Ordering::Relaxed) + 1) as f64 / count as f64);
                part
            });
            found.iter().for_each(|(sum, _)| floor.raise(sum));
            parts.extend(round.iter().map(Look::start).zip(found));
        }
        // Sums of squares are added in the order of time, whatever was looked at first; spectra have none, so that it does
        // not matter where they come between.
        parts.sort_by_key(|(start, _)| *start);
        let (mut whole, mut near) = (self.nothing(), Vec::new());
        for (_, (sum, part)) in parts {
            whole.merge(&sum);
            near.extend(part);
        }
        (whole, near)
    }

    /// Blocks whose windows one worker takes at a time; none where no spectrum is asked for.
    fn lots(&self) -> impl Iterator<Item = Range<u64>> {
        let (lot, blocks) = (LOT * STRETCH, self.plan.blocks());
        let is_asked = self.whole && !self.plan.rig().avoid.is_empty();
        let count = if is_asked { blocks.div_ceil(lot) } else { 0 };
        (0..count).map(move |k| k * lot..((k + 1) * lot).min(blocks))
    }

    /// Some stretches in batches: what may go furthest first, so that less has to be seen of the others. Each round knows
    /// what those before it found, and is half as large as all of them together.
    fn rounds<'s>(&self, stretches: &'s [u64]) -> Vec<Vec<Batch<'s>>> {
        let each = (stretches.len() as u64).div_ceil(BATCHES).max(1);
        let mut batches: Vec<(Batch<'_>, usize)> =
            stretches.chunks(each as usize).map(|batch| (batch, 0)).collect();
        self.count_leads(&mut batches);
        batches.sort_by_key(|(_, leads)| std::cmp::Reverse(*leads));
        let (mut rounds, mut rest) = (Vec::new(), batches.as_slice());
        while !rest.is_empty() {
            let known = batches.len() - rest.len();
            let (round, others) = rest.split_at((known / 2).max(SMALLEST_ROUND).min(rest.len()));
            rounds.push(round.iter().map(|(batch, _)| *batch).collect());
            rest = others;
        }
        rounds
    }

    /// Counts for each batch the coordinates' derivatives of which its layers' envelopes allow most.
    fn count_leads(&self, batches: &mut [(Batch<'_>, usize)]) {
        let stretch_s = (STRETCH * BLOCK as u64) as f64 * self.plan.rate().step_s();
        let axes = self.plan.rig().axes.len();
        let mut best = vec![[(0.0, 0); 4]; axes];
        let mut sup = vec![Majorant::default(); axes];
        for (at, (batch, _)) in batches.iter().enumerate() {
            let (Some(first), Some(last)) = (batch.first(), batch.last()) else { continue };
            self.plan.majorants(*first as f64 * stretch_s, (last + 1) as f64 * stretch_s, &mut sup);
            for (best, sup) in best.iter_mut().zip(&sup) {
                for (best, value) in best.iter_mut().zip(sup.0) {
                    if value > best.0 {
                        *best = (value, at);
                    }
                }
            }
        }
        let leaders = best.into_iter().flatten().filter(|(value, _)| *value > 0.0);
        leaders.for_each(|(_, at)| batches[at].1 += 1);
    }

    /// Some stretches, and those of them that come near a limit.
    fn batch(&self, stretches: Batch<'_>, floor: &Floor) -> (Tally, Vec<(u64, Vec<Extreme>)>) {
        let (mut sum, mut near, mut floor) = (self.nothing(), Vec::new(), floor.clone());
        for stretch in stretches {
            let tally = self.stretch(*stretch, &floor);
            floor.raise(&tally);
            sum.merge(&tally);
            if tally.extremes.iter().any(|extreme| extreme.used > KEPT) {
                near.push((*stretch, tally.extremes));
            }
        }
        (sum, near)
    }

    /// The windows that begin in some blocks.
    fn windows(&self, blocks: Range<u64>) -> Tally {
        let mut sum = self.nothing();
        if let Some(mut windows) = band_share::Windows::new(self.plan) {
            windows.of_blocks(self.plan, blocks, &mut sum.bands);
        }
        sum
    }

    /// How far the furthest gauge is used in some stretches.
    pub(super) fn most_used(&self, stretches: &[u64], workers: &impl Workers) -> f64 {
        let (mut floor, mut most) = (Floor::new(self), 0.0_f64);
        for round in self.rounds(stretches) {
            let sums = workers.map(round.len() as u64, |at| self.batch(round[at as usize], &floor).0);
            sums.iter().for_each(|sum| floor.raise(sum));
            most =
                sums.iter().flat_map(|sum| &sum.extremes).fold(most, |most, extreme| most.max(extreme.used));
        }
        most
    }

    fn nothing(&self) -> Tally {
        let rig = self.plan.rig();
        let expectations =
            self.plan.scenario().expectations.iter().map(|_| expectation::Sum::default()).collect();
        Tally {
            extremes: self.gauges.iter().map(Extreme::none).collect(),
            expectations,
            bands: band_share::Worst::none(rig),
        }
    }

    fn drawn(&self, leg: usize) -> Vec<(usize, Quantity)> {
        let speaks = |(at, gauge): (usize, &Gauge)| {
            let curve = matches!(gauge.quantity, Quantity::Stroke | Quantity::Speed | Quantity::Acceleration);
            (curve && gauge.part == Part::Leg(leg)).then_some((at, gauge.quantity))
        };
        self.gauges.iter().enumerate().filter_map(speaks).collect()
    }

    fn stretch(&self, stretch: u64, floor: &Floor) -> Tally {
        let mut tally = self.nothing();
        for ((extreme, gauge), known) in tally.extremes.iter_mut().zip(self.gauges).zip(&floor.gauges) {
            // Only what can be the furthest of all, or pass a limit, matters.
            *extreme = Extreme::ignoring(gauge, known.min(KEPT));
        }
        let mut walk = Walk {
            sweep: self,
            tally,
            frames: self.plan.frames(),
            closer: self.plan.frames(),
            between: Between::new(self.plan),
            coarse: Coarse::new(self.plan),
            knots: vec![[0.0; 4]; self.plan.rig().actuators.len()],
            newest: None,
            drawn: (0..self.plan.rig().actuators.len()).map(|leg| self.drawn(leg)).collect(),
        };
        let last = ((stretch + 1) * STRETCH).min(self.plan.blocks());
        for block in stretch * STRETCH..last {
            let start_s = self.plan.rate().at_s(block * BLOCK as u64);
            if self.plan.is_idle(start_s, start_s + self.plan.rate().step_s() * BLOCK as f64) {
                walk.finish_curve();
                continue;
            }
            walk.between.set(self.plan, block);
            let due = walk.due(block);
            let looked_at = due.iter().any(|due| *due);
            let watching = if self.whole { walk.watching(block, floor) } else { Vec::new() };
            if looked_at || !watching.is_empty() {
                self.plan.render(block, &mut walk.frames);
            }
            walk.expectations(block, &watching);
            if looked_at {
                walk.block(block, &due);
            } else {
                walk.finish_curve();
            }
        }
        walk.finish_curve();
        walk.tally.extremes.iter_mut().zip(self.gauges).for_each(|(extreme, gauge)| extreme.settle(gauge));
        walk.tally
    }
}

struct Walk<'a> {
    sweep: &'a Sweep<'a>,
    tally: Tally,
    frames: Frames,
    /// For looks between samples.
    closer: Frames,
    between: Between,
    coarse: Coarse,
    /// For each leg, the last four set-points that the drive's curve is being drawn through.
    knots: Vec<[f64; 4]>,
    /// Tick of the newest set-point, while curves are being drawn.
    newest: Option<u64>,
    /// For each leg, the gauges that its drive's curve speaks to.
    drawn: Vec<Vec<(usize, Quantity)>>,
}

impl Walk<'_> {
    /// The gauges that every sample of a block has to be held against: from its bounds alone, then from a first look.
    fn due(&mut self, block: u64) -> Vec<bool> {
        let Sweep { plan, gauges, .. } = self.sweep;
        let extremes = &mut self.tally.extremes;
        let open = |(gauge, extreme): (&Gauge, &Extreme)| {
            let most = self.between.most_used(plan.rig(), gauge);
            most >= extreme.used
        };
        let mut due: Vec<bool> = gauges.iter().zip(extremes.iter()).map(open).collect();
        if !due.iter().any(|due| *due) {
            return due;
        }
        self.coarse.look(plan, block);
        let is_stopping = |gauge: &Gauge| gauge.quantity == Quantity::Stopping;
        if gauges.iter().zip(&due).any(|(gauge, due)| *due && is_stopping(gauge)) {
            let settled = self.coarse.stopping(plan, &self.between, gauges, extremes);
            gauges
                .iter()
                .zip(&mut due)
                .filter(|(gauge, _)| is_stopping(gauge))
                .for_each(|(_, due)| *due &= !settled);
        }
        for ((gauge, due), extreme) in gauges.iter().zip(&mut due).zip(extremes) {
            if *due && !is_stopping(gauge) {
                *due = self.coarse.most_used(plan, &self.between, gauge) >= extreme.used;
            }
        }
        due
    }

    /// The expectations that every sample of a block has to be held against.
    fn watching(&mut self, block: u64, floor: &Floor) -> Vec<usize> {
        let plan = self.sweep.plan;
        if plan.scenario().expectations.iter().any(|expectation| expectation.line.is_some()) {
            self.coarse.look(plan, block);
        }
        let seen = (&self.between, &self.coarse);
        let sums = self.tally.expectations.iter_mut().zip(&plan.scenario().expectations).zip(&floor.peaks);
        let needed = |((sum, e), known): ((&mut expectation::Sum, _), &f64)| {
            sum.needs_samples(plan, e, block, seen, *known)
        };
        sums.map(needed).enumerate().filter_map(|(at, needed)| needed.then_some(at)).collect()
    }

    fn expectations(&mut self, block: u64, watching: &[usize]) {
        let plan = self.sweep.plan;
        for at in watching {
            let expectation = &plan.scenario().expectations[*at];
            self.tally.expectations[*at].add(plan, expectation, block, &self.frames, &self.between);
        }
    }

    /// The sampled gauges of a rendered block.
    fn block(&mut self, block: u64, due: &[bool]) {
        let plan = self.sweep.plan;
        let first = block * BLOCK as u64;
        for (at, gauge) in self.sweep.gauges.iter().enumerate() {
            if !due[at] || gauge.quantity == Quantity::Stopping {
                continue;
            }
            let order = gauge.quantity.order();
            let row = gauge.part.row(&self.frames, order);
            let extreme = &mut self.tally.extremes[at];
            let allowance = self.between.allowance(gauge.part, order);
            let matters = |peak: f64| {
                let outward = if peak < gauge.rest { -allowance } else { allowance };
                gauge.used(peak + outward) > extreme.used
            };
            if extremes(row).into_iter().any(matters) {
                self.between.take(plan, gauge, order, (first, row), extreme, &mut self.closer);
            }
        }
        if self.drawn.iter().flatten().any(|(at, _)| due[*at]) {
            self.curve(block);
        } else {
            self.finish_curve();
        }
        let stopping = |g: &&Gauge| g.quantity == Quantity::Stopping;
        if self.sweep.gauges.iter().zip(due).any(|(g, due)| *due && stopping(&g)) {
            self.stopping(first);
        }
    }

    /// Draws the drive's curves on through the set-points of this block.
    fn curve(&mut self, block: u64) {
        let (m, first) = (self.sweep.steps_per_cycle, block * BLOCK as u64);
        let mut tick = first.next_multiple_of(m);
        if self.newest.is_none_or(|newest| newest + m != tick) {
            // At most three set-points before it were not rendered.
            for back in (1..=3).rev() {
                self.draw_to_instant(tick as f64 - (back * m) as f64);
            }
        }
        while tick < first + self.frames.count as u64 {
            for leg in 0..self.knots.len() {
                self.push_knot(leg, self.frames.legs[leg].0[0][(tick - first) as usize]);
            }
            self.take_segments(tick);
            self.newest = Some(tick);
            tick += m;
        }
    }

    /// The two set-points after the newest, which close its segments, when rendering does not go on.
    fn finish_curve(&mut self) {
        let m = self.sweep.steps_per_cycle;
        if let Some(newest) = self.newest.take() {
            for on in 1..=2 {
                self.draw_to_instant((newest + on * m) as f64);
                self.take_segments(newest + on * m);
            }
        }
    }

    /// Set-points that were not rendered.
    fn draw_to_instant(&mut self, tick: f64) {
        let plan = self.sweep.plan;
        let mut platform = [Jet::default(); 6];
        let platform = &mut platform[..plan.rig().axes.len()];
        plan.platform_at(tick * plan.rate().step_s(), platform);
        for leg in 0..self.knots.len() {
            self.push_knot(leg, kinematics::leg_jet(plan.rig(), leg, platform).0[0]);
        }
    }

    fn push_knot(&mut self, leg: usize, length_m: f64) {
        let knots = &mut self.knots[leg];
        *knots = [knots[1], knots[2], knots[3], length_m];
    }

    /// The drive's curves between the middle two of the last four set-points, the newest of which is at `tick`.
    fn take_segments(&mut self, tick: u64) {
        let (plan, m) = (self.sweep.plan, self.sweep.steps_per_cycle);
        let drive = &plan.rig().drive;
        let at_s = plan.rate().at_s(tick.saturating_sub(2 * m));
        for (knots, drawn) in self.knots.iter().zip(&self.drawn) {
            let segment = segment(drive.interpolation, *knots, f64::from(drive.cycle_us) * 1e-6);
            for (at, quantity) in drawn {
                let range = match quantity {
                    Quantity::Stroke => segment.position,
                    Quantity::Speed => segment.speed,
                    _ => segment.acceleration,
                };
                let (extreme, gauge) = (&mut self.tally.extremes[*at], &self.sweep.gauges[*at]);
                extreme.take(gauge, range.0, 0.0, at_s);
                extreme.take(gauge, range.1, 0.0, at_s);
            }
        }
    }

    /// Where the platform would stop from every sample of this block.
    fn stopping(&mut self, first: u64) {
        let (plan, step_s) = (self.sweep.plan, self.sweep.plan.rate().step_s());
        let mut platform = [Jet::default(); 6];
        let platform = &mut platform[..plan.rig().axes.len()];
        for k in 0..self.frames.count {
            platform.iter_mut().zip(&self.frames.platform).for_each(|(jet, block)| *jet = block.at(k));
            let rest = stopping_room::rest(plan.rig(), platform);
            let allowances = stopping_room::Allowances::new(
                &self.frames,
                &self.between,
                k..k + 1,
                step_s,
                step_s / 2.0,
                rest.as_ref(),
            );
            let at_s = plan.rate().at_s(first + k as u64);
            allowances.take(rest.as_ref(), at_s, self.sweep.gauges, &mut self.tally.extremes);
        }
    }
}

/// Lowest and highest value, in four lanes so that the compiler keeps them in one register; both not a number when any
/// value is none, for a comparison would pass it over.
fn extremes(row: &[f64]) -> [f64; 2] {
    let (mut low, mut high, mut finite) = ([f64::INFINITY; 4], [f64::NEG_INFINITY; 4], [0.0; 4]);
    let lanes = row.chunks_exact(4);
    let rest = lanes.remainder();
    for values in lanes {
        for lane in 0..4 {
            low[lane] = if values[lane] < low[lane] { values[lane] } else { low[lane] };
            high[lane] = if values[lane] > high[lane] { values[lane] } else { high[lane] };
            finite[lane] += values[lane] * 0.0;
        }
    }
    if finite.iter().sum::<f64>() != 0.0 || rest.iter().any(|value| !value.is_finite()) {
        return [f64::NAN; 2];
    }
    let low = low.iter().chain(rest).copied().fold(f64::INFINITY, f64::min);
    let high = high.iter().chain(rest).copied().fold(f64::NEG_INFINITY, f64::max);
    [low, high]
}
