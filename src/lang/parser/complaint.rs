//! Words for a statement that could not be read: what was found, what would have gone on, what is likely meant.

use crate::diag::{Diagnostic, Span, nearest};
use crate::lang::failure::Wanted;
use crate::lang::stream::{Context, Furthest, Tokens};
use crate::lang::token::{Kind, SPELLED, Token};
use crate::lang::words;

/// The error for the statement that starts at `start` and got as far as `furthest`; none where the lexer has
/// reported the token already.
pub(super) fn complain(start: Tokens<'_>, furthest: Furthest) -> Option<Diagnostic> {
    let context = start.context;
    let here = Tokens { rounds: furthest.rounds, fresh: furthest.fresh, ..start.jump(furthest.at) };
    let at_line_end = here.kind() == Kind::LineEnd;
    let found = here.token();
    if junk_beside(start, here) {
        return None;
    }
    let seen = Seen { context, start, here, furthest, at_line_end, found, place: place(here, at_line_end) };
    let special = [
        Seen::reserved_name,
        Seen::decimal_comma,
        Seen::unclosed_bracket,
        Seen::missing_comma,
        Seen::line_start,
        Seen::brace_below,
        Seen::unknown_word,
        Seen::expects_end,
        Seen::stretch_after_at,
        Seen::bare_string,
        Seen::missing_equal,
    ];
    Some(special.iter().find_map(|rule| rule(&seen)).unwrap_or_else(|| seen.plain()))
}

/// How far around a failure the lexer's reports are looked for, in tokens.
const NEARBY: u32 = 64;

/// Whether the lexer reported something in the same line: then that is the line's one error.
fn junk_beside(start: Tokens<'_>, here: Tokens<'_>) -> bool {
    let before = (1..=NEARBY)
        .map_while(|back| here.at.checked_sub(back).filter(|at| *at >= start.at))
        .map(|at| here.jump(at).token());
    let after = (1..=NEARBY).map(|ahead| here.ahead(ahead)).take_while(|token| !token.line_before);
    std::iter::once(here.token()).chain(before).chain(after).any(|token| token.kind == Kind::Junk)
}

/// Where the error shows: the token found, or the last character of the line that ends too early.
fn place(here: Tokens<'_>, at_line_end: bool) -> Span {
    let context = here.context;
    if at_line_end && here.at > 0 {
        let before = here.before();
        return Span { source: context.source, start: before.end, end: before.end };
    }
    context.span(here.token())
}

struct Seen<'a> {
    context: &'a Context<'a>,
    start: Tokens<'a>,
    here: Tokens<'a>,
    furthest: Furthest,
    /// The line's end stands in the way of the token found.
    at_line_end: bool,
    found: Token,
    place: Span,
}

impl Seen<'_> {
    fn wants(&self, wanted: Wanted) -> bool {
        self.furthest.wanted.has(wanted)
    }

    fn wants_kind(&self, kind: Kind) -> bool {
        self.wants(Wanted::kind(kind))
    }

    fn error(&self, title: impl Into<String>) -> Diagnostic {
        Diagnostic::error("syntax", self.place, title)
    }

    /// What stands here, in words.
    fn found(&self) -> String {
        let written = self.context.slice(self.found);
        match self.found.kind {
            _ if self.at_line_end && self.found.kind == Kind::End => "the end of the file".into(),
            _ if self.at_line_end => "the end of the line".into(),
            Kind::End => "the end of the file".into(),
            Kind::Text => "a string".into(),
            Kind::Word | Kind::Number => format!("`{}`", clip(written)),
            _ => format!("`{written}`"),
        }
    }

    fn plain(&self) -> Diagnostic {
        let mut wanted = self.furthest.wanted;
        // What may always follow says little where something must follow.
        let must = wanted.without(Wanted::OPERATOR.or(Wanted::UNIT).or(Wanted::RANGE));
        if !must.words().is_empty() {
            wanted = must;
        }
        if wanted.has(Wanted::ARGUMENT) {
            wanted = wanted.without(Wanted::VALUE);
        }
        let words = wanted.words();
        let wanted = match words.as_slice() {
            [] => "something else".to_string(),
            [one] => one.clone(),
            [most @ .., last] => format!("{} or {last}", most.join(", ")),
        };
        let mut error = self.error(format!("expected {wanted}, found {}", self.found()));
        if self.found.kind.is_reserved() && !self.at_line_end && self.wants(Wanted::VALUE) {
            error = error.label("a reserved word is not a value");
        }
        if self.wants(Wanted::WAVEFORM) {
            let names: Vec<&str> = words::WAVEFORMS.iter().map(|waveform| waveform.name).collect();
            error = error.help(format!("waveforms are {}", names.join(", ")));
        }
        if self.found.kind == Kind::CloseRound && self.here.before().kind == Kind::Comma {
            let comma = self.context.span(self.here.before());
            error = error.fix("remove the last comma", comma, "");
        }
        if self.wants(Wanted::SUFFIX) && self.found.kind == Kind::Comma {
            error = error.help("commas stand between arguments in brackets only; here spaces do");
        }
        if self.wants_kind(Kind::OpenBrace) && self.at_line_end {
            error = error.help("`{` stands on the line that it belongs to");
        }
        if self.wants(Wanted::LINE_END) && self.found.kind.starts_statement() && !self.at_line_end {
            error = error.help("every statement has a line of its own");
        }
        error
    }

    /// A bracket that is still open where the next statement, the block's or the file's end stands.
    fn unclosed_bracket(&self) -> Option<Diagnostic> {
        let named = self.here.ahead(1).kind == Kind::Colon;
        let called = self.here.ahead(1).kind == Kind::OpenRound && !self.here.ahead(1).space_before;
        let next_statement = self.found.line_before
            && !named
            && (self.found.kind.starts_statement() || (called && self.wants_kind(Kind::Comma)));
        let word = self.found.kind == Kind::Word || self.found.kind.is_reserved();
        let more = Wanted::kind(Kind::Comma).or(Wanted::VALUE).or(Wanted::PARAM);
        let group = word && !named && self.wants_kind(Kind::CloseRound) && !self.wants(more);
        let over = matches!(self.found.kind, Kind::End | Kind::OpenBrace | Kind::CloseBrace)
            || next_statement
            || group;
        if self.furthest.rounds == 0 || !over {
            return None;
        }
        let mut open = self.here;
        let mut closed = 0;
        while open.at > self.start.at {
            open = open.jump(open.at - 1);
            match open.token().kind {
                Kind::CloseRound => closed += 1,
                Kind::OpenRound if closed == 0 => break,
                Kind::OpenRound => closed -= 1,
                _ => {}
            }
        }
        let before = self.here.before();
        let end = Span { source: self.context.source, start: before.end, end: before.end };
        let place = self.context.span(open.token());
        let error = Diagnostic::error("syntax", place, "this `(` is not closed").label("opened here");
        let what =
            if self.found.kind == Kind::End { "the file ends here" } else { "`)` is missing before this" };
        Some(error.also(self.context.span(self.found), what).fix("close it", end, ")"))
    }

    fn missing_comma(&self) -> Option<Diagnostic> {
        let value = match self.found.kind {
            Kind::Number | Kind::Clock | Kind::Word | Kind::Text | Kind::OpenRound => true,
            Kind::Minus => self.here.before().kind == Kind::Text,
            _ => self.here.ahead(1).kind == Kind::Colon,
        };
        if self.furthest.rounds == 0 || !self.wants_kind(Kind::Comma) || !value {
            return None;
        }
        let before = self.here.before();
        let gap = Span { source: self.context.source, start: before.end, end: before.end };
        Some(self.error(format!("a comma is missing before {}", self.found())).fix("add a comma", gap, ","))
    }

    fn reserved_name(&self) -> Option<Diagnostic> {
        let next_line =
            self.furthest.rounds > 0 && self.found.line_before && self.found.kind.starts_statement();
        let reserved = self.found.kind.is_reserved() && !self.at_line_end && !next_line;
        if !reserved || !self.wants(Wanted::NAME) {
            return None;
        }
        let word = self.context.slice(self.found);
        Some(
            Diagnostic::error(
                "reserved-word",
                self.place,
                format!("`{word}` is a reserved word and cannot be a name"),
            )
            .help(format!("choose another, such as `my_{word}` or `{word}_1`")),
        )
    }

    /// `0,6 s`
    fn decimal_comma(&self) -> Option<Diagnostic> {
        let (before, after) = (self.here.before(), self.here.ahead(1));
        let close = !self.found.space_before && !after.space_before && !after.line_before;
        let numbers = before.kind == Kind::Number && after.kind == Kind::Number;
        if self.found.kind != Kind::Comma || !close || !numbers {
            return None;
        }
        let (whole, part) = (self.context.slice(before), self.context.slice(after));
        Some(self.error("a number has a decimal point, not a comma").fix(
            format!("write `{}.{}`", clip(whole), clip(part)),
            self.place,
            ".",
        ))
    }

    /// A line that starts with something that belongs to the line above.
    fn line_start(&self) -> Option<Diagnostic> {
        if self.here.at != self.start.at {
            return None;
        }
        let word = self.context.slice(self.found);
        let suffix = words::SUFFIXES.iter().any(|(suffix, _)| *suffix == word);
        let part = suffix || ["over", "until", "pause", "after", "above", "below"].contains(&word);
        if self.found.kind.continues_line() {
            return Some(
                self.error(format!("a line cannot start with `{word}`"))
                    .help("an operator at the end of a line carries on into the next; inside `( )` lines may break anywhere"),
            );
        }
        if part {
            return Some(
                self.error(format!("`{word}` stands on the line of what it belongs to"))
                    .help("a line's end closes a statement; move this up"),
            );
        }
        if matches!(self.found.kind, Kind::Number | Kind::Clock) && self.wants(Wanted::STATEMENT) {
            let start = Span { end: self.place.start, ..self.place };
            return Some(
                self.error(format!("a statement does not start with {}", self.found()))
                    .help("a time stands after `at`")
                    .fix("add `at`", start, "at "),
            );
        }
        None
    }

    fn brace_below(&self) -> Option<Diagnostic> {
        if !self.at_line_end || self.found.kind != Kind::OpenBrace || !self.wants(Wanted::WHAT) {
            return None;
        }
        let brace = self.context.span(self.found);
        let gap = Span { source: self.context.source, start: self.here.before().end, end: brace.end };
        Some(
            Diagnostic::error("syntax", brace, "`{` stands on the line that it belongs to")
                .help("a line's end closes a statement")
                .fix("move it up", gap, "  {"),
        )
    }

    /// A word that is no keyword and no call: misspelt, not called, or part of a comment.
    fn unknown_word(&self) -> Option<Diagnostic> {
        if self.found.kind != Kind::Word || self.at_line_end {
            return None;
        }
        let word = self.context.slice(self.found);
        let starts = self.here.at == self.start.at;
        let on_line = |ahead: u32| {
            let token = self.here.ahead(ahead);
            !token.line_before && (token.kind == Kind::Word || token.kind.is_reserved())
        };
        let prose = starts && on_line(1) && on_line(2);
        let near = nearest(word, self.candidates(starts)).filter(|_| !prose || word.len() > 2);
        let title = format!("unknown word `{}`", clip(word));
        if let Some(near) = near {
            return Some(self.error(format!("{title}, did you mean `{near}`")).fix(
                format!("write `{near}`"),
                self.place,
                near,
            ));
        }
        if prose {
            return Some(self.error(title).help("if this is a comment, start it with `#`").fix(
                "make it a comment",
                Span { end: self.place.start, ..self.place },
                "# ",
            ));
        }
        if !self.wants(Wanted::WHAT) {
            return None;
        }
        let next = self.here.ahead(1);
        if next.kind == Kind::Dot && !next.space_before {
            return Some(
                self.error(format!("there is no channel `{}.…`", clip(word)))
                    .help("channels are an axis alone (`pitch`), `seat.` or `vehicle.` and an axis, `sound` and `shaker`"),
            );
        }
        let end = Span { start: self.place.end, ..self.place };
        let error = self.error(format!("`{}` needs brackets to be placed", clip(word)));
        let suffix = words::SUFFIXES.iter().any(|(suffix, _)| *suffix == self.context.slice(next));
        Some(if next.line_before || suffix || next.kind == Kind::CloseBrace {
            error.help("a cue without arguments has empty brackets").fix("add `()`", end, "()")
        } else {
            error.help(format!("its arguments stand in brackets: `{}(…)`", clip(word)))
        })
    }

    fn candidates(&self, starts: bool) -> Vec<&'static str> {
        let mut all: Vec<&str> = Vec::new();
        if starts && self.wants(Wanted::ITEM) {
            all.extend(words::ITEM_STARTS);
        } else if starts {
            all.extend(words::STATEMENT_STARTS);
        } else if self.wants(Wanted::WHAT) {
            all.extend(words::channels());
            all.extend(words::GROUPS);
            all.extend(["every", "after"]);
        }
        if self.wants(Wanted::CHANNEL) {
            all.extend(words::channels());
            all.extend(words::GROUPS);
        }
        if self.wants(Wanted::SUFFIX) {
            all.extend(words::SUFFIXES.iter().map(|(word, _)| *word));
        }
        let keywords = SPELLED.iter().filter(|(kind, _)| kind.is_reserved() && self.wants_kind(*kind));
        all.extend(keywords.map(|(_, spelling)| *spelling));
        all
    }

    /// `touch.start`, `touch.length`
    fn expects_end(&self) -> Option<Diagnostic> {
        if self.here.before().kind != Kind::Dot || !self.wants_kind(Kind::EndWord) {
            return None;
        }
        let label = self.context.slice(self.here.jump(self.here.at.saturating_sub(2)).token());
        Some(self.error(format!("expected `end` after `{}.`, found {}", clip(label), self.found())).help(
            format!(
                "a label alone, `{0}`, is the time of its start; `{0}.end` is the time of its end",
                clip(label)
            ),
        ))
    }

    /// `at 1 s .. 3 s`
    fn stretch_after_at(&self) -> Option<Diagnostic> {
        if self.found.kind != Kind::DotDot || self.start.kind() != Kind::At || !self.wants(Wanted::WHAT) {
            return None;
        }
        Some(self.error("`at` takes one time, not a stretch").help(
            "write `at START  … for LENGTH`; to repeat within a stretch write `during START .. END every …`",
        ))
    }

    /// `scene evening {`, `use library/all.cues`
    fn bare_string(&self) -> Option<Diagnostic> {
        let word = self.found.kind == Kind::Word || self.found.kind.is_reserved();
        if !word || self.at_line_end || !self.wants_kind(Kind::Text) {
            return None;
        }
        let mut end = self.place.end;
        for ahead in 1..=NEARBY {
            let token = self.here.ahead(ahead);
            if token.line_before || token.kind == Kind::OpenBrace {
                break;
            }
            end = token.end;
        }
        let bare = Span { end, ..self.place };
        let text = self.context.text.get(bare.start as usize..bare.end as usize).unwrap_or("");
        Some(Diagnostic::error("syntax", bare, "titles and names of files stand in quotes").fix(
            "put it in quotes",
            bare,
            format!("\"{text}\""),
        ))
    }

    /// `let slab 6 m`
    fn missing_equal(&self) -> Option<Diagnostic> {
        let value = matches!(
            self.found.kind,
            Kind::Number | Kind::Clock | Kind::Word | Kind::OpenRound | Kind::Minus
        );
        if !value || self.at_line_end || !self.wants_kind(Kind::Equal) {
            return None;
        }
        let before = self.here.before();
        let gap = Span { source: self.context.source, start: before.end, end: before.end };
        Some(self.error(format!("expected `=`, found {}", self.found())).fix("add `=`", gap, " ="))
    }
}

fn clip(text: &str) -> String {
    match text.char_indices().nth(40) {
        Some((at, _)) => format!("{}…", text.get(..at).unwrap_or("")),
        None => text.to_string(),
    }
}
