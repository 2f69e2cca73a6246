//! What plays, when, and how.

use super::block::{Place, block};
use super::terminal::{name, token, touching};
use super::value::{call, expr, is_called, span, value};
use crate::diag::{Diagnostic, nearest};
use crate::lang::failure::{Wanted, firm};
use crate::lang::stream::{Out, Tokens};
use crate::lang::token::Kind;
use crate::lang::tree::{Channel, Group, Line, Play, Repeat, Suffix, SuffixKind, What, When};
use crate::lang::words;
use nom::combinator::{cut, map, opt};
use nom::sequence::preceded;
use nom::{Err, Parser};
use std::mem::discriminant;

/// `when? what suffix*`
pub(super) fn play(input: Tokens<'_>) -> Out<'_, Play> {
    let (rest, when) = when(input)?;
    let (rest, what) = what(rest).map_err(firm)?;
    let (rest, suffixes) = suffixes(rest)?;
    Ok((rest, Play { when, what, suffixes, span: rest.span_from(input) }))
}

/// `suffix*`, each at most once.
fn suffixes(input: Tokens<'_>) -> Out<'_, Vec<Suffix>> {
    let pile = &input.context.suffixes;
    let base = pile.open();
    let mut rest = input;
    loop {
        let (after, suffix) = match suffix(rest) {
            Ok(found) => found,
            Err(Err::Error(_)) => return Ok((rest, pile.close(base))),
            Err(error) => return Err(error),
        };
        let same = |one: &Suffix| (discriminant(&one.kind) == discriminant(&suffix.kind)).then_some(one.span);
        if let Some(first) = pile.find(base, same) {
            input.context.report(
                Diagnostic::error("repeated-suffix", suffix.span, "this suffix stands here twice")
                    .also(first, "first here")
                    .help("keep one of them"),
            );
        }
        pile.push(suffix);
        rest = after;
    }
}

/// `'at' expr | ('during' span)? 'every' expr ('after' expr)? ('at' value)?`, or nothing.
fn when(input: Tokens<'_>) -> Out<'_, Option<When>> {
    match input.kind() {
        Kind::At => {
            let (rest, at) = expr(input.next()).map_err(firm)?;
            Ok((rest, Some(When::At(at))))
        }
        Kind::During | Kind::Every => map(cut(every), Some).parse(input),
        _ => Ok((input, None)),
    }
}

fn every(input: Tokens<'_>) -> Out<'_, When> {
    let part = |kind| preceded(token(kind), cut(expr));
    map(
        (
            opt(preceded(token(Kind::During), cut(span))),
            part(Kind::Every),
            opt(part(Kind::After)),
            opt(preceded(token(Kind::At), cut(value))),
        ),
        |(during, every, after, at)| When::Every(Box::new(Repeat { during, every, after, at })),
    )
    .parse(input)
}

/// `channel call | call | block`
fn what(input: Tokens<'_>) -> Out<'_, What> {
    match input.kind() {
        Kind::OpenBrace => map(block(Place::Body), What::Block).parse(input),
        Kind::Word if is_called(input) => map(call, What::Cue).parse(input),
        kind if kind.starts_channel() => {
            let (rest, channel) = channel(input)?;
            if rest.kind() != Kind::Word {
                return rest.miss(Wanted::WAVEFORM);
            }
            map(call, |call| What::Layer(channel, call)).parse(rest)
        }
        _ => input.miss(Wanted::WHAT),
    }
}

/// `(('vehicle' | 'seat') '.')? axis | 'sound' | 'shaker'`
pub(super) fn channel(input: Tokens<'_>) -> Out<'_, Channel> {
    let group = match input.kind() {
        Kind::Vehicle => Group::Vehicle,
        Kind::Seat => Group::Seat,
        _ => {
            let (rest, line) = line(input)?;
            return Ok((rest, Channel { group: Group::Platform, line, span: rest.span_from(input) }));
        }
    };
    let (rest, _) = cut(token(Kind::Dot)).parse(input.next())?;
    touching(input.next(), "a channel has no space inside");
    touching(rest, "a channel has no space inside");
    if rest.kind() == Kind::Word {
        // `seat.haeve`: an axis is meant.
        let word = rest.context.slice(rest.token());
        let axes = words::AXES.iter().map(|(axis, _)| *axis);
        let place = rest.context.span(rest.token());
        let title = format!("there is no axis `{word}`");
        return rest.refuse(match nearest(word, axes) {
            Some(axis) => Diagnostic::error("syntax", place, format!("{title}, did you mean `{axis}`")).fix(
                format!("write `{axis}`"),
                place,
                axis,
            ),
            None => Diagnostic::error("syntax", place, title)
                .help("axes are pitch, roll, yaw, surge, sway and heave"),
        });
    }
    let (rest, line) = cut(line).parse(rest)?;
    let span = rest.span_from(input);
    if matches!(line, Line::Sound | Line::Shaker) {
        let word = rest.context.slice(rest.before());
        let prefix = crate::diag::Span { end: rest.before().start, ..span };
        rest.context.report(
            Diagnostic::error("syntax", span, format!("`{word}` is one for all and has no group before it"))
                .fix(format!("write `{word}`"), prefix, ""),
        );
        return Ok((rest, Channel { group: Group::Platform, line, span }));
    }
    Ok((rest, Channel { group, line, span }))
}

fn line(input: Tokens<'_>) -> Out<'_, Line> {
    let line = match input.kind() {
        Kind::Pitch => Line::Pitch,
        Kind::Roll => Line::Roll,
        Kind::Yaw => Line::Yaw,
        Kind::Surge => Line::Surge,
        Kind::Sway => Line::Sway,
        Kind::Heave => Line::Heave,
        Kind::Sound => Line::Sound,
        Kind::Shaker => Line::Shaker,
        _ => return input.miss(Wanted::CHANNEL),
    };
    Ok((input.next(), line))
}

/// `('for' | 'rise' | 'fall' | 'gain') value | 'as' name`
fn suffix(input: Tokens<'_>) -> Out<'_, Suffix> {
    let kind = match input.kind() {
        Kind::For => SuffixKind::For,
        Kind::Rise => SuffixKind::Rise,
        Kind::Fall => SuffixKind::Fall,
        Kind::Gain => SuffixKind::Gain,
        Kind::As => {
            let (rest, label) = name(input.next()).map_err(firm)?;
            return Ok((rest, Suffix { kind: SuffixKind::As(label), span: rest.span_from(input) }));
        }
        _ => return input.miss(Wanted::SUFFIX),
    };
    let (rest, value) = value(input.next()).map_err(firm)?;
    Ok((rest, Suffix { kind: kind(value), span: rest.span_from(input) }))
}
