//! Frequencies as bands: over the uncertainty of springs, load cases and poses.

use super::{Model, ModesError, Side, Springs, frequency_hz};
use crate::rig::{Payload, Rig};

/// Where one natural frequency may lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Lowest, Hz; `None` when the platform may fall over this way.
    pub low_hz: Option<f64>,
    /// Highest, Hz; `None` when it always falls over.
    pub high_hz: Option<f64>,
}

/// For each mode, counted from the lowest: the band over all poses, load cases and both sides of the springs'
/// uncertainty.
///
/// A stiffer spring raises no mode's frequency less than zero (Weyl's inequality), so the two sides with all springs
/// soft and all stiff bound everything between. Poses and cases between those given are not covered. Empty without any.
///
/// # Errors
/// As for [`Model::at`] and [`Model::modes`].
pub fn bands(
    rig: &Rig,
    poses: &[Vec<f64>],
    cases: &[Payload],
    springs: &Springs,
) -> Result<Vec<Band>, ModesError> {
    let mut squares: Vec<(f64, f64)> = Vec::new();
    for payload in cases {
        let rig = Rig { payload: payload.clone(), ..rig.clone() };
        for q in poses {
            for side in [Side::Soft, Side::Stiff] {
                let modes = Model::at(&rig, q, springs, side)?.modes()?;
                squares.resize(modes.len(), (f64::INFINITY, f64::NEG_INFINITY));
                for (band, mode) in squares.iter_mut().zip(modes) {
                    *band = (band.0.min(mode.square_rad2_s2), band.1.max(mode.square_rad2_s2));
                }
            }
        }
    }
    Ok(squares
        .into_iter()
        .map(|(low, high)| Band { low_hz: frequency_hz(low), high_hz: frequency_hz(high) })
        .collect())
}
