//! A whole plan as few columns: the smallest and the largest value in each. Never a mean: a peak stays a peak.

use super::{Frames, Plan};
use crate::signal::BLOCK;

/// Derivatives that are looked at: value, rate, acceleration.
const ORDERS: usize = 3;

/// Smallest and largest value in each column.
pub type Trace = Vec<(f64, f64)>;

/// Platform and legs of a plan, in columns of equal length.
#[derive(Debug, Clone, PartialEq)]
pub struct Envelope {
    /// Scene time of a column, s.
    pub column_s: f64,
    /// For each coordinate (rig's order and signs): value, rate, acceleration.
    pub platform: Vec<[Trace; ORDERS]>,
    /// The same for each leg's length.
    pub legs: Vec<[Trace; ORDERS]>,
}

/// Renders the whole plan into at most `columns` columns (at least one). Every sample counts. `progress` hears a share
/// 0..1.
pub fn envelope(plan: &Plan, columns: usize, progress: &dyn Fn(f64)) -> Envelope {
    let samples = plan.samples().max(1);
    let wanted = (columns.max(1) as u64).min(samples);
    let per_column = samples.div_ceil(wanted);
    let columns = samples.div_ceil(per_column) as usize;
    let empty = || vec![(f64::INFINITY, f64::NEG_INFINITY); columns];
    let rows = |count: usize| (0..count).map(|_| [empty(), empty(), empty()]).collect::<Vec<_>>();
    let (mut platform, mut legs) = (rows(plan.rig().axes.len()), rows(plan.rig().actuators.len()));
    let mut frames: Frames = plan.frames();
    let blocks = plan.blocks();
    for block in 0..blocks {
        plan.render(block, &mut frames);
        let first = block * BLOCK as u64;
        let both = [(&mut platform, &frames.platform), (&mut legs, &frames.legs)];
        for (traces, jets) in both {
            for (trace, jet) in traces.iter_mut().zip(jets) {
                for (trace, values) in trace.iter_mut().zip(jet.0.iter()) {
                    take(trace, first, per_column, values.get(..frames.count).unwrap_or(values));
                }
            }
        }
        progress((block + 1) as f64 / blocks as f64);
    }
    Envelope { column_s: per_column as f64 * plan.rate().step_s(), platform, legs }
}

fn take(trace: &mut Trace, first: u64, per_column: u64, values: &[f64]) {
    for (k, value) in values.iter().enumerate() {
        let column = ((first + k as u64) / per_column) as usize;
        if let Some((low, high)) = trace.get_mut(column) {
            *low = low.min(*value);
            *high = high.max(*value);
        }
    }
}
