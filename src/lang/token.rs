//! Tokens: what the lexer hands to the parser and the formatter.

/// What a token is. The discriminants are bits of a set of expected things (`failure`), so there are fewer
/// than 96 of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub(super) enum Kind {
    /// The end of the text.
    End,
    /// Stands for a line's end where one closes a statement; never in the token vector.
    LineEnd,
    /// Something that has no meaning; the lexer reported it.
    Junk,
    Word,
    Number,
    Clock,
    Text,
    OpenBrace,
    CloseBrace,
    OpenRound,
    CloseRound,
    Comma,
    Colon,
    Equal,
    Dot,
    DotDot,
    Arrow,
    AtMost,
    AtLeast,
    Plus,
    Minus,
    Star,
    Slash,
    Caret,
    Percent,
    Use,
    Let,
    Cue,
    Input,
    Scene,
    On,
    Above,
    Below,
    Until,
    Pause,
    Expect,
    Over,
    At,
    During,
    Every,
    After,
    For,
    Rise,
    Fall,
    Gain,
    As,
    EndWord,
    Vehicle,
    Seat,
    Pitch,
    Roll,
    Yaw,
    Surge,
    Sway,
    Heave,
    Sound,
    Shaker,
}

/// Kinds with a fixed spelling.
pub(super) const SPELLED: &[(Kind, &str)] = &[
    (Kind::OpenBrace, "{"),
    (Kind::CloseBrace, "}"),
    (Kind::OpenRound, "("),
    (Kind::CloseRound, ")"),
    (Kind::Comma, ","),
    (Kind::Colon, ":"),
    (Kind::Equal, "="),
    (Kind::Dot, "."),
    (Kind::DotDot, ".."),
    (Kind::Arrow, "->"),
    (Kind::AtMost, "<="),
    (Kind::AtLeast, ">="),
    (Kind::Plus, "+"),
    (Kind::Minus, "-"),
    (Kind::Star, "*"),
    (Kind::Slash, "/"),
    (Kind::Caret, "^"),
    (Kind::Percent, "%"),
    (Kind::Use, "use"),
    (Kind::Let, "let"),
    (Kind::Cue, "cue"),
    (Kind::Input, "input"),
    (Kind::Scene, "scene"),
    (Kind::On, "on"),
    (Kind::Above, "above"),
    (Kind::Below, "below"),
    (Kind::Until, "until"),
    (Kind::Pause, "pause"),
    (Kind::Expect, "expect"),
    (Kind::Over, "over"),
    (Kind::At, "at"),
    (Kind::During, "during"),
    (Kind::Every, "every"),
    (Kind::After, "after"),
    (Kind::For, "for"),
    (Kind::Rise, "rise"),
    (Kind::Fall, "fall"),
    (Kind::Gain, "gain"),
    (Kind::As, "as"),
    (Kind::EndWord, "end"),
    (Kind::Vehicle, "vehicle"),
    (Kind::Seat, "seat"),
    (Kind::Pitch, "pitch"),
    (Kind::Roll, "roll"),
    (Kind::Yaw, "yaw"),
    (Kind::Surge, "surge"),
    (Kind::Sway, "sway"),
    (Kind::Heave, "heave"),
    (Kind::Sound, "sound"),
    (Kind::Shaker, "shaker"),
];

impl Kind {
    /// The kind of a word: a reserved one or [`Kind::Word`].
    #[inline]
    pub(super) fn of_word(word: &[u8]) -> Kind {
        // By length first: a match over all of them compares one after the other.
        match word.len() {
            2 => match word {
                b"on" => Kind::On,
                b"at" => Kind::At,
                b"as" => Kind::As,
                _ => Kind::Word,
            },
            3 => match word {
                b"use" => Kind::Use,
                b"let" => Kind::Let,
                b"cue" => Kind::Cue,
                b"for" => Kind::For,
                b"end" => Kind::EndWord,
                b"yaw" => Kind::Yaw,
                _ => Kind::Word,
            },
            4 => match word {
                b"over" => Kind::Over,
                b"rise" => Kind::Rise,
                b"fall" => Kind::Fall,
                b"gain" => Kind::Gain,
                b"seat" => Kind::Seat,
                b"roll" => Kind::Roll,
                b"sway" => Kind::Sway,
                _ => Kind::Word,
            },
            5 => match word {
                b"input" => Kind::Input,
                b"scene" => Kind::Scene,
                b"above" => Kind::Above,
                b"below" => Kind::Below,
                b"until" => Kind::Until,
                b"pause" => Kind::Pause,
                b"every" => Kind::Every,
                b"after" => Kind::After,
                b"pitch" => Kind::Pitch,
                b"surge" => Kind::Surge,
                b"heave" => Kind::Heave,
                b"sound" => Kind::Sound,
                _ => Kind::Word,
            },
            6 => match word {
                b"expect" => Kind::Expect,
                b"during" => Kind::During,
                b"shaker" => Kind::Shaker,
                _ => Kind::Word,
            },
            7 => match word {
                b"vehicle" => Kind::Vehicle,
                _ => Kind::Word,
            },
            _ => Kind::Word,
        }
    }

    /// Whether this is a word that cannot be a name.
    #[inline]
    pub(super) fn is_reserved(self) -> bool {
        self as u8 >= Kind::Use as u8
    }

    /// Whether this starts a channel: its last word or its group.
    #[inline]
    pub(super) fn starts_channel(self) -> bool {
        self as u8 >= Kind::Vehicle as u8
    }

    /// Whether this stands between two values and makes one of them.
    #[inline]
    pub(super) fn is_operator(self) -> bool {
        self as u8 >= Kind::Plus as u8 && self as u8 <= Kind::Slash as u8
    }

    /// Whether a line that ends with this goes on in the next one.
    pub(super) fn continues_line(self) -> bool {
        self as u8 >= Kind::DotDot as u8 && self as u8 <= Kind::Slash as u8
    }

    /// Whether this word or brace can only stand at the start of a statement or item, or close a block.
    pub(super) fn starts_statement(self) -> bool {
        matches!(
            self,
            Kind::Use
                | Kind::Let
                | Kind::Cue
                | Kind::Input
                | Kind::Scene
                | Kind::On
                | Kind::Expect
                | Kind::At
                | Kind::During
                | Kind::Every
                | Kind::OpenBrace
                | Kind::CloseBrace
        ) || self.starts_channel()
    }

    /// Whether this starts an item that stands at the top level only.
    pub(super) fn starts_item_only(self) -> bool {
        matches!(self, Kind::Use | Kind::Cue | Kind::Input | Kind::Scene)
    }
}

/// One token: bytes `start..end` of the text.
#[derive(Debug, Clone, Copy)]
pub(super) struct Token {
    pub(super) start: u32,
    pub(super) end: u32,
    pub(super) kind: Kind,
    /// A line ended between the token before and this one (also before the first).
    pub(super) line_before: bool,
    /// Something stands between the token before and this one (also before the first).
    pub(super) space_before: bool,
}

/// One comment, from its `#` to the last visible character of its line.
#[derive(Debug, Clone, Copy)]
pub(super) struct Comment {
    pub(super) start: u32,
    pub(super) end: u32,
    /// How many tokens stand before it.
    pub(super) tokens_before: u32,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lang::words;

    #[test]
    fn reserved_words_are_the_list_and_nothing_else_is() {
        let spelled: Vec<&str> =
            SPELLED.iter().filter(|(kind, _)| kind.is_reserved()).map(|(_, text)| *text).collect();
        assert_eq!(spelled, words::RESERVED);
        for (kind, text) in SPELLED {
            assert_eq!(kind.is_reserved(), text.starts_with(char::is_alphabetic), "{text}");
            if kind.is_reserved() {
                assert_eq!(Kind::of_word(text.as_bytes()), *kind, "{text}");
            }
        }
        for word in ["min", "end_", "Pitch", "loop", "s"] {
            assert_eq!(Kind::of_word(word.as_bytes()), Kind::Word, "{word}");
        }
    }

    #[test]
    fn kinds_fall_into_the_ranges_that_the_comparisons_assume() {
        let with = |test: fn(Kind) -> bool| -> Vec<&str> {
            SPELLED.iter().filter(|(kind, _)| test(*kind)).map(|(_, text)| *text).collect()
        };
        let channels: Vec<&str> = words::GROUPS.iter().copied().chain(words::channels()).collect();
        assert_eq!(with(Kind::starts_channel), channels);
        assert_eq!(with(Kind::is_operator), ["+", "-", "*", "/"]);
        assert_eq!(with(Kind::continues_line), ["..", "->", "<=", ">=", "+", "-", "*", "/"]);
        for start in words::STATEMENT_STARTS {
            assert!(with(Kind::starts_statement).contains(start), "{start}");
        }
    }
}
