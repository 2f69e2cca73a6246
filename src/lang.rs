//! The cue language: text to tree and back.
//!
//! Cannot: fail (every text gives a tree and its errors), know what a unit measures, know the rig.
//! nom is named in this folder only.

pub mod tree;

mod format;
mod lexer;
mod parser;
pub mod words;

pub use format::format;
pub use parser::{Parsed, parse};
