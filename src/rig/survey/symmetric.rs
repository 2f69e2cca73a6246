//! The largest box around level that a rig fills: what a profile may count on in every direction at once.

use super::limits::{Limits, Used};
use super::reach_map::ReachMap;
use crate::rig::Rig;

/// A box around level: `across` and `up` to either side, all of it within reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SymmetricBox {
    /// Half its width, rad or m.
    pub across: f64,
    /// Half its height, rad or m.
    pub up: f64,
}

/// The symmetric box of the largest area, as fine as the map. `None` when level itself does not fit.
pub fn largest_box(map: &ReachMap) -> Option<SymmetricBox> {
    let (across, up) = (map.across, map.up);
    let (zero_i, zero_k) =
        ((-across.first / across.step).round() as usize, (-up.first / up.step).round() as usize);
    let reach_i = zero_i.min(across.count.checked_sub(zero_i + 1)?);
    let reach_k = zero_k.min(up.count.checked_sub(zero_k + 1)?);
    let fits = |i: usize, k: usize| map.at(i, k).is_some_and(Used::fits);
    let all_four = |i: usize, k: usize| {
        [zero_i + i, zero_i - i].iter().all(|x| fits(*x, zero_k + k) && fits(*x, zero_k - k))
    };
    // Row by row outwards: how wide all rows so far are.
    let mut width = reach_i + 1;
    let mut best: Option<(usize, usize)> = None;
    for k in 0..=reach_k {
        width = (0..width).take_while(|i| all_four(*i, k)).count();
        let Some(i) = width.checked_sub(1) else { break };
        if best.is_none_or(|(best_i, best_k)| i * k > best_i * best_k) {
            best = Some((i, k));
        }
    }
    best.map(|(i, k)| SymmetricBox { across: i as f64 * across.step, up: k as f64 * up.step })
}

/// The largest share of every axis's range that can be used in all axes at once: all corners, edges and middles of
/// that box are within reach, on a grid of three values an axis. 0 when level does not fit.
pub fn together(rig: &Rig) -> f64 {
    const HALVINGS: u32 = 24;
    let limits = Limits::of(rig);
    let axes = rig.axes.len().min(6);
    let points = 3_usize.pow(u32::try_from(axes).unwrap_or(6));
    let fits = |share: f64| {
        (0..points).all(|mut index| {
            let place = |axis: &crate::rig::AxisLimits| {
                let at = index % 3;
                index /= 3;
                [axis.min, 0.0, axis.max][at] * share
            };
            let q: Vec<f64> = rig.axes.iter().take(axes).map(place).collect();
            limits.used(&q).fits()
        })
    };
    if !fits(0.0) {
        return 0.0;
    }
    if fits(1.0) {
        return 1.0;
    }
    let (mut inside, mut outside) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (inside + outside);
        if fits(middle) { inside = middle } else { outside = middle }
    }
    inside
}

#[cfg(test)]
mod tests {
    use super::super::reach_map::{map_axes, reach_map};
    use super::*;
    use crate::rig::sample::{lift, two_legs};

    #[test]
    fn every_pose_of_the_box_fits_and_a_larger_one_does_not() {
        let rig = two_legs();
        let map = reach_map(&rig, map_axes(&rig).unwrap(), &[]).unwrap();
        let found = largest_box(&map).unwrap();
        let limits = Limits::of(&rig);
        let fits = |roll: f64, pitch: f64| limits.used(&[pitch, roll]).fits();
        for (a, b) in [(1.0, 1.0), (-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0), (0.3, 1.0), (1.0, -0.2)] {
            assert!(fits(a * found.across, b * found.up), "{found:?} {a} {b}");
        }
        // By hand: 0.29 m of stroke less what the other axis takes at arms of 0.45 m and 0.3 m; equal parts are best,
        // 0.145 / 0.45 = 0.322 rad by 0.145 / 0.3 = 0.483 rad, which the range of 0.4 rad cuts.
        assert!((found.up - 0.36).abs() < 0.05 && (found.across - 0.4).abs() < 0.02, "{found:?}");
        let wider = [found.across + map.across.step, found.up + map.up.step];
        assert!(!fits(wider[0], wider[1]) || !fits(-wider[0], -wider[1]) || !fits(wider[0], -wider[1]));
    }

    /// One axis: 0.29 m of 0.4 m.
    #[test]
    fn one_axis_together_is_the_axis_alone() {
        let mut rig = lift();
        assert!((together(&rig) - 0.29 / 0.4).abs() < 1e-6, "{}", together(&rig));
        (rig.axes[0].min, rig.axes[0].max) = (-0.1, 0.1);
        assert_eq!(together(&rig), 1.0);
        rig.actuators[0].thrust_n = 10.0;
        assert_eq!(together(&rig), 0.0);
    }
}
