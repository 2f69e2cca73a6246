//! Statements of scenes and blocks.

use super::block::{Place, block};
use super::play::{channel, play};
use super::terminal::{name, operator, token};
use super::value::{expr, span, value};
use crate::diag::Diagnostic;
use crate::lang::failure::Wanted;
use crate::lang::stream::{Out, Tokens};
use crate::lang::token::Kind;
use crate::lang::tree::{Expect, Let, Name, On, Statement};
use nom::Parser;
use nom::branch::alt;
use nom::combinator::{cut, map, opt, value as as_value};
use nom::sequence::{pair, preceded, terminated};

/// One statement up to its end.
pub(super) fn statement(input: Tokens<'_>, place: Place) -> Out<'_, Statement> {
    match input.kind() {
        Kind::Let => terminated(map(let_value, Statement::Let), end).parse(input),
        Kind::On => {
            let (rest, on) = terminated(on, end).parse(input)?;
            in_scene(input, place, "`on` waits for an input, which a scene does");
            Ok((rest, Statement::On(Box::new(on))))
        }
        Kind::Expect => {
            let (rest, expect) = terminated(expect, end).parse(input)?;
            in_scene(input, place, "`expect` judges a scene");
            Ok((rest, Statement::Expect(Box::new(expect))))
        }
        kind if kind == Kind::Word || kind.starts_statement() => {
            // Written out, because a play is large and combinators would copy it.
            let (rest, play) = play(input)?;
            let (rest, ()) = end(rest)?;
            Ok((rest, Statement::Play(play)))
        }
        _ => input.miss(Wanted::STATEMENT),
    }
}

/// The end of a line or of the block around.
pub(super) fn end(input: Tokens<'_>) -> Out<'_, ()> {
    match input.kind() {
        Kind::LineEnd | Kind::CloseBrace | Kind::End => Ok((input, ())),
        _ => input.fail(Wanted::LINE_END),
    }
}

fn in_scene(input: Tokens<'_>, place: Place, why: &str) {
    if place == Place::Body {
        let span = input.context.span(input.token());
        let word = input.context.slice(input.token());
        input.context.report(
            Diagnostic::error(
                "scene-only",
                span,
                format!("`{word}` stands in a scene, not in a cue or an inner block"),
            )
            .help(format!("{why}; move the statement to the scene's own level")),
        );
    }
}

/// `'let' name '=' value`
pub(super) fn let_value(input: Tokens<'_>) -> Out<'_, Let> {
    let (rest, (name, _, value)) = preceded(token(Kind::Let), cut((name, equals, value))).parse(input)?;
    Ok((rest, Let { name, value, span: rest.span_from(input) }))
}

/// `=`; a `:` in its place is reported and taken for it.
fn equals(input: Tokens<'_>) -> Out<'_, ()> {
    if input.kind() == Kind::Colon {
        let place = input.context.span(input.token());
        input.context.report(Diagnostic::error("syntax", place, "a name gets its value with `=`").fix(
            "write `=`",
            place,
            "=",
        ));
        return Ok((input.next(), ()));
    }
    map(token(Kind::Equal), |_| ()).parse(input)
}

/// `'on' name ('above' | 'below') expr 'until' expr ('pause' expr)? block`
fn on(input: Tokens<'_>) -> Out<'_, On> {
    let side = alt((as_value(true, token(Kind::Above)), as_value(false, token(Kind::Below))));
    let (rest, (input_name, above, threshold, until, pause, body)) = preceded(
        token(Kind::On),
        cut((
            name,
            side,
            expr,
            preceded(token(Kind::Until), expr),
            opt(preceded(token(Kind::Pause), cut(expr))),
            block(Place::Body),
        )),
    )
    .parse(input)?;
    Ok((rest, On { input: input_name, above, threshold, until, pause, body, span: rest.span_from(input) }))
}

/// `peak`, `rms`, `margin`, or a mistake that is found later.
fn measure(input: Tokens<'_>) -> Out<'_, Name> {
    if input.kind() == Kind::Word { name(input) } else { input.miss(Wanted::MEASURE) }
}

/// `'expect' name channel? ('<=' | '>=') expr ('over' span)?`
fn expect(input: Tokens<'_>) -> Out<'_, Expect> {
    let (rest, (measure, channel)) =
        preceded(token(Kind::Expect), cut(pair(measure, opt(channel)))).parse(input)?;
    let side = alt((as_value(true, operator(Kind::AtMost)), as_value(false, operator(Kind::AtLeast))));
    let (rest, (at_most, bound, over)) =
        cut((side, expr, opt(preceded(token(Kind::Over), cut(span))))).parse(rest)?;
    Ok((rest, Expect { measure, channel, at_most, bound, over, span: rest.span_from(input) }))
}
