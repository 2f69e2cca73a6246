//! Suprema of a leg's time derivatives from suprema of the platform's: what holds between samples.

use crate::rig::Rig;
use crate::rig::crank::dead_point::quick_transmission;
use crate::rig::kinematics::MAX_AXES;
use crate::rig::kinematics::region::region_within;
use crate::rig::parts::CrankPart;
use nalgebra::Vector3;

/// Bounds on |d^k L/dt^k| (k = 0..4) of a leg while every coordinate j stays within suprema `q_sup[j][k]` of its
/// |k-th derivative| (k = 0..4; k = 0 is the largest |value|, level being zero) and the leg no shorter than
/// `shortest_m`. Valid for any motion inside them; infinite when `shortest_m` is not above zero. For a crank, which has no
/// shortest length, valid while it keeps to its travel and the joint to its ranges: what does not, fails by that.
///
/// A point of the platform is x = t + R1 .. Rn a. A partial derivative of any order of R1 .. Rn a by the angles is a
/// chain of cross products with unit vectors, so that its norm is at most the distance of the point from the innermost
/// axis that was differentiated by (its lever). Summed by Faa di Bruno's formula over all orders,
/// |x^(k)| <= |t^(k)| + sum over axes j of lever_j (B_k(S_j) - B_k(S_j-1)), where S_j adds the suprema of axes 1..j and
/// B_k is the k-th complete Bell polynomial. From |x^(k)| to L by differentiating L^2 = |x - b|^2.
/// Source: derivation beside this function (from memory for Faa di Bruno); held by a property test.
pub fn leg_bound(rig: &Rig, leg: usize, q_sup: &[[f64; 5]], shortest_m: f64) -> [f64; 5] {
    let Some(actuator) = rig.actuators.get(leg) else { return [0.0; 5] };
    let sup = |j: usize, k: usize| q_sup.get(j).map_or(0.0, |row| row[k].abs());
    let levers = levers(rig, actuator.anchor_p_m, |j| sup(j, 0));

    let mut along = [[0.0_f64; 5]; 3];
    let mut summed = [0.0_f64; 5];
    let mut x = [0.0_f64; 5];
    for (j, limits) in rig.axes.iter().take(MAX_AXES).enumerate() {
        if !limits.axis.is_rotation() {
            for (k, value) in along[limits.axis.index()].iter_mut().enumerate() {
                *value += sup(j, k);
            }
            continue;
        }
        let before = bell(&summed);
        for (k, value) in summed.iter_mut().enumerate() {
            *value += sup(j, k);
        }
        let after = bell(&summed);
        for k in 1..5 {
            x[k] += levers[j] * (after[k] - before[k]);
        }
    }
    for (k, value) in x.iter_mut().enumerate() {
        let [p, q, r] = [along[0][k], along[1][k], along[2][k]];
        *value += (p * p + q * q + r * r).sqrt();
    }

    // How far the point can have gone from where it is at level: no further than its levers times the angles.
    let strayed: f64 = (0..rig.axes.len().min(MAX_AXES)).map(|j| levers[j] * sup(j, 0)).sum();
    let level = (actuator.anchor_p_m - actuator.base_r_m).norm();
    let reach = actuator.anchor_p_m.norm() + actuator.base_r_m.norm();
    let longest = (level + strayed).min(reach) + x[0];
    if let Some(part) = &actuator.crank {
        // Near level a crank is further from its dead points than at the worst of its travel.
        let near = region_within(&rig.axes, actuator.anchor_p_m, |j| sup(j, 0));
        let near = near.map_or(0.0, |region| quick_transmission(part, &region));
        return pin_bound(part, part.least_transmission.max(near), x);
    }
    if shortest_m.is_nan() || shortest_m <= 0.0 {
        return [longest, f64::INFINITY, f64::INFINITY, f64::INFINITY, f64::INFINITY];
    }
    let [_, x1, x2, x3, x4] = x;
    let over = 1.0 / shortest_m;
    // With u the unit vector along the leg and x1' the part of x' across it:
    // L'    = u.x'
    // L''   = u.x''   + |x1'|^2 / L
    // L'''  = u.x'''  + 3 (x'.x'' - L' L'') / L, where x'.x'' - L' L'' = x1'.x'' - L' |x1'|^2 / L,
    //         and |L'| |x1'|^2 <= 2/(3 sqrt 3) |x'|^3
    // L'''' = u.x'''' + (4 (x'.x''' - L' L''') + 3 (|x''|^2 - L''^2)) / L
    let l2 = x2 + x1 * x1 * over;
    let across = x1 * x2 + 2.0 / (3.0 * 3.0_f64.sqrt()) * x1 * x1 * x1 * over;
    let l3 = x3 + 3.0 * across * over;
    let l4 = x4 + (4.0 * (x1 * x3 + 3.0 * x1 * across * over) + 3.0 * l2 * l2) * over;
    // Rounding in a few dozen operations stays far below this.
    [longest, x1, l2, l3, l4].map(|bound| bound * (1.0 + 1e-12))
}

/// The same for the way s of a crank's pin, from bounds `x` on the anchor's derivatives.
///
/// With e the rod, l its length, u its direction, q the direction of the pin's way, n that of the arm, r the arm's length
/// and c = u . q the transmission, at least `least` without its sign; e . e' = 0 differentiated, with
/// q' = -n s' / r and n' = q s' / r, a number for as many dots:
/// c s' = u . x'
/// c s'' = u . x'' + (u . n) s'^2 / r + |e'|^2 / l
/// c s3 = u . x3 + c s'^3 / r^2 + 3 (u . n) s' s'' / r + 3 e' . e'' / l
/// c s4 = u . x4 + 6 c s'^2 s'' / r^2 + (u . n) ((4 s' s3 + 3 s''^2) / r - s'^4 / r^3) + (4 e' . e3 + 3 |e''|^2) / l
/// and (u . n)^2 <= 1 - c^2, |ek| <= |xk| + |pk| with the pin's p' = q s', p'' = q s'' - n s'^2 / r,
/// p3 = q (s3 - s'^3 / r^2) - 3 n s' s'' / r. Source: calculated, as the formulas of the crank; held by a property test.
fn pin_bound(part: &CrankPart, least: f64, [_, x1, x2, x3, x4]: [f64; 5]) -> [f64; 5] {
    let (r, l) = (part.crank.arm_m, part.crank.rod_m);
    let furthest = r * (part.middle_rad.abs() + std::f64::consts::PI);
    if least.is_nan() || least <= 0.0 {
        return [furthest, f64::INFINITY, f64::INFINITY, f64::INFINITY, f64::INFINITY];
    }
    let aside = (1.0 - least * least).max(0.0).sqrt();
    let s1 = x1 / least;
    let e1 = x1 + s1;
    let s2 = (x2 + aside * s1 * s1 / r + e1 * e1 / l) / least;
    let e2 = x2 + libm::hypot(s2, s1 * s1 / r);
    let s3 = (x3 + 3.0 * aside * s1 * s2 / r + 3.0 * e1 * e2 / l) / least + s1 * s1 * s1 / (r * r);
    let e3 = x3 + libm::hypot(s3 + s1 * s1 * s1 / (r * r), 3.0 * s1 * s2 / r);
    let round = (4.0 * s1 * s3 + 3.0 * s2 * s2) / r + libm::pow(s1, 4.0) / (r * r * r);
    let s4 =
        (x4 + aside * round + (4.0 * e1 * e3 + 3.0 * e2 * e2) / l) / least + 6.0 * s1 * s1 * s2 / (r * r);
    [furthest, s1, s2, s3, s4].map(|bound| bound * (1.0 + 1e-12))
}

/// For each rotation, how far the point can be from its axis: the distance at level, and what the axes inside it may
/// add to that. Never more than the distance from the pivot. Zero for translations.
fn levers(rig: &Rig, anchor_p_m: Vector3<f64>, angle_sup: impl Fn(usize) -> f64) -> [f64; MAX_AXES] {
    let mut levers = [0.0; MAX_AXES];
    let mut strayed = 0.0;
    for (j, limits) in rig.axes.iter().enumerate().take(MAX_AXES).rev() {
        if limits.axis.is_rotation() {
            let at_level = limits.axis.unit().cross(&anchor_p_m).norm();
            levers[j] = (at_level + strayed).min(anchor_p_m.norm());
            strayed += levers[j] * angle_sup(j);
        }
    }
    levers
}

/// Complete Bell polynomials B1..B4: the derivatives of exp(s) over exp(s).
fn bell(&[_, s1, s2, s3, s4]: &[f64; 5]) -> [f64; 5] {
    let square = s1 * s1;
    [
        0.0,
        s1,
        s2 + square,
        s3 + 3.0 * s1 * s2 + square * s1,
        s4 + 4.0 * s1 * s3 + 3.0 * s2 * s2 + 6.0 * square * s2 + square * square,
    ]
}

#[cfg(test)]
mod tests {
    use super::bell;

    /// With every derivative 1 the complete Bell polynomials are the Bell numbers 1, 2, 5, 15.
    #[test]
    fn bell_polynomials_give_the_bell_numbers() {
        assert_eq!(bell(&[9.0, 1.0, 1.0, 1.0, 1.0]), [0.0, 1.0, 2.0, 5.0, 15.0]);
        assert_eq!(
            bell(&[9.0, 2.0, 3.0, 5.0, 7.0]),
            [0.0, 2.0, 7.0, 5.0 + 18.0 + 8.0, 7.0 + 40.0 + 27.0 + 72.0 + 16.0]
        );
    }
}
