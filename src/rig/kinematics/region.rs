//! Where an anchor can be while the joint keeps its ranges: a box, by interval arithmetic.

use crate::rig::AxisLimits;
use crate::rig::crank::dead_point::Region;
use nalgebra::Vector3;
use std::f64::consts::FRAC_PI_2;

/// A box that holds a platform point at every pose inside the ranges of `axes` (in the rig's order), rig frame. Ranges of
/// rotations lie within a quarter turn either way, as a rig file's do.
pub(crate) fn anchor_region(axes: &[AxisLimits], anchor_p_m: Vector3<f64>) -> Region {
    region(axes, anchor_p_m, |j| axes.get(j).map_or((0.0, 0.0), |limits| (limits.min, limits.max)))
}

/// The same while every coordinate j stays within `sup(j)` of level; `None` where some rotation may leave a quarter turn.
pub(super) fn region_within(
    axes: &[AxisLimits],
    anchor_p_m: Vector3<f64>,
    sup: impl Fn(usize) -> f64,
) -> Option<Region> {
    let narrow = |(j, limits): (usize, &AxisLimits)| !limits.axis.is_rotation() || sup(j) <= FRAC_PI_2;
    if !axes.iter().enumerate().all(narrow) {
        return None;
    }
    Some(region(axes, anchor_p_m, |j| (-sup(j), sup(j))))
}

fn region(axes: &[AxisLimits], anchor_p_m: Vector3<f64>, range: impl Fn(usize) -> (f64, f64)) -> Region {
    let mut x = [0, 1, 2].map(|k| (anchor_p_m[k], anchor_p_m[k]));
    for (j, limits) in axes.iter().enumerate().rev().filter(|(_, limits)| limits.axis.is_rotation()) {
        let (low, high) = range(j);
        let sin = (libm::sin(low), libm::sin(high));
        let (a, b) = (libm::cos(low), libm::cos(high));
        let cos = (a.min(b), if low <= 0.0 && high >= 0.0 { 1.0 } else { a.max(b) });
        let (p, r) = ((limits.axis.index() + 1) % 3, (limits.axis.index() + 2) % 3);
        let (cp, sr) = (product(cos, x[p]), product(sin, x[r]));
        let (sp, cr) = (product(sin, x[p]), product(cos, x[r]));
        x[p] = (cp.0 - sr.1, cp.1 - sr.0);
        x[r] = (sp.0 + cr.0, sp.1 + cr.1);
    }
    for (j, limits) in axes.iter().enumerate().filter(|(_, limits)| !limits.axis.is_rotation()) {
        let (along, range) = (&mut x[limits.axis.index()], range(j));
        *along = (along.0 + range.0, along.1 + range.1);
    }
    // Rounding in a few operations stays far below this.
    let slack = 1e-9;
    Region {
        low_r_m: Vector3::new(x[0].0 - slack, x[1].0 - slack, x[2].0 - slack),
        high_r_m: Vector3::new(x[0].1 + slack, x[1].1 + slack, x[2].1 + slack),
    }
}

/// All products of two numbers from two intervals.
fn product((a, b): (f64, f64), (c, d): (f64, f64)) -> (f64, f64) {
    let all = [a * c, a * d, b * c, b * d];
    all.iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(*value), high.max(*value)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::kinematics::Pose;
    use crate::rig::sample::six_legs;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn no_pose_leaves_the_box(
            share in prop::array::uniform6(0.0_f64..1.0), low in prop::array::uniform6(-0.6_f64..0.0),
            high in prop::array::uniform6(0.0_f64..0.6), leg in 0_usize..6,
        ) {
            let mut rig = six_legs();
            for (k, limits) in rig.axes.iter_mut().enumerate() {
                (limits.min, limits.max) = (low[k], high[k]);
            }
            let q: Vec<f64> = (0..6).map(|k| low[k] + (high[k] - low[k]) * share[k]).collect();
            let anchor = rig.actuators[leg].anchor_p_m;
            let at = Pose::at(&rig, &q).point_r_m(anchor);
            let region = anchor_region(&rig.axes, anchor);
            prop_assert!(region_within(&rig.axes, anchor, |_| 1.6).is_none());
            for k in 0..3 {
                prop_assert!(region.low_r_m[k] <= at[k] && at[k] <= region.high_r_m[k], "{at} {region:?}");
            }
            let within = region_within(&rig.axes, anchor, |j| low[j].abs().max(high[j])).unwrap();
            for k in 0..3 {
                prop_assert!(within.low_r_m[k] <= region.low_r_m[k] + 1e-12 && region.high_r_m[k] <= within.high_r_m[k] + 1e-12);
            }
            // One axis alone leaves little slack.
            let alone = &rig.axes[3..4];
            let region = anchor_region(alone, anchor);
            let ends = [low[3], high[3]].map(|q| Pose::at(&rig, &[0.0, 0.0, 0.0, q, 0.0, 0.0]).point_r_m(anchor));
            prop_assert!((region.high_r_m.x - ends[0].x.max(ends[1].x)).abs() < 0.2 * anchor.norm());
        }
    }
}
