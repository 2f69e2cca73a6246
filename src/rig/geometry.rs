//! Axes and rotations in the declared frames.

use nalgebra::{Matrix3, Vector3};

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
    /// All six, as lists for people name them.
    pub const ALL: [Axis; 6] = [Axis::Pitch, Axis::Roll, Axis::Yaw, Axis::Surge, Axis::Sway, Axis::Heave];

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

    /// The axis of a word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|axis| axis.word() == word)
    }

    /// Whether it is a rotation (rad) and not a translation (m).
    pub fn is_rotation(self) -> bool {
        matches!(self, Axis::Pitch | Axis::Roll | Axis::Yaw)
    }

    /// Which of x, y, z (0, 1, 2) it turns about or runs along.
    pub fn index(self) -> usize {
        match self {
            Axis::Roll | Axis::Surge => 0,
            Axis::Pitch | Axis::Sway => 1,
            Axis::Yaw | Axis::Heave => 2,
        }
    }

    /// The unit vector that it turns about by the right hand, or runs along.
    ///
    /// With z down, a right-handed turn about y (right) lifts the nose and one about x (forward) lowers the right wing.
    pub fn unit(self) -> Vector3<f64> {
        let mut unit = Vector3::zeros();
        unit[self.index()] = 1.0;
        unit
    }
}

/// A rotation matrix from platform to rig axes.
pub type Rotation = Matrix3<f64>;

/// The rotation about an axis of the frame by `angle_rad`, right-handed; the identity for a translation.
pub(super) fn rotation(axis: Axis, angle_rad: f64) -> Rotation {
    let mut matrix = Matrix3::identity();
    if axis.is_rotation() {
        let (sin, cos) = libm::sincos(angle_rad);
        let (p, r) = ((axis.index() + 1) % 3, (axis.index() + 2) % 3);
        matrix[(p, p)] = cos;
        matrix[(p, r)] = -sin;
        matrix[(r, p)] = sin;
        matrix[(r, r)] = cos;
    }
    matrix
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_are_those_of_the_crate() {
        let ten_deg = 10.0_f64.to_radians();
        let nose = rotation(Axis::Pitch, ten_deg) * Vector3::x();
        assert!(nose.z < 0.0, "nose up is towards negative z: {nose}");
        let right_wing = rotation(Axis::Roll, ten_deg) * Vector3::y();
        assert!(right_wing.z > 0.0, "right wing down is towards positive z: {right_wing}");
        let nose = rotation(Axis::Yaw, ten_deg) * Vector3::x();
        assert!(nose.y > 0.0, "nose right is towards positive y: {nose}");
        assert_eq!(rotation(Axis::Surge, 1.0), Matrix3::identity());
    }

    #[test]
    fn words_and_axes_are_one_to_one() {
        for axis in Axis::ALL {
            assert_eq!(Axis::from_word(axis.word()), Some(axis));
        }
        assert_eq!(Axis::from_word("pich"), None);
    }
}
