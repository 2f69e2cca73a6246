//! What each stretch of a text is, for colours in an editor. The lexer decides; nothing here parses.

use super::lexer::lex;
use super::token::Kind;
use crate::diag::SourceId;
use std::ops::Range;

/// What a stretch of text is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paint {
    /// A reserved word that is no channel: `scene`, `at`, `rise`.
    Keyword,
    /// A channel or its group: `pitch`, `seat`.
    Channel,
    /// A word before a parenthesis: a cue, waveform or function.
    Call,
    /// Any other word.
    Name,
    /// A number or a clock time.
    Number,
    /// A word right after a number.
    Unit,
    /// A quoted text.
    Text,
    /// A comment.
    Comment,
    /// An operator, bracket or comma.
    Mark,
    /// What has no meaning.
    Junk,
}

/// The painted stretches of a text in order, as bytes; what lies between them is space.
pub fn highlight(text: &str) -> Vec<(Range<usize>, Paint)> {
    let lexed = lex(SourceId(0), text);
    let mut painted = Vec::with_capacity(lexed.tokens.len() + lexed.comments.len());
    let mut comments = lexed.comments.iter().peekable();
    let mut before = Paint::Mark;
    for (at, token) in lexed.tokens.iter().enumerate() {
        while let Some(comment) = comments.next_if(|comment| comment.tokens_before as usize <= at) {
            painted.push((comment.start as usize..comment.end as usize, Paint::Comment));
        }
        let call = lexed.tokens.get(at + 1).is_some_and(|next| next.kind == Kind::OpenRound);
        let paint = match token.kind {
            Kind::End | Kind::LineEnd => continue,
            Kind::Junk => Paint::Junk,
            Kind::Word if before == Paint::Number && !token.line_before => Paint::Unit,
            Kind::Percent if before == Paint::Number => Paint::Unit,
            Kind::Word if call => Paint::Call,
            Kind::Word => Paint::Name,
            Kind::Number | Kind::Clock => Paint::Number,
            Kind::Text => Paint::Text,
            kind if kind.starts_channel() => Paint::Channel,
            kind if kind.is_reserved() => Paint::Keyword,
            _ => Paint::Mark,
        };
        painted.push((token.start as usize..token.end as usize, paint));
        before = paint;
    }
    painted
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn words(text: &str) -> Vec<(&str, Paint)> {
        highlight(text).into_iter().map(|(range, paint)| (&text[range], paint)).collect()
    }

    #[test]
    fn words_are_told_apart_by_where_they_stand() {
        use Paint::{Call, Channel, Comment, Junk, Keyword, Mark, Name, Number, Text, Unit};
        assert_eq!(
            words("at touch  pitch ring(2 deg)  as x # hm"),
            [
                ("at", Keyword),
                ("touch", Name),
                ("pitch", Channel),
                ("ring", Call),
                ("(", Mark),
                ("2", Number),
                ("deg", Unit),
                (")", Mark),
                ("as", Keyword),
                ("x", Name),
                ("# hm", Comment)
            ]
        );
        assert_eq!(words("50 % \"a\" §"), [("50", Number), ("%", Unit), ("\"a\"", Text), ("§", Junk)]);
        assert_eq!(words("1\nname"), [("1", Number), ("name", Name)]);
    }

    proptest! {
        #[test]
        fn any_text_is_painted_in_order_and_on_characters(text in "[a-z0-9 (){}#\"§é\n%.]{0,80}") {
            let mut end = 0;
            for (range, _) in highlight(&text) {
                prop_assert!(range.start >= end && range.end >= range.start, "{range:?} after {end}");
                prop_assert!(text.get(range.clone()).is_some(), "{range:?}");
                end = range.end;
            }
        }
    }
}
