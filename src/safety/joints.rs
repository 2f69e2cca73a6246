//! Joint limits as bounds on leg lengths, so that the governor can hold them without solving for the pose.
//!
//! For each end of each platform coordinate the leg lengths on that face (coordinate at its end, the others anywhere
//! inside theirs, legs inside their strokes) lie on a slightly curved surface. The bound is the flat that touches it
//! from outside: weights from the pseudo-inverse of the Jacobian at the middle of the ranges, the sum at most the
//! largest on the face. A plan that fits the joint limits is never held by it; a hostile stream can pass the limit by
//! as much as the surface is curved, which stays well inside the soft stops' share of a joint on the rigs tried. Derived
//! here.

use super::legs::MAX_LEGS;
use super::limits::{Bound, Keeps, Limits, LimitsError};
use crate::rig::{Rig, kinematics};

/// Points along each coordinate, by the number of coordinates, so that a face has at most about 3,000.
pub(super) fn points(axes: usize) -> usize {
    match axes {
        0..=2 => 65,
        3 => 33,
        4 => 13,
        _ => 5,
    }
}

/// The limits with the joint bounds of a rig as well; with none when it has fewer legs than coordinates, or stands in a
/// singular pose.
///
/// # Errors
/// When there are more bounds than room.
pub fn within_joints(rig: &Rig, limits: Limits) -> Result<Limits, LimitsError> {
    bounds(rig).iter().try_fold(limits, |limits, bound| limits.bounded(Keeps::Joint, bound))
}

/// One after the other of each coordinate: of its lower end, of its upper end.
fn bounds(rig: &Rig) -> Vec<Bound> {
    let axes = rig.axes.len();
    if rig.actuators.len() < axes || rig.actuators.len() > MAX_LEGS {
        return Vec::new();
    }
    let middle: Vec<f64> = rig.axes.iter().map(|a| 0.5 * (a.min + a.max)).collect();
    let Ok(inverse) = kinematics::jacobian(rig, &middle).pseudo_inverse(1e-9) else { return Vec::new() };
    let ends = (0..axes).flat_map(|axis| [(axis, false), (axis, true)]);
    let bound = |(axis, upper): (usize, bool)| {
        let sign = if upper { 1.0 } else { -1.0 };
        let weight: Vec<f64> = inverse.row(axis).iter().map(|w| sign * w).collect();
        let end = if upper { rig.axes[axis].max } else { rig.axes[axis].min };
        let sums = face(rig, axis, end, &weight);
        let largest = sums.iter().copied().reduce(f64::max)?;
        let smallest = sums.iter().copied().fold(largest, f64::min);
        // What the grid can have missed of a smooth surface's top: its spread over the points, which is more than its
        // spread over their square, all that a smooth top needs.
        let spread = (largest - smallest) / points(axes) as f64;
        Some(Bound { weight, at_most_m: largest + spread + 1e-9 })
    };
    ends.filter_map(bound).collect()
}

/// Weighted sums of the leg lengths over the face where coordinate `axis` is `value`; poses outside a stroke left out.
fn face(rig: &Rig, axis: usize, value: f64, weight: &[f64]) -> Vec<f64> {
    let axes = rig.axes.len();
    let points = points(axes);
    let others = axes.saturating_sub(1) as u32;
    (0..points.pow(others))
        .filter_map(|mut index| {
            let q: Vec<f64> = (0..axes)
                .map(|j| {
                    if j == axis {
                        return value;
                    }
                    let share = (index % points) as f64 / (points - 1) as f64;
                    index /= points;
                    rig.axes[j].min + share * (rig.axes[j].max - rig.axes[j].min)
                })
                .collect();
            let lengths = kinematics::lengths_m(rig, &q);
            let inside = lengths.iter().zip(&rig.actuators).all(|(l, a)| *l >= a.min_m && *l <= a.max_m);
            inside.then(|| lengths.iter().zip(weight).map(|(l, w)| l * w).sum())
        })
        .collect()
}

#[cfg(test)]
mod tests;
