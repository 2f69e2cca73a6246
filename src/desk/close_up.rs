//! Single samples of the stretch in view, when a pixel holds fewer than a cell of them.

use super::compiler::Motion;
use super::traces::{Extent, ORDERS};
use crate::signal::BLOCK;
use std::sync::Arc;

/// Samples `first ..` of every row of a motion.
#[derive(Debug)]
pub struct CloseUp {
    motion: Arc<Motion>,
    first: usize,
    rows: Vec<Vec<f32>>,
}

impl CloseUp {
    /// Keeps `kept` as it is when it holds samples `range` of this motion; renders them, and some around, when not.
    pub fn keep(kept: &mut Option<Self>, motion: &Arc<Motion>, (from, to): (usize, usize)) {
        let to = to.min(motion.traces.samples);
        if let Some(kept) = kept
            && Arc::ptr_eq(&kept.motion, motion)
            && kept.first <= from
            && kept.first + kept.rows.first().map_or(0, Vec::len) >= to
        {
            return;
        }
        let plan = &motion.plan;
        let around = to.saturating_sub(from) / 4;
        let (first, last) = (from.saturating_sub(around) / BLOCK, (to + around).div_ceil(BLOCK) as u64);
        let mut frames = plan.frames();
        let channels = plan.rig().axes.len() + plan.rig().actuators.len();
        let mut rows = vec![Vec::new(); channels * ORDERS];
        for block in first as u64..last.min(plan.blocks()) {
            plan.render(block, &mut frames);
            let jets = frames.platform.iter().chain(&frames.legs).flat_map(|jets| jets.0.iter());
            for (row, values) in rows.iter_mut().zip(jets) {
                row.extend(values[..frames.count].iter().map(|value| *value as f32));
            }
        }
        *kept = Some(Self { motion: motion.clone(), first: first * BLOCK, rows });
    }

    /// The extent of a row over the stretch `from..to` (samples, parts of them too): of the samples in it, and of the
    /// straight lines to its neighbours. `None` outside of what is held.
    pub fn extent(&self, row: usize, from: f64, to: f64) -> Option<Extent> {
        let row = self.rows.get(row)?;
        let last = row.len().checked_sub(1)? as f64;
        let (from, to) = (from - self.first as f64, to - self.first as f64);
        if to < 0.0 || from > last {
            return None;
        }
        let at = |place: f64| {
            let place = place.clamp(0.0, last);
            let (before, part) = (place.floor() as usize, (place - place.floor()) as f32);
            let (a, b) = (row[before], row[(before + 1).min(row.len() - 1)]);
            a + (b - a) * part
        };
        let (a, b) = (at(from), at(to));
        let mut extent = Extent { low: a.min(b), high: a.max(b) };
        let inside = (from.ceil().max(0.0) as usize)..((to.floor().max(0.0) as usize + 1).min(row.len()));
        for value in row.get(inside).unwrap_or_default() {
            extent.low = extent.low.min(*value);
            extent.high = extent.high.max(*value);
        }
        Some(extent)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::sample::scene;
    use crate::desk::traces::Traces;
    use crate::desk::variant::Variant;
    use crate::time::SampleRate;

    #[test]
    fn single_samples_are_shown_as_they_are() {
        let understood = Arc::new(scene("at 1 s  pitch ring(0.3 deg, 40 Hz)"));
        let (scenario, rig) = (understood.scenario.clone().unwrap(), understood.rig.clone().unwrap());
        let plan = Variant::default().plan(&scenario, &rig, SampleRate::new(1000).unwrap()).unwrap();
        let traces = Traces::of(&plan);
        let motion = Arc::new(Motion {
            plan: plan.clone(),
            traces,
            complete: false,
            variant: Variant::default(),
            understood,
        });
        let mut kept = None;
        CloseUp::keep(&mut kept, &motion, (1000, 1300));
        let close_up = kept.as_ref().unwrap();
        let mut frames = plan.frames();
        plan.render(4, &mut frames);
        let (a, b) = (frames.platform[0].0[0][10] as f32, frames.platform[0].0[0][11] as f32);
        let seen = close_up.extent(0, 1034.0, 1035.0).unwrap();
        assert_eq!((seen.low, seen.high), (a.min(b), a.max(b)));
        let half = close_up.extent(0, 1034.5, 1034.5).unwrap();
        assert!((half.low - (a + b) / 2.0).abs() < 1e-7);
        assert_eq!(close_up.extent(0, 1e6, 1e6 + 1.0), None);
        // Looking nearby renders nothing anew.
        let first = close_up.first;
        CloseUp::keep(&mut kept, &motion, (1010, 1200));
        assert_eq!(kept.unwrap().first, first);
    }
}
