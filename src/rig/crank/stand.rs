//! A crank leg at one anchor: its coordinate, and how that follows the anchor.
//!
//! The coordinate is the pin's way along its circle, s = r t. With the rod e = a - p, its length l fixed, q the direction
//! of the pin's way and n that of the arm: e . e' = 0 and p' = q s' give s' = e . a' / (e . q). Once more, with
//! q' = -n s' / r: (e . q) s'' = e . a'' + |a' - q s'|^2 + (e . n) s'^2 / r. Source: the rod's length differentiated
//! (calculated); held against differences beside this file and against MuJoCo in tests/mjcf_peers.rs.

use crate::rig::parts::CrankPart;
use nalgebra::Vector3;

/// How a crank stands for an anchor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stand {
    /// From pin to anchor, rig frame, m.
    pub rod_r_m: Vector3<f64>,
    /// Direction in which the pin goes with growing angles, rig frame, unit length.
    pub way_r: Vector3<f64>,
    /// Direction from the shaft to the pin, rig frame, unit length.
    pub arm_r: Vector3<f64>,
    /// Part of the rod along the pin's way, m: its length times the transmission; zero at a dead point.
    pub lever_m: f64,
    /// Part of the rod along the arm, m.
    pub along_arm_m: f64,
    /// The arm, m.
    arm_m: f64,
}

impl Stand {
    /// How the coordinate follows the anchor: ds/da, rig frame. Not finite at a dead point and beyond the reach.
    pub fn pull_r(&self) -> Vector3<f64> {
        self.rod_r_m / self.lever_m
    }

    /// s'' of an anchor with this velocity and acceleration, whose pin moves at `speed_m_s`.
    pub fn acceleration_m_s2(&self, velocity_r: &Vector3<f64>, up_r: &Vector3<f64>, speed_m_s: f64) -> f64 {
        let swing = (velocity_r - self.way_r * speed_m_s).norm_squared();
        let round = self.along_arm_m * speed_m_s * speed_m_s / self.arm_m;
        (self.rod_r_m.dot(up_r) + swing + round) / self.lever_m
    }

    /// d2s / dq_i dq_j from the anchor's derivatives and the first ones of s: the same, polarised.
    pub fn second(
        &self,
        first: (&Vector3<f64>, &Vector3<f64>),
        second: &Vector3<f64>,
        slopes: (f64, f64),
    ) -> f64 {
        let (one, other) = (first.0 - self.way_r * slopes.0, first.1 - self.way_r * slopes.1);
        let round = self.along_arm_m * slopes.0 * slopes.1 / self.arm_m;
        (self.rod_r_m.dot(second) + one.dot(&other) + round) / self.lever_m
    }
}

impl CrankPart {
    /// Parts of an anchor from the shaft along the zero direction and a quarter turn from it; C; the lever with the sign
    /// of the assembly, zero at the dead points and beyond them.
    fn triangle(&self, anchor_r_m: &Vector3<f64>) -> [f64; 4] {
        let crank = &self.crank;
        let d = anchor_r_m - crank.centre_r_m;
        let (a, b) = (d.dot(&crank.zero_r), d.dot(&crank.quarter_r()));
        let c =
            (d.norm_squared() + crank.arm_m * crank.arm_m - crank.rod_m * crank.rod_m) / (2.0 * crank.arm_m);
        let lever = (a * a + b * b - c * c).max(0.0).sqrt();
        [a, b, c, lever * crank.assembly.lever_sign()]
    }

    /// The coordinate, m: arm times angle, the angle within half a turn of the middle of its travel.
    ///
    /// An anchor out of reach has the coordinate of the dead point that the crank would stop at: outside the travel, as
    /// reading a rig file makes sure of, so that it fails a stroke and never passes for a pose.
    pub fn coordinate_m(&self, anchor_r_m: &Vector3<f64>) -> f64 {
        let [a, b, c, lever] = self.triangle(anchor_r_m);
        let (sin, cos) = (b * c - a * lever, a * c + b * lever);
        let (sin_m, cos_m) = libm::sincos(self.middle_rad);
        let from_middle = libm::atan2(sin * cos_m - cos * sin_m, cos * cos_m + sin * sin_m);
        self.crank.arm_m * (self.middle_rad + from_middle)
    }

    /// How it stands for an anchor.
    pub fn stand(&self, anchor_r_m: &Vector3<f64>) -> Stand {
        let crank = &self.crank;
        let [a, b, c, lever_m] = self.triangle(anchor_r_m);
        let square = a * a + b * b;
        let (sin, cos) = ((b * c - a * lever_m) / square, (a * c + b * lever_m) / square);
        let (zero, quarter) = (crank.zero_r, crank.quarter_r());
        let arm_r = zero * cos + quarter * sin;
        Stand {
            rod_r_m: anchor_r_m - crank.centre_r_m - arm_r * crank.arm_m,
            way_r: quarter * cos - zero * sin,
            arm_r,
            lever_m,
            along_arm_m: c - crank.arm_m,
            arm_m: crank.arm_m,
        }
    }

    /// Pin and rod's other end, for pictures, m. `None` where the crank does not reach the anchor.
    pub fn pin_r_m(&self, anchor_r_m: &Vector3<f64>) -> Option<Vector3<f64>> {
        let stand = self.stand(anchor_r_m);
        (stand.lever_m != 0.0).then(|| anchor_r_m - stand.rod_r_m)
    }
}

#[cfg(test)]
mod tests {
    use crate::rig::crank::Assembly;
    use crate::rig::sample::crank_leg;
    use nalgebra::Vector3;
    use proptest::prelude::*;

    proptest! {
        /// Arm times the angle of the crank's own arithmetic, whole turns aside; and derivatives against differences.
        #[test]
        fn the_coordinate_is_arm_times_angle(
            shift in prop::array::uniform3(-0.05_f64..0.05), v in prop::array::uniform3(-1.0_f64..1.0),
            w in prop::array::uniform3(-5.0_f64..5.0), ahead: bool, middle in -9.0_f64..9.0,
        ) {
            let mut leg = crank_leg("one", 0.3);
            let part = leg.crank.as_mut().unwrap();
            if ahead {
                part.crank.assembly = Assembly::Ahead;
            }
            part.middle_rad = middle;
            let part = leg.crank.unwrap();
            let (from, v, w) = (leg.anchor_p_m + Vector3::from(shift), Vector3::from(v), Vector3::from(w));
            let at = |t: f64| from + v * t + w * (t * t / 2.0);
            let s = part.coordinate_m(&from);
            prop_assert!((s / part.crank.arm_m - middle).abs() <= std::f64::consts::PI + 1e-9);
            let angle = part.crank.angle_near_rad(from, s / part.crank.arm_m).unwrap();
            prop_assert!((angle * part.crank.arm_m - s).abs() < 1e-12, "{angle} {s}");
            let stand = part.stand(&from);
            prop_assert!((stand.rod_r_m.norm() - part.crank.rod_m).abs() < 1e-12);
            prop_assert!((part.crank.transmission(angle, from) * part.crank.rod_m - stand.lever_m).abs() < 1e-12);
            prop_assert!((stand.rod_r_m.dot(&stand.way_r) - stand.lever_m).abs() < 1e-12);
            prop_assert!((stand.rod_r_m.dot(&stand.arm_r) - stand.along_arm_m).abs() < 1e-12);
            // Where angles jump from one end of their turn to the other there are no differences to take.
            prop_assume!((s / part.crank.arm_m - middle).abs() < 3.0 && stand.lever_m.abs() > 0.1);
            const STEP: f64 = 1e-5;
            let [before, after] = [-STEP, STEP].map(|t| part.coordinate_m(&at(t)));
            let speed = stand.pull_r().dot(&v);
            prop_assert!((speed - (after - before) / (2.0 * STEP)).abs() < 1e-6, "{speed}");
            let up = stand.acceleration_m_s2(&v, &w, speed);
            let found = (after - 2.0 * s + before) / (STEP * STEP);
            prop_assert!((up - found).abs() < 1e-4 * (1.0 + up.abs()), "{up} {found}");
        }
    }

    #[test]
    fn out_of_reach_stops_at_the_dead_point() {
        let part = crank_leg("one", 0.3).crank.unwrap();
        // Forward of the shaft, along its zero direction, too far and too near.
        let at = |x: f64| part.coordinate_m(&(part.crank.centre_r_m + Vector3::new(x, 0.0, 0.0)));
        assert!(at(0.6).abs() < 1e-12, "{}", at(0.6));
        assert!((at(0.2).abs() - part.crank.arm_m * std::f64::consts::PI).abs() < 1e-12, "{}", at(0.2));
        assert_eq!(part.pin_r_m(&(part.crank.centre_r_m + Vector3::new(0.6, 0.0, 0.0))), None);
    }
}
