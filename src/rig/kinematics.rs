//! Platform coordinates to leg lengths and back, for N legs and any subset of six degrees of freedom.

use super::Rig;
use crate::signal::{BLOCK, Jet, JetBlock};
use nalgebra::{DMatrix, DVector};

/// Leg lengths (m) at platform coordinates `q` (rad, m; the rig's order).
pub fn lengths_m(rig: &Rig, q: &[f64]) -> Vec<f64> {
    let _ = (rig, q);
    unimplemented!("H2")
}

/// Jacobian: row = leg, column = platform coordinate (m/rad or m/m).
pub fn jacobian(rig: &Rig, q: &[f64]) -> DMatrix<f64> {
    let _ = (rig, q);
    unimplemented!("H2")
}

/// Second derivatives of each leg's length: one symmetric matrix a leg.
pub fn hessians(rig: &Rig, q: &[f64]) -> Vec<DMatrix<f64>> {
    let _ = (rig, q);
    unimplemented!("H2")
}

/// Leg lengths with time derivatives for platform coordinates with time derivatives. No allocation.
pub fn leg_jet(rig: &Rig, leg: usize, q: &[Jet]) -> Jet {
    let _ = (rig, leg, q);
    unimplemented!("H2")
}

/// The same for the first `count` samples of a block: `q` one block a coordinate, `legs` one block a leg. Fast path.
pub fn leg_block(rig: &Rig, q: &[JetBlock], count: usize, legs: &mut [JetBlock]) {
    let _ = (rig, q, count, legs, BLOCK);
    unimplemented!("H2")
}

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
/// (least squares when there are more legs than coordinates).
///
/// # Errors
/// When the steps do not settle.
pub fn forward(rig: &Rig, lengths_m: &[f64], start: &[f64]) -> Result<DVector<f64>, ForwardError> {
    let _ = (rig, lengths_m, start);
    unimplemented!("H2")
}

/// Bounds on |d^k L/dt^k| (k = 1..4) of a leg while every coordinate j stays within suprema `q_sup[j][k]` of its
/// |k-th derivative| (k = 0..4) and the leg no shorter than `shortest_m`. Valid for any motion inside them.
pub fn leg_bound(rig: &Rig, leg: usize, q_sup: &[[f64; 5]], shortest_m: f64) -> [f64; 5] {
    let _ = (rig, leg, q_sup, shortest_m);
    unimplemented!("H2")
}
