//! Everything that can end a motion at one pose, and how much of the way to it is used.

use crate::rig::kinematics::lengths_m;
use crate::rig::{Rig, gravity_legs_n};

/// What ends a motion.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Limit {
    /// The range that the file gives to the axis with this index: the joint's own, or the guide's.
    Range(usize),
    /// The soft stop of the leg with this index.
    Stroke(usize),
    /// The thrust of the leg with this index, spent on holding still.
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
    is_thrust_known: bool,
}

impl<'r> Limits<'r> {
    /// The limits of a rig.
    pub fn of(rig: &'r Rig) -> Self {
        let is_thrust_known = rig.actuators.iter().any(|leg| leg.thrust_n.is_finite());
        Self { rig, level_m: lengths_m(rig, &[]), is_thrust_known }
    }

    /// Whether anything limits force.
    pub fn knows_force(&self) -> bool {
        self.is_thrust_known
    }

    /// The limit that coordinates `q` (rig's order, rad or m) use most. Of equal ones the first: range, stroke, force.
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
            let (low, high) = (leg.min_m + leg.soft_stop_m, leg.max_m - leg.soft_stop_m);
            let level = self.level_m.get(i).copied().unwrap_or(f64::NAN);
            take(towards(length, level, low, high), Limit::Stroke(i));
        }
        if self.is_thrust_known {
            let forces = gravity_legs_n(self.rig, q);
            for (i, leg) in self.rig.actuators.iter().enumerate().filter(|(_, leg)| leg.thrust_n.is_finite())
            {
                let force = forces.as_ref().and_then(|forces| forces.get(i)).copied().unwrap_or(f64::NAN);
                take(force.abs() / leg.thrust_n, Limit::Force(i));
            }
        }
        worst
    }
}

/// The part of the way from `rest` to the limit on its side that a value has gone.
fn towards(value: f64, rest: f64, low: f64, high: f64) -> f64 {
    let gone = value - rest;
    if gone == 0.0 { 0.0 } else { gone / (if gone < 0.0 { low } else { high } - rest) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::sample::{lift, two_legs};

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

    #[test]
    fn what_is_no_number_is_beyond() {
        let rig = two_legs();
        assert!(!Limits::of(&rig).used(&[f64::NAN, 0.0]).fits());
    }
}
