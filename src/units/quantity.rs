//! A number with a unit, as rig files write it in a string: `"0.62 m"`, `"-12 deg"`, `"9000 N*m/rad"`.

use super::{Compound, Dimension, UnitError, compound};

/// A value in SI units and what it measures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantity {
    /// In SI units (rad, Hz, dB for those).
    pub value_si: f64,
    /// What it measures.
    pub dimension: Dimension,
}

/// Why a text is no quantity.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum QuantityError {
    /// Nothing like a number stands at its start.
    #[error("`{found}` does not start with a number")]
    NoNumber {
        /// The whole text.
        found: String,
    },
    /// The number is not finite.
    #[error("`{found}` is too large a number")]
    TooLarge {
        /// The whole text.
        found: String,
    },
    /// What follows the number is not written like a unit.
    #[error("`{found}` is not written like a unit")]
    NoUnit {
        /// What follows the number.
        found: String,
    },
    /// The unit makes no sense.
    #[error(transparent)]
    Unit(#[from] UnitError),
}

/// Reads `NUMBER UNIT`; the space between is optional, a number alone is a plain number.
///
/// # Errors
/// When the text does not start with a finite number, or goes on with something that is no unit.
pub fn quantity(text: &str) -> Result<Quantity, QuantityError> {
    let text = text.trim();
    let is_number = |(at, c): (usize, char)| {
        let before = text[..at].chars().next_back();
        match c {
            '0'..='9' | '.' => true,
            '+' | '-' => before.is_none_or(|b| b == 'e'),
            'e' => {
                let mut rest = text[at + 1..].chars();
                let next = rest.next();
                before.is_some_and(|b| b.is_ascii_digit())
                    && (next.is_some_and(|n| n.is_ascii_digit())
                        || (matches!(next, Some('+' | '-'))
                            && rest.next().is_some_and(|n| n.is_ascii_digit())))
            }
            _ => false,
        }
    };
    let end = text.char_indices().find(|&at| !is_number(at)).map_or(text.len(), |(at, _)| at);
    let (number, rest) = text.split_at(end);
    let value: f64 = number.parse().map_err(|_| QuantityError::NoNumber { found: text.to_string() })?;
    let unit = match rest.trim() {
        "" => Compound { dimension: Dimension::NUMBER, scale: 1.0 },
        rest => compound(powers(rest)?.iter().map(|(symbol, n)| (symbol.as_str(), *n)))?,
    };
    let value_si = value * unit.scale;
    if !value_si.is_finite() {
        return Err(QuantityError::TooLarge { found: text.to_string() });
    }
    Ok(Quantity { value_si, dimension: unit.dimension })
}

/// Splits `m/s^2` into words and exponents.
fn powers(text: &str) -> Result<Vec<(String, i32)>, QuantityError> {
    let wrong = || QuantityError::NoUnit { found: text.to_string() };
    let mut found = Vec::new();
    let mut sign = 1;
    for part in text.split_inclusive(['*', '/']) {
        let word = part.trim_end_matches(['*', '/']).trim();
        let (symbol, exponent) = match word.split_once('^') {
            Some((symbol, exponent)) => (symbol, exponent.parse::<i32>().map_err(|_| wrong())?),
            None => (word, 1),
        };
        if symbol.is_empty() || !(symbol == "%" || symbol.chars().all(|c| c.is_ascii_alphabetic())) {
            return Err(wrong());
        }
        found.push((symbol.to_string(), sign * exponent.clamp(-1000, 1000)));
        if part.ends_with('/') {
            sign = -1;
        }
        // In `N*m/rad` what follows the first `/` is below the line; a later `*` there would be read two ways.
        if part.ends_with('*') && sign < 0 {
            return Err(wrong());
        }
    }
    if text.ends_with(['*', '/']) { Err(wrong()) } else { Ok(found) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_what_a_rig_file_says() {
        let read = |text| quantity(text).unwrap();
        assert_eq!(read("0.62 m"), Quantity { value_si: 0.62, dimension: Dimension::LENGTH });
        assert_eq!(read("-250mm/s").value_si, -0.25);
        assert_eq!(read("1e3 Hz").value_si, 1000.0);
        assert_eq!(read("5").dimension, Dimension::NUMBER);
        assert_eq!(read("9000 N*m/rad").dimension.angle, -1);
    }

    #[test]
    fn refuses_what_is_no_quantity() {
        for text in ["", "m", "--1 m", "1 m s", "1 /s", "1 m/", "1 m/s*s", "1e999 m", "1 5"] {
            assert!(quantity(text).is_err(), "{text}");
        }
    }
}
