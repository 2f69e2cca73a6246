//! The whole motion for the eye: smallest and largest of every sixteen samples of every row, and of more above them.
//!
//! Nothing is averaged: a peak of one sample shows at every zoom. Chunks are shared between one motion and the next, so
//! that an edit costs what it changed.

use crate::motion::{Frames, Plan};
use crate::signal::BLOCK;
use std::sync::Arc;

/// Samples in a cell.
pub const CELL: usize = 16;
/// Blocks in a chunk: 4.1 s at 1 kHz.
const CHUNK_BLOCKS: usize = 16;
/// Samples in a chunk.
pub const CHUNK: usize = CHUNK_BLOCKS * BLOCK;
const CELLS: usize = CHUNK / CELL;
/// Rows of a channel: value, rate, acceleration, jerk.
pub const ORDERS: usize = 4;

/// Smallest and largest value of some samples, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extent {
    /// Smallest.
    pub low: f32,
    /// Largest.
    pub high: f32,
}

impl Extent {
    /// Of no samples.
    pub const NONE: Self = Self { low: f32::INFINITY, high: f32::NEG_INFINITY };

    /// Widens it to hold `other`.
    pub fn take(&mut self, other: Self) {
        self.low = self.low.min(other.low);
        self.high = self.high.max(other.high);
    }

    /// Whether there are no samples in it.
    pub fn is_none(&self) -> bool {
        self.low > self.high
    }
}

/// One row of a chunk.
#[derive(Debug, Clone, PartialEq)]
struct Row {
    cells: Box<[Extent]>,
    blocks: [Extent; CHUNK_BLOCKS],
    whole: Extent,
}

/// A chunk: rows of platform coordinates, then of legs, four orders each.
#[derive(Debug, PartialEq)]
pub struct Chunk {
    rows: Vec<Row>,
}

impl Chunk {
    /// Renders chunk `number` of a plan.
    pub fn render(plan: &Plan, number: usize, frames: &mut Frames) -> Self {
        let channels = plan.rig().axes.len() + plan.rig().actuators.len();
        let empty = || Row {
            cells: vec![Extent::NONE; CELLS].into(),
            blocks: [Extent::NONE; CHUNK_BLOCKS],
            whole: Extent::NONE,
        };
        let mut rows: Vec<Row> = (0..channels * ORDERS).map(|_| empty()).collect();
        for block in 0..CHUNK_BLOCKS {
            let at = (number * CHUNK_BLOCKS + block) as u64;
            if at >= plan.blocks() {
                break;
            }
            plan.render(at, frames);
            let blocks = frames.platform.iter().chain(&frames.legs);
            let orders = blocks.flat_map(|jets| jets.0.iter());
            for (row, values) in rows.iter_mut().zip(orders) {
                let cells = row.cells.iter_mut().skip(block * (BLOCK / CELL));
                for (cell, values) in cells.zip(values[..frames.count].chunks(CELL)) {
                    for value in values {
                        let value = *value as f32;
                        cell.take(Extent { low: value, high: value });
                    }
                    row.blocks[block].take(*cell);
                }
                let block = row.blocks[block];
                row.whole.take(block);
            }
        }
        Self { rows }
    }
}

/// Every row of a motion.
#[derive(Debug, Clone)]
pub struct Traces {
    /// Samples a second.
    pub rate_hz: f64,
    /// Samples in all.
    pub samples: usize,
    /// `None` where it has not been rendered yet.
    chunks: Vec<Option<Arc<Chunk>>>,
}

impl Traces {
    /// Nothing rendered yet.
    pub fn of(plan: &Plan) -> Self {
        let samples = plan.samples() as usize;
        Self { rate_hz: f64::from(plan.rate().hz()), samples, chunks: vec![None; samples.div_ceil(CHUNK)] }
    }

    /// How many chunks.
    pub fn count(&self) -> usize {
        self.chunks.len()
    }

    /// Puts a chunk in.
    pub fn put(&mut self, number: usize, chunk: Arc<Chunk>) {
        if let Some(place) = self.chunks.get_mut(number) {
            *place = Some(chunk);
        }
    }

    /// A chunk, if it is there.
    pub fn chunk(&self, number: usize) -> Option<&Arc<Chunk>> {
        self.chunks.get(number)?.as_ref()
    }

    /// Numbers of the chunks that are missing.
    pub fn missing(&self) -> impl Iterator<Item = usize> + '_ {
        self.chunks.iter().enumerate().filter(|(_, chunk)| chunk.is_none()).map(|(number, _)| number)
    }

    /// The extent of `row` over samples `from..to`, widened to whole cells; `None` where nothing is rendered.
    pub fn extent(&self, row: usize, from: usize, to: usize) -> Option<Extent> {
        let (mut sum, to) = (Extent::NONE, to.min(self.samples));
        let mut at = from - from % CELL;
        while at < to {
            let (number, inside) = (at / CHUNK, at % CHUNK);
            let Some(row) = self.chunk(number).and_then(|chunk| chunk.rows.get(row)) else {
                at = (number + 1) * CHUNK;
                continue;
            };
            if inside == 0 && to >= at + CHUNK {
                sum.take(row.whole);
                at += CHUNK;
            } else if inside.is_multiple_of(BLOCK) && to >= at + BLOCK {
                sum.take(row.blocks.get(inside / BLOCK).copied().unwrap_or(Extent::NONE));
                at += BLOCK;
            } else {
                sum.take(row.cells.get(inside / CELL).copied().unwrap_or(Extent::NONE));
                at += CELL;
            }
        }
        (!sum.is_none()).then_some(sum)
    }

    /// About how many bytes the chunks take, shared ones counted once each time they stand here.
    pub fn bytes(&self) -> usize {
        let row = |row: &Row| row.cells.len() * size_of::<Extent>() + size_of::<Row>();
        self.chunks.iter().flatten().map(|chunk| chunk.rows.iter().map(row).sum::<usize>()).sum()
    }
}

/// Which row of the traces holds an order of a platform coordinate or, after those, of a leg.
pub fn row(channel: usize, order: usize) -> usize {
    channel * ORDERS + order
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::sample::scene;
    use crate::desk::variant::Variant;
    use crate::time::SampleRate;
    use proptest::prelude::*;

    fn rendered(body: &str) -> (Plan, Traces) {
        let understood = scene(body);
        let (scenario, rig) = (understood.scenario.unwrap(), understood.rig.unwrap());
        let plan = Variant::default().plan(&scenario, &rig, SampleRate::new(1000).unwrap()).unwrap();
        let (mut traces, mut frames) = (Traces::of(&plan), plan.frames());
        for number in 0..traces.count() {
            traces.put(number, Arc::new(Chunk::render(&plan, number, &mut frames)));
        }
        (plan, traces)
    }

    #[test]
    fn every_zoom_keeps_the_peak_of_a_short_knock() {
        let (plan, traces) = rendered("at 5 s  pitch ring(0.3 deg, 40 Hz)\nat 11 s roll pulse(1 deg, 1 s)");
        assert_eq!(traces.samples as u64, plan.samples());
        let peak = traces.extent(0, 0, traces.samples).unwrap().high;
        assert!((f64::from(peak).to_degrees() - 0.3).abs() < 0.01, "{}", peak.to_degrees());
        for width in [16, 50, 256, 1000, 4096, 7000] {
            let most = (0..traces.samples.div_ceil(width))
                .filter_map(|k| traces.extent(0, k * width, (k + 1) * width))
                .fold(f32::MIN, |most, extent| most.max(extent.high));
            assert_eq!(most, peak, "{width}");
        }
        // The legs stand after the two coordinates; at rest they are as long as when level.
        let leg = traces.extent(row(2, 0), 0, 16).unwrap();
        assert!((leg.low - 0.58).abs() < 1e-6 && leg.low == leg.high, "{leg:?}");
        assert_eq!(traces.extent(0, 20_000, 20_100), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        #[test]
        fn a_stretch_holds_each_of_its_samples(from in 0usize..11_000, length in 1usize..3000) {
            use std::sync::OnceLock;
            static ONCE: OnceLock<(Plan, Traces)> = OnceLock::new();
            let (plan, traces) = ONCE.get_or_init(|| rendered("pitch noise(0.3 deg, 1 Hz..9 Hz) for 12 s rise 1 s fall 1 s"));
            let extent = traces.extent(0, from, from + length).unwrap();
            let mut frames = plan.frames();
            let (mut low, mut high) = (f32::MAX, f32::MIN);
            for sample in from..(from + length).min(traces.samples) {
                plan.render_platform((sample / BLOCK) as u64, &mut frames);
                let value = frames.platform[0].0[0][sample % BLOCK] as f32;
                low = low.min(value);
                high = high.max(value);
            }
            prop_assert!(extent.low <= low && extent.high >= high);
            // And no more than the cells around it.
            let wide = traces.extent(0, from.saturating_sub(CELL), from + length + CELL).unwrap();
            prop_assert!(extent.low >= wide.low && extent.high <= wide.high);
        }
    }
}
