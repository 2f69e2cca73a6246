//! Leg lengths to platform coordinates by Newton's method.

use super::{jacobian, lengths_m};
use crate::rig::Rig;
use nalgebra::DVector;

/// Largest error of a leg that [`forward`] leaves, m.
pub const FORWARD_TOLERANCE_M: f64 = 1e-12;
/// Newton's steps that [`forward`] takes at most, halvings of a step not counted.
const MOST_STEPS: u32 = 60;
/// Furthest that one step moves a coordinate of a rig with cranks, rad or m: beyond a dead point lies another pose with
/// the same angles, and a long step could land there.
const CRANK_STEP: f64 = 0.03;
/// Halvings of one step.
const MOST_HALVINGS: u32 = 30;

/// Why platform coordinates were not found.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ForwardError {
    /// Newton's steps did not settle.
    #[error("no pose fits these leg lengths: after {steps} steps the worst leg is still {worst_m} m off")]
    NoPose {
        /// Steps taken.
        steps: u32,
        /// Largest remaining error, m.
        worst_m: f64,
    },
}

/// Platform coordinates at which the legs have `lengths_m`, from a start near them, to 1e-12 m in every leg
/// (least squares when there are more legs than coordinates: then to a step of 1e-12).
///
/// Damped Newton: a step that does not bring the legs nearer is halved until it does.
///
/// # Errors
/// When the steps do not settle, or when `lengths_m` or `start` is not finite or has the wrong number of entries
/// (then after 0 steps, with an infinite error).
pub fn forward(rig: &Rig, lengths: &[f64], start: &[f64]) -> Result<DVector<f64>, ForwardError> {
    let fits = lengths.len() == rig.actuators.len() && start.len() == rig.axes.len();
    if !fits || !lengths.iter().chain(start).all(|value| value.is_finite()) {
        return Err(ForwardError::NoPose { steps: 0, worst_m: f64::INFINITY });
    }
    let wanted = DVector::from_column_slice(lengths);
    let residual = |q: &DVector<f64>| &wanted - DVector::from_vec(lengths_m(rig, q.as_slice()));
    let mut q = DVector::from_column_slice(start);
    let mut error = residual(&q);
    for steps in 0..MOST_STEPS {
        if error.amax() <= FORWARD_TOLERANCE_M {
            return Ok(q);
        }
        let failed = ForwardError::NoPose { steps, worst_m: error.amax() };
        let Some(step) = newton_step(rig, &q, &error) else { return Err(failed) };
        if rig.actuators.len() > rig.axes.len() && step.amax() <= 1e-12 {
            return Ok(q);
        }
        let mut share = if rig.has_cranks() { (CRANK_STEP / step.amax()).min(1.0) } else { 1.0 };
        let better = (0..MOST_HALVINGS).find_map(|_| {
            let next = &q + &step * share;
            let left = residual(&next);
            share *= 0.5;
            (left.norm() < error.norm()).then_some((next, left))
        });
        let Some((next, left)) = better else { return Err(failed) };
        (q, error) = (next, left);
    }
    Err(ForwardError::NoPose { steps: MOST_STEPS, worst_m: error.amax() })
}

fn newton_step(rig: &Rig, q: &DVector<f64>, error: &DVector<f64>) -> Option<DVector<f64>> {
    let jacobian = jacobian(rig, q.as_slice());
    let step = if jacobian.is_square() {
        jacobian.lu().solve(error)
    } else {
        let transposed = jacobian.transpose();
        (&transposed * &jacobian).lu().solve(&(transposed * error))
    };
    step.filter(|step| step.iter().all(|value| value.is_finite()))
}
