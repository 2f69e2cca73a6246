//! Three unknowns from many equations.

use super::MeasuringError;
use nalgebra::{Matrix3, Vector3};

/// Least part of the best-told direction's weight that a direction needs: a tilt of about half a degree.
const LEAST_WEIGHT: f64 = 1e-4;

/// Sums of a x = b in the least-squares sense. Source: normal equations, any text.
#[derive(Debug, Clone, Copy)]
pub(super) struct Equations {
    square: Matrix3<f64>,
    right: Vector3<f64>,
    right_square: f64,
    count: usize,
}

impl Equations {
    pub(super) fn new() -> Self {
        Self { square: Matrix3::zeros(), right: Vector3::zeros(), right_square: 0.0, count: 0 }
    }

    /// Adds the equation row . x = right.
    pub(super) fn push(&mut self, row: Vector3<f64>, right: f64) {
        self.square += row * row.transpose();
        self.right += row * right;
        self.right_square += right * right;
        self.count += 1;
    }

    /// The unknowns, and the r.m.s. of what is left over.
    ///
    /// # Errors
    /// When they leave a direction open; `next` says what to measure.
    pub(super) fn solve(&self, next: &'static str) -> Result<(Vector3<f64>, f64), MeasuringError> {
        let eigen = self.square.symmetric_eigen();
        let (weakest, weight) = eigen.eigenvalues.argmin();
        let told = weight > LEAST_WEIGHT * eigen.eigenvalues.max();
        if !told {
            let direction =
                ["x", "y", "z"].get(eigen.eigenvectors.column(weakest).iamax()).copied().unwrap_or("z");
            return Err(MeasuringError::Undetermined { direction, next });
        }
        let inverse = self.square.try_inverse().ok_or(MeasuringError::NotFinite)?;
        let x = inverse * self.right;
        let rest = self.right_square - self.right.dot(&x);
        Ok((x, (rest.max(0.0) / self.count.max(1) as f64).sqrt()))
    }
}
