//! Printing a quantity for a person: four significant figures in a unit that suits it.

use super::{Dimension, unit};

/// Prints an SI value in the everyday unit of its dimension: `12.5 mm`, `3.25 deg/s`, `0.25 m/s^2`.
pub fn show(value_si: f64, dimension: Dimension) -> String {
    let deg = unit("deg").map_or(1.0, |unit| unit.scale);
    let (symbol, scale) = match dimension {
        Dimension::LENGTH => ("mm", 1e-3),
        Dimension::SPEED => ("mm/s", 1e-3),
        Dimension::ACCELERATION => ("m/s^2", 1.0),
        Dimension::JERK => ("m/s^3", 1.0),
        Dimension::ANGLE => ("deg", deg),
        Dimension::ANGULAR_RATE => ("deg/s", deg),
        Dimension::ANGULAR_ACCELERATION => ("deg/s^2", deg),
        Dimension::ANGULAR_JERK => ("deg/s^3", deg),
        Dimension::FREQUENCY => ("Hz", 1.0),
        Dimension::TIME => ("s", 1.0),
        Dimension::MASS => ("kg", 1.0),
        Dimension::FORCE => ("N", 1.0),
        Dimension::TORQUE => ("N*m", 1.0),
        Dimension::POWER => ("W", 1.0),
        Dimension::CURRENT => ("A", 1.0),
        Dimension::STIFFNESS => ("N/mm", 1e3),
        Dimension::TEMPERATURE => ("degC", 1.0),
        Dimension::LEVEL => ("dB", 1.0),
        Dimension::NUMBER => ("", 1.0),
        other => return format!("{} {other}", figures(value_si)),
    };
    show_in(value_si, symbol, scale)
}

/// Prints `value_si` in a unit of `scale` SI units, named `symbol`.
pub fn show_in(value_si: f64, symbol: &str, scale: f64) -> String {
    let number = figures(value_si / scale);
    if symbol.is_empty() { number } else { format!("{number} {symbol}") }
}

/// Four significant figures, no exponent between 1e-4 and 1e7, no trailing zeros.
fn figures(value: f64) -> String {
    if value == 0.0 {
        return "0".to_string();
    }
    if !value.is_finite() {
        return if value.is_nan() { "not a number".into() } else { "infinite".into() };
    }
    let magnitude = libm::floor(libm::log10(value.abs()));
    if !(-4.0..7.0).contains(&magnitude) {
        return format!("{value:.3e}");
    }
    let decimals = (3.0 - magnitude).clamp(0.0, 8.0) as usize;
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_string() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn everyday_units_and_four_figures() {
        assert_eq!(show(0.3814, Dimension::SPEED), "381.4 mm/s");
        assert_eq!(show(0.1, Dimension::LENGTH), "100 mm");
        assert_eq!(show(std::f64::consts::PI / 180.0, Dimension::ANGLE), "1 deg");
        assert_eq!(show(12345.6, Dimension::NUMBER), "12346");
        assert_eq!(show(0.0, Dimension::TIME), "0 s");
    }
}
