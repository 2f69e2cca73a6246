//! What holds the platform still at each pose of two axes.

use super::limits::Used;
use super::reach_map::ReachMap;
use crate::rig::{Rig, gravity_legs_n};

/// About so many columns and rows: as many numbers as can be read.
const ACROSS: usize = 24;

/// Holding forces over the poses that the rig reaches.
#[derive(Debug, Clone, PartialEq)]
pub struct ForceMap {
    /// Columns of the reach map that were looked at.
    pub columns: Vec<usize>,
    /// Its rows.
    pub rows: Vec<usize>,
    /// Row after row: one force a leg, N, + pushes; `None` where the rig does not reach.
    pub forces_n: Vec<Option<Vec<f64>>>,
}

impl ForceMap {
    /// The force of `leg` at column `i`, row `k` of this map, N.
    pub fn at(&self, leg: usize, i: usize, k: usize) -> Option<f64> {
        self.forces_n.get(k * self.columns.len() + i)?.as_ref()?.get(leg).copied()
    }

    /// Smallest and largest force of `leg`, N; `None` when no pose is reached.
    pub fn range_n(&self, leg: usize) -> Option<(f64, f64)> {
        let forces = self.forces_n.iter().flatten().filter_map(|forces| forces.get(leg).copied());
        forces.fold(None, |range, force| match range {
            None => Some((force, force)),
            Some((low, high)) => Some((f64::min(low, force), f64::max(high, force))),
        })
    }
}

/// Holding forces on every so many cells of a reach map, level among them.
pub fn force_map(rig: &Rig, map: &ReachMap) -> ForceMap {
    let columns = thinned(map.across.first, map.across.step, map.across.count);
    let rows = thinned(map.up.first, map.up.step, map.up.count);
    let mut q = map.held.clone();
    let mut forces_n = Vec::with_capacity(columns.len() * rows.len());
    for k in &rows {
        for i in &columns {
            for (axis, at) in [(map.across, *i), (map.up, *k)] {
                if let Some(slot) = q.get_mut(axis.index) {
                    *slot = axis.at(at);
                }
            }
            let fits = map.at(*i, *k).is_some_and(Used::fits);
            forces_n.push(if fits { gravity_legs_n(rig, &q) } else { None });
        }
    }
    ForceMap { columns, rows, forces_n }
}

/// Every n-th of `count` values, the one at zero among them.
fn thinned(first: f64, step: f64, count: usize) -> Vec<usize> {
    let every = count.div_ceil(ACROSS).max(1);
    let zero = (-first / step).round().max(0.0) as usize;
    (zero % every..count).step_by(every).collect()
}

#[cfg(test)]
mod tests {
    use super::super::reach_map::{map_axes, reach_map};
    use super::*;
    use crate::rig::sample::two_legs;

    /// The worked example: -65.4 N on each leg at level with 9.81 m/s^2, and a sign that turns inside the range.
    #[test]
    fn level_is_the_worked_example() {
        let rig = two_legs();
        let map = reach_map(&rig, map_axes(&rig).unwrap(), &[]).unwrap();
        let forces = force_map(&rig, &map);
        let i = forces.columns.iter().position(|i| map.across.at(*i) == 0.0).unwrap();
        let k = forces.rows.iter().position(|k| map.up.at(*k) == 0.0).unwrap();
        let expected = -65.4 * crate::units::STANDARD_GRAVITY_M_S2 / 9.81;
        assert!((forces.at(0, i, k).unwrap() - expected).abs() < 1e-9);
        let (low, high) = forces.range_n(1).unwrap();
        assert!(low < -100.0 && high > 20.0, "{low} {high}");
        assert!(forces.columns.len() <= ACROSS + 1 && forces.forces_n.iter().any(Option::is_none));
    }
}
