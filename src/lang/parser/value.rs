//! Values and expressions.

use super::number::{clock, exponent, number};
use super::terminal::{deeper, name, named, operator, spaced, text, token, touching};
use crate::diag::Diagnostic;
use crate::lang::failure::Wanted;
use crate::lang::stream::{Out, Tokens};
use crate::lang::token::Kind;
use crate::lang::tree::{Arg, ArgValue, Call, Expr, ExprKind, Operator, SpanExpr, Value, ValueKind};
use nom::combinator::{cut, map, opt};
use nom::multi::separated_list0;
use nom::sequence::{preceded, terminated};
use nom::{Err, Parser};

/// Most levels of an expression's tree; each operator in a row is one. Later phases walk it by recursion.
const TALLEST: u16 = 100;

/// An expression and the height of its tree.
type Tall = (Expr, u16);

/// `expr (('->' | '..') expr)?`
pub(super) fn value(input: Tokens<'_>) -> Out<'_, Value> {
    let (rest, first) = expr(input)?;
    let (rest, kind) = match rest.kind() {
        Kind::Arrow => {
            spaced(rest);
            let (rest, second) = cut(expr).parse(rest.past_operator())?;
            (rest, ValueKind::Ramp(Box::new([first, second])))
        }
        Kind::DotDot => {
            let (rest, second) = cut(expr).parse(rest.past_operator())?;
            (rest, ValueKind::Range(Box::new([first, second])))
        }
        _ => {
            rest.note(Wanted::RANGE);
            return Ok((rest, Value { span: first.span, kind: ValueKind::Single(first) }));
        }
    };
    if matches!(rest.kind(), Kind::Arrow | Kind::DotDot) {
        let place = rest.context.span(rest.token());
        let error = Diagnostic::error("syntax", place, "a ramp or a range has two ends")
            .help("for a bend, place the cue twice, one after the other");
        return rest.refuse(error);
    }
    Ok((rest, Value { kind, span: rest.span_from(input) }))
}

/// `expr ('..' expr)?`
pub(super) fn span(input: Tokens<'_>) -> Out<'_, SpanExpr> {
    let (rest, (from, to)) = (expr, opt(preceded(operator(Kind::DotDot), cut(expr)))).parse(input)?;
    Ok((rest, SpanExpr { from, to, span: rest.span_from(input) }))
}

/// `term (('+' | '-') term)*` with `term ::= factor (('*' | '/') factor)*`
pub(super) fn expr(input: Tokens<'_>) -> Out<'_, Expr> {
    let (rest, (expr, height)) = chain(input, false)?;
    let tallest = &input.context.tallest;
    tallest.set(tallest.get().max(height));
    Ok((rest, expr))
}

/// Operands and operators, grouped from the left; `*` and `/` bind tighter. `tight` stops before `+` and `-`.
fn chain(input: Tokens<'_>, tight: bool) -> Out<'_, Tall> {
    let (mut rest, (mut left, mut height)) = factor(input)?;
    loop {
        let operator = match rest.kind() {
            Kind::Star => Operator::Multiply,
            Kind::Slash => Operator::Divide,
            Kind::Plus if !tight => Operator::Add,
            Kind::Minus if !tight => Operator::Subtract,
            _ => break,
        };
        spaced(rest);
        let after = rest.past_operator();
        let (after, (right, right_height)) = match operator {
            Operator::Multiply | Operator::Divide => cut(factor).parse(after)?,
            Operator::Add | Operator::Subtract => cut(|input| chain(input, true)).parse(after)?,
        };
        height = taller(input, height.max(right_height))?;
        rest = after;
        let span = rest.span_from(input);
        left = Expr { kind: ExprKind::Binary(operator, Box::new(left), Box::new(right)), span };
    }
    rest.note(Wanted::OPERATOR);
    Ok((rest, (left, height)))
}

/// `'-'? atom ('^' '-'? integer)?`
fn factor(input: Tokens<'_>) -> Out<'_, Tall> {
    if input.kind() != Kind::Minus {
        return powered(input);
    }
    let rest = input.next();
    touching(rest, "a minus sign touches its value");
    let (rest, (inner, height)) = cut(powered).parse(rest.at_start())?;
    let span = rest.span_from(input);
    Ok((rest, (Expr { kind: ExprKind::Negative(Box::new(inner)), span }, taller(input, height)?)))
}

#[inline]
fn powered(input: Tokens<'_>) -> Out<'_, Tall> {
    let (rest, (base, height)) = atom(input)?;
    if rest.kind() != Kind::Caret {
        return Ok((rest, (base, height)));
    }
    touching(rest, "`^` has no space beside it");
    let (rest, exponent) = cut(exponent).parse(rest.next())?;
    let span = rest.span_from(input);
    Ok((rest, (Expr { kind: ExprKind::Power(Box::new(base), exponent), span }, taller(input, height)?)))
}

/// `number unit? | clock | call | name ('.' 'end')? | '(' value ')'`
#[inline]
fn atom(input: Tokens<'_>) -> Out<'_, Tall> {
    match input.kind() {
        Kind::Number => map(number, |number| (number, 1)).parse(input),
        Kind::Clock => map(clock, |clock| (clock, 1)).parse(input),
        Kind::OpenRound => {
            let outer = input.context.tallest.replace(0);
            let (rest, inner) = round(input, value)?;
            let height = taller(input, input.context.tallest.replace(outer))?;
            let span = rest.span_from(input);
            Ok((rest, (Expr { kind: ExprKind::Group(Box::new(inner)), span }, height)))
        }
        Kind::Word if is_called(input) => {
            let outer = input.context.tallest.replace(0);
            let (rest, call) = call(input)?;
            let height = taller(input, input.context.tallest.replace(outer))?;
            let span = call.span;
            Ok((rest, (Expr { kind: ExprKind::Call(Box::new(call)), span }, height)))
        }
        Kind::Word => {
            let (rest, label) = name(input)?;
            if rest.kind() != Kind::Dot {
                return Ok((rest, (Expr { span: label.span, kind: ExprKind::Name(label) }, 1)));
            }
            touching(rest, "`.end` touches its label");
            touching(rest.next(), "`.end` has no space inside");
            let (rest, _) = cut(token(Kind::EndWord)).parse(rest.next())?;
            let span = rest.span_from(input);
            Ok((rest, (Expr { kind: ExprKind::End(label), span }, 1)))
        }
        _ => input.miss(Wanted::VALUE),
    }
}

/// One more than `height`, or an error where trees end.
fn taller(input: Tokens<'_>, height: u16) -> Result<u16, Err<crate::lang::failure::Failure>> {
    if height < TALLEST {
        return Ok(height + 1);
    }
    let place = input.context.span(input.token());
    let title = format!("this expression has more than {TALLEST} operators or brackets in a row");
    let error = Diagnostic::error("nesting", place, title).help("give a part of it a name with `let`");
    input.refuse(error).map(|(_, height): (_, u16)| height)
}

/// Whether the word here is called: a bracket follows it on its line.
pub(super) fn is_called(input: Tokens<'_>) -> bool {
    input.next().kind() == Kind::OpenRound
}

/// `name '(' (arg (',' arg)*)? ')'`
pub(super) fn call(input: Tokens<'_>) -> Out<'_, Call> {
    let (rest, name) = name(input)?;
    if rest.kind() == Kind::OpenRound {
        touching(rest, "the bracket of a call touches its name");
    }
    let (rest, mut args) = round(rest, separated_list0(token(Kind::Comma), arg))?;
    args.shrink_to_fit();
    Ok((rest, Call { name, args, span: rest.span_from(input) }))
}

/// `'(' inner ')'`: line ends mean nothing inside.
pub(super) fn round<'a, T>(
    input: Tokens<'a>,
    inner: impl Parser<Tokens<'a>, Output = T, Error = crate::lang::failure::Failure>,
) -> Out<'a, T> {
    let (rest, _) = token(Kind::OpenRound)(input)?;
    let (rest, ()) = deeper(rest)?;
    let (rest, inner) =
        cut(terminated(inner, token(Kind::CloseRound))).parse(Tokens { rounds: input.rounds + 1, ..rest })?;
    Ok((Tokens { rounds: input.rounds, depth: input.depth, ..rest }, inner))
}

/// `(word ':')? (string | value)`; the word may be a reserved one, the colon tells.
fn arg(input: Tokens<'_>) -> Out<'_, Arg> {
    let kind = input.kind();
    let colon = input.ahead(1).kind;
    let is_word = kind == Kind::Word || kind.is_reserved();
    let (rest, name) = if is_word && matches!(colon, Kind::Colon | Kind::Equal) {
        let place = input.context.span(input.ahead(1));
        if colon == Kind::Equal {
            input.context.report(
                Diagnostic::error("syntax", place, "an argument is named with `:`")
                    .help("`=` gives a default where a cue is defined; `:` names an argument where it is placed")
                    .fix("write `:`", place, ":"),
            );
        }
        (input.next().next(), Some(named(input)))
    } else {
        (input, None)
    };
    if rest.kind() == Kind::Text {
        let (rest, text) = text(rest)?;
        return Ok((rest, Arg { name, value: ArgValue::Text(text), span: rest.span_from(input) }));
    }
    rest.note(Wanted::ARGUMENT);
    let (rest, value) = match name {
        Some(_) => cut(value).parse(rest)?,
        None => value(rest)?,
    };
    Ok((rest, Arg { name, value: ArgValue::Value(value), span: rest.span_from(input) }))
}
