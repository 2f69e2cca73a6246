//! Readings as they are typed: quantities with units, several behind commas.

use crate::cli::output::Failure;
use crate::units::{Dimension, quantity};

/// What a reading must be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reading {
    dimension: Dimension,
    example: &'static str,
}

impl Reading {
    pub(super) const LENGTH: Self = Self { dimension: Dimension::LENGTH, example: "12.5 mm" };
    pub(super) const ANGLE: Self = Self { dimension: Dimension::ANGLE, example: "5 deg" };
    pub(super) const MASS: Self = Self { dimension: Dimension::MASS, example: "31.2 kg" };
    pub(super) const FORCE: Self = Self { dimension: Dimension::FORCE, example: "120 N" };
}

/// One quantity, SI; `flag` says where it was typed.
pub(super) fn one(text: &str, reading: Reading, flag: &str) -> Result<f64, Failure> {
    let expected = || format!("expected something like `{}`", reading.example);
    let found = quantity(text).map_err(|error| Failure(format!("{flag}: {error}; {}", expected())))?;
    if found.dimension == reading.dimension {
        Ok(found.value_si)
    } else {
        Err(Failure(format!("{flag}: `{}` has the wrong unit; {}", text.trim(), expected())))
    }
}

/// As many quantities as there are kinds.
pub(super) fn each(text: &str, kinds: &[Reading], flag: &str) -> Result<Vec<f64>, Failure> {
    let parts: Vec<&str> = text.split(',').collect();
    if parts.len() != kinds.len() {
        let example: Vec<&str> = kinds.iter().map(|kind| kind.example).collect();
        return Err(Failure(format!(
            "{flag}: `{}` holds {} values, expected {}: \"{}\"",
            text.trim(),
            parts.len(),
            kinds.len(),
            example.join(", ")
        )));
    }
    parts.iter().zip(kinds).map(|(part, kind)| one(part, *kind, flag)).collect()
}

/// The same as an array.
pub(super) fn list<const N: usize>(
    text: &str,
    kinds: &[Reading; N],
    flag: &str,
) -> Result<[f64; N], Failure> {
    let values = each(text, kinds, flag)?;
    values.try_into().map_err(|_| Failure(format!("{flag}: `{text}` is not {N} values")))
}

/// Any number of quantities of one kind.
pub(super) fn many(text: &str, kind: Reading, flag: &str) -> Result<Vec<f64>, Failure> {
    text.split(',').map(|part| one(part, kind, flag)).collect()
}

/// What stands before and after a sign.
pub(super) fn split<'t>(
    text: &'t str,
    sign: char,
    flag: &str,
    example: &str,
) -> Result<(&'t str, &'t str), Failure> {
    text.split_once(sign)
        .ok_or_else(|| Failure(format!("{flag}: no `{sign}` in `{text}`, expected {example}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_are_si_and_wrong_ones_are_told() {
        let found = list("12 mm, -3 deg", &[Reading::LENGTH, Reading::ANGLE], "--at").unwrap();
        assert!((found[0] - 0.012).abs() < 1e-15 && (found[1] + 3.0_f64.to_radians()).abs() < 1e-15);
        let words = |result: Result<Vec<f64>, Failure>| result.unwrap_err().0;
        assert_eq!(
            words(each("1 m", &[Reading::LENGTH; 2], "--at")),
            "--at: `1 m` holds 1 values, expected 2: \"12.5 mm, 12.5 mm\""
        );
        assert_eq!(
            words(many("3 kg, 2 m", Reading::MASS, "--weigh")),
            "--weigh: `2 m` has the wrong unit; expected something like `31.2 kg`"
        );
        assert!(words(many("3", Reading::MASS, "--weigh")).contains("wrong unit"));
        assert!(split("abc", ':', "--weigh", "x").is_err());
    }
}
