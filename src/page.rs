//! Pages to print: a rig, a checked profile. One HTML file each with its pictures inside, nothing fetched.
//!
//! Every picture is readable in black and white and by the colour-blind: what a colour says, a hatching, a line style or
//! a word says too. The colours are those of Okabe and Ito, "Color universal design", 2008 (values from memory).
//!
//! Cannot: touch a file, decide anything about motion, leave out a limit. Same input, same bytes.

mod drawing;
mod forces;
mod html;
mod ink;
mod model;
mod plot;
mod polygons;
mod profile_page;
mod quantity;
mod reach;
mod rig_page;
mod svg;
mod torques;
mod traces;

pub use profile_page::{Checked, profile_page};
pub use rig_page::{RigFile, rig_page};
