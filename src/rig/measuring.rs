//! Measuring help: from bathroom scales, tapes, dial gauges and motor torques to lines of a rig file.
//!
//! Each result is a value with its standard uncertainty; reports and pasted lines give twice that (k = 2, about 95 %).
//! Source: GUM, JCGM 100:2008, 5.1 and 6.2 (from memory).
//!
//! Cannot: touch a file or a drive; guess an uncertainty.

mod estimate;
mod failure;
mod holding;
mod hung_weight;
mod least_squares;
mod paste;
#[cfg(test)]
mod random;
mod scales;
mod tape;

pub use estimate::{COVERAGE, Estimate, propagate};
pub use failure::MeasuringError;
pub use holding::{Held, Hold, centre_from_holding};
pub use hung_weight::{Hanging, TorsionArms, stiffness_n_m, torsion_nm_rad};
pub use paste::{paste_centre, paste_length, paste_mass, paste_stiffness};
pub use scales::{Borne, Support, Weighed, Weighing, centre_from_scales};
pub use tape::{LegTape, TapeReading, leg_from_tape};
