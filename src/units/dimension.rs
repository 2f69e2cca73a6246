//! Exponents of the base dimensions. Angle is one of them, so that degrees never pass for metres.

use std::fmt;

/// Exponents over the base dimensions of the language.
///
/// Hz and rpm count turns, not radians: a frequency has dimension time^-1 and no angle.
/// A level in decibels is a dimension of its own (`level`), so that dB adds to dB only.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Dimension {
    /// Exponent of length (m).
    pub length: i8,
    /// Exponent of mass (kg).
    pub mass: i8,
    /// Exponent of time (s).
    pub time: i8,
    /// Exponent of angle (rad).
    pub angle: i8,
    /// Exponent of electric current (A).
    pub current: i8,
    /// Exponent of temperature (K; written in degC, no arithmetic).
    pub temperature: i8,
    /// Exponent of level (dB).
    pub level: i8,
}

impl Dimension {
    /// A plain number: no dimension at all (`%` included).
    pub const NUMBER: Self =
        Self { length: 0, mass: 0, time: 0, angle: 0, current: 0, temperature: 0, level: 0 };
    /// Length, m.
    pub const LENGTH: Self = Self { length: 1, ..Self::NUMBER };
    /// Mass, kg.
    pub const MASS: Self = Self { mass: 1, ..Self::NUMBER };
    /// Time, s.
    pub const TIME: Self = Self { time: 1, ..Self::NUMBER };
    /// Angle, rad.
    pub const ANGLE: Self = Self { angle: 1, ..Self::NUMBER };
    /// Frequency in turns per second, Hz.
    pub const FREQUENCY: Self = Self { time: -1, ..Self::NUMBER };
    /// Speed, m/s.
    pub const SPEED: Self = Self { length: 1, time: -1, ..Self::NUMBER };
    /// Acceleration, m/s^2.
    pub const ACCELERATION: Self = Self { length: 1, time: -2, ..Self::NUMBER };
    /// Jerk, m/s^3.
    pub const JERK: Self = Self { length: 1, time: -3, ..Self::NUMBER };
    /// Rate of turn, rad/s.
    pub const ANGULAR_RATE: Self = Self { angle: 1, time: -1, ..Self::NUMBER };
    /// Angular acceleration, rad/s^2.
    pub const ANGULAR_ACCELERATION: Self = Self { angle: 1, time: -2, ..Self::NUMBER };
    /// Angular jerk, rad/s^3.
    pub const ANGULAR_JERK: Self = Self { angle: 1, time: -3, ..Self::NUMBER };
    /// Force, N.
    pub const FORCE: Self = Self { length: 1, mass: 1, time: -2, ..Self::NUMBER };
    /// Moment of inertia, kg*m^2.
    pub const INERTIA: Self = Self { length: 2, mass: 1, ..Self::NUMBER };
    /// Torque, N*m; work and energy, J, are the same dimension.
    pub const TORQUE: Self = Self { length: 2, mass: 1, time: -2, ..Self::NUMBER };
    /// Power, W.
    pub const POWER: Self = Self { length: 2, mass: 1, time: -3, ..Self::NUMBER };
    /// Electric current, A.
    pub const CURRENT: Self = Self { current: 1, ..Self::NUMBER };
    /// Voltage, V.
    pub const VOLTAGE: Self = Self { length: 2, mass: 1, time: -3, current: -1, ..Self::NUMBER };
    /// Torque for a current, N*m/A.
    pub const TORQUE_PER_CURRENT: Self = Self { length: 2, mass: 1, time: -2, current: -1, ..Self::NUMBER };
    /// Stiffness along a line, N/m.
    pub const STIFFNESS: Self = Self { mass: 1, time: -2, ..Self::NUMBER };
    /// Stiffness about an axis, N*m/rad.
    pub const TURNING_STIFFNESS: Self = Self { length: 2, mass: 1, time: -2, angle: -1, ..Self::NUMBER };
    /// Temperature, degC.
    pub const TEMPERATURE: Self = Self { temperature: 1, ..Self::NUMBER };
    /// Level, dB.
    pub const LEVEL: Self = Self { level: 1, ..Self::NUMBER };

    fn map2(self, other: Self, f: impl Fn(i8, i8) -> Option<i8>) -> Option<Self> {
        Some(Self {
            length: f(self.length, other.length)?,
            mass: f(self.mass, other.mass)?,
            time: f(self.time, other.time)?,
            angle: f(self.angle, other.angle)?,
            current: f(self.current, other.current)?,
            temperature: f(self.temperature, other.temperature)?,
            level: f(self.level, other.level)?,
        })
    }

    /// The dimension of a product; `None` when an exponent leaves the range of `i8`.
    pub fn times(self, other: Self) -> Option<Self> {
        self.map2(other, i8::checked_add)
    }

    /// The dimension of a quotient; `None` when an exponent leaves the range of `i8`.
    pub fn over(self, other: Self) -> Option<Self> {
        self.map2(other, i8::checked_sub)
    }

    /// The dimension of an integer power; `None` when an exponent leaves the range of `i8`.
    pub fn to_power(self, exponent: i32) -> Option<Self> {
        let exponent = i8::try_from(exponent).ok()?;
        self.map2(Self::NUMBER, |a, _| a.checked_mul(exponent))
    }

    /// The everyday name, where there is one: `length`, `angular rate`, `a plain number`.
    pub fn name(self) -> Option<&'static str> {
        const NAMES: &[(Dimension, &str)] = &[
            (Dimension::NUMBER, "a plain number"),
            (Dimension::LENGTH, "length"),
            (Dimension::MASS, "mass"),
            (Dimension::TIME, "time"),
            (Dimension::ANGLE, "angle"),
            (Dimension::FREQUENCY, "frequency"),
            (Dimension::SPEED, "speed"),
            (Dimension::ACCELERATION, "acceleration"),
            (Dimension::JERK, "jerk"),
            (Dimension::ANGULAR_RATE, "angular rate"),
            (Dimension::ANGULAR_ACCELERATION, "angular acceleration"),
            (Dimension::ANGULAR_JERK, "angular jerk"),
            (Dimension::FORCE, "force"),
            (Dimension::INERTIA, "moment of inertia"),
            (Dimension::TORQUE, "torque or energy"),
            (Dimension::POWER, "power"),
            (Dimension::CURRENT, "current"),
            (Dimension::VOLTAGE, "voltage"),
            (Dimension::TORQUE_PER_CURRENT, "torque for a current"),
            (Dimension::STIFFNESS, "stiffness"),
            (Dimension::TURNING_STIFFNESS, "stiffness about an axis"),
            (Dimension::TEMPERATURE, "temperature"),
            (Dimension::LEVEL, "level"),
        ];
        NAMES.iter().find(|(dimension, _)| *dimension == self).map(|(_, name)| *name)
    }
}

impl Dimension {
    /// The SI units alone, `m/s^2`; `1` for a plain number.
    pub fn si_unit(self) -> String {
        let exponents = [
            ("kg", self.mass),
            ("m", self.length),
            ("rad", self.angle),
            ("A", self.current),
            ("degC", self.temperature),
            ("dB", self.level),
            ("s", self.time),
        ];
        let power = |(symbol, n): &(&str, i8)| match n.unsigned_abs() {
            1 => (*symbol).to_string(),
            n => format!("{symbol}^{n}"),
        };
        let above: Vec<_> = exponents.iter().filter(|(_, n)| *n > 0).map(power).collect();
        let below: Vec<_> = exponents.iter().filter(|(_, n)| *n < 0).map(power).collect();
        let above = if above.is_empty() { "1".to_string() } else { above.join("*") };
        below.iter().fold(above, |text, unit| format!("{text}/{unit}"))
    }
}

impl fmt::Display for Dimension {
    /// The name with its base units, `angular rate (rad/s)`, or the base units alone.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.name() {
            Some(name) if *self == Self::NUMBER => f.write_str(name),
            Some(name) => write!(f, "{name} ({})", self.si_unit()),
            None => f.write_str(&self.si_unit()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn si_units_alone() {
        assert_eq!(Dimension::ACCELERATION.si_unit(), "m/s^2");
        assert_eq!(Dimension::ANGULAR_RATE.si_unit(), "rad/s");
        assert_eq!(Dimension::NUMBER.si_unit(), "1");
        assert_eq!(Dimension::SPEED.to_string(), "speed (m/s)");
    }
}
