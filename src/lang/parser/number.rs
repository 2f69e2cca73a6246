//! Numbers with their units, and clocks.

use super::terminal::touching;
use crate::decimal::decimal;
use crate::diag::{Diagnostic, Span};
use crate::lang::failure::{Wanted, firm};
use crate::lang::stream::{Out, Tokens};
use crate::lang::token::{Kind, Token};
use crate::lang::tree::{Expr, ExprKind, UnitWord};

/// `number unit?`. Stands on the number.
#[inline]
pub(super) fn number(input: Tokens<'_>) -> Out<'_, Expr> {
    let context = input.context;
    let token = input.token();
    let written = context.slice(token);
    let value = decimal(written).unwrap_or_else(|| written.parse().unwrap_or(f64::INFINITY));
    if !value.is_finite() || (value == 0.0 && !is_zero(written)) {
        let title = if value == 0.0 { "this number is too small" } else { "this number is too large" };
        let error = Diagnostic::error("number", context.span(token), title)
            .help("numbers reach from 1e-300 to 1e300; use a unit of fitting size");
        return input.refuse(error);
    }
    let rest = input.next();
    let (rest, unit) = if starts_unit(rest) {
        let (rest, unit) = unit(rest).map_err(firm)?;
        (rest, Some(unit))
    } else {
        rest.note(Wanted::UNIT);
        (rest, None)
    };
    Ok((rest, Expr { kind: ExprKind::Number(value, unit), span: rest.span_from(input) }))
}

/// Whether a number is written as zero.
fn is_zero(written: &str) -> bool {
    let mantissa = written.split(['e', 'E']).next().unwrap_or("");
    !mantissa.bytes().any(|byte| matches!(byte, b'1'..=b'9'))
}

/// Whether the next token is the unit of the number before it: a word on the same line that is not reserved,
/// not called and not the name of the next argument.
#[inline]
fn starts_unit(input: Tokens<'_>) -> bool {
    let token = input.token();
    let next = input.ahead(1);
    let called = next.kind == Kind::OpenRound && !next.space_before;
    match token.kind {
        _ if token.line_before => false,
        Kind::Percent => true,
        Kind::Word => !called && next.kind != Kind::Colon,
        _ => false,
    }
}

/// `power ('*' power)* ('/' power)*`, without a space inside.
#[inline]
pub(super) fn unit(input: Tokens<'_>) -> Out<'_, UnitWord> {
    let context = input.context;
    let alone = context.slice(input.token());
    let is_alone = !matches!(input.ahead(1).kind, Kind::Star | Kind::Slash | Kind::Caret);
    // Nearly every unit is one word that was looked at before.
    if is_alone && let Some(powers) = context.known_unit(alone) {
        return Ok((input.next(), UnitWord { powers, span: context.span(input.token()) }));
    }
    let (mut rest, (word, exponent)) = power(input)?;
    let mut powers = vec![(context.intern(context.slice(word)), exponent)];
    let mut sign = 1;
    loop {
        let joint = rest.token();
        let next = rest.ahead(1);
        let joins = matches!(joint.kind, Kind::Star | Kind::Slash)
            && !joint.space_before
            && !next.space_before
            && matches!(next.kind, Kind::Word | Kind::Percent);
        if !joins {
            break;
        }
        if joint.kind == Kind::Star && sign < 0 {
            let place = context.span(joint);
            let error = Diagnostic::error("syntax", place, "in a unit, `*` comes before every `/`")
                .help("each `/` divides by the one word after it: write `N*s/m`, not `N/m*s`");
            return rest.refuse(error);
        }
        if joint.kind == Kind::Slash {
            sign = -1;
        }
        let (after, (word, exponent)) = power(rest.next())?;
        powers.push((context.intern(context.slice(word)), sign * exponent));
        rest = after;
    }
    let span = rest.span_from(input);
    let written = context.text.get(span.start as usize..span.end as usize).unwrap_or_default();
    Ok((rest, UnitWord { powers: context.intern_unit(written, || powers.into()), span }))
}

/// `([A-Za-z]+ | '%') ('^' '-'? integer)?`
fn power(input: Tokens<'_>) -> Out<'_, (Token, i32)> {
    let word = input.token();
    if !matches!(word.kind, Kind::Word | Kind::Percent) {
        return input.miss(Wanted::UNIT);
    }
    let written = input.context.slice(word);
    if let Some(letters) = written.bytes().position(|byte| !byte.is_ascii_alphabetic() && byte != b'%') {
        let mut error =
            Diagnostic::error("syntax", input.context.span(word), format!("`{written}` is not a unit"))
                .help("the word after a number is its unit; units have letters only");
        let (unit, digits) = written.split_at(letters);
        if letters > 0 && digits.bytes().all(|byte| byte.is_ascii_digit()) {
            let powered = format!("{unit}^{digits}");
            error = error.fix(format!("write `{powered}`"), input.context.span(word), powered);
        }
        return input.refuse(error);
    }
    let rest = input.next();
    let caret = rest.token();
    if caret.kind == Kind::Caret && !caret.space_before {
        let (rest, exponent) = exponent(rest.next()).map_err(firm)?;
        return Ok((rest, (word, exponent)));
    }
    Ok((rest, (word, 1)))
}

/// `'-'? integer` of at most two digits, right after a `^`.
pub(super) fn exponent(input: Tokens<'_>) -> Out<'_, i32> {
    touching(input, "`^` has no space beside it");
    let negative = input.kind() == Kind::Minus;
    let digits = if negative { input.next() } else { input };
    if digits.kind() != Kind::Number {
        return digits.miss(Wanted::kind(Kind::Number));
    }
    if negative {
        touching(digits, "a minus sign has no space after it");
    }
    let token = digits.token();
    let written = digits.context.slice(token);
    match written.parse::<i32>() {
        Ok(exponent) if written.len() <= 2 => {
            Ok((digits.next(), if negative { -exponent } else { exponent }))
        }
        _ => {
            let error = Diagnostic::error(
                "number",
                digits.context.span(token),
                "an exponent is a whole number below 100",
            );
            digits.refuse(error)
        }
    }
}

/// `1:24.5`, in seconds. Stands on the clock.
pub(super) fn clock(input: Tokens<'_>) -> Out<'_, Expr> {
    let context = input.context;
    let token = input.token();
    let mut seconds = 0.0;
    for part in context.slice(token).split(':') {
        seconds = seconds * 60.0 + part.parse().unwrap_or(f64::INFINITY);
    }
    let span = context.span(token);
    if !f64::is_finite(seconds) {
        return input.refuse(Diagnostic::error("number", span, "this time is too large"));
    }
    let rest = input.next();
    let rest = if clock_has_unit(rest) {
        let unit = context.span(rest.token());
        let both = Span { start: span.end, ..unit };
        context.report(
            Diagnostic::error(
                "syntax",
                unit,
                format!("`{}` is a time already and has no unit", context.slice(token)),
            )
            .fix("remove the unit", both, ""),
        );
        rest.next()
    } else {
        rest
    };
    Ok((rest, Expr { kind: ExprKind::Clock(seconds), span }))
}

/// Whether a unit of time stands after a clock, on its line and not called.
fn clock_has_unit(input: Tokens<'_>) -> bool {
    let token = input.token();
    !token.line_before
        && token.kind == Kind::Word
        && input.ahead(1).kind != Kind::OpenRound
        && matches!(input.context.slice(token), "s" | "ms" | "m" | "min" | "h" | "sec")
}
