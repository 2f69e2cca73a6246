//! The way of a crank's pin in the arithmetic of jets, for one sample or several side by side.

use super::timed::Timed;
use crate::rig::lanes::Lane;
use crate::rig::parts::CrankPart;
use nalgebra::Vector3;

/// What a crank has of constants, its directions turned so that its angle is zero in the middle of its travel.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pin {
    centre_r_m: Vector3<f64>,
    /// Where the crank points in the middle, a quarter turn on, and along the shaft.
    frame_r: [Vector3<f64>; 3],
    arm_m: f64,
    rod_m: f64,
    lever_sign: f64,
    middle_m: f64,
}

impl Pin {
    pub(super) fn new(part: &CrankPart) -> Self {
        let (crank, (sin, cos)) = (&part.crank, libm::sincos(part.middle_rad));
        let (zero, quarter) = (crank.zero_r, crank.quarter_r());
        Self {
            centre_r_m: crank.centre_r_m,
            frame_r: [zero * cos + quarter * sin, quarter * cos - zero * sin, crank.axis_r],
            arm_m: crank.arm_m,
            rod_m: crank.rod_m,
            lever_sign: crank.assembly.lever_sign(),
            middle_m: crank.arm_m * part.middle_rad,
        }
    }

    /// The pin's way from the anchor, rig frame, as [`CrankPart::coordinate_m`] has it, with its derivatives.
    ///
    /// Formulas of [`crate::rig::crank::Stand`], and once more, with a number for three dots:
    /// (e . q) s3 = e . x3 + (e . q) s'^3 / r^2 + 3 (e . n) s' s'' / r + 3 e' . e'', e'' = x'' - q s'' + n s'^2 / r.
    #[inline(always)]
    pub(super) fn coordinate<T: Lane>(&self, x: [Timed<T>; 3]) -> Timed<T> {
        let splat = T::splat;
        let centre = [self.centre_r_m.x, self.centre_r_m.y, self.centre_r_m.z];
        let dot = |a: &[T; 3], b: &[T; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
        // Parts in the crank's frame, value and derivatives.
        let parts = |order: usize| {
            let shift = |k: usize| if order == 0 { x[k].0[0] - splat(centre[k]) } else { x[k].0[order] };
            let at = [shift(0), shift(1), shift(2)];
            self.frame_r.map(|axis| dot(&at, &[splat(axis.x), splat(axis.y), splat(axis.z)]))
        };
        let [d, x1, x2, x3] = [parts(0), parts(1), parts(2), parts(3)];
        let (arm, over_arm) = (splat(self.arm_m), splat(1.0 / self.arm_m));
        let square = d[0] * d[0] + d[1] * d[1];
        let rest = splat(self.arm_m * self.arm_m - self.rod_m * self.rod_m);
        let c = (square + d[2] * d[2] + rest) * splat(0.5 / self.arm_m);
        let lever = (square - c * c).at_least_zero().sqrt() * splat(self.lever_sign);
        let (sin, cos) = (d[1] * c - d[0] * lever, d[0] * c + d[1] * lever);
        let s0 = splat(self.middle_m) + sin.atan2(cos) * arm;
        let per_square = square.recip();
        let (sin, cos) = (sin * per_square, cos * per_square);
        let zero = splat(0.0);
        let (way, out) = ([-sin, cos, zero], [cos, sin, zero]);
        let rod = [d[0] - arm * cos, d[1] - arm * sin, d[2]];
        let along = c - arm;
        let (per_lever, three) = (lever.recip(), splat(3.0));
        let s1 = dot(&rod, &x1) * per_lever;
        let rod1 = [x1[0] - way[0] * s1, x1[1] - way[1] * s1, x1[2]];
        let round = s1 * s1 * over_arm;
        let s2 = (dot(&rod, &x2) + along * round + dot(&rod1, &rod1)) * per_lever;
        let rod2 = [0, 1, 2].map(|k| x2[k] - way[k] * s2 + out[k] * round);
        let s3 = (dot(&rod, &x3) + three * (along * (s1 * s2 * over_arm) + dot(&rod1, &rod2))) * per_lever
            + round * s1 * over_arm;
        Timed([s0, s1, s2, s3])
    }
}
