//! Where a rule of the grammar gave up, and what it wanted there.

use super::stream::Tokens;
use super::token::Kind;
use nom::Err;
use nom::error::{ErrorKind, ParseError};

/// The parser's error: a place. What was wanted there stands in the context, at the furthest place reached.
#[derive(Debug, Clone, Copy)]
pub(super) struct Failure {
    pub(super) at: u32,
    /// Round brackets open there.
    pub(super) rounds: u8,
    /// The error is in the list already.
    pub(super) reported: bool,
}

impl Failure {
    pub(super) fn missed(input: Tokens<'_>) -> Self {
        Self { at: input.at, rounds: input.rounds, reported: false }
    }

    pub(super) fn reported(input: Tokens<'_>) -> Self {
        Self { reported: true, ..Self::missed(input) }
    }
}

/// What a rule gives up with once it is certain that it was meant: the statement is broken, and no other rule is tried.
/// nom's `cut`, for results that are too large to be handed through a combinator each time.
#[inline]
pub(super) fn firm(error: Err<Failure>) -> Err<Failure> {
    match error {
        Err::Error(failure) => Err::Failure(failure),
        firm => firm,
    }
}

impl ParseError<Tokens<'_>> for Failure {
    fn from_error_kind(input: Tokens<'_>, _: ErrorKind) -> Self {
        Self::missed(input)
    }

    fn append(_: Tokens<'_>, _: ErrorKind, other: Self) -> Self {
        other
    }

    fn or(self, other: Self) -> Self {
        if self.at > other.at { self } else { other }
    }
}

/// A set of things that would have been understood: kinds of token, and wider notions.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Wanted(u128);

const fn notion(bit: u32) -> Wanted {
    Wanted(1 << (96 + bit))
}

impl Wanted {
    pub(super) const VALUE: Self = notion(0);
    pub(super) const NAME: Self = notion(1);
    pub(super) const UNIT: Self = notion(2);
    pub(super) const CHANNEL: Self = notion(3);
    pub(super) const WHAT: Self = notion(4);
    pub(super) const STATEMENT: Self = notion(5);
    pub(super) const ITEM: Self = notion(6);
    pub(super) const OPERATOR: Self = notion(7);
    pub(super) const SUFFIX: Self = notion(8);
    pub(super) const LINE_END: Self = notion(9);
    pub(super) const ARGUMENT: Self = notion(10);
    pub(super) const PARAM: Self = notion(11);
    pub(super) const WAVEFORM: Self = notion(12);
    pub(super) const MEASURE: Self = notion(13);
    pub(super) const AXIS: Self = notion(14);
    pub(super) const RANGE: Self = notion(15);

    /// One kind of token.
    pub(super) const fn kind(kind: Kind) -> Self {
        Self(1 << kind as u8)
    }

    /// Both sets.
    pub(super) const fn or(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether anything of `other` is in here.
    pub(super) const fn has(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    /// Without what is in `other`.
    pub(super) const fn without(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    /// Words for everything in the set, most telling first.
    pub(super) fn words(self) -> Vec<String> {
        let notions =
            NOTIONS.iter().filter(|(wanted, _)| self.has(*wanted)).map(|(_, words)| (*words).to_string());
        let kinds = super::token::SPELLED
            .iter()
            .filter(|(kind, _)| self.has(Self::kind(*kind)))
            .map(|(_, spelling)| format!("`{spelling}`"));
        let text = self.has(Self::kind(Kind::Text)).then(|| "a string in quotes".to_string());
        let number = self.has(Self::kind(Kind::Number)).then(|| "a number".to_string());
        notions.chain(text).chain(number).chain(kinds).collect()
    }
}

const NOTIONS: &[(Wanted, &str)] = &[
    (Wanted::ITEM, "`use`, `let`, `cue`, `input` or `scene`"),
    (Wanted::STATEMENT, "a statement"),
    (Wanted::WHAT, "a channel, a cue or `{`"),
    (Wanted::WAVEFORM, "a waveform"),
    (Wanted::MEASURE, "`peak`, `rms` or `margin`"),
    (Wanted::CHANNEL, "a channel"),
    (Wanted::AXIS, "an axis"),
    (Wanted::PARAM, "a parameter"),
    (Wanted::ARGUMENT, "an argument"),
    (Wanted::NAME, "a name"),
    (Wanted::UNIT, "a unit"),
    (Wanted::VALUE, "a value"),
    (Wanted::OPERATOR, "an operator"),
    (Wanted::RANGE, "`->` or `..`"),
    (Wanted::SUFFIX, "a suffix"),
    (Wanted::LINE_END, "the end of the line"),
];
