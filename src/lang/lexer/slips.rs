//! What a lexer meets in texts that were typed in a hurry or pasted from a word processor.

use super::numbers::clip;
use super::{Class, Lexer, class};
use crate::diag::Diagnostic;
use crate::lang::token::Kind;

/// Characters that stand for a mark of the language: what is meant, and how it is written.
const LOOKALIKES: &[(char, Kind, &str)] = &[
    ('\u{2212}', Kind::Minus, "-"),
    ('\u{2013}', Kind::Minus, "-"),
    ('\u{2014}', Kind::Minus, "-"),
    ('\u{2264}', Kind::AtMost, "<="),
    ('\u{2265}', Kind::AtLeast, ">="),
    ('\u{2192}', Kind::Arrow, "->"),
    ('\u{d7}', Kind::Star, "*"),
    ('\u{b7}', Kind::Star, "*"),
    ('\u{f7}', Kind::Slash, "/"),
    ('\u{2026}', Kind::DotDot, ".."),
    ('\u{ff05}', Kind::Percent, "%"),
];

/// Marks of other languages: as typed, what is meant, how it is written.
const BORROWED: &[(&str, Kind, &str)] = &[
    ("...", Kind::DotDot, ".."),
    ("=<", Kind::AtMost, "<="),
    ("<", Kind::AtMost, "<="),
    (">", Kind::AtLeast, ">="),
];

impl Lexer<'_> {
    /// A string that opens here with a mark of `mark_length` bytes and closes with `"` or `closing`.
    pub(super) fn quoted(&mut self, mark_length: usize, closing: char) {
        let start = self.at;
        let inner = start + mark_length;
        let rest = self.bytes.get(inner..).unwrap_or_default();
        let line_length = rest.iter().position(|byte| matches!(byte, b'\n' | b'\r')).unwrap_or(rest.len());
        let line = self.text.get(inner..inner + line_length).unwrap_or("");
        if let Some(length) = line.find(['"', closing]) {
            let end = inner + length;
            let close_length =
                self.text.get(end..).and_then(|rest| rest.chars().next()).map_or(1, char::len_utf8);
            self.at = end + close_length;
            if mark_length != 1 || closing != '"' || close_length != 1 {
                let text = self.slice(inner, end).to_string();
                self.report(
                    Diagnostic::error(
                        "syntax",
                        self.span(start, self.at),
                        "strings stand between straight quotes",
                    )
                    .help("word processors bend quotes; write \" on both sides")
                    .fix(
                        "use straight quotes",
                        self.span(start, self.at),
                        format!("\"{text}\""),
                    ),
                );
            }
            return self.push(start, Kind::Text);
        }
        // Unclosed. In a scene's or cue's first line the string is taken to end before the brace, so that
        // the body is still read.
        let visible = line.trim_end();
        let (text, kind) = match visible.strip_suffix('{') {
            Some(title) => (title.trim_end(), Kind::Text),
            None => (visible, Kind::Junk),
        };
        self.at = inner + text.len();
        // A file's name in a call most likely ends before the comma or bracket.
        let likely = inner + text.find([',', ')']).unwrap_or(text.len());
        let end = self.span(likely, likely);
        let error = Diagnostic::error("syntax", self.span(start, self.at), "this string is not closed")
            .label("opened here")
            .help("a string ends on the line where it starts")
            .fix("close it", end, "\"");
        if kind == Kind::Junk {
            self.push_junk(start, error);
        } else {
            self.report(error);
            self.push(start, kind);
        }
    }

    /// `//`, in other languages a comment.
    pub(super) fn slashes(&mut self) {
        let place = self.span(self.at, self.at + 2);
        self.report(Diagnostic::error("syntax", place, "a comment starts with `#`").fix(
            "write `#`",
            place,
            "#",
        ));
        self.comment();
    }

    /// A mark that is almost one of ours.
    pub(super) fn odd_mark(&mut self) {
        let start = self.at;
        let rest = self.text.get(start..).unwrap_or("");
        if let Some((typed, kind, meant)) = BORROWED.iter().find(|(typed, ..)| rest.starts_with(typed)) {
            self.at += typed.len();
            self.meant(start, *kind, meant);
        } else {
            self.junk();
        }
    }

    /// A byte that starts nothing in the language.
    pub(super) fn odd_character(&mut self) {
        let start = self.at;
        let Some(found) = self.text.get(start..).and_then(|rest| rest.chars().next()) else {
            self.at += 1;
            return;
        };
        if let Some((_, kind, meant)) = LOOKALIKES.iter().find(|(typed, ..)| *typed == found) {
            self.at += found.len_utf8();
            return self.meant(start, *kind, meant);
        }
        match found {
            '\u{201c}' | '\u{201d}' | '\u{201e}' => self.quoted(3, '\u{201d}'),
            '\u{2018}' | '\u{2019}' => self.quoted(3, '\u{2019}'),
            '\'' => self.quoted(1, '\''),
            ';' => {
                self.at += 1;
                let place = self.span(start, self.at);
                self.report(
                    Diagnostic::error("syntax", place, "a line's end closes a statement, not `;`").fix(
                        "remove `;`",
                        place,
                        "",
                    ),
                );
            }
            '\u{feff}' => self.at += 3,
            _ if found.is_whitespace() => {
                self.at += found.len_utf8();
                let place = self.span(start, self.at);
                let title = format!("this space is not a plain one (U+{:04X})", u32::from(found));
                self.report(Diagnostic::error("syntax", place, title).fix("use a plain space", place, " "));
            }
            _ if self.foreign_letter(start) => self.foreign_word(start),
            _ => self.junk(),
        }
    }

    /// Whether the character at `at` is a letter that the language does not know.
    pub(super) fn foreign_letter(&self, at: usize) -> bool {
        self.text
            .get(at..)
            .and_then(|rest| rest.chars().next())
            .is_some_and(|c| !c.is_ascii() && c.is_alphanumeric())
    }

    /// A word with letters that a name cannot have; `start` is its first byte.
    pub(super) fn foreign_word(&mut self, start: usize) {
        let rest = self.text.get(start..).unwrap_or("");
        let length = rest.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(rest.len());
        self.at = start + length.max(1);
        let error = Diagnostic::error(
            "syntax",
            self.span(start, self.at),
            format!("`{}` has letters that a name cannot have", clip(self.slice(start, self.at))),
        )
        .help("names are written with a to z, digits and `_`; titles and comments may hold any letters");
        self.push_junk(start, error);
    }

    fn meant(&mut self, start: usize, kind: Kind, meant: &str) {
        let place = self.span(start, self.at);
        let title = format!("`{}` is written `{meant}`", self.slice(start, self.at));
        self.report(Diagnostic::error("syntax", place, title).fix(format!("write `{meant}`"), place, meant));
        self.push(start, kind);
    }

    /// A stretch without meaning, as one token and one error.
    fn junk(&mut self) {
        let start = self.at;
        let rest = self.text.get(start..).unwrap_or("");
        let plain = |c: char| {
            (c.is_ascii() && class(c as u8) != Class::Other) || c.is_whitespace() || c.is_alphanumeric()
        };
        let mut length = rest.find(plain).unwrap_or(rest.len());
        if length == 0 {
            // Only `=>` and `..` followed by more points get here with a mark of ours at the start.
            length = rest.find(|c| !matches!(c, '=' | '<' | '>' | '.')).unwrap_or(rest.len()).max(1);
        }
        self.at = start + length;
        let found = clip(self.slice(start, self.at));
        let mut error = if found.chars().any(char::is_control) {
            Diagnostic::error("syntax", self.span(start, self.at), "a control character has no meaning here")
        } else {
            Diagnostic::error("syntax", self.span(start, self.at), format!("`{found}` has no meaning here"))
        };
        for (mark, help) in JUNK_HELP {
            if found.starts_with(mark) {
                error = error.help(*help);
            }
        }
        self.push_junk(start, error);
    }
}

const JUNK_HELP: &[(&str, &str)] = &[
    ("°", "degrees are written `deg`"),
    ("[", "calls and groups use round brackets, bodies use `{ }`"),
    ("]", "calls and groups use round brackets, bodies use `{ }`"),
    ("==", "write `=` to give a name its value, `<=` or `>=` to say what must hold"),
    ("=>", "write `>=` to compare, `->` for a ramp"),
    ("!", "there is nothing to negate: write what must hold"),
    ("\\", "a line goes on inside `( )` and after an operator"),
];
