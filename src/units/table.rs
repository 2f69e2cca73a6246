//! The unit table: one row a unit, each with the source of its size.

use super::Dimension;

/// One unit of the language and of rig files.
#[derive(Debug, PartialEq)]
pub struct Unit {
    /// As written: `kt`, `deg`, `%`.
    pub symbol: &'static str,
    /// What it measures.
    pub dimension: Dimension,
    /// SI value of one unit (rad for angles, Hz for frequencies, dB for levels).
    pub scale: f64,
    /// Where the size of the unit is laid down.
    pub source: &'static str,
}

/// Standard acceleration of gravity, m/s^2. Source: 3rd CGPM (1901), SI Brochure 9th ed.
pub const STANDARD_GRAVITY_M_S2: f64 = 9.806_65;

const fn row(symbol: &'static str, dimension: Dimension, scale: f64, source: &'static str) -> Unit {
    Unit { symbol, dimension, scale, source }
}

const PRESSURE: Dimension = Dimension { length: -1, mass: 1, time: -2, ..Dimension::NUMBER };

/// Every unit that a profile or a rig file may use.
pub const UNITS: &[Unit] = &[
    row("s", Dimension::TIME, 1.0, "SI Brochure 9th ed., 2.3.1"),
    row("ms", Dimension::TIME, 1e-3, "SI Brochure 9th ed., 3 (prefixes)"),
    row("min", Dimension::TIME, 60.0, "SI Brochure 9th ed., table 8"),
    row("h", Dimension::TIME, 3600.0, "SI Brochure 9th ed., table 8"),
    row("m", Dimension::LENGTH, 1.0, "SI Brochure 9th ed., 2.3.1"),
    row("mm", Dimension::LENGTH, 1e-3, "SI Brochure 9th ed., 3 (prefixes)"),
    row("cm", Dimension::LENGTH, 1e-2, "SI Brochure 9th ed., 3 (prefixes)"),
    row("km", Dimension::LENGTH, 1e3, "SI Brochure 9th ed., 3 (prefixes)"),
    row("ft", Dimension::LENGTH, 0.3048, "international yard and pound agreement, 1959"),
    row("in", Dimension::LENGTH, 0.0254, "international yard and pound agreement, 1959"),
    row("nmi", Dimension::LENGTH, 1852.0, "international nautical mile, Monaco 1929"),
    row("deg", Dimension::ANGLE, std::f64::consts::PI / 180.0, "SI Brochure 9th ed., table 8"),
    row("rad", Dimension::ANGLE, 1.0, "SI Brochure 9th ed., table 4"),
    row("Hz", Dimension::FREQUENCY, 1.0, "SI Brochure 9th ed., table 4"),
    row("rpm", Dimension::FREQUENCY, 1.0 / 60.0, "ISO 80000-3, rotational frequency"),
    row("kt", Dimension::SPEED, 1852.0 / 3600.0, "one nautical mile an hour"),
    row("g", Dimension::ACCELERATION, STANDARD_GRAVITY_M_S2, "3rd CGPM (1901), standard gravity"),
    row("kg", Dimension::MASS, 1.0, "SI Brochure 9th ed., 2.3.1"),
    row("lb", Dimension::MASS, 0.453_592_37, "international yard and pound agreement, 1959"),
    row("N", Dimension::FORCE, 1.0, "SI Brochure 9th ed., table 4"),
    row("kN", Dimension::FORCE, 1e3, "SI Brochure 9th ed., 3 (prefixes)"),
    row("lbf", Dimension::FORCE, 0.453_592_37 * STANDARD_GRAVITY_M_S2, "one pound at standard gravity"),
    row("J", Dimension::TORQUE, 1.0, "SI Brochure 9th ed., table 4"),
    row("W", Dimension::POWER, 1.0, "SI Brochure 9th ed., table 4"),
    row("kW", Dimension::POWER, 1e3, "SI Brochure 9th ed., 3 (prefixes)"),
    row("V", Dimension::VOLTAGE, 1.0, "SI Brochure 9th ed., table 4"),
    row("A", Dimension::CURRENT, 1.0, "SI Brochure 9th ed., 2.3.1"),
    row("Pa", PRESSURE, 1.0, "SI Brochure 9th ed., table 4"),
    row("degC", Dimension::TEMPERATURE, 1.0, "SI Brochure 9th ed., table 4; kept in degC, no arithmetic"),
    row("dB", Dimension::LEVEL, 1.0, "ISO 80000-1, annex C; 20 log10 of an amplitude ratio"),
    row("%", Dimension::NUMBER, 1e-2, "ISO 80000-1, 7.2.9"),
];

/// The unit with this symbol.
pub fn unit(symbol: &str) -> Option<&'static Unit> {
    UNITS.iter().find(|unit| unit.symbol == symbol)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn symbols_are_unique() {
        for (k, unit) in UNITS.iter().enumerate() {
            assert!(UNITS[..k].iter().all(|other| other.symbol != unit.symbol), "{} twice", unit.symbol);
        }
    }

    #[test]
    fn a_knot_is_a_nautical_mile_an_hour() {
        let (kt, nmi, h) = (unit("kt").unwrap(), unit("nmi").unwrap(), unit("h").unwrap());
        assert_eq!(kt.scale, nmi.scale / h.scale);
    }
}
