//! A rig as narrow as legs that stray from their set-points leave it.

use super::{Rig, kinematics};
use crate::units::{Dimension, show};

/// A leg or a joint has no room left: what its legs stray by takes all of it.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("`{part}` may be {} off its set-points, and from level there is room for {}", show(*.stray, *.dimension), show(*.room, *.dimension))]
pub struct NoRoom {
    /// The leg's name, or the axis's word.
    pub part: String,
    /// How far it may be off, m or rad.
    pub stray: f64,
    /// How far it could be, m or rad.
    pub room: f64,
    /// What both measure.
    pub dimension: Dimension,
}

/// The rig with strokes and joint ranges narrower by what each leg may stray by, m and one a leg, so that what fits it by
/// set-points fits the whole rig wherever the legs are about those.
///
/// What a leg strays by moves the platform by the inverse of the Jacobian; the most of that level, and where axes are at
/// their ends, is taken.
///
/// # Errors
/// When a leg or an axis has no room for it.
pub fn narrowed(rig: &Rig, stray_m: &[f64]) -> Result<Rig, NoRoom> {
    let mut narrow = rig.clone();
    let level_m = kinematics::lengths_m(rig, &vec![0.0; rig.axes.len()]);
    for ((leg, stray), level_m) in narrow.actuators.iter_mut().zip(stray_m).zip(level_m) {
        // All limits are counted from level: a stroke that ends there is none.
        let room = (leg.max_m - level_m).min(level_m - leg.min_m) - leg.soft_stop_m;
        // What is no number has no room either.
        if !(0.0..room).contains(stray) {
            let (part, dimension) = (leg.name.clone(), Dimension::LENGTH);
            return Err(NoRoom { part, stray: *stray, room, dimension });
        }
        leg.min_m += stray;
        leg.max_m -= stray;
    }
    for (axis, stray) in narrow.axes.iter_mut().zip(of_axes(rig, stray_m)) {
        let room = axis.max.min(-axis.min);
        if !(0.0..room).contains(&stray) {
            let rotates = axis.axis.is_rotation();
            let dimension = if rotates { Dimension::ANGLE } else { Dimension::LENGTH };
            return Err(NoRoom { part: axis.axis.word().to_string(), stray, room, dimension });
        }
        axis.min += stray;
        axis.max -= stray;
    }
    Ok(narrow)
}

/// What each coordinate may be off by, rad or m, when each leg is off by as much.
fn of_axes(rig: &Rig, stray_m: &[f64]) -> Vec<f64> {
    /// Smaller singular values of a Jacobian (m/rad or 1) are those of a pose that nothing holds.
    const SINGULAR: f64 = 1e-6;
    let mut most = vec![0.0_f64; rig.axes.len()];
    for pose in poses(rig) {
        let Ok(inverse) = kinematics::jacobian(rig, &pose).pseudo_inverse(SINGULAR) else { continue };
        for (most, row) in most.iter_mut().zip(inverse.row_iter()) {
            let off: f64 = row.iter().zip(stray_m).map(|(part, stray)| part.abs() * stray).sum();
            *most = most.max(off);
        }
    }
    most
}

/// Level, and every pose in which each axis is level or at an end, as far as legs reach them.
fn poses(rig: &Rig) -> Vec<Vec<f64>> {
    let mut poses = vec![Vec::new()];
    for axis in &rig.axes {
        let with = |pose: &Vec<f64>, value: f64| pose.iter().copied().chain([value]).collect::<Vec<f64>>();
        poses =
            poses.iter().flat_map(|pose| [0.0, axis.min, axis.max].map(|value| with(pose, value))).collect();
    }
    poses.retain(|pose| {
        let lengths = kinematics::lengths_m(rig, pose);
        let reaches = |(leg, length): (&super::Actuator, &f64)| (leg.min_m..=leg.max_m).contains(length);
        pose.iter().all(|value| *value == 0.0) || rig.actuators.iter().zip(&lengths).all(reaches)
    });
    poses
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::sample::two_legs;

    #[test]
    fn strokes_and_joints_are_narrower_by_what_legs_stray() {
        let rig = two_legs();
        assert_eq!(narrowed(&rig, &[]).unwrap(), rig);
        let narrow = narrowed(&rig, &[0.002, 0.001]).unwrap();
        for (leg, stray) in [(0, 0.002), (1, 0.001)] {
            let (before, now) = (&rig.actuators[leg], &narrow.actuators[leg]);
            assert_eq!((now.min_m, now.max_m), (before.min_m + stray, before.max_m - stray));
        }
        // By a finite difference: both legs off by as much as they may be, in the worse of the two ways.
        let level = kinematics::lengths_m(&rig, &[0.0; 2]);
        let off = |left: f64, right: f64| {
            kinematics::forward(&rig, &[level[0] + left, level[1] + right], &[0.0; 2]).unwrap()
        };
        for axis in 0..2 {
            let worst = off(0.002, 0.001)[axis].abs().max(off(0.002, -0.001)[axis].abs());
            let less = narrow.axes[axis].min - rig.axes[axis].min;
            assert!((0.999 * worst..1.5 * worst).contains(&less), "{axis}: {less} {worst}");
            assert!((rig.axes[axis].max - narrow.axes[axis].max - less).abs() < 1e-15);
        }
    }

    #[test]
    fn what_takes_all_the_room_is_refused() {
        let rig = two_legs();
        let leg = &rig.actuators[1];
        let level_m = kinematics::lengths_m(&rig, &[0.0; 2])[1];
        let room = (leg.max_m - level_m).min(level_m - leg.min_m) - leg.soft_stop_m;
        let found = narrowed(&rig, &[0.0, room]).unwrap_err();
        assert_eq!((found.part.as_str(), found.stray, found.room), (leg.name.as_str(), room, room));
        assert!(narrowed(&rig, &[f64::NAN, 0.0]).is_err() && narrowed(&rig, &[-1e-3, 0.0]).is_err());
        // Level is 5 mm beside the soft stop: whatever else the stroke has, there is no more room than that.
        let mut beside = rig.clone();
        beside.actuators[1].min_m = level_m - leg.soft_stop_m - 0.005;
        let found = narrowed(&beside, &[0.0, 0.006]).unwrap_err();
        assert!((found.room - 0.005).abs() < 1e-12, "{found}");
        assert!(narrowed(&beside, &[0.0, 0.004]).is_ok());
        // Less than a stroke, more than a joint.
        let tight = Rig {
            axes: rig
                .axes
                .iter()
                .map(|a| crate::rig::AxisLimits { min: -0.01, max: 0.01, ..a.clone() })
                .collect(),
            ..rig
        };
        assert_eq!(narrowed(&tight, &[0.02, 0.02]).unwrap_err().dimension, Dimension::ANGLE);
    }
}
