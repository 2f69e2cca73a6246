//! Axes and rotations in the declared frames.

use nalgebra::Matrix3;

/// A degree of freedom, positive as in the conventions of the crate (heave here is positive *down*, body z).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Axis {
    /// About y, nose up, rad.
    Pitch,
    /// About x, right wing down, rad.
    Roll,
    /// About z, nose right, rad.
    Yaw,
    /// Along x, forward, m.
    Surge,
    /// Along y, right, m.
    Sway,
    /// Along z, down, m. The language's heave is the negative of it.
    Heave,
}

impl Axis {
    /// The word: `pitch`.
    pub fn word(self) -> &'static str {
        match self {
            Axis::Pitch => "pitch",
            Axis::Roll => "roll",
            Axis::Yaw => "yaw",
            Axis::Surge => "surge",
            Axis::Sway => "sway",
            Axis::Heave => "heave",
        }
    }

    /// Whether it is a rotation (rad) and not a translation (m).
    pub fn is_rotation(self) -> bool {
        matches!(self, Axis::Pitch | Axis::Roll | Axis::Yaw)
    }
}

/// A rotation matrix from platform to rig axes.
pub type Rotation = Matrix3<f64>;
