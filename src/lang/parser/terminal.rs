//! The smallest rules: one token, a name, a string, and the spaces around operators.

use crate::diag::Diagnostic;
use crate::lang::failure::Wanted;
use crate::lang::pile::Pile;
use crate::lang::stream::{DEEPEST, Out, Tokens};
use crate::lang::token::{Kind, Token};
use crate::lang::tree::{Name, Text};
use nom::Err;
use std::sync::Arc;

/// Exactly this kind of token.
pub(super) fn token<'a>(kind: Kind) -> impl Fn(Tokens<'a>) -> Out<'a, Token> {
    move |input| {
        if input.kind() == kind { Ok((input.next(), input.token())) } else { input.miss(Wanted::kind(kind)) }
    }
}

/// Exactly this kind of token; a line's end after it means nothing.
pub(super) fn operator<'a>(kind: Kind) -> impl Fn(Tokens<'a>) -> Out<'a, Token> {
    move |input| {
        if input.kind() == kind {
            Ok((input.past_operator(), input.token()))
        } else {
            input.miss(Wanted::kind(kind))
        }
    }
}

/// A word that is not reserved.
#[inline]
pub(super) fn name(input: Tokens<'_>) -> Out<'_, Name> {
    if input.kind() == Kind::Word { Ok((input.next(), named(input))) } else { input.miss(Wanted::NAME) }
}

/// The next token as a name, whatever it is.
#[inline]
pub(super) fn named(input: Tokens<'_>) -> Name {
    let context = input.context;
    let token = input.token();
    Name { text: context.intern(context.slice(token)), span: context.span(token) }
}

/// A quoted string.
pub(super) fn text(input: Tokens<'_>) -> Out<'_, Text> {
    if input.kind() != Kind::Text {
        return input.miss(Wanted::kind(Kind::Text));
    }
    let context = input.context;
    let token = input.token();
    // The quotes may be bent ones or missing at the end; both were reported.
    let is_quote = |c: char| matches!(c, '"' | '\'' | '\u{2018}'..='\u{201e}');
    let quoted = context.slice(token);
    let inner = quoted.strip_prefix(is_quote).unwrap_or(quoted);
    let inner = inner.strip_suffix(is_quote).unwrap_or(inner);
    Ok((input.next(), Text { text: Arc::from(inner), span: context.span(token) }))
}

/// `(one (',' one)*)?`
pub(super) fn commas<'a, T>(
    input: Tokens<'a>,
    pile: &Pile<T>,
    one: impl Fn(Tokens<'a>) -> Out<'a, T>,
) -> Out<'a, Vec<T>> {
    let base = pile.open();
    let (mut rest, mut next) = (input, input);
    loop {
        match one(next) {
            Ok((after, found)) => {
                pile.push(found);
                rest = after;
            }
            Err(Err::Error(_)) => break,
            Err(error) => return Err(error),
        }
        match token(Kind::Comma)(rest) {
            Ok((after, _)) => next = after,
            Err(_) => break,
        }
    }
    Ok((rest, pile.close(base)))
}

/// One level deeper, or an error where the levels end.
#[inline]
pub(super) fn deeper(input: Tokens<'_>) -> Out<'_, ()> {
    if input.depth >= DEEPEST {
        let place = input.context.span(input.token());
        let title = format!("this is more than {DEEPEST} levels deep");
        return input.refuse(
            Diagnostic::error("nesting", place, title)
                .help("give a part of it a name with `let`, or make a cue of it"),
        );
    }
    Ok((Tokens { depth: input.depth + 1, ..input }, ()))
}

/// Reports an operator between two values that touches one of them. Stands on the operator.
#[inline]
pub(super) fn spaced(input: Tokens<'_>) {
    let operator = input.token();
    let (before, after) = (operator.space_before, input.ahead(1).space_before);
    if before && after {
        return;
    }
    let context = input.context;
    let place = context.span(operator);
    let sign = context.slice(operator);
    let replacement = format!("{}{sign}{}", if before { "" } else { " " }, if after { "" } else { " " });
    let error = if operator.kind == Kind::Minus && before {
        let next = context.slice(input.ahead(1));
        Diagnostic::error(
            "operator-space",
            place,
            format!("`-{next}` is a negative value, and one value stands before it"),
        )
        .label("a minus between two values has a space on both sides")
    } else {
        Diagnostic::error(
            "operator-space",
            place,
            format!("`{sign}` between two values has a space on both sides"),
        )
    };
    context.report(error.fix(format!("write ` {sign} `"), place, replacement));
}

/// Reports a space before the next token, which must touch the one before it.
#[inline]
pub(super) fn touching(input: Tokens<'_>, what: &str) {
    let token = input.token();
    if !token.space_before {
        return;
    }
    let context = input.context;
    let before = input.before();
    let gap = crate::diag::Span { source: context.source, start: before.end, end: token.start };
    context.report(Diagnostic::error("operator-space", context.span(token), what).fix(
        "remove the space",
        gap,
        "",
    ));
}
