//! Tree to canonical text, comments kept.
//!
//! The text is written from its own tokens, so numbers keep the author's spelling and nothing can be lost; the
//! tree only says where wide gaps stand and which suffixes are out of order.

mod layout;
mod page;

use super::lexer::lex;
use super::{Parsed, parse};
use crate::diag::SourceId;

/// The canonical form of a text that parses; its errors otherwise (nothing is lost). Spans in the errors name
/// [`SourceId`] 0.
///
/// Canonical: four spaces a level; one space between words, none inside calls, units and ranges of a value; two
/// spaces before what plays, before each suffix and before a comment; suffixes in the order `for rise fall gain
/// as`; at most one blank line in a row. Line breaks inside brackets, after operators and of blocks stay where
/// the author put them. Formatting twice changes nothing more, and the tree is the same but for the order of
/// suffixes.
///
/// # Errors
/// The parse, when the text has syntax errors.
pub fn format(text: &str) -> Result<String, Parsed> {
    let source = SourceId(0);
    let parsed = parse(source, text);
    if !parsed.errors.is_empty() {
        return Err(parsed);
    }
    let lexed = lex(source, text);
    let layout = layout::layout(&parsed.file, &lexed.tokens);
    Ok(page::write(text, &lexed, &layout))
}
