//! Tokens to tree, statement by statement: a broken one gives one error and the rest is read.

mod block;
mod complaint;
mod item;
mod number;
mod play;
mod statement;
mod terminal;
mod value;

use super::lexer::{self, MOST_ERRORS};
use super::stream::{Context, Tokens};
use super::tree::{File, Item};
use crate::diag::{Diagnostic, SourceId};

/// A tree and every syntax error of its text.
#[derive(Debug, Clone)]
pub struct Parsed {
    /// The tree; unreadable stretches are marked in it.
    pub file: File,
    /// In the order of their places. A text with more than a hundred gives the first hundred.
    pub errors: Vec<Diagnostic>,
}

/// Reads a text. Never fails, never stops at the first error.
pub fn parse(source: SourceId, text: &str) -> Parsed {
    let lexed = lexer::lex(source, text);
    let context = Context::new(source, text, &lexed.tokens);
    let items: Vec<Item> = item::items(Tokens::all(&context));
    let mut errors = context.take_errors();
    errors.extend(lexed.errors);
    errors.sort_by_key(|error| (error.primary.span.start, error.primary.span.end));
    if errors.len() >= MOST_ERRORS {
        errors.truncate(MOST_ERRORS);
        if let Some(last) = errors.last_mut() {
            last.help.push(format!("there may be more: a text shows its first {MOST_ERRORS} errors"));
        }
    }
    Parsed { file: File { items }, errors }
}
