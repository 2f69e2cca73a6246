//! Centre of mass from bathroom scales under the platform, level and tilted.
//!
//! Scales push upwards only. In each attitude the moments about the horizontal axes balance: with X the horizontal parts
//! of R p, sum r_i X(p_i) = m X(c); linear in the centre c. Level attitudes tell x and y, tilted ones the height.
//! Source: statics, any text (from memory).

use super::least_squares::Equations;
use super::{Estimate, MeasuringError, propagate};
use crate::rig::Axis;
use crate::rig::geometry::rotation;
use nalgebra::Vector3;

const NEXT: &str = "weigh it once more with the platform tilted by 5 deg or more";

/// A point of the platform that rests on a scale, platform frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Support {
    /// m.
    pub at_p_m: [Estimate; 3],
}

/// One attitude and what the scales read in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighing {
    /// Nose up, by an inclinometer, rad.
    pub pitch_rad: Estimate,
    /// Right wing down, after pitch, rad.
    pub roll_rad: Estimate,
    /// One for each support, kg.
    pub readings_kg: Vec<Estimate>,
}

/// What the scales bear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Borne {
    /// Everything: the mass is the sum of the readings.
    All,
    /// What the joint at the platform's origin leaves; the mass is known, kg.
    BesidesJoint(Estimate),
}

/// Mass and centre from scales.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weighed {
    /// kg.
    pub mass_kg: Estimate,
    /// Platform frame, m.
    pub centre_p_m: [Estimate; 3],
    /// What is left over, as an r.m.s. shift of the centre, m: much more than the uncertainties means a wrong reading.
    pub left_over_m: f64,
}

/// Mass and centre of what rests on scales.
///
/// # Errors
/// When there are too few readings or they leave a direction open.
pub fn centre_from_scales(
    supports: &[Support],
    borne: Borne,
    weighings: &[Weighing],
) -> Result<Weighed, MeasuringError> {
    let least = if borne == Borne::All { 2 } else { 1 };
    if supports.len() < least {
        return Err(MeasuringError::TooFew { what: "supports on scales", found: supports.len(), least });
    }
    if weighings.is_empty() {
        return Err(MeasuringError::TooFew { what: "weighings", found: 0, least: 2 });
    }
    let mut inputs: Vec<Estimate> = supports.iter().flat_map(|support| support.at_p_m).collect();
    if let Borne::BesidesJoint(mass_kg) = borne {
        inputs.push(mass_kg);
    }
    for (k, weighing) in weighings.iter().enumerate() {
        if weighing.readings_kg.len() != supports.len() {
            return Err(MeasuringError::Count {
                at: k + 1,
                found: weighing.readings_kg.len(),
                expected: supports.len(),
                of: "support",
            });
        }
        inputs.extend([weighing.pitch_rad, weighing.roll_rad]);
        inputs.extend(&weighing.readings_kg);
    }
    if !inputs.iter().all(|input| input.is_usable()) {
        return Err(MeasuringError::NotFinite);
    }
    let [mass_kg, x, y, z, left_over] = propagate(&inputs, |values| balance(values, supports.len(), borne))?;
    Ok(Weighed { mass_kg, centre_p_m: [x, y, z], left_over_m: left_over.value })
}

/// Mass, centre and what is left over from plain values in the order of `inputs` above.
fn balance(values: &[f64], supports: usize, borne: Borne) -> Result<[f64; 5], MeasuringError> {
    let (points, rest) = values.split_at(3 * supports);
    let (known_kg, rest) = match (borne, rest.split_first()) {
        (Borne::BesidesJoint(_), Some((mass, rest))) => (Some(*mass), rest),
        _ => (None, rest),
    };
    let weighings = rest.chunks_exact(2 + supports);
    let mean_kg =
        rest.chunks_exact(2 + supports).flat_map(|one| &one[2..]).sum::<f64>() / weighings.len() as f64;
    let mass_kg = known_kg.unwrap_or(mean_kg);
    let is_mass = mass_kg > 0.0;
    if !is_mass {
        return Err(MeasuringError::Mass { found_kg: mass_kg });
    }
    let mut equations = Equations::new();
    for one in weighings {
        let (attitude, readings) = one.split_at(2);
        let turn = rotation(Axis::Pitch, attitude[0]) * rotation(Axis::Roll, attitude[1]);
        // Each weighing is balanced with its own sum, so that a scale's common error does not tilt the result.
        let here_kg = known_kg.unwrap_or_else(|| readings.iter().sum());
        let mut moment = Vector3::zeros();
        for (point, reading) in points.chunks_exact(3).zip(readings) {
            moment += turn * Vector3::new(point[0], point[1], point[2]) * (*reading / here_kg);
        }
        for row in 0..2 {
            equations.push(turn.row(row).transpose(), moment[row]);
        }
    }
    let (centre, left_over) = equations.solve(NEXT)?;
    Ok([mass_kg, centre.x, centre.y, centre.z, left_over])
}

#[cfg(test)]
mod tests {
    use super::super::random::{Draws, assert_spread};
    use super::*;
    use nalgebra::Matrix3;

    const CENTRE: [f64; 3] = [0.03, -0.01, -0.12];

    fn support(x: f64, y: f64, z: f64) -> Support {
        Support { at_p_m: [x, y, z].map(|value| Estimate::new(value, 0.001)) }
    }

    /// Readings on three supports that hold 120 kg at `CENTRE`.
    fn weighing(supports: &[Support; 3], pitch_deg: f64, roll_deg: f64) -> Weighing {
        let (pitch, roll) = (pitch_deg.to_radians(), roll_deg.to_radians());
        let turn = rotation(Axis::Pitch, pitch) * rotation(Axis::Roll, roll);
        let at = |point: [f64; 3]| turn * Vector3::from(point);
        let of = |support: &Support| at(support.at_p_m.map(|value| value.value));
        let points = supports.each_ref().map(of);
        let matrix = Matrix3::from_fn(|i, j| if i == 2 { 1.0 } else { points[j][i] });
        let centre = at(CENTRE);
        let readings = matrix.try_inverse().unwrap() * Vector3::new(centre.x, centre.y, 1.0) * 120.0;
        Weighing {
            pitch_rad: Estimate::new(pitch, 0.001),
            roll_rad: Estimate::new(roll, 0.001),
            readings_kg: readings.iter().map(|kg| Estimate::new(*kg, 0.1)).collect(),
        }
    }

    fn three() -> [Support; 3] {
        [support(0.5, 0.0, 0.1), support(-0.5, -0.4, 0.1), support(-0.5, 0.4, 0.1)]
    }

    /// By hand: two scales 0.5 m before and behind read 66 and 54 kg level: x = 0.5 (66 - 54) / 120 = 0.05. Pitched
    /// up by asin 0.6, X = 0.8 x + 0.6 z of each support (0.5, 0) and (-0.5, 0): +-0.4; readings 48 and 72 kg:
    /// -0.08 = 0.8 x 0.05 + 0.6 z, z = -0.2.
    #[test]
    fn a_plank_by_hand() {
        let supports = [support(0.5, 0.0, 0.0), support(-0.5, 0.0, 0.0)];
        let exact = |pitch: f64, front: f64, rear: f64| Weighing {
            pitch_rad: Estimate::exact(pitch),
            roll_rad: Estimate::exact(0.0),
            readings_kg: vec![Estimate::new(front, 0.1), Estimate::new(rear, 0.1)],
        };
        let weighings = [exact(0.0, 66.0, 54.0), exact(libm::asin(0.6), 48.0, 72.0)];
        let found = centre_from_scales(&supports, Borne::All, &weighings).unwrap();
        let value = found.centre_p_m.map(|part| part.value);
        assert!((value[0] - 0.05).abs() < 1e-12 && value[1].abs() < 1e-12, "{value:?}");
        assert!((value[2] + 0.2).abs() < 1e-12, "{value:?}");
        assert!((found.mass_kg.value - 120.0).abs() < 1e-12);
        // Four readings of 0.1 kg, halved: 0.1 kg.
        assert!((found.mass_kg.standard - 0.1).abs() < 1e-9);
    }

    #[test]
    fn the_centre_is_found_again_and_its_spread_is_true() {
        let supports = three();
        let attitudes = [(0.0, 0.0), (12.0, 0.0), (-8.0, 10.0)];
        let weighings = attitudes.map(|(pitch, roll)| weighing(&supports, pitch, roll));
        let found = centre_from_scales(&supports, Borne::All, &weighings).unwrap();
        for (part, expected) in found.centre_p_m.iter().zip(CENTRE) {
            assert!((part.value - expected).abs() < 1e-12, "{part:?}");
        }
        assert!(found.left_over_m < 1e-7, "{}", found.left_over_m);
        let mut draws = Draws(7);
        assert_spread(found.centre_p_m, 2000, || {
            let exact = |value: Estimate, draws: &mut Draws| Estimate::exact(draws.of(value));
            let supports: Vec<_> = supports
                .iter()
                .map(|support| Support { at_p_m: support.at_p_m.map(|value| exact(value, &mut draws)) })
                .collect();
            let weighings: Vec<_> = weighings
                .iter()
                .map(|one| Weighing {
                    pitch_rad: exact(one.pitch_rad, &mut draws),
                    roll_rad: exact(one.roll_rad, &mut draws),
                    readings_kg: one.readings_kg.iter().map(|kg| exact(*kg, &mut draws)).collect(),
                })
                .collect();
            centre_from_scales(&supports, Borne::All, &weighings).unwrap().centre_p_m.map(|part| part.value)
        });
    }

    /// The joint bears the rest: one scale 0.7 m behind it. 130 kg with the centre 0.035 m behind: 6.5 kg.
    #[test]
    fn a_scale_beside_the_joint() {
        let rear = [support(-0.7, 0.0, 0.0)];
        let at = |pitch: f64, roll: f64, kg: f64| Weighing {
            pitch_rad: Estimate::exact(pitch),
            roll_rad: Estimate::exact(roll),
            readings_kg: vec![Estimate::new(kg, 0.05)],
        };
        let mass = Borne::BesidesJoint(Estimate::new(130.0, 0.5));
        // Pitched up by asin 0.6 with z = -0.1: X = 0.8 (-0.035) + 0.6 (-0.1) = -0.088; 130 x 0.088 / 0.56 kg.
        let tilted = at(libm::asin(0.6), 0.0, 130.0 * 0.088 / 0.56);
        let found = centre_from_scales(&rear, mass, &[at(0.0, 0.0, 6.5), tilted]).unwrap();
        assert!((found.centre_p_m[0].value + 0.035).abs() < 1e-12);
        assert!((found.centre_p_m[2].value + 0.1).abs() < 1e-12);
        assert_eq!(found.mass_kg, Estimate::new(130.0, 0.5));
    }

    #[test]
    fn what_is_missing_is_said() {
        let supports = three();
        let level = weighing(&supports, 0.0, 0.0);
        let error = centre_from_scales(&supports, Borne::All, std::slice::from_ref(&level)).unwrap_err();
        assert!(matches!(error, MeasuringError::Undetermined { direction: "z", .. }), "{error}");
        assert!(error.to_string().contains("tilted"));
        let error = centre_from_scales(&supports[..2], Borne::All, std::slice::from_ref(&level)).unwrap_err();
        assert_eq!(error.to_string(), "measurement 1 has 3 readings, expected 2: one for each support");
        assert!(centre_from_scales(&supports[..1], Borne::All, std::slice::from_ref(&level)).is_err());
        assert!(centre_from_scales(&supports, Borne::All, &[]).is_err());
        let nothing = Weighing { readings_kg: vec![Estimate::exact(0.0); 3], ..level };
        let error = centre_from_scales(&supports, Borne::All, &[nothing]).unwrap_err();
        assert_eq!(error, MeasuringError::Mass { found_kg: 0.0 });
    }
}
