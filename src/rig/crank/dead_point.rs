//! How near a crank comes to a dead point inside a region of anchors and a travel: a bound, not a sample.
//!
//! The lever of the rod squared is P^2 - C^2, with P the anchor's distance from the shaft's line and C as in the parent:
//! in terms of the square distance from the shaft's centre, g, and of the distance across the crank's plane, h, it is
//! g - h^2 - ((g + r^2 - l^2) / 2r)^2. That falls with h^2 and is concave in g, so that in a box of anchors it is least at
//! the largest h^2 and at one end of g. Boxes whose angles all lie outside the travel do not count; the one with the least
//! bound is halved until it is small. Source: calculated, beside this function; held by a property test.

use crate::rig::parts::CrankPart;
use nalgebra::Vector3;
use std::cmp::Ordering;
use std::collections::BinaryHeap;
use std::f64::consts::PI;

/// A box with no side longer than this is not halved further, m.
const SMALL_M: f64 = 5e-4;
/// Boxes that are looked at, at most. What is left then still is a bound, a looser one.
const MOST_BOXES: usize = 60_000;

/// A box along the rig's axes, rig frame, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Region {
    /// Smallest coordinates.
    pub low_r_m: Vector3<f64>,
    /// Largest.
    pub high_r_m: Vector3<f64>,
}

/// The least transmission (without sign, 0 to 1) for any anchor of the region at which the angle lies in the travel (rad,
/// within half a turn of the part's middle); 0 when a dead point may be among them, 1 when no anchor has such an angle.
pub fn least_transmission(part: &CrankPart, region: &Region, travel_rad: (f64, f64)) -> f64 {
    let mut open = BinaryHeap::new();
    let look = |region: Region| Some(Bounded { least: lever_squared(part, &region, travel_rad)?, region });
    open.extend(look(*region));
    let mut seen = 1;
    while let Some(worst) = open.pop() {
        let sides = worst.region.high_r_m - worst.region.low_r_m;
        let longest = sides.imax();
        if seen >= MOST_BOXES || sides[longest] <= SMALL_M {
            return (worst.least.max(0.0).sqrt() / part.crank.rod_m).min(1.0);
        }
        let middle = f64::midpoint(worst.region.low_r_m[longest], worst.region.high_r_m[longest]);
        let (mut below, mut above) = (worst.region, worst.region);
        below.high_r_m[longest] = middle;
        above.low_r_m[longest] = middle;
        open.extend([below, above].into_iter().filter_map(look));
        seen += 2;
    }
    1.0
}

/// The same for any angle, from a few boxes only: quick, and good where the region is small.
pub fn quick_transmission(part: &CrankPart, region: &Region) -> f64 {
    let middle = (region.low_r_m + region.high_r_m) / 2.0;
    let mut least = f64::INFINITY;
    for k in 0..8 {
        let mut eighth = *region;
        for axis in 0..3 {
            let end = if k >> axis & 1 == 0 { &mut eighth.high_r_m } else { &mut eighth.low_r_m };
            end[axis] = middle[axis];
        }
        least = least.min(lever_squared(part, &eighth, ANY).unwrap_or(0.0));
    }
    (least.max(0.0).sqrt() / part.crank.rod_m).min(1.0)
}

/// A travel that every angle lies in.
const ANY: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);

/// A lower bound on the lever's square in a box; `None` when no angle of the box lies in the travel.
fn lever_squared(part: &CrankPart, region: &Region, (low_rad, high_rad): (f64, f64)) -> Option<f64> {
    let crank = &part.crank;
    let (low, high) = (region.low_r_m - crank.centre_r_m, region.high_r_m - crank.centre_r_m);
    let along = |direction: &Vector3<f64>| {
        let ends =
            low.component_mul(direction).zip_map(&high.component_mul(direction), |a, b| (a.min(b), a.max(b)));
        ends.iter().fold((0.0, 0.0), |sum: (f64, f64), end| (sum.0 + end.0, sum.1 + end.1))
    };
    let square = |(low, high): (f64, f64)| {
        let least = if low <= 0.0 && high >= 0.0 { 0.0 } else { (low * low).min(high * high) };
        (least, (low * low).max(high * high))
    };
    let sum = |a: (f64, f64), b: (f64, f64)| (a.0 + b.0, a.1 + b.1);
    let (a, b, h) = (along(&crank.zero_r), along(&crank.quarter_r()), along(&crank.axis_r));
    // Square distance from the centre, along the rig's axes: no wider than it is.
    let [x, y, z] = [0, 1, 2].map(|k| square((low[k], high[k])));
    let far = sum(sum(x, y), z);
    let least_far = far.0.max(square(a).0 + square(b).0 + square(h).0);
    let c = |far: f64| (far + crank.arm_m * crank.arm_m - crank.rod_m * crank.rod_m) / (2.0 * crank.arm_m);
    let lever = |far: f64| far - square(h).1 - c(far) * c(far);
    let bound = || lever(least_far).min(lever(far.1));
    if (low_rad, high_rad) == ANY {
        return Some(bound());
    }
    let angles = angles(part, (a, b), (c(least_far), c(far.1)), sum(square(a), square(b)));
    let (from, to) = (low_rad - part.middle_rad, high_rad - part.middle_rad);
    // Told within half a turn of the middle: a turn more or less is the same angle.
    let meets = |by: f64| angles.0 + by <= to && angles.1 + by >= from;
    [-2.0 * PI, 0.0, 2.0 * PI].into_iter().any(meets).then(bound)
}

/// All angles from the middle that anchors with such parts, such C and such a square distance in the plane can have.
fn angles(
    part: &CrankPart,
    (a, b): ((f64, f64), (f64, f64)),
    c: (f64, f64),
    plane: (f64, f64),
) -> (f64, f64) {
    let turn = (-PI, PI);
    if plane.0 <= 0.0 {
        return turn;
    }
    // Towards the anchor: a box that does not hold the shaft's line is seen from it under less than half a turn, so that
    // its corners hold the ends, counted from its centre.
    let (mid_a, mid_b) = (f64::midpoint(a.0, a.1), f64::midpoint(b.0, b.1));
    let corners = [(a.0, b.0), (a.0, b.1), (a.1, b.0), (a.1, b.1)];
    let seen = corners.map(|(a, b)| libm::atan2(mid_a * b - mid_b * a, mid_a * a + mid_b * b));
    let spread = seen.iter().fold((0.0_f64, 0.0_f64), |(low, high), at| (low.min(*at), high.max(*at)));
    let (near, far) = (plane.0.sqrt(), plane.1.sqrt());
    // C over P is least where C is least: over the nearest when that is negative, over the furthest when it is not.
    let least = (c.0 / if c.0 < 0.0 { near } else { far }).clamp(-1.0, 1.0);
    let most = (c.1 / if c.1 < 0.0 { far } else { near }).clamp(-1.0, 1.0);
    let aside = (libm::acos(most), libm::acos(least));
    let (sin, cos) = libm::sincos(part.middle_rad);
    let towards = libm::atan2(mid_b * cos - mid_a * sin, mid_a * cos + mid_b * sin);
    // Rounding of the arccosine near its ends stays far below this.
    let slack = 1e-6;
    if part.crank.assembly.lever_sign() < 0.0 {
        (towards + spread.0 + aside.0 - slack, towards + spread.1 + aside.1 + slack)
    } else {
        (towards + spread.0 - aside.1 - slack, towards + spread.1 - aside.0 + slack)
    }
}

/// A box in a heap, the least bound first.
struct Bounded {
    least: f64,
    region: Region,
}

impl Ord for Bounded {
    fn cmp(&self, other: &Self) -> Ordering {
        other.least.total_cmp(&self.least)
    }
}

impl PartialOrd for Bounded {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Bounded {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Bounded {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::crank::Assembly;
    use crate::rig::sample::crank_leg;
    use proptest::prelude::*;

    proptest! {
        /// No anchor of the region whose angle lies in the travel has less, and some has hardly more.
        #[test]
        fn no_anchor_has_less(
            turned in -3.0_f64..3.0, size in prop::array::uniform3(0.0_f64..0.08), shift in prop::array::uniform3(-0.05_f64..0.05),
            middle in -0.6_f64..0.6, half in 0.1_f64..0.9, ahead: bool,
        ) {
            let mut leg = crank_leg("one", turned);
            let part = leg.crank.as_mut().unwrap();
            if ahead {
                part.crank.assembly = Assembly::Ahead;
                part.middle_rad = 2.65;
            }
            part.middle_rad += middle;
            let part = leg.crank.unwrap();
            let travel = (part.middle_rad - half, part.middle_rad + half);
            let centre = leg.anchor_p_m + Vector3::from(shift);
            let region = Region { low_r_m: centre - Vector3::from(size), high_r_m: centre + Vector3::from(size) };
            let least = least_transmission(&part, &region, travel);
            let quick = quick_transmission(&part, &region);
            let mut found = 1.0_f64;
            const STEPS: i32 = 14;
            for k in 0..STEPS * STEPS * STEPS {
                let at = |k: i32| f64::from(k % STEPS) / f64::from(STEPS - 1);
                let share = Vector3::new(at(k), at(k / STEPS), at(k / STEPS / STEPS));
                let anchor = region.low_r_m + (region.high_r_m - region.low_r_m).component_mul(&share);
                let angle = part.coordinate_m(&anchor) / part.crank.arm_m;
                let here = part.stand(&anchor).lever_m.abs() / part.crank.rod_m;
                prop_assert!(here >= quick - 1e-9, "{here} below {quick}");
                if angle >= travel.0 && angle <= travel.1 {
                    found = found.min(here);
                }
            }
            prop_assert!(found >= least - 1e-9, "{found} below {least}");
            prop_assert!(found <= least + 0.12 || found == 1.0, "{least} is far from {found}");
        }
    }
}
