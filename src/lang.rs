//! The cue language: text to tree and back.
//!
//! Cannot: fail (every text gives a tree and its errors), know what a unit measures, know the rig.
//! nom is named in this folder only.

pub mod tree;

mod explain;
mod failure;
mod format;
mod highlight;
mod lexer;
mod parser;
mod pile;
mod shared;
mod stream;
mod token;
pub mod words;

pub use explain::RULES;
pub use format::format;
pub use highlight::{Paint, highlight};
pub use parser::{Parsed, parse};
