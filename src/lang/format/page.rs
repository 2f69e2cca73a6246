//! Tokens, comments and layout to text.

use super::layout::Layout;
use crate::lang::lexer::Lexed;
use crate::lang::token::{Comment, Kind, Token};

const INDENT: usize = 4;

/// Writes the tokens of an error-free text.
pub(super) fn write(text: &str, lexed: &Lexed, layout: &Layout) -> String {
    let mut page = Page {
        text,
        lexed,
        layout,
        tall: tall_braces(lexed),
        out: String::with_capacity(text.len() + text.len() / 8),
        level: 0,
        rounds: 0,
        before: None,
        moved: 0,
    };
    page.comments(0);
    for place in 0..lexed.tokens.len().saturating_sub(1) {
        page.token(place);
    }
    if !page.out.is_empty() {
        page.out.push('\n');
    }
    page.out
}

/// For every brace whether its block takes more than one line.
fn tall_braces(lexed: &Lexed) -> Vec<bool> {
    let mut tall = vec![false; lexed.tokens.len()];
    let mut open: Vec<(usize, bool)> = Vec::new();
    for (index, token) in lexed.tokens.iter().enumerate() {
        if token.line_before
            && let Some((start, breaks)) = open.last_mut()
        {
            let empty = token.kind == Kind::CloseBrace
                && *start + 1 == index
                && comments(lexed, index as u32).is_empty();
            *breaks |= !empty;
        }
        match token.kind {
            Kind::OpenBrace => open.push((index, false)),
            Kind::CloseBrace => {
                if let Some((start, breaks)) = open.pop() {
                    tall[start] = breaks;
                    tall[index] = breaks;
                    if breaks && let Some((_, outer)) = open.last_mut() {
                        *outer = true;
                    }
                }
            }
            _ => {}
        }
    }
    tall
}

/// The comments between token `gap - 1` and token `gap`.
fn comments(lexed: &Lexed, gap: u32) -> &[Comment] {
    let from = lexed.comments.partition_point(|comment| comment.tokens_before < gap);
    let to = lexed.comments.partition_point(|comment| comment.tokens_before <= gap);
    lexed.comments.get(from..to).unwrap_or_default()
}

struct Page<'a> {
    text: &'a str,
    lexed: &'a Lexed,
    layout: &'a Layout,
    tall: Vec<bool>,
    out: String,
    /// Blocks open that take more than one line.
    level: usize,
    rounds: usize,
    /// The token written last.
    before: Option<usize>,
    /// How many of the moved stretches are behind.
    moved: usize,
}

impl<'a> Page<'a> {
    fn token(&mut self, place: usize) {
        let Some(&index) = self.layout.order.get(place) else { return };
        let index = index as usize;
        let Some(token) = self.lexed.tokens.get(index).copied() else { return };
        let tall = self.tall.get(index).copied().unwrap_or(false);
        if token.kind == Kind::CloseBrace && tall {
            self.level = self.level.saturating_sub(1);
        }
        if token.kind == Kind::CloseRound {
            self.rounds = self.rounds.saturating_sub(1);
        }
        self.lead(index, token, tall);
        self.out.push_str(self.slice(token.start, token.end));
        match token.kind {
            Kind::OpenBrace if tall => self.level += 1,
            Kind::OpenRound => self.rounds += 1,
            _ => {}
        }
        self.before = Some(index);
        if let Some(gap) = self.gap_behind(place, index) {
            self.comments(gap);
        }
    }

    /// What stands before a token: a line break, blank line and indent, or spaces.
    fn lead(&mut self, index: usize, token: Token, tall: bool) {
        let Some(before_index) = self.before else {
            if !self.out.is_empty() {
                self.fresh_line(index, token.start, true);
            }
            return;
        };
        let Some(before) = self.lexed.tokens.get(before_index).copied() else { return };
        let opens = before.kind == Kind::OpenBrace && self.tall.get(before_index).copied().unwrap_or(false);
        let goes_on = self.rounds > 0 || token.kind == Kind::CloseRound || before.kind.continues_line();
        if goes_on && token.line_before {
            let inner = token.kind != Kind::CloseRound || self.rounds > 0;
            self.line(self.level + usize::from(inner));
        } else if opens || (token.kind == Kind::CloseBrace && tall) {
            let bare = comments(self.lexed, index as u32).is_empty();
            self.fresh_line(index, token.start, token.kind != Kind::CloseBrace && !(opens && bare));
        } else if token.line_before && token.kind != Kind::CloseBrace {
            self.fresh_line(index, token.start, true);
        } else {
            let decided = self.layout.gaps.get(index).copied().flatten().map(usize::from);
            let spaces = decided.unwrap_or_else(|| usize::from(!touches(before, token)));
            self.out.extend(std::iter::repeat_n(' ', spaces));
        }
    }

    /// A new line at the block's level, after one blank line if the author left any.
    fn fresh_line(&mut self, index: usize, start: u32, blank: bool) {
        let token_end =
            index.checked_sub(1).and_then(|before| self.lexed.tokens.get(before)).map_or(0, |t| t.end);
        let comment_end = comments(self.lexed, index as u32).last().map_or(0, |comment| comment.end);
        if blank && self.lines_between(token_end.max(comment_end), start) > 1 {
            self.out.push('\n');
        }
        self.line(self.level);
    }

    /// The comments of one gap: the first may stand at the end of its line.
    fn comments(&mut self, gap: u32) {
        let mut end =
            gap.checked_sub(1).and_then(|before| self.lexed.tokens.get(before as usize)).map_or(0, |t| t.end);
        let opens = self.out.ends_with('{');
        for (count, comment) in comments(self.lexed, gap).iter().enumerate() {
            let lines = self.lines_between(end, comment.start);
            let goes_on = self
                .before
                .and_then(|before| self.lexed.tokens.get(before))
                .is_some_and(|before| self.rounds > 0 || before.kind.continues_line());
            if gap > 0 && lines == 0 {
                self.out.push_str("  ");
            } else if !self.out.is_empty() {
                if lines > 1 && !goes_on && !(opens && count == 0) {
                    self.out.push('\n');
                }
                self.line(self.level + usize::from(goes_on));
            }
            self.out.push_str(self.slice(comment.start, comment.end));
            end = comment.end;
        }
    }

    /// Which comments follow the token `index` written at `place`. Those behind a statement stay there when its
    /// suffixes change places.
    fn gap_behind(&mut self, place: usize, index: usize) -> Option<u32> {
        let (place, index) = (place as u32, index as u32);
        while self.layout.moved.get(self.moved).is_some_and(|(_, end)| *end <= place) {
            self.moved += 1;
        }
        match self.layout.moved.get(self.moved) {
            Some((start, end)) if *start <= place => {
                if place + 1 == *end {
                    Some(*end)
                } else {
                    (index + 1 != *end).then_some(index + 1)
                }
            }
            _ => Some(place + 1),
        }
    }

    fn line(&mut self, level: usize) {
        self.out.push('\n');
        self.out.extend(std::iter::repeat_n(' ', level * INDENT));
    }

    fn lines_between(&self, from: u32, to: u32) -> usize {
        self.slice(from, to).bytes().filter(|byte| *byte == b'\n').count()
    }

    fn slice(&self, from: u32, to: u32) -> &'a str {
        self.text.get(from as usize..to as usize).unwrap_or("")
    }
}

/// Whether no space stands between two tokens of one line. Operators between values have a space on both sides
/// in a text without errors, those inside a unit and a sign have none.
fn touches(before: Token, token: Token) -> bool {
    use Kind::{Caret, CloseRound, Colon, Comma, Dot, DotDot, Minus, OpenRound, Slash, Star, Word};
    let inner = !token.space_before;
    match (before.kind, token.kind) {
        (OpenRound | Dot | DotDot | Caret, _) => true,
        (_, CloseRound | Comma | Colon | Dot | DotDot | Caret) => true,
        (Word, OpenRound) => true,
        (Minus | Star | Slash, _) => inner,
        (_, Star | Slash) => inner,
        _ => false,
    }
}
