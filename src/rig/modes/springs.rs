//! Stiffness of a rig's parts, each with its uncertainty.

use super::ModesError;
use crate::rig::Axis;
use crate::rig::mechanics::{DataError, not_negative, positive};
use std::f64::consts::PI;

/// A stiffness, measured or estimated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stiffness {
    /// N/m, or N m/rad about an axis.
    pub value: f64,
    /// How far it may be off either way, as a share of the value, 0 to less than 1.
    pub share: f64,
}

/// Which end of the uncertainty to compute with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Everything as soft as it may be.
    Soft,
    /// The values themselves.
    Middle,
    /// Everything as stiff as it may be.
    Stiff,
}

impl Stiffness {
    /// The stiffness on a side of its uncertainty.
    pub fn on(self, side: Side) -> f64 {
        match side {
            Side::Soft => self.value * (1.0 - self.share),
            Side::Middle => self.value,
            Side::Stiff => self.value * (1.0 + self.share),
        }
    }

    fn check(self) -> Result<(), DataError> {
        positive("a stiffness", self.value, "N/m or N m/rad")?;
        not_negative("the uncertainty of a stiffness", self.share, "of its value")?;
        if self.share < 1.0 {
            return Ok(());
        }
        Err(DataError::Order {
            small: "the uncertainty of a stiffness",
            found: self.share,
            large: "the value itself",
            limit: 1.0,
            unit: "of it",
        })
    }
}

/// A leg's springs along its line, one behind the other; `None` is rigid.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LegSpring {
    /// Bending of its mounts, N/m along the leg.
    pub mount: Option<Stiffness>,
    /// Screw, nut and bearing, N/m.
    pub screw: Option<Stiffness>,
    /// The position loop, N/m; `None` while the brake holds the screw.
    pub servo: Option<Stiffness>,
}

impl LegSpring {
    /// All of them in series, N/m; `None` when all are rigid.
    pub fn along_n_m(&self, side: Side) -> Option<f64> {
        in_series_n_m(
            [self.mount, self.screw, self.servo].into_iter().flatten().map(|spring| spring.on(side)),
        )
    }
}

/// A spring of the centre joint or guide.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JointSpring {
    /// About or along which axis. One that the rig does not drive becomes a coordinate of the model.
    pub axis: Axis,
    /// N m/rad about an axis, N/m along it.
    pub stiffness: Stiffness,
}

/// All springs of a rig.
#[derive(Debug, Clone, PartialEq)]
pub struct Springs {
    /// One for each leg, in the rig's order.
    pub legs: Vec<LegSpring>,
    /// Of the joint.
    pub joint: Vec<JointSpring>,
}

impl Springs {
    /// # Errors
    /// When their number is not that of the legs, or a stiffness is impossible.
    pub fn check(&self, legs: usize) -> Result<(), ModesError> {
        if self.legs.len() != legs {
            return Err(ModesError::LegCount { found: self.legs.len(), legs });
        }
        let of_legs = self.legs.iter().flat_map(|leg| [leg.mount, leg.screw, leg.servo]).flatten();
        for stiffness in of_legs.chain(self.joint.iter().map(|spring| spring.stiffness)) {
            stiffness.check()?;
        }
        Ok(())
    }
}

/// Springs one behind the other: 1/k = sum 1/k_i; `None` for none. Source: springs in series, any text.
pub fn in_series_n_m(springs_n_m: impl IntoIterator<Item = f64>) -> Option<f64> {
    let give: f64 = springs_n_m.into_iter().map(|k| 1.0 / k).sum();
    (give > 0.0).then(|| 1.0 / give)
}

/// A round bar along its length, N/m: E A / L. Source: any text on strength of materials.
pub fn bar_n_m(diameter_m: f64, length_m: f64, modulus_pa: f64) -> f64 {
    modulus_pa * PI * diameter_m * diameter_m / (4.0 * length_m)
}
