//! Numbers and clocks.

use super::{Class, Lexer, class};
use crate::diag::Diagnostic;
use crate::lang::token::Kind;

impl Lexer<'_> {
    /// `[0-9]+ ('.' [0-9]+)? ('e' [+-]? [0-9]+)?`, or a clock. Stands on a digit.
    pub(super) fn number(&mut self) {
        let start = self.at;
        self.digits();
        if self.peek(0) == b':' && self.peek(1).is_ascii_digit() {
            return self.clock(start);
        }
        if self.peek(0) == b'.' && self.peek(1).is_ascii_digit() {
            self.at += 1;
            self.digits();
            if self.peek(0) == b'.' && self.peek(1).is_ascii_digit() {
                return self.two_points(start);
            }
        } else if self.peek(0) == b'.' && self.peek(1) != b'.' {
            self.at += 1;
            let digits = self.slice(start, self.at - 1);
            let error = Diagnostic::error(
                "number",
                self.span(start, self.at),
                format!("no digit follows the point of `{digits}.`"),
            )
            .fix(format!("write `{digits}`"), self.span(start, self.at), digits);
            self.report(error);
        }
        if matches!(self.peek(0), b'e' | b'E') {
            let sign = usize::from(matches!(self.peek(1), b'+' | b'-'));
            if self.peek(1 + sign).is_ascii_digit() {
                if self.peek(0) == b'E' {
                    let place = self.span(self.at, self.at + 1);
                    self.report(
                        Diagnostic::error("number", place, "an exponent of ten is written with a small `e`")
                            .fix("write `e`", place, "e"),
                    );
                }
                self.at += 1 + sign;
                self.digits();
            }
        }
        self.push(start, Kind::Number);
    }

    /// `.5`: a number whose first digit is missing.
    pub(super) fn leading_point(&mut self) {
        let start = self.at;
        self.at += 1;
        self.digits();
        let place = self.span(start, self.at);
        let digits = self.slice(start, self.at);
        let error =
            Diagnostic::error("number", place, format!("a digit is missing before the point of `{digits}`"))
                .fix(format!("write `0{digits}`"), place, format!("0{digits}"));
        self.report(error);
        self.push(start, Kind::Number);
    }

    fn two_points(&mut self, start: usize) {
        self.skip(|byte| byte == b'.' || class(byte) == Class::Digit);
        let error = Diagnostic::error(
            "number",
            self.span(start, self.at),
            format!("`{}` has more than one point", clip(self.slice(start, self.at))),
        )
        .help("a number has one point; a range is written with two: `0.5..2`");
        self.push_junk(start, error);
    }

    /// `h:mm:ss`, `m:ss`, with tenths and less after a point. Stands on the first colon.
    fn clock(&mut self, start: usize) {
        let mut parts = vec![(start, self.at)];
        while self.peek(0) == b':' && self.peek(1).is_ascii_digit() && parts.len() < 4 {
            let from = self.at + 1;
            self.at = from;
            self.digits();
            parts.push((from, self.at));
        }
        if self.peek(0) == b'.' && self.peek(1).is_ascii_digit() {
            self.at += 1;
            self.digits();
        }
        let two_below_sixty = |(from, to): &(usize, usize)| {
            to - from == 2 && self.bytes.get(*from).is_some_and(|byte| *byte < b'6')
        };
        let well_formed = parts.len() <= 3 && parts.iter().skip(1).all(two_below_sixty);
        if well_formed {
            return self.push(start, Kind::Clock);
        }
        let error = Diagnostic::error(
            "number",
            self.span(start, self.at),
            format!("`{}` is not a time", clip(self.slice(start, self.at))),
        )
        .help("a time is minutes and two digits of seconds, `1:24.5`, or hours before them, `1:02:03`");
        self.push_junk(start, error);
    }

    fn digits(&mut self) {
        self.skip(|byte| class(byte) == Class::Digit);
    }
}

/// The first characters of something that may be long.
pub(super) fn clip(text: &str) -> String {
    match text.char_indices().nth(32) {
        Some((at, _)) => format!("{}…", text.get(..at).unwrap_or("")),
        None => text.to_string(),
    }
}
