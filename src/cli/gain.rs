//! A gain as it is typed: `0.5`, `50 %`, `-6 dB`.

use crate::units::factor_of_db;
use crate::units::{Dimension, quantity};
use std::str::FromStr;

/// Largest gain that is taken: far above any use, and far below what overflows. Own choice.
const MAX_GAIN: f64 = 1000.0;

/// A factor on everything that moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Gain(f64);

impl Gain {
    /// The factor.
    pub(super) fn factor(self) -> f64 {
        self.0
    }
}

impl FromStr for Gain {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let found =
            quantity(text).map_err(|error| format!("{error}; expected a gain like 0.5, 50% or -6dB"))?;
        let factor = match found.dimension {
            Dimension::NUMBER => found.value_si,
            // A level of an amplitude is 20 log10 of its ratio (ISO 80000-1, annex C).
            Dimension::LEVEL => factor_of_db(found.value_si),
            other => return Err(format!("a gain is a plain number or a level in dB, not {other}")),
        };
        if (0.0..=MAX_GAIN).contains(&factor) {
            Ok(Self(factor))
        } else {
            Err(format!("a gain must lie between 0 and {MAX_GAIN}"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factor_percent_and_level() {
        let read = |text: &str| text.parse::<Gain>().map(Gain::factor);
        assert_eq!(read("0.5"), Ok(0.5));
        assert_eq!(read("50%"), Ok(0.5));
        assert_eq!(read("50 %"), Ok(0.5));
        assert_eq!(read("0"), Ok(0.0));
        assert!((read("-20 dB").unwrap() - 0.1).abs() < 1e-12);
        assert_eq!(read("-20dB"), read("-20 dB"));
        for wrong in ["", "half", "-1", "3 deg", "1e9", "NaN", "inf", "200 dB"] {
            assert!(read(wrong).is_err(), "{wrong}");
        }
    }
}
