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
