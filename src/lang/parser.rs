//! Tokens to tree.

use super::tree::File;
use crate::diag::{Diagnostic, SourceId};

/// A tree and every syntax error of its text.
#[derive(Debug, Clone)]
pub struct Parsed {
    /// The tree; unreadable stretches are marked in it.
    pub file: File,
    /// In the order of their places.
    pub errors: Vec<Diagnostic>,
}

/// Reads a text. Never fails, never stops at the first error.
pub fn parse(source: SourceId, text: &str) -> Parsed {
    let _ = (source, text);
    unimplemented!("H1")
}
