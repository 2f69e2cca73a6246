//! Blocks, and finding the way again after a broken statement.

use super::complaint::complain;
use super::statement::statement;
use super::terminal::deeper;
use crate::diag::{Diagnostic, Span};
use crate::lang::failure::{Failure, Wanted};
use crate::lang::stream::{Furthest, Out, Tokens};
use crate::lang::token::{Kind, Token};
use crate::lang::tree::{Block, Statement};
use nom::Err;

/// Where a statement stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    /// Right in a scene.
    Scene,
    /// In a cue or an inner block.
    Body,
}

/// `'{' statement* '}'` with its brace on this line; one on the next line is reported and taken.
pub(super) fn block<'a>(place: Place) -> impl Fn(Tokens<'a>) -> Out<'a, Block> {
    move |input| {
        let token = input.token();
        if token.kind != Kind::OpenBrace {
            return input.miss(Wanted::kind(Kind::OpenBrace));
        }
        if input.kind() == Kind::LineEnd {
            let context = input.context;
            let gap = Span { source: context.source, start: input.before().end, end: token.end };
            context.report(
                Diagnostic::error("syntax", context.span(token), "`{` stands on the line that it belongs to")
                    .help("a line's end closes a statement")
                    .fix("move it up", gap, " {"),
            );
        }
        let (inner, ()) = deeper(input)?;
        Ok(statements(inner, input.next(), token, place))
    }
}

/// Statements up to and with the closing brace; `outer` is the place before the first of them.
pub(super) fn statements<'a>(
    inner: Tokens<'a>,
    first: Tokens<'a>,
    open: Token,
    place: Place,
) -> (Tokens<'a>, Block) {
    let context = inner.context;
    let base = context.statements.open();
    let pile = |statement| context.statements.push(statement);
    let mut here = Tokens { rounds: 0, depth: inner.depth, ..first };
    loop {
        here = here.at_start();
        let token = here.token();
        match token.kind {
            Kind::CloseBrace => {
                line_up(here, open);
                here = here.next();
                break;
            }
            Kind::End => {
                unclosed(here, open);
                break;
            }
            kind if kind.starts_item_only() && token.line_before => {
                if context.indent(token) <= context.item_column.get() {
                    unclosed(here, open);
                    break;
                }
                let error = Diagnostic::error(
                    "syntax",
                    context.span(token),
                    format!("`{}` stands outside of scenes and cues", context.slice(token)),
                )
                .help("move it to the left edge of the file, before or after this one");
                context.report(error);
                let rest = recover(here, Failure::reported(here), Place::Scene);
                pile(Statement::Unreadable(rest.span_from(here)));
                here = rest;
            }
            _ => {
                start(here);
                match statement(here, place) {
                    Ok((rest, statement)) => {
                        pile(statement);
                        here = rest;
                    }
                    Err(error) => {
                        let rest = give_up(here, error, place);
                        pile(Statement::Unreadable(rest.span_from(here)));
                        here = rest;
                    }
                }
            }
        }
    }
    let all = context.statements.close(base);
    let span = Span { source: context.source, start: open.start, end: here.before().end.max(open.end) };
    (
        Tokens { rounds: 0, depth: inner.depth.saturating_sub(1), fresh: false, ..here },
        Block { statements: all, span },
    )
}

/// Forgets what the statement before this one wanted, and what it left unfinished.
pub(super) fn start(input: Tokens<'_>) {
    input.context.furthest.set(Furthest::default());
    input.context.tallest.set(0);
    input.context.args.clear();
    input.context.params.clear();
    input.context.suffixes.clear();
}

/// Reports a failure of the statement that starts at `start` (unless it was) and gives the place after it.
pub(super) fn give_up<'a>(start: Tokens<'a>, error: Err<Failure>, place: Place) -> Tokens<'a> {
    let failure = match error {
        Err::Error(failure) | Err::Failure(failure) => failure,
        Err::Incomplete(_) => Failure::missed(start),
    };
    if failure.reported {
        return recover(start, failure, place);
    }
    let furthest = start.context.furthest.get();
    if start.context.listens()
        && let Some(error) = complain(start, furthest)
    {
        start.context.report(error);
    }
    recover(start, Failure { at: furthest.at, rounds: furthest.rounds, reported: true }, place)
}

/// The start of the next statement. Blocks on the way are read for their own errors.
pub(super) fn recover<'a>(start: Tokens<'a>, failure: Failure, place: Place) -> Tokens<'a> {
    let mut here = start.jump(failure.at.max(start.at));
    let mut rounds = failure.rounds;
    loop {
        let token = here.token();
        let called = |here: Tokens<'_>| {
            let bracket = here.ahead(1);
            token.kind == Kind::Word && bracket.kind == Kind::OpenRound && !bracket.space_before
        };
        if here.at > start.at && token.line_before {
            let before = here.before().kind;
            let goes_on = before.continues_line() || matches!(before, Kind::Comma | Kind::OpenRound);
            let named = here.ahead(1).kind == Kind::Colon;
            let starts = (token.kind.starts_statement() && !named) || (called(here) && !goes_on);
            if starts || (rounds == 0 && !goes_on) {
                return here;
            }
        }
        match token.kind {
            Kind::End | Kind::CloseBrace => return here,
            Kind::OpenBrace => {
                rounds = 0;
                here = match deeper_silently(here) {
                    Some(inner) => {
                        let (rest, _) = statements(inner, here.next(), token, place);
                        Tokens { depth: start.depth, ..rest }
                    }
                    None => skip_block(here),
                };
                continue;
            }
            Kind::OpenRound => rounds = rounds.saturating_add(1),
            Kind::CloseRound => rounds = rounds.saturating_sub(1),
            _ => {}
        }
        here = here.next();
    }
}

fn deeper_silently(input: Tokens<'_>) -> Option<Tokens<'_>> {
    (input.depth < crate::lang::stream::DEEPEST).then(|| Tokens { depth: input.depth + 1, ..input })
}

/// The place after the brace that closes the one here.
fn skip_block(input: Tokens<'_>) -> Tokens<'_> {
    let mut here = input;
    let mut open = 0_u32;
    loop {
        match here.token().kind {
            Kind::OpenBrace => open += 1,
            Kind::CloseBrace => open -= 1,
            Kind::End => return here,
            _ => {}
        }
        here = here.next();
        if open == 0 {
            return here;
        }
    }
}

/// Remembers the first block whose braces do not stand at the same depth of the page.
fn line_up(close: Tokens<'_>, open: Token) {
    let context = close.context;
    let token = close.token();
    if !token.line_before || context.crooked.get().is_some() {
        return;
    }
    let before = context.text.as_bytes().get(..open.start as usize).unwrap_or_default();
    let line = before.iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
    let line = before.get(line..).unwrap_or_default();
    let indent = line.iter().take_while(|byte| matches!(byte, b' ' | b'\t')).count();
    if indent != context.indent(token) {
        context.crooked.set(Some((context.span(open), context.span(token))));
    }
}

fn unclosed(end: Tokens<'_>, open: Token) {
    let context = end.context;
    if context.unclosed.replace(true) {
        return;
    }
    let mut error = match context.crooked.get() {
        Some((open, close)) => Diagnostic::error("unclosed-block", open, "this `{` is not closed")
            .label("opened here")
            .also(close, "this `}` does not line up with it and may belong to another"),
        None => Diagnostic::error("unclosed-block", context.span(open), "this `{` is not closed")
            .label("opened here"),
    };
    if end.token().kind != Kind::End {
        error = error.also(context.span(end.token()), "the next one starts here");
    }
    context.report(error.help("add `}` on a line of its own after the last statement of the block"));
}
