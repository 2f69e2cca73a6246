//! Everything that can end a motion at one pose, and how much of the way to it is used.

use crate::rig::kinematics::{Pose, lengths_m, swings};
use crate::rig::{Payload, Rig, gravity_legs_n};

/// What ends a motion.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Limit {
    /// The range that the file gives to the axis with this index: the joint's own, or the guide's.
    Range(usize),
    /// The soft stop of the leg with this index.
    Stroke(usize),
    /// What an end joint of the leg with this index may swing.
    Swing(usize),
    /// The point with this index among those that must keep away from obstacles.
    Clearance(usize),
    /// The thrust of the leg with this index, spent on holding still, with the worst load.
    Force(usize),
}

/// How much of the way to the nearest limit a pose uses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Used {
    /// 0 level, 1 at the limit, more beyond it; infinite where no force holds.
    pub share: f64,
    /// Which limit.
    pub limit: Limit,
}

impl Used {
    /// Whether the pose is inside all limits.
    pub fn fits(self) -> bool {
        self.share <= 1.0
    }
}

/// A rig's limits, ready to be asked about many poses.
#[derive(Debug, Clone)]
pub struct Limits<'r> {
    rig: &'r Rig,
    level_m: Vec<f64>,
    /// Distance of each clearance point at level, m.
    level_distance_m: Vec<f64>,
    has_swings: bool,
    /// The rig with each of its loads; none where no thrust is known.
    loaded: Vec<Rig>,
}

impl<'r> Limits<'r> {
    /// The limits of a rig.
    pub fn of(rig: &'r Rig) -> Self {
        let is_thrust_known = rig.actuators.iter().any(|leg| leg.thrust_n.is_finite());
        let with = |payload: &Payload| Rig { payload: payload.clone(), ..rig.clone() };
        let loaded = rig.load_cases().into_iter().map(|(_, payload)| with(payload));
        Self {
            rig,
            level_m: lengths_m(rig, &[]),
            level_distance_m: distances_m(rig, &[]),
            has_swings: rig
                .actuators
                .iter()
                .any(|leg| leg.parts.base_swing_rad.is_some() || leg.parts.anchor_swing_rad.is_some()),
            loaded: if is_thrust_known { loaded.collect() } else { Vec::new() },
        }
    }

    /// The limit that coordinates `q` (rig's order, rad or m) use most. Of equal ones the first: range,
    /// stroke, swing, clearance, force.
    ///
    /// Shares grow about in proportion along a line from level, so that the largest is also the one that is met first.
    pub fn used(&self, q: &[f64]) -> Used {
        let mut worst = Used { share: 0.0, limit: Limit::Range(0) };
        let mut take = |share: f64, limit: Limit| {
            // What is no number is beyond every limit.
            let share = if share.is_nan() { f64::INFINITY } else { share };
            if share > worst.share {
                worst = Used { share, limit };
            }
        };
        for (j, (axis, value)) in self.rig.axes.iter().zip(q).enumerate() {
            take(towards(*value, 0.0, axis.min, axis.max), Limit::Range(j));
        }
        for (i, (leg, length)) in self.rig.actuators.iter().zip(lengths_m(self.rig, q)).enumerate() {
            let (low, high) = leg.soft_ends_m();
            let level = self.level_m.get(i).copied().unwrap_or(f64::NAN);
            take(towards(length, level, low, high), Limit::Stroke(i));
        }
        if self.has_swings {
            for (i, (leg, swing)) in self.rig.actuators.iter().zip(swings(self.rig, q)).enumerate() {
                for (found, most) in [
                    (swing.base_rad, leg.parts.base_swing_rad),
                    (swing.anchor_rad, leg.parts.anchor_swing_rad),
                ] {
                    if let Some(most) = most {
                        take(found / most.value, Limit::Swing(i));
                    }
                }
            }
        }
        for (k, (point, distance)) in self.rig.parts.points.iter().zip(distances_m(self.rig, q)).enumerate() {
            // Nearer than at level, of the way that is free at level.
            let level = self.level_distance_m.get(k).copied().unwrap_or(f64::NAN);
            take(towards(distance, level, point.distance_m, f64::INFINITY), Limit::Clearance(k));
        }
        for rig in &self.loaded {
            let forces = gravity_legs_n(rig, q);
            for (i, leg) in self.rig.actuators.iter().enumerate().filter(|(_, leg)| leg.thrust_n.is_finite())
            {
                let force = forces.as_ref().and_then(|forces| forces.get(i)).copied().unwrap_or(f64::NAN);
                take(force.abs() / leg.thrust_n, Limit::Force(i));
            }
        }
        worst
    }
}

/// Distance of each clearance point from the obstacle that is nearest to it, m; infinite without obstacles.
fn distances_m(rig: &Rig, q: &[f64]) -> Vec<f64> {
    if rig.parts.points.is_empty() {
        return Vec::new();
    }
    let pose = Pose::at(rig, q);
    let nearest = |point_r_m| {
        let each = rig.parts.obstacles.iter().map(|obstacle| obstacle.shape.distance_m(point_r_m));
        each.fold(f64::INFINITY, f64::min)
    };
    rig.parts.points.iter().map(|point| nearest(pose.point_r_m(point.point_p_m))).collect()
}

/// The part of the way from `rest` to the limit on its side that a value has gone.
fn towards(value: f64, rest: f64, low: f64, high: f64) -> f64 {
    let gone = value - rest;
    // Without obstacles a distance is infinite at level as well: nothing is used of it.
    if gone == 0.0 || !rest.is_finite() { 0.0 } else { gone / (if gone < 0.0 { low } else { high } - rest) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::parts::{ClearancePoint, Measured, Obstacle, Shape};
    use crate::rig::sample::{lift, two_legs};
    use nalgebra::Vector3;

    /// A lift of one leg: 0.6 m level, soft stops at 0.31 m and 0.89 m, range 0.4 m; down is positive and shortens it.
    #[test]
    fn a_lift_by_hand() {
        let mut rig = lift();
        let at = |rig: &Rig, q: f64| Limits::of(rig).used(&[q]);
        let used = at(&rig, 0.145);
        assert!(
            (used.share - 0.5).abs() < 1e-12 && used.limit == Limit::Stroke(0) && used.fits(),
            "{used:?}"
        );
        assert!(!at(&rig, 0.3).fits() && !at(&rig, -0.3).fits());
        rig.axes[0].max = 0.1;
        let used = at(&rig, 0.11);
        assert!((used.share - 1.1).abs() < 1e-12 && used.limit == Limit::Range(0), "{used:?}");
        // 120 kg weigh 1176.8 N.
        rig.actuators[0].thrust_n = 1000.0;
        let used = at(&rig, 0.0);
        assert!((used.share - 1.176_798).abs() < 1e-9 && used.limit == Limit::Force(0), "{used:?}");
    }

    /// A point 0.5 m before the pivot and a floor 0.3 m below it, 0.05 m to be kept: nose down by asin(0.25 / 0.5).
    #[test]
    fn clearance_and_swing_by_hand() {
        let place = crate::diag::Span::new(crate::diag::SourceId(0), 0, 0);
        let mut rig = two_legs();
        rig.parts.points.push(ClearancePoint {
            name: "nose".into(),
            point_p_m: Vector3::new(0.5, 0.0, 0.0),
            distance_m: 0.05,
            span: place,
        });
        assert_eq!(Limits::of(&rig).used(&[-0.35, 0.0]).limit, Limit::Range(0), "nothing to run into");
        let shape = Shape::Plane { at_r_m: Vector3::new(0.0, 0.0, 0.3), free_r: -Vector3::z() };
        rig.parts.obstacles.push(Obstacle { name: "floor".into(), shape, span: place });
        rig.axes[0].min = -0.7;
        rig.actuators.iter_mut().for_each(|leg| leg.max_m = 2.0);
        let used = Limits::of(&rig).used(&[-libm::asin(0.5), 0.0]);
        assert!((used.share - 1.0).abs() < 1e-12 && used.limit == Limit::Clearance(0), "{used:?}");
        // A leg that stays upright: its upper joint swings with the platform.
        rig.actuators[1].parts.anchor_swing_rad = Some(Measured { value: 0.02, span: place });
        let used = Limits::of(&rig).used(&[-0.1, 0.0]);
        assert!(used.limit == Limit::Swing(1) && used.share > 4.0, "{used:?}");
    }

    #[test]
    fn what_is_no_number_is_beyond() {
        let rig = two_legs();
        assert!(!Limits::of(&rig).used(&[f64::NAN, 0.0]).fits());
    }
}
