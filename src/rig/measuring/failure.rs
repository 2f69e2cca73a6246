//! Why a measurement gives no result, and what to measure next.

/// Why there is no result.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MeasuringError {
    /// Too few readings.
    #[error("{found} {what}, expected at least {least}")]
    TooFew {
        /// Of what.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many are needed.
        least: usize,
    },
    /// A reading is missing or there is one too many.
    #[error("measurement {at} has {found} readings, expected {expected}: one for each {of}")]
    Count {
        /// Which, from 1.
        at: usize,
        /// Readings there.
        found: usize,
        /// Readings expected.
        expected: usize,
        /// `support`, `leg`, `axis`.
        of: &'static str,
    },
    /// No number, or a negative uncertainty.
    #[error("a reading or its uncertainty is no usable number")]
    NotFinite,
    /// Mass that is not positive.
    #[error("the mass comes out as {found_kg} kg, expected more than 0 kg")]
    Mass {
        /// kg.
        found_kg: f64,
    },
    /// The measurements do not say where the centre is in one direction.
    #[error("these measurements do not tell the centre's {direction} position; {next}")]
    Undetermined {
        /// `x`, `y` or `z`.
        direction: &'static str,
        /// What to measure.
        next: &'static str,
    },
    /// Two positions that are the same.
    #[error(
        "both tape measurements are at the same place; move the leg from one end to the other between them"
    )]
    NoTravel,
    /// The gauge did not move, or the wrong way.
    #[error(
        "the gauge did not move with the weight, expected more travel for more weight; check its sign and contact"
    )]
    NoDeflection,
}
