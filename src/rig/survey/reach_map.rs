//! Which poses of two axes the rig reaches while the others are held, and what ends each of the rest.

use super::limits::{Limits, Used};
use super::{ANGLE_STEP_RAD, LENGTH_STEP_M};
use crate::rig::{Axis, Rig};

/// How far beyond the range of the file a map goes, as a share of its span: so that it shows what the legs would allow.
const BEYOND: f64 = 0.15;
/// Most points along one axis; a wider range is looked at in larger steps.
const MOST_POINTS: usize = 1201;

/// One axis of a map.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapAxis {
    /// Which.
    pub axis: Axis,
    /// Its place in the rig's order.
    pub index: usize,
    /// First value, rad or m: a whole number of steps from zero.
    pub first: f64,
    /// Step, rad or m.
    pub step: f64,
    /// How many values.
    pub count: usize,
}

impl MapAxis {
    /// Over the range of axis `index` and a little beyond, in steps of about `step`, level among them.
    fn of(rig: &Rig, index: usize) -> Option<Self> {
        let limits = rig.axes.get(index)?;
        let mut step = if limits.axis.is_rotation() { ANGLE_STEP_RAD } else { LENGTH_STEP_M };
        let beyond = BEYOND * (limits.max - limits.min);
        let (low, high) = ((limits.min - beyond).min(0.0), (limits.max + beyond).max(0.0));
        while (high - low) / step > (MOST_POINTS - 3) as f64 {
            step *= 2.0;
        }
        let (from, to) = ((low / step).floor(), (high / step).ceil());
        Some(Self { axis: limits.axis, index, first: from * step, step, count: (to - from) as usize + 1 })
    }

    /// Value number `k`, rad or m.
    pub fn at(&self, k: usize) -> f64 {
        self.first + self.step * k as f64
    }
}

/// Where a rig reaches in two of its axes.
#[derive(Debug, Clone, PartialEq)]
pub struct ReachMap {
    /// From left to right.
    pub across: MapAxis,
    /// From bottom to top.
    pub up: MapAxis,
    /// Row after row from the bottom, each from the left.
    pub cells: Vec<Used>,
    /// The pose of the other axes: coordinates in the rig's order; those of `across` and `up` are zero.
    pub held: Vec<f64>,
}

impl ReachMap {
    /// The cell at column `i`, row `k`.
    pub fn at(&self, i: usize, k: usize) -> Option<Used> {
        (i < self.across.count).then(|| self.cells.get(k * self.across.count + i).copied())?
    }

    /// How many cells fit.
    pub fn fitting(&self) -> usize {
        self.cells.iter().filter(|cell| cell.fits()).count()
    }
}

/// The two axes of a rig's map, across and up: roll and pitch where it has them, else its first two. `None` for a rig
/// of one axis.
pub fn map_axes(rig: &Rig) -> Option<(usize, usize)> {
    let at = |axis: Axis| rig.axes.iter().position(|limits| limits.axis == axis);
    at(Axis::Roll).zip(at(Axis::Pitch)).or((rig.axes.len() >= 2).then_some((0, 1)))
}

/// The map over axes `across` and `up` (places in the rig's order) with the others held at `held` (a missing one is
/// zero). `None` when an axis is not there.
pub fn reach_map(rig: &Rig, (across, up): (usize, usize), held: &[f64]) -> Option<ReachMap> {
    let (across, up) = (MapAxis::of(rig, across)?, MapAxis::of(rig, up)?);
    let mut q = vec![0.0; rig.axes.len()];
    q.iter_mut().zip(held).for_each(|(slot, value)| *slot = *value);
    for axis in [across, up] {
        *q.get_mut(axis.index)? = 0.0;
    }
    let held = q.clone();
    let limits = Limits::of(rig);
    let mut cells = Vec::with_capacity(across.count * up.count);
    for k in 0..up.count {
        *q.get_mut(up.index)? = up.at(k);
        for i in 0..across.count {
            *q.get_mut(across.index)? = across.at(i);
            cells.push(limits.used(&q));
        }
    }
    Some(ReachMap { across, up, cells, held })
}

#[cfg(test)]
mod tests {
    use super::super::limits::Limit;
    use super::*;
    use crate::rig::sample::{lift, six_legs, two_legs};

    #[test]
    fn the_map_says_what_one_pose_says() {
        let rig = two_legs();
        let map = reach_map(&rig, map_axes(&rig).unwrap(), &[]).unwrap();
        assert_eq!((map.across.axis, map.up.axis), (Axis::Roll, Axis::Pitch));
        // 0.4 rad either way and 15 % of 0.8 rad: 0.52 rad are 119.2 steps of a quarter of a degree.
        assert_eq!((map.across.count, map.up.count), (241, 241));
        assert_eq!(map.cells.len(), 241 * 241);
        let level = map.at(120, 120).unwrap();
        assert_eq!((level.share, map.across.at(120), map.up.at(120)), (0.0, 0.0, 0.0));
        let (roll, pitch) = (map.across.at(180), map.up.at(30));
        assert_eq!(map.at(180, 30).unwrap(), Limits::of(&rig).used(&[pitch, roll]));
        assert_eq!(map.at(241, 0), None);
    }

    /// Arms of 0.45 m and 0.3 m: 0.39 m of travel in the corner, 0.16 m at the side, where the range is nearer.
    #[test]
    fn each_side_has_its_limit() {
        let mut rig = two_legs();
        // 0.55 m at level: 0.14 m to the lower soft stop.
        rig.actuators.iter_mut().for_each(|leg| leg.min_m = 0.4);
        let map = reach_map(&rig, (1, 0), &[]).unwrap();
        let right = map.at(240, 120).unwrap();
        assert!(matches!(right.limit, Limit::Range(1)) && !right.fits(), "{right:?}");
        // Nose up: the legs behind the joint grow shorter.
        let corner = map.at(240, 240).unwrap();
        assert!(matches!(corner.limit, Limit::Stroke(_)), "{corner:?}");
    }

    #[test]
    fn other_axes_are_held_and_a_rig_of_one_axis_has_no_map() {
        let rig = six_legs();
        let axes = map_axes(&rig).unwrap();
        let (level, up) =
            (reach_map(&rig, axes, &[]).unwrap(), reach_map(&rig, axes, &[0.0, 0.0, -0.2]).unwrap());
        assert!(
            up.fitting() < level.fitting() && level.fitting() > 0,
            "{} {}",
            up.fitting(),
            level.fitting()
        );
        assert_eq!(up.held, [0.0, 0.0, -0.2, 0.0, 0.0, 0.0]);
        assert_eq!(map_axes(&lift()), None);
        assert_eq!(reach_map(&lift(), (0, 1), &[]), None);
    }

    #[test]
    fn a_wide_range_is_looked_at_in_larger_steps() {
        let mut rig = two_legs();
        (rig.axes[0].min, rig.axes[0].max) = (-3.0, 3.0);
        let axis = MapAxis::of(&rig, 0).unwrap();
        assert!(axis.count <= MOST_POINTS && axis.step == 2.0 * ANGLE_STEP_RAD, "{axis:?}");
    }
}
