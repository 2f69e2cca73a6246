//! Values as people write them: degrees and millimetres, heave up.

use crate::motion::sign;
use crate::rig::{Actuator, Axis};

/// What turns a value of one axis, or of a leg, into the number that is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shown {
    /// Multiplies the SI value.
    pub(super) factor: f64,
    /// Unit of the result, without the time.
    pub(super) unit: &'static str,
}

impl Shown {
    /// Of a platform coordinate.
    pub(super) fn axis(axis: Axis) -> Self {
        if axis.is_rotation() {
            Self { factor: 180.0 / std::f64::consts::PI, unit: "deg" }
        } else {
            Self { factor: 1e3 * sign(axis), unit: "mm" }
        }
    }

    /// Of a leg's length, or of the angle of a crank.
    pub(super) fn leg(leg: &Actuator) -> Self {
        match &leg.crank {
            None => Self { factor: 1e3, unit: "mm" },
            Some(part) => Self { factor: 180.0 / std::f64::consts::PI / part.crank.arm_m, unit: "deg" },
        }
    }

    pub(super) fn of(self, value_si: f64) -> f64 {
        value_si * self.factor + 0.0
    }

    /// The unit of the n-th derivative: `deg/s^2`.
    pub(super) fn per(self, order: usize) -> String {
        match order {
            0 => self.unit.to_string(),
            1 => format!("{}/s", self.unit),
            n => format!("{}/s^{n}", self.unit),
        }
    }
}

/// A number with about three figures.
pub(super) fn figures(value: f64) -> String {
    if !value.is_finite() {
        return if value.is_nan() { "-".to_string() } else { "infinite".to_string() };
    }
    let size = value.abs();
    let decimals = if size >= 100.0 || size == 0.0 {
        0
    } else if size >= 10.0 {
        1
    } else if size >= 1.0 {
        2
    } else {
        3
    };
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_string() } else { text.to_string() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heave_is_drawn_upwards() {
        assert_eq!(Shown::axis(Axis::Heave).of(-0.04), 40.0);
        assert_eq!(Shown::axis(Axis::Surge).of(0.04), 40.0);
        assert!((Shown::axis(Axis::Roll).of(0.5) - 28.647_889_756).abs() < 1e-9);
        assert_eq!(Shown::axis(Axis::Surge).per(2), "mm/s^2");
    }

    #[test]
    fn about_three_figures() {
        assert_eq!(
            [1234.6, 12.34, 1.2345, 0.01234, -0.0001, 100.0].map(figures),
            ["1235", "12.3", "1.23", "0.012", "0", "100"]
        );
        assert_eq!(figures(f64::NAN), "-");
    }
}
