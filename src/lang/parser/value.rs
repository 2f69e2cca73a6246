//! Values and expressions.

use super::number::{clock, exponent, number};
use super::terminal::{commas, deeper, name, named, operator, spaced, text, token, touching};
use crate::diag::Diagnostic;
use crate::lang::failure::{Wanted, firm};
use crate::lang::stream::{Out, Tokens};
use crate::lang::token::Kind;
use crate::lang::tree::{Arg, ArgValue, Call, Expr, ExprKind, Operator, SpanExpr, Value, ValueKind};
use nom::combinator::{cut, opt};
use nom::sequence::preceded;
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
            let (rest, second) = expr(rest.past_operator()).map_err(firm)?;
            (rest, ValueKind::Ramp(Box::new([first, second])))
        }
        Kind::DotDot => {
            let (rest, second) = expr(rest.past_operator()).map_err(firm)?;
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
#[inline(always)]
pub(super) fn expr(input: Tokens<'_>) -> Out<'_, Expr> {
    let (rest, first) = factor(input)?;
    let (rest, (expr, height)) =
        if rest.kind().is_operator() { chain(input, rest, first, false)? } else { (rest, first) };
    rest.note(Wanted::OPERATOR);
    let tallest = &input.context.tallest;
    tallest.set(tallest.get().max(height));
    Ok((rest, expr))
}

/// What follows the operand that was read from `input` to `rest`: operators and operands, grouped from the left; `*` and
/// `/` bind tighter. `tight` stops before `+` and `-`.
fn chain<'a>(input: Tokens<'a>, mut rest: Tokens<'a>, first: Tall, tight: bool) -> Out<'a, Tall> {
    let (mut left, mut height) = first;
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
            Operator::Multiply | Operator::Divide => factor(after).map_err(firm)?,
            Operator::Add | Operator::Subtract => {
                let (rest, first) = factor(after).map_err(firm)?;
                chain(after, rest, first, true)?
            }
        };
        height = taller(input, height.max(right_height))?;
        rest = after;
        let span = rest.span_from(input);
        left = Expr { kind: ExprKind::Binary(operator, Box::new([left, right])), span };
    }
    Ok((rest, (left, height)))
}

/// `'-'? atom ('^' '-'? integer)?`
#[inline(always)]
fn factor(input: Tokens<'_>) -> Out<'_, Tall> {
    if input.kind() != Kind::Minus {
        return powered(input);
    }
    let rest = input.next();
    touching(rest, "a minus sign touches its value");
    let (rest, (inner, height)) = powered(rest.at_start()).map_err(firm)?;
    let span = rest.span_from(input);
    Ok((rest, (Expr { kind: ExprKind::Negative(Box::new(inner)), span }, taller(input, height)?)))
}

#[inline(always)]
fn powered(input: Tokens<'_>) -> Out<'_, Tall> {
    let (rest, (base, height)) = atom(input)?;
    if rest.kind() != Kind::Caret {
        return Ok((rest, (base, height)));
    }
    touching(rest, "`^` has no space beside it");
    let (rest, exponent) = exponent(rest.next()).map_err(firm)?;
    let span = rest.span_from(input);
    Ok((rest, (Expr { kind: ExprKind::Power(Box::new(base), exponent), span }, taller(input, height)?)))
}

/// `number unit? | clock | call | name ('.' 'end')? | '(' value ')'`
#[inline(always)]
fn atom(input: Tokens<'_>) -> Out<'_, Tall> {
    match input.kind() {
        Kind::Number => number(input).map(|(rest, number)| (rest, (number, 1))),
        Kind::Clock => clock(input).map(|(rest, clock)| (rest, (clock, 1))),
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
            let (rest, _) = token(Kind::EndWord)(rest.next()).map_err(firm)?;
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
    let (rest, args) = round(rest, |input| commas(input, &input.context.args, arg))?;
    Ok((rest, Call { name, args, span: rest.span_from(input) }))
}

/// `'(' inner ')'`: line ends mean nothing inside.
pub(super) fn round<'a, T>(input: Tokens<'a>, inner: impl Fn(Tokens<'a>) -> Out<'a, T>) -> Out<'a, T> {
    let (rest, _) = token(Kind::OpenRound)(input)?;
    let (rest, ()) = deeper(rest)?;
    let (rest, inner) = inner(Tokens { rounds: input.rounds + 1, ..rest }).map_err(firm)?;
    let (rest, _) = token(Kind::CloseRound)(rest).map_err(firm)?;
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
        Some(_) => value(rest).map_err(firm)?,
        None => value(rest)?,
    };
    Ok((rest, Arg { name, value: ArgValue::Value(value), span: rest.span_from(input) }))
}
