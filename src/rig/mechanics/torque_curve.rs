//! A motor's torque over its speed, as points with straight lines between.

use super::data_error::{DataError, not_negative};

/// Torque that a motor has at each turning rate: never more at a higher one.
#[derive(Debug, Clone, PartialEq)]
pub struct TorqueCurve {
    points: Vec<(f64, f64)>,
}

impl TorqueCurve {
    /// A curve from points (rad/s, N m), the first at standstill. `name` (`peak`, `continuous`) goes into messages.
    ///
    /// # Errors
    /// When there are no points, the first is not at standstill, speeds do not rise, or torque rises or is negative.
    pub fn new(name: &'static str, points: Vec<(f64, f64)>) -> Result<Self, DataError> {
        let Some(&(start, _)) = points.first() else { return Err(DataError::CurveEmpty { curve: name }) };
        if start != 0.0 {
            return Err(DataError::CurveStart { curve: name, found_rad_s: start });
        }
        for &(_, torque) in &points {
            not_negative("a torque of the curve", torque, "N m")?;
        }
        for (k, pair) in points.windows(2).enumerate() {
            if let [(before_rad_s, before_nm), (found_rad_s, found_nm)] = *pair {
                if !(found_rad_s > before_rad_s && found_rad_s.is_finite()) {
                    return Err(DataError::CurveOrder {
                        curve: name,
                        point: k + 2,
                        found_rad_s,
                        before_rad_s,
                    });
                }
                if found_nm > before_nm {
                    return Err(DataError::CurveRises { curve: name, point: k + 2, found_nm, before_nm });
                }
            }
        }
        Ok(Self { points })
    }

    /// The points, (rad/s, N m).
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    /// Largest turning rate, rad/s.
    pub fn most_rad_s(&self) -> f64 {
        self.points.last().map_or(0.0, |point| point.0)
    }

    /// Torque at a turning rate of either sign, N m; `None` beyond the curve's end, where the motor cannot run.
    pub fn at_nm(&self, rate_rad_s: f64) -> Option<f64> {
        let rate = rate_rad_s.abs();
        let next = self.points.partition_point(|point| point.0 < rate);
        let &(high_rad_s, high_nm) = self.points.get(next)?;
        let Some(&(low_rad_s, low_nm)) = next.checked_sub(1).and_then(|k| self.points.get(k)) else {
            return Some(high_nm);
        };
        Some(low_nm + (high_nm - low_nm) * (rate - low_rad_s) / (high_rad_s - low_rad_s))
    }

    /// Share of the torque that is used at a turning rate: 1 is all of it; infinite beyond the curve.
    pub fn share(&self, torque_nm: f64, rate_rad_s: f64) -> f64 {
        match self.at_nm(rate_rad_s) {
            _ if torque_nm == 0.0 && rate_rad_s.abs() <= self.most_rad_s() => 0.0,
            Some(available) if available > 0.0 => torque_nm.abs() / available,
            _ => f64::INFINITY,
        }
    }

    /// Largest power on the curve, W: torque is a line between points, so power is a parabola whose top may lie inside.
    pub fn most_power_w(&self) -> f64 {
        let ends = self.points.iter().map(|(rate, torque)| rate * torque).fold(0.0, f64::max);
        let tops = self.points.windows(2).filter_map(|pair| {
            let [(low_rad_s, low_nm), (high_rad_s, high_nm)] = *pair else { return None };
            let slope = (high_nm - low_nm) / (high_rad_s - low_rad_s);
            let top = (low_rad_s - low_nm / slope) / 2.0;
            (top > low_rad_s && top < high_rad_s).then_some(top * (low_nm + slope * (top - low_rad_s)))
        });
        tops.fold(ends, f64::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn curve() -> TorqueCurve {
        TorqueCurve::new("peak", vec![(0.0, 3.8), (300.0, 3.8), (500.0, 1.8)]).unwrap()
    }

    #[test]
    fn lies_on_lines_between_points() {
        let curve = curve();
        assert_eq!(curve.at_nm(0.0), Some(3.8));
        assert_eq!(curve.at_nm(-300.0), Some(3.8));
        assert!((curve.at_nm(400.0).unwrap() - 2.8).abs() < 1e-12);
        assert_eq!(curve.at_nm(500.0), Some(1.8));
        assert_eq!(curve.at_nm(500.1), None);
        assert!((curve.share(-1.4, 400.0) - 0.5).abs() < 1e-12);
        assert_eq!(curve.share(0.1, 501.0), f64::INFINITY);
        assert_eq!(curve.share(0.0, 500.0), 0.0);
        assert_eq!(curve.most_rad_s(), 500.0);
    }

    #[test]
    fn impossible_curves_are_refused() {
        let new = |points: &[(f64, f64)]| TorqueCurve::new("peak", points.to_vec()).unwrap_err().to_string();
        assert_eq!(new(&[]), "the peak torque curve has no points, expected at least one at standstill");
        assert_eq!(
            new(&[(0.0, 1.0), (100.0, 1.2)]),
            "point 2 of the peak torque curve rises to 1.2 N m from 1 N m; a motor's torque does not rise with speed"
        );
        assert!(new(&[(10.0, 1.0)]).contains("begins at 10 rad/s"));
        assert!(new(&[(0.0, 1.0), (0.0, 1.0)]).contains("point 2"));
        assert!(new(&[(0.0, 1.0), (f64::NAN, 1.0)]).contains("point 2"));
        assert!(new(&[(0.0, -1.0)]).contains("expected 0 N m or more"));
    }

    proptest! {
        #[test]
        fn power_is_no_less_than_anywhere(mut rates in prop::collection::vec(1.0..600.0_f64, 1..6), falls in prop::collection::vec(0.0..1.0_f64, 6)) {
            rates.sort_by(f64::total_cmp);
            rates.dedup();
            let mut torque = 4.0;
            let mut points = vec![(0.0, torque)];
            for (rate, fall) in rates.into_iter().zip(falls) {
                torque *= fall;
                points.push((rate, torque));
            }
            let curve = TorqueCurve::new("peak", points).unwrap();
            let most = curve.most_power_w();
            let found = (0..=4000)
                .map(|k| curve.most_rad_s() * f64::from(k) / 4000.0)
                .filter_map(|rate| curve.at_nm(rate).map(|torque| rate * torque))
                .fold(0.0, f64::max);
            prop_assert!(found <= most * (1.0 + 1e-12) && found >= most * 0.99, "{found} {most}");
        }
    }
}
