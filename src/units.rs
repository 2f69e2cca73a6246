//! Quantities, dimensions and the one unit table that profiles and rig files read.
//!
//! Cannot: know where a quantity was written; callers add spans.

mod compound;
mod dimension;
mod quantity;
mod show;
mod table;

pub use compound::{Compound, UnitError, compound};
pub use dimension::Dimension;
pub use quantity::{Quantity, QuantityError, quantity};
pub use show::{show, show_in};
pub use table::{STANDARD_GRAVITY_M_S2, UNITS, Unit, unit};

/// The ratio of amplitudes that is so many dB: 20 log10 of it is its level (ISO 80000-1, annex C).
pub fn factor_of_db(level_db: f64) -> f64 {
    libm::pow(10.0, level_db / 20.0)
}
