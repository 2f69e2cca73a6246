//! Units joined by `*`, `/` and `^`: `m/s^2`, `N*m/rad`.

use super::{Dimension, unit};

/// A unit that may be joined from several.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compound {
    /// What it measures.
    pub dimension: Dimension,
    /// SI value of one.
    pub scale: f64,
}

/// Why a joined unit makes no sense.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum UnitError {
    /// No such unit.
    #[error("there is no unit `{symbol}`")]
    Unknown {
        /// The word.
        symbol: String,
        /// The nearest unit, if one is near.
        nearest: Option<&'static str>,
    },
    /// `degC`, `dB` or `%` joined with another.
    #[error("`{symbol}` cannot be joined with another unit")]
    StandsAlone {
        /// The word.
        symbol: String,
    },
    /// An exponent beyond any physics.
    #[error("the exponents of this unit are too large")]
    TooLarge,
}

/// Joins units; an exponent says how often each is taken: `m/s^2` is `[("m", 1), ("s", -2)]`.
///
/// # Errors
/// When a word is no unit, when a unit that stands alone is joined, or when an exponent is too large.
pub fn compound<'a>(powers: impl IntoIterator<Item = (&'a str, i32)>) -> Result<Compound, UnitError> {
    let mut joined = Compound { dimension: Dimension::NUMBER, scale: 1.0 };
    let mut alone = None;
    let mut count = 0;
    for (symbol, exponent) in powers {
        let row = unit(symbol).ok_or_else(|| UnitError::Unknown {
            symbol: symbol.to_string(),
            nearest: crate::diag::nearest(symbol, super::UNITS.iter().map(|row| row.symbol)),
        })?;
        if matches!(symbol, "degC" | "dB" | "%") {
            alone = Some((symbol, exponent));
        }
        count += 1;
        let dimension = row.dimension.to_power(exponent).and_then(|d| joined.dimension.times(d));
        joined.dimension = dimension.ok_or(UnitError::TooLarge)?;
        joined.scale *= libm::pow(row.scale, f64::from(exponent));
    }
    match alone {
        Some((symbol, exponent)) if count > 1 || exponent != 1 => {
            Err(UnitError::StandsAlone { symbol: symbol.to_string() })
        }
        _ if joined.scale.is_normal() => Ok(joined),
        _ => Err(UnitError::TooLarge),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn joins_and_refuses() {
        let unit = compound([("deg", 1), ("s", -2)]).unwrap();
        assert_eq!(unit.dimension, Dimension::ANGULAR_ACCELERATION);
        assert!(matches!(compound([("mm", 1), ("dB", 1)]), Err(UnitError::StandsAlone { .. })));
        let Err(UnitError::Unknown { nearest, .. }) = compound([("dge", 1)]) else { panic!("a unit `dge`?") };
        assert_eq!(nearest, Some("deg"));
        assert!(matches!(compound([("m", 400)]), Err(UnitError::TooLarge)));
    }
}
