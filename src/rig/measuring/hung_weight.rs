//! Stiffness from hung weights and a dial gauge.
//!
//! Travel is a line over load, its slope the give and one over it the stiffness. With several weights the line need not
//! pass through zero, so that slack at the start does not count. Source: Hooke's law and a least-squares line.

use super::{Estimate, MeasuringError, propagate};
use crate::units::STANDARD_GRAVITY_M_S2;

/// A weight and what the gauge says with it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hanging {
    /// kg.
    pub mass_kg: Estimate,
    /// Travel of the gauge since nothing hung, m, + with the load.
    pub gauge_m: Estimate,
}

/// Arms of a torsion measurement, square to the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TorsionArms {
    /// From the axis to the weight's line, m.
    pub weight_m: Estimate,
    /// From the axis to the gauge's line, m.
    pub gauge_m: Estimate,
}

/// Stiffness where the gauge stands in the weight's line, N/m.
///
/// # Errors
/// When there are no readings or the gauge did not move with the weight.
pub fn stiffness_n_m(hangings: &[Hanging]) -> Result<Estimate, MeasuringError> {
    let arms = TorsionArms { weight_m: Estimate::exact(1.0), gauge_m: Estimate::exact(1.0) };
    of(hangings, arms, |gauge_m, _| gauge_m)
}

/// Torsional stiffness, N m/rad: moment m g a over angle atan(travel / b).
///
/// # Errors
/// When there are no readings, an arm is zero, or the gauge did not move with the weight.
pub fn torsion_nm_rad(hangings: &[Hanging], arms: TorsionArms) -> Result<Estimate, MeasuringError> {
    if arms.gauge_m.value == 0.0 || arms.weight_m.value == 0.0 {
        return Err(MeasuringError::NoDeflection);
    }
    of(hangings, arms, |gauge_m, arm_m| libm::atan(gauge_m / arm_m))
}

fn of(
    hangings: &[Hanging],
    arms: TorsionArms,
    give: impl Fn(f64, f64) -> f64,
) -> Result<Estimate, MeasuringError> {
    if hangings.is_empty() {
        return Err(MeasuringError::TooFew { what: "hung weights", found: 0, least: 1 });
    }
    let mut inputs = vec![arms.weight_m, arms.gauge_m];
    inputs.extend(hangings.iter().flat_map(|hanging| [hanging.mass_kg, hanging.gauge_m]));
    if !inputs.iter().all(|input| input.is_usable()) {
        return Err(MeasuringError::NotFinite);
    }
    let [stiffness] = propagate(&inputs, |values| {
        let [weight_arm, gauge_arm, ref pairs @ ..] = *values else { return Err(MeasuringError::NotFinite) };
        let points: Vec<(f64, f64)> = pairs
            .chunks_exact(2)
            .map(|pair| (pair[0] * STANDARD_GRAVITY_M_S2 * weight_arm, give(pair[1], gauge_arm)))
            .collect();
        let slope = slope(&points);
        if slope > 0.0 && slope.is_finite() { Ok([1.0 / slope]) } else { Err(MeasuringError::NoDeflection) }
    })?;
    Ok(stiffness)
}

/// Slope of the least-squares line; through zero for one point.
fn slope(points: &[(f64, f64)]) -> f64 {
    if let [(x, y)] = points {
        return y / x;
    }
    let count = points.len() as f64;
    let (mean_x, mean_y) =
        points.iter().fold((0.0, 0.0), |sum, point| (sum.0 + point.0 / count, sum.1 + point.1 / count));
    let (mut xx, mut xy) = (0.0, 0.0);
    for (x, y) in points {
        xx += (x - mean_x) * (x - mean_x);
        xy += (x - mean_x) * (y - mean_y);
    }
    xy / xx
}

#[cfg(test)]
mod tests {
    use super::super::random::{Draws, assert_spread};
    use super::*;

    fn hanging(kg: f64, mm: f64) -> Hanging {
        Hanging { mass_kg: Estimate::new(kg, 0.05), gauge_m: Estimate::new(mm / 1e3, 1e-5) }
    }

    /// By hand: 10 kg and 0.1 mm: 980 665 N/m; sqrt(0.005^2 + 0.1^2) = 10.01 % of it.
    #[test]
    fn one_weight_by_hand() {
        let found = stiffness_n_m(&[hanging(10.0, 0.1)]).unwrap();
        assert!((found.value - 980_665.0).abs() < 1e-6);
        assert!((found.standard / found.value - 0.1001).abs() < 0.002, "a curved slope: {found:?}");
    }

    /// Slack of 0.2 mm does not count once there are two weights: 10 kg more for 0.5 mm more.
    #[test]
    fn slack_does_not_count() {
        let found = stiffness_n_m(&[hanging(10.0, 0.7), hanging(20.0, 1.2), hanging(30.0, 1.7)]).unwrap();
        assert!((found.value - 98.0665 / 0.0005).abs() < 1e-4, "{found:?}");
    }

    /// By hand: 10 kg on 0.6 m are 58.8399 N m; 2 mm on 0.5 m are 0.004 rad: 14 710 N m/rad.
    #[test]
    fn a_torsion_by_hand() {
        let arms = TorsionArms { weight_m: Estimate::new(0.6, 0.002), gauge_m: Estimate::new(0.5, 0.002) };
        let hangings = [hanging(10.0, 2.0)];
        let found = torsion_nm_rad(&hangings, arms).unwrap();
        assert!((found.value - 58.8399 / 0.004).abs() < 0.1, "{found:?}");
        let mut draws = Draws(3);
        assert_spread([found], 2000, || {
            let mut exact = |value: Estimate| Estimate::exact(draws.of(value));
            let arms = TorsionArms { weight_m: exact(arms.weight_m), gauge_m: exact(arms.gauge_m) };
            let one = Hanging { mass_kg: exact(hangings[0].mass_kg), gauge_m: exact(hangings[0].gauge_m) };
            [torsion_nm_rad(&[one], arms).unwrap().value]
        });
    }

    #[test]
    fn a_gauge_that_does_not_move_is_refused() {
        assert_eq!(stiffness_n_m(&[hanging(10.0, -1.0)]), Err(MeasuringError::NoDeflection));
        assert_eq!(
            stiffness_n_m(&[hanging(10.0, 1.0), hanging(10.0, 1.0)]),
            Err(MeasuringError::NoDeflection)
        );
        assert!(stiffness_n_m(&[]).is_err());
        assert_eq!(stiffness_n_m(&[hanging(f64::NAN, 1.0)]), Err(MeasuringError::NotFinite));
    }
}
