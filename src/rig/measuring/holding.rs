//! Centre of mass from the forces that hold the platform, averaged over slow moves up and down.
//!
//! Friction pushes against the motion, so it cancels in the mean of both as far as it is the same both ways (a screw with
//! eta' = 2 - 1/eta). What is left is J^T F = m g times the centre's place: linear in the centre. Source: virtual work
//! (from memory).

use super::least_squares::Equations;
use super::{Estimate, MeasuringError, propagate};
use crate::rig::Rig;
use crate::rig::kinematics::{Pose, jacobian};
use crate::units::STANDARD_GRAVITY_M_S2;
use nalgebra::Vector3;

const NEXT: &str = "hold it once more at a pose that is tilted by 5 deg or more";

/// One pose and the forces there.
#[derive(Debug, Clone, PartialEq)]
pub struct Hold {
    /// Platform coordinates, rig's order, rad or m.
    pub q: Vec<Estimate>,
    /// Leg forces while it passes the pose slowly with every leg growing longer, N, + pushes the ends apart. From a
    /// motor's torque: 2 pi T / lead.
    pub longer_n: Vec<Estimate>,
    /// The same with every leg growing shorter.
    pub shorter_n: Vec<Estimate>,
}

/// Centre from holding forces.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// Platform frame, m.
    pub centre_p_m: [Estimate; 3],
    /// What is left over, as an r.m.s. shift of the centre, m.
    pub left_over_m: f64,
    /// Friction of each leg: half the difference of both ways, mean over the poses, N.
    pub friction_n: Vec<f64>,
}

/// Centre of a payload of known mass (kg) from the forces that hold it.
///
/// # Errors
/// When there are too few readings or they leave a direction open.
pub fn centre_from_holding(rig: &Rig, mass_kg: Estimate, holds: &[Hold]) -> Result<Held, MeasuringError> {
    if holds.is_empty() {
        return Err(MeasuringError::TooFew { what: "poses", found: 0, least: 2 });
    }
    let (axes, legs) = (rig.axes.len(), rig.actuators.len());
    let mut inputs = vec![mass_kg];
    for (k, hold) in holds.iter().enumerate() {
        let wrong = |found: usize, expected: usize, of: &'static str| {
            (found != expected).then_some(MeasuringError::Count { at: k + 1, found, expected, of })
        };
        let wrong = wrong(hold.q.len(), axes, "axis")
            .or_else(|| wrong(hold.longer_n.len(), legs, "leg"))
            .or_else(|| wrong(hold.shorter_n.len(), legs, "leg"));
        if let Some(wrong) = wrong {
            return Err(wrong);
        }
        inputs.extend(hold.q.iter().chain(&hold.longer_n).chain(&hold.shorter_n));
    }
    if !inputs.iter().all(|input| input.is_usable()) {
        return Err(MeasuringError::NotFinite);
    }
    let [x, y, z, left_over] = propagate(&inputs, |values| balance(rig, values))?;
    let friction = |leg: usize| {
        let half = |hold: &Hold| {
            let (longer, shorter) = (hold.longer_n.get(leg), hold.shorter_n.get(leg));
            longer.zip(shorter).map_or(0.0, |(longer, shorter)| (longer.value - shorter.value) / 2.0)
        };
        holds.iter().map(half).sum::<f64>() / holds.len() as f64
    };
    Ok(Held {
        centre_p_m: [x, y, z],
        left_over_m: left_over.value,
        friction_n: (0..legs).map(friction).collect(),
    })
}

/// Centre and what is left over from plain values in the order of `inputs` above.
fn balance(rig: &Rig, values: &[f64]) -> Result<[f64; 4], MeasuringError> {
    let (axes, legs) = (rig.axes.len(), rig.actuators.len());
    let Some((mass_kg, rest)) = values.split_first() else { return Err(MeasuringError::NotFinite) };
    let is_mass = *mass_kg > 0.0;
    if !is_mass {
        return Err(MeasuringError::Mass { found_kg: *mass_kg });
    }
    let weight_n = mass_kg * STANDARD_GRAVITY_M_S2;
    let mut equations = Equations::new();
    for hold in rest.chunks_exact(axes + 2 * legs) {
        let (q, forces) = hold.split_at(axes);
        let (longer, shorter) = forces.split_at(legs);
        let pose = Pose::at(rig, q);
        let jacobian = jacobian(rig, q);
        for j in 0..pose.count {
            let held: f64 = (0..legs).map(|i| jacobian[(i, j)] * (longer[i] + shorter[i]) / 2.0).sum();
            // The legs make -weight (d z_c / d q_j), of which the origin's part is known and the rest linear in c.
            let origin = pose.first(j, Vector3::zeros()).z;
            let part = |unit: Vector3<f64>| pose.first(j, unit).z - origin;
            let row = Vector3::new(part(Vector3::x()), part(Vector3::y()), part(Vector3::z()));
            equations.push(row, -held / weight_n - origin);
        }
    }
    let (centre, left_over) = equations.solve(NEXT)?;
    Ok([centre.x, centre.y, centre.z, left_over])
}

#[cfg(test)]
mod tests {
    use super::super::random::{Draws, assert_spread};
    use super::*;
    use crate::rig::gravity_legs_n;
    use crate::rig::sample::{six_legs, two_legs};

    fn hold(rig: &Rig, q: &[f64], friction_n: f64) -> Hold {
        let held = gravity_legs_n(rig, q).unwrap();
        let with = |by: f64| held.iter().map(|force| Estimate::new(force + by, 3.0)).collect();
        Hold {
            q: q.iter().map(|value| Estimate::new(*value, 0.001)).collect(),
            longer_n: with(friction_n),
            shorter_n: with(-friction_n),
        }
    }

    #[test]
    fn the_centre_is_found_again_and_friction_cancels() {
        let mut rig = two_legs();
        rig.payload.centre_p_m = Vector3::new(0.04, 0.015, -0.22);
        let holds = [[0.0, 0.0], [0.15, 0.0], [-0.1, 0.12]].map(|q| hold(&rig, &q, 45.0));
        let mass_kg = Estimate::new(120.0, 0.3);
        let found = centre_from_holding(&rig, mass_kg, &holds).unwrap();
        for (part, expected) in found.centre_p_m.iter().zip(rig.payload.centre_p_m.iter()) {
            assert!((part.value - expected).abs() < 1e-12, "{part:?}");
        }
        assert!(found.left_over_m < 1e-7);
        assert!(found.friction_n.iter().all(|friction| (friction - 45.0).abs() < 1e-12));
        let mut draws = Draws(11);
        assert_spread(found.centre_p_m, 2000, || {
            let mut exact =
                |values: &[Estimate]| values.iter().map(|v| Estimate::exact(draws.of(*v))).collect();
            let holds: Vec<_> = holds
                .iter()
                .map(|hold| Hold {
                    q: exact(&hold.q),
                    longer_n: exact(&hold.longer_n),
                    shorter_n: exact(&hold.shorter_n),
                })
                .collect();
            let mass: Vec<Estimate> = exact(&[mass_kg]);
            centre_from_holding(&rig, mass[0], &holds).unwrap().centre_p_m.map(|part| part.value)
        });
    }

    /// Legs that lift tell the mass as well: a wrong one leaves much over.
    #[test]
    fn a_wrong_mass_shows_on_a_rig_that_lifts() {
        let rig = six_legs();
        let q = [[0.0; 6], [0.0, 0.0, 0.0, 0.2, 0.0, 0.15]];
        let holds = q.map(|q| hold(&rig, &q, 10.0));
        let found = centre_from_holding(&rig, Estimate::exact(120.0), &holds).unwrap();
        assert!(found.left_over_m < 1e-7, "{}", found.left_over_m);
        let wrong = centre_from_holding(&rig, Estimate::exact(100.0), &holds).unwrap();
        assert!(wrong.left_over_m > 0.05, "{}", wrong.left_over_m);
    }

    #[test]
    fn what_is_missing_is_said() {
        let rig = two_legs();
        let level = hold(&rig, &[0.0, 0.0], 0.0);
        let error =
            centre_from_holding(&rig, Estimate::exact(120.0), std::slice::from_ref(&level)).unwrap_err();
        assert!(matches!(error, MeasuringError::Undetermined { direction: "z", .. }), "{error}");
        let short = Hold { longer_n: vec![], ..level.clone() };
        let error = centre_from_holding(&rig, Estimate::exact(120.0), &[short]).unwrap_err();
        assert_eq!(error.to_string(), "measurement 1 has 0 readings, expected 2: one for each leg");
        assert!(centre_from_holding(&rig, Estimate::exact(-1.0), &[level]).is_err());
        assert!(centre_from_holding(&rig, Estimate::exact(120.0), &[]).is_err());
    }
}
