//! A position in the tokens, as nom sees it, and what all positions of one parse share.

use super::failure::{Failure, Wanted};
use super::lexer::MOST_ERRORS;
use super::pile::Pile;
use super::shared::Shared;
use super::token::{Kind, Token};
use super::tree::{Arg, Param, Powers, Statement, Suffix};
use crate::diag::{Diagnostic, SourceId, Span};
use nom::{Err, IResult};
use std::cell::{Cell, RefCell};
use std::sync::Arc;

/// Most levels of brackets and blocks around anything.
pub(super) const DEEPEST: u8 = 64;

/// What every rule of the grammar gives.
pub(super) type Out<'a, T> = IResult<Tokens<'a>, T, Failure>;

/// The furthest place that the statement being read got to, and what would have let it go on.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Furthest {
    pub(super) at: u32,
    /// Round brackets open there.
    pub(super) rounds: u8,
    /// Whether a line's end before the token there means nothing.
    pub(super) fresh: bool,
    pub(super) wanted: Wanted,
}

/// What all positions of one parse share.
#[derive(Debug)]
pub(super) struct Context<'a> {
    pub(super) text: &'a str,
    pub(super) source: SourceId,
    pub(super) tokens: &'a [Token],
    pub(super) furthest: Cell<Furthest>,
    /// Height of the tallest expression read since it was last set to zero.
    pub(super) tallest: Cell<u16>,
    /// Column of the top-level item being read, in bytes from its line's start.
    pub(super) item_column: Cell<usize>,
    /// A block was found unclosed, so the ones around it are too and say nothing.
    pub(super) unclosed: Cell<bool>,
    /// The first block whose two braces do not line up: probably where one is missing.
    pub(super) crooked: Cell<Option<(Span, Span)>>,
    errors: RefCell<Vec<Diagnostic>>,
    names: RefCell<Shared<'a, str>>,
    units: RefCell<Shared<'a, Powers>>,
    /// Of the blocks still open.
    pub(super) statements: Pile<Statement>,
    /// Of the calls still open in the statement being read.
    pub(super) args: Pile<Arg>,
    /// Of the cue being read.
    pub(super) params: Pile<Param>,
    /// Of the play being read; a block inside it ends before they start.
    pub(super) suffixes: Pile<Suffix>,
}

impl<'a> Context<'a> {
    pub(super) fn new(source: SourceId, text: &'a str, tokens: &'a [Token]) -> Self {
        Self {
            text,
            source,
            tokens,
            furthest: Cell::default(),
            tallest: Cell::new(0),
            item_column: Cell::new(0),
            unclosed: Cell::new(false),
            crooked: Cell::new(None),
            errors: RefCell::default(),
            names: RefCell::new(Shared::new()),
            units: RefCell::new(Shared::new()),
            statements: Pile::new(),
            args: Pile::new(),
            params: Pile::new(),
            suffixes: Pile::new(),
        }
    }

    /// Keeps an error, up to a bound.
    pub(super) fn report(&self, error: Diagnostic) {
        let mut errors = self.errors.borrow_mut();
        if errors.len() < MOST_ERRORS {
            errors.push(error);
        }
    }

    /// Whether a further error would still be kept.
    pub(super) fn listens(&self) -> bool {
        self.errors.borrow().len() < MOST_ERRORS
    }

    pub(super) fn take_errors(&self) -> Vec<Diagnostic> {
        self.errors.take()
    }

    /// One shared copy of a word.
    #[inline]
    pub(super) fn intern(&self, word: &'a str) -> Arc<str> {
        self.names.borrow_mut().get(word, || Arc::from(word))
    }

    /// A unit that was written so before.
    #[inline]
    pub(super) fn known_unit(&self, written: &str) -> Option<Arc<Powers>> {
        self.units.borrow().known(written)
    }

    /// One shared copy of a unit's words and exponents, by how it is written.
    #[inline]
    pub(super) fn intern_unit(&self, written: &'a str, powers: impl FnOnce() -> Arc<Powers>) -> Arc<Powers> {
        self.units.borrow_mut().get(written, powers)
    }

    #[inline]
    pub(super) fn slice(&self, token: Token) -> &'a str {
        self.text.get(token.start as usize..token.end as usize).unwrap_or("")
    }

    #[inline]
    pub(super) fn span(&self, token: Token) -> Span {
        Span { source: self.source, start: token.start, end: token.end }
    }

    /// The token at an index; an end past the last one.
    #[inline]
    pub(super) fn token(&self, at: u32) -> Token {
        const PAST: Token =
            Token { start: 0, end: 0, kind: Kind::End, line_before: true, space_before: true };
        match self.tokens.get(at as usize) {
            Some(token) => *token,
            None => Token { start: self.text.len() as u32, end: self.text.len() as u32, ..PAST },
        }
    }

    /// The index of the last token.
    #[inline]
    fn last(&self) -> u32 {
        self.tokens.len().saturating_sub(1) as u32
    }

    /// Bytes between the line's start and the token, if nothing but spaces and tabs stand there.
    pub(super) fn indent(&self, token: Token) -> usize {
        let before = self.text.as_bytes().get(..token.start as usize).unwrap_or_default();
        before.iter().rev().take_while(|byte| matches!(byte, b' ' | b'\t')).count()
    }
}

/// A position in the tokens. No larger than two registers, since every rule takes and gives one.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tokens<'a> {
    pub(super) context: &'a Context<'a>,
    pub(super) at: u32,
    /// Round brackets open here; a line's end means nothing inside.
    pub(super) rounds: u8,
    /// Brackets and blocks open here.
    pub(super) depth: u8,
    /// A statement starts here, or an operator stood before: a line's end before the next token means nothing.
    pub(super) fresh: bool,
}

impl<'a> Tokens<'a> {
    pub(super) fn all(context: &'a Context<'a>) -> Self {
        Self { context, at: 0, rounds: 0, depth: 0, fresh: true }
    }

    /// The next token, whatever stands before it.
    pub(super) fn token(self) -> Token {
        self.context.token(self.at)
    }

    /// The token `ahead` of the next.
    #[inline]
    pub(super) fn ahead(self, ahead: u32) -> Token {
        self.context.token(self.at.saturating_add(ahead))
    }

    /// The token before this place.
    #[inline]
    pub(super) fn before(self) -> Token {
        self.context.token(self.at.saturating_sub(1))
    }

    /// What stands here: the next token's kind, or the line's end that closes the statement.
    #[inline]
    pub(super) fn kind(self) -> Kind {
        let token = self.token();
        if token.line_before && self.rounds == 0 && !self.fresh { Kind::LineEnd } else { token.kind }
    }

    /// The place after the next token. Never past the last one.
    #[inline]
    pub(super) fn next(self) -> Self {
        Self { at: (self.at + 1).min(self.context.last()), fresh: false, ..self }
    }

    /// The place after the next token, which is an operator: a line's end may follow.
    #[inline]
    pub(super) fn past_operator(self) -> Self {
        Self { fresh: true, ..self.next() }
    }

    /// Where a statement starts.
    #[inline]
    pub(super) fn at_start(self) -> Self {
        Self { fresh: true, ..self }
    }

    pub(super) fn jump(self, at: u32) -> Self {
        Self { at: at.min(self.context.last()), ..self }
    }

    /// Notes what would have been understood here.
    #[inline]
    pub(super) fn note(self, wanted: Wanted) {
        let furthest = &self.context.furthest;
        let old = furthest.get();
        if self.at < old.at {
            return;
        }
        let wanted = if self.at == old.at { old.wanted.or(wanted) } else { wanted };
        furthest.set(Furthest { at: self.at, rounds: self.rounds, fresh: self.fresh, wanted });
    }

    /// Gives up on this rule here, noting what it needed.
    #[inline]
    pub(super) fn miss<T>(self, wanted: Wanted) -> Out<'a, T> {
        self.note(wanted);
        Err(Err::Error(Failure::missed(self)))
    }

    /// Gives up on the whole statement here, noting what it needed.
    pub(super) fn fail<T>(self, wanted: Wanted) -> Out<'a, T> {
        self.note(wanted);
        Err(Err::Failure(Failure::missed(self)))
    }

    /// Gives up on the whole statement with an error of its own.
    pub(super) fn refuse<T>(self, error: Diagnostic) -> Out<'a, T> {
        self.context.report(error);
        Err(Err::Failure(Failure::reported(self)))
    }

    /// From the first byte of `start` to the last byte before this place.
    #[inline]
    pub(super) fn span_from(self, start: Tokens<'a>) -> Span {
        let from = start.token().start;
        Span { source: self.context.source, start: from, end: self.before().end.max(from) }
    }
}
