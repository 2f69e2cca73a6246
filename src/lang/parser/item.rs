//! The top level of a file.

use super::block::{Place, block, give_up, start, statements};
use super::number::unit;
use super::statement::{end, let_value, statement};
use super::terminal::{commas, name, operator, text, token, touching};
use super::value::{expr, round, value};
use crate::diag::{Diagnostic, Span};
use crate::lang::failure::Wanted;
use crate::lang::stream::{DEEPEST, Out, Tokens};
use crate::lang::token::Kind;
use crate::lang::tree::{Block, CueDefinition, Input, Item, Param, ParamKind, Scene};
use nom::Parser;
use nom::combinator::{cut, map};
use nom::sequence::{preceded, terminated};

/// Every item of a text.
pub(super) fn items(input: Tokens<'_>) -> Vec<Item> {
    let context = input.context;
    let mut all = Vec::new();
    let mut here = input;
    // Statements outside of scenes usually come in a row, from one mistake.
    let mut stray = false;
    loop {
        here = Tokens { rounds: 0, depth: 0, ..here.at_start() };
        start(here);
        context.item_column.set(context.indent(here.token()));
        context.unclosed.set(false);
        context.crooked.set(None);
        let kind = here.kind();
        let result = match kind {
            Kind::End => return all,
            Kind::CloseBrace => {
                if !stray {
                    let place = context.span(here.token());
                    context.report(Diagnostic::error("syntax", place, "this `}` closes nothing").fix(
                        "remove it",
                        place,
                        "",
                    ));
                }
                stray = false;
                here = here.next();
                continue;
            }
            Kind::Use | Kind::Let | Kind::Cue | Kind::Input | Kind::Scene => {
                stray = false;
                item(here)
            }
            _ if belongs_in_scene(here) => {
                if !stray {
                    let token = here.token();
                    let error = Diagnostic::error(
                        "syntax",
                        context.span(token),
                        format!("`{}` stands outside of scenes and cues", context.slice(token)),
                    )
                    .help("what plays stands in a scene: `scene \"title\" { … }`");
                    context.report(error);
                }
                stray = true;
                map(|input| statement(input, Place::Scene), |_| Item::Unreadable(context.span(here.token())))
                    .parse(here)
            }
            _ => here.miss(Wanted::ITEM),
        };
        let (rest, item) = match result {
            Ok((rest, Item::Unreadable(_))) => (rest, Item::Unreadable(rest.span_from(here))),
            Ok((rest, item)) => (rest, item),
            Err(error) => {
                let rest = body_after(here, give_up(here, error, Place::Scene));
                (rest, Item::Unreadable(rest.span_from(here)))
            }
        };
        all.push(item);
        here = rest;
    }
}

fn belongs_in_scene(input: Tokens<'_>) -> bool {
    let kind = input.kind();
    let bracket = input.ahead(1);
    kind.starts_statement()
        || (kind == Kind::Word && bracket.kind == Kind::OpenRound && !bracket.space_before)
}

/// Where an item's first line was too broken to show its brace, the deeper lines below are its body.
fn body_after<'a>(item: Tokens<'a>, rest: Tokens<'a>) -> Tokens<'a> {
    let next = rest.token();
    let saw_block = rest.before().kind == Kind::CloseBrace;
    let opens = !matches!(item.kind(), Kind::Use | Kind::Let | Kind::Input);
    if saw_block
        || !opens
        || !indented(rest)
        || !belongs_in_scene(rest.at_start())
        || next.kind == Kind::CloseBrace
    {
        return rest;
    }
    statements(Tokens { depth: 1, ..rest }, rest, rest.before(), Place::Scene).0
}

/// Whether the next token starts a line and stands deeper than the item.
fn indented(input: Tokens<'_>) -> bool {
    let token = input.token();
    token.line_before && input.context.indent(token) > input.context.item_column.get()
}

fn item(input: Tokens<'_>) -> Out<'_, Item> {
    match input.kind() {
        Kind::Use => terminated(map(use_file, |(text, span)| Item::Use(text, span)), end).parse(input),
        Kind::Let => terminated(map(let_value, Item::Let), end).parse(input),
        Kind::Input => terminated(map(input_range, Item::Input), end).parse(input),
        Kind::Cue => terminated(map(cue, Item::Cue), end).parse(input),
        _ => terminated(map(scene, Item::Scene), end).parse(input),
    }
}

/// `'use' string`
fn use_file(input: Tokens<'_>) -> Out<'_, (crate::lang::tree::Text, Span)> {
    let (rest, text) = preceded(token(Kind::Use), cut(text)).parse(input)?;
    Ok((rest, (text, rest.span_from(input))))
}

/// `'input' name expr '..' expr`
fn input_range(input: Tokens<'_>) -> Out<'_, Input> {
    let (rest, (name, low, _, high)) =
        preceded(token(Kind::Input), cut((name, expr, operator(Kind::DotDot), expr))).parse(input)?;
    Ok((rest, Input { name, low, high, span: rest.span_from(input) }))
}

/// `'scene' string '{' … '}'`
fn scene(input: Tokens<'_>) -> Out<'_, Scene> {
    let (rest, (title, body)) = preceded(token(Kind::Scene), cut((text, body(Place::Scene)))).parse(input)?;
    Ok((rest, Scene { title, body, span: rest.span_from(input) }))
}

/// `'cue' name '(' (param (',' param)*)? ')' block`
fn cue(input: Tokens<'_>) -> Out<'_, CueDefinition> {
    let (rest, name) = preceded(token(Kind::Cue), cut(name)).parse(input)?;
    if rest.kind() == Kind::OpenBrace {
        let place = Span { start: name.span.end, ..name.span };
        let error = Diagnostic::error(
            "syntax",
            name.span,
            format!("the brackets of cue `{}` are missing", name.text),
        )
        .help("a cue without parameters has empty ones")
        .fix("add `()`", place, "()");
        return rest.refuse(error);
    }
    if rest.kind() == Kind::OpenRound {
        touching(rest, "the bracket of a cue touches its name");
    }
    let params = |input| round(input, |input| commas(input, &input.context.params, param));
    let (rest, (params, body)) = cut((params, body(Place::Body))).parse(rest)?;
    Ok((rest, CueDefinition { name, params, body, span: rest.span_from(input) }))
}

/// A scene's or cue's block. Where only its brace is missing, the deeper lines below are still its body.
fn body<'a>(place: Place) -> impl Fn(Tokens<'a>) -> Out<'a, Block> {
    move |input| {
        let kind = input.token().kind;
        let missing = input.kind() == Kind::LineEnd && kind != Kind::OpenBrace && indented(input);
        if !missing || !belongs_in_scene(input.at_start()) || input.depth >= DEEPEST {
            return block(place)(input);
        }
        let context = input.context;
        let before = input.before();
        let end = Span { source: context.source, start: before.end, end: before.end };
        context.report(
            Diagnostic::error("syntax", end, "`{` is missing at the end of this line")
                .fix("add `{`", end, " {"),
        );
        Ok(statements(Tokens { depth: input.depth + 1, ..input }, input, before, place))
    }
}

/// `name (':' unit | '=' value)`
fn param(input: Tokens<'_>) -> Out<'_, Param> {
    let (rest, name) = match input.kind() {
        Kind::Word => name(input)?,
        kind if kind.is_reserved() => return input.miss(Wanted::NAME),
        _ => return input.miss(Wanted::PARAM),
    };
    let (rest, kind) = match rest.kind() {
        Kind::Equal => map(cut(value), ParamKind::Default).parse(rest.next())?,
        Kind::Colon if matches!(rest.ahead(1).kind, Kind::Number | Kind::Clock | Kind::Minus) => {
            let place = rest.context.span(rest.token());
            rest.context.report(
                Diagnostic::error("syntax", place, "a default stands after `=`")
                    .help("`name: unit` must be given, `name = value` may be left out")
                    .fix("write `=`", Span { start: name.span.end, ..place }, " ="),
            );
            map(cut(value), ParamKind::Default).parse(rest.next())?
        }
        Kind::Colon => map(cut(unit), ParamKind::Unit).parse(rest.next())?,
        _ => return rest.fail(Wanted::kind(Kind::Colon).or(Wanted::kind(Kind::Equal))),
    };
    Ok((rest, Param { name, kind, span: rest.span_from(input) }))
}
