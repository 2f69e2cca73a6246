//! Text to tokens: one pass over the bytes, no allocation beyond the vectors.
//!
//! Never fails: what has no meaning becomes [`Kind::Junk`] and one error; a slip whose meaning is plain
//! (`≤`, `5.`) becomes the token that was meant and one error.

mod numbers;
mod slips;

use super::token::{Comment, Kind, Token};
use crate::diag::{Diagnostic, SourceId, Span};

/// Most errors that one text reports. A text with more is not a profile.
pub(super) const MOST_ERRORS: usize = 100;

/// A text in tokens. The last token is always [`Kind::End`].
#[derive(Debug)]
pub(super) struct Lexed {
    pub(super) tokens: Vec<Token>,
    pub(super) comments: Vec<Comment>,
    pub(super) errors: Vec<Diagnostic>,
}

/// Cuts `text` into tokens. A byte order mark at its start is skipped.
pub(super) fn lex(source: SourceId, text: &str) -> Lexed {
    let mut lexer = Lexer {
        text,
        bytes: text.as_bytes(),
        at: if text.starts_with('\u{feff}') { 3 } else { 0 },
        line_before: true,
        token_before: u32::MAX,
        junk_in_line: false,
        source,
        out: Lexed {
            tokens: Vec::with_capacity(text.len() / 4 + 2),
            comments: Vec::new(),
            errors: Vec::new(),
        },
    };
    if u32::try_from(text.len()).is_err() {
        let title = "this text is larger than 4 GiB";
        lexer.report(Diagnostic::error("syntax", Span::new(source, 0, 0), title));
        lexer.at = text.len();
    }
    lexer.run();
    lexer.out
}

/// What a byte can start.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Class {
    Other,
    Space,
    Line,
    Letter,
    Digit,
    Mark,
}

const CLASSES: [Class; 256] = {
    let mut classes = [Class::Other; 256];
    let mut byte = 0;
    while byte < 256 {
        classes[byte] = match byte as u8 {
            b' ' | b'\t' => Class::Space,
            b'\n' | b'\r' => Class::Line,
            b'a'..=b'z' | b'A'..=b'Z' | b'_' => Class::Letter,
            b'0'..=b'9' => Class::Digit,
            b'{' | b'}' | b'(' | b')' | b',' | b':' | b'=' | b'.' | b'-' | b'<' | b'>' => Class::Mark,
            b'+' | b'*' | b'/' | b'^' | b'%' | b'#' | b'"' => Class::Mark,
            _ => Class::Other,
        };
        byte += 1;
    }
    classes
};

fn class(byte: u8) -> Class {
    CLASSES[byte as usize]
}

/// The first place from `at` on whose byte fails the test, or the end.
#[inline]
fn past(bytes: &[u8], mut at: usize, test: impl Fn(u8) -> bool) -> usize {
    while bytes.get(at).is_some_and(|byte| test(*byte)) {
        at += 1;
    }
    at
}

struct Lexer<'a> {
    text: &'a str,
    bytes: &'a [u8],
    at: usize,
    line_before: bool,
    /// Where the token before ended; no place of the text before the first.
    token_before: u32,
    /// This line has junk, which was reported.
    junk_in_line: bool,
    source: SourceId,
    out: Lexed,
}

impl Lexer<'_> {
    fn run(&mut self) {
        let bytes = self.bytes;
        loop {
            let start = past(bytes, self.at, |byte| byte == b' ' || byte == b'\t');
            self.at = start;
            let Some(&byte) = bytes.get(start) else { break };
            match class(byte) {
                Class::Line => {
                    self.line_before = true;
                    self.junk_in_line = false;
                    self.at += 1;
                }
                Class::Letter => {
                    let at =
                        past(bytes, start + 1, |byte| matches!(class(byte), Class::Letter | Class::Digit));
                    self.at = at;
                    if bytes.get(at).is_some_and(|byte| *byte >= 0x80) && self.foreign_letter(at) {
                        self.foreign_word(start);
                    } else {
                        self.push(start, Kind::of_word(bytes.get(start..at).unwrap_or_default()));
                    }
                }
                Class::Digit => self.number(),
                Class::Mark => self.mark(byte),
                Class::Space | Class::Other => self.odd_character(),
            }
        }
        self.line_before = true;
        self.token_before = u32::MAX;
        self.push(self.at, Kind::End);
    }

    fn mark(&mut self, byte: u8) {
        let start = self.at;
        let next = self.peek(1);
        let (kind, length) = match byte {
            b'#' => return self.comment(),
            b'"' => return self.quoted(1, '"'),
            b'{' => (Kind::OpenBrace, 1),
            b'}' => (Kind::CloseBrace, 1),
            b'(' => (Kind::OpenRound, 1),
            b')' => (Kind::CloseRound, 1),
            b',' => (Kind::Comma, 1),
            b':' => (Kind::Colon, 1),
            b'+' => (Kind::Plus, 1),
            b'*' => (Kind::Star, 1),
            b'^' => (Kind::Caret, 1),
            b'%' => (Kind::Percent, 1),
            b'-' if next == b'>' => (Kind::Arrow, 2),
            b'-' => (Kind::Minus, 1),
            b'<' if next == b'=' => (Kind::AtMost, 2),
            b'>' if next == b'=' => (Kind::AtLeast, 2),
            b'/' if next == b'/' => return self.slashes(),
            b'/' => (Kind::Slash, 1),
            b'.' if next == b'.' && self.peek(2) != b'.' => (Kind::DotDot, 2),
            b'.' if next.is_ascii_digit() && !self.touches_word() => return self.leading_point(),
            b'.' if next != b'.' => (Kind::Dot, 1),
            b'=' if !matches!(next, b'=' | b'<' | b'>') => (Kind::Equal, 1),
            _ => return self.odd_mark(),
        };
        self.at += length;
        self.push(start, kind);
    }

    fn comment(&mut self) {
        let start = self.at;
        let rest = self.bytes.get(start..).unwrap_or_default();
        let length = rest.iter().position(|byte| *byte == b'\n').unwrap_or(rest.len());
        self.at = start + length;
        let shown = self.text.get(start..self.at).unwrap_or("#").trim_end();
        self.out.comments.push(Comment {
            start: start as u32,
            end: (start + shown.len()) as u32,
            tokens_before: self.out.tokens.len() as u32,
        });
    }

    #[inline]
    fn push(&mut self, start: usize, kind: Kind) {
        let (start, end) = (start as u32, self.at as u32);
        let (line_before, space_before) = (self.line_before, self.token_before != start);
        self.out.tokens.push(Token { start, end, kind, line_before, space_before });
        self.line_before = false;
        self.token_before = end;
    }

    /// Reports a stretch without meaning, the first of its line only, and leaves a token that nothing accepts.
    fn push_junk(&mut self, start: usize, error: Diagnostic) {
        if !std::mem::replace(&mut self.junk_in_line, true) {
            self.report(error);
        }
        self.push(start, Kind::Junk);
    }

    fn report(&mut self, error: Diagnostic) {
        if self.out.errors.len() < MOST_ERRORS {
            self.out.errors.push(error);
        }
    }

    /// The byte `ahead` of here; 0 past the end.
    fn peek(&self, ahead: usize) -> u8 {
        self.bytes.get(self.at + ahead).copied().unwrap_or(0)
    }

    fn skip(&mut self, test: impl Fn(u8) -> bool) {
        self.at = past(self.bytes, self.at, test);
    }

    fn touches_word(&self) -> bool {
        let before = self.out.tokens.last();
        before.is_some_and(|token| token.kind == Kind::Word && token.end as usize == self.at)
    }

    fn span(&self, start: usize, end: usize) -> Span {
        Span::new(self.source, start, end)
    }

    fn slice(&self, start: usize, end: usize) -> &str {
        self.text.get(start..end).unwrap_or("")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kinds(text: &str) -> Vec<Kind> {
        let lexed = lex(SourceId(0), text);
        lexed.tokens.iter().map(|token| token.kind).collect()
    }

    #[test]
    fn numbers_ranges_clocks_and_points_are_told_apart() {
        use Kind::{Clock, Colon, Dot, DotDot, End, Number, Word};
        assert_eq!(kinds("8..14.5"), [Number, DotDot, Number, End]);
        assert_eq!(kinds("1:24.5 1:02:03"), [Clock, Clock, End]);
        assert_eq!(kinds("touch.end..x"), [Word, Dot, Kind::EndWord, DotDot, Word, End]);
        assert_eq!(kinds("damping:0.3"), [Word, Colon, Number, End]);
        assert_eq!(kinds("2e3 2e-3 2em"), [Number, Number, Number, Word, End]);
    }

    #[test]
    fn a_mark_of_order_and_carriage_returns_leave_no_trace() {
        let lexed = lex(SourceId(0), "\u{feff}use\r\n\"a\" # c \r\n");
        assert!(lexed.errors.is_empty());
        assert_eq!(lexed.tokens.iter().map(|token| token.start).collect::<Vec<_>>(), [3, 8, 18]);
        assert!(lexed.tokens[1].line_before);
        assert_eq!((lexed.comments[0].start, lexed.comments[0].end), (12, 15));
    }

    #[test]
    fn errors_are_bounded() {
        let lexed = lex(SourceId(0), &"§\n".repeat(10_000));
        assert_eq!(lexed.errors.len(), MOST_ERRORS);
    }
}
