//! What the tree says about the page: wide gaps, and suffixes that change places.

use crate::diag::Span;
use crate::lang::token::Token;
use crate::lang::tree::{Block, File, Item, Play, SpanExpr, Statement, Suffix, SuffixKind, What, When};

/// For every token its place and its gap.
#[derive(Debug)]
pub(super) struct Layout {
    /// Which token stands at each place.
    pub(super) order: Vec<u32>,
    /// Spaces before each token, where the tree decides it.
    pub(super) gaps: Vec<Option<u8>>,
    /// Places `start..end` whose tokens changed places among themselves, in order.
    pub(super) moved: Vec<(u32, u32)>,
}

/// Reads the layout off the tree of these tokens.
pub(super) fn layout(file: &File, tokens: &[Token]) -> Layout {
    let order = (0..tokens.len() as u32).collect();
    let mut walk = Walk { tokens, out: Layout { order, gaps: vec![None; tokens.len()], moved: Vec::new() } };
    for item in &file.items {
        match item {
            Item::Cue(cue) => walk.block(&cue.body),
            Item::Scene(scene) => walk.block(&scene.body),
            Item::Use(..) | Item::Let(_) | Item::Input(_) | Item::Unreadable(_) => {}
        }
    }
    walk.out.moved.sort_unstable();
    walk.out
}

struct Walk<'a> {
    tokens: &'a [Token],
    out: Layout,
}

impl Walk<'_> {
    fn block(&mut self, block: &Block) {
        for statement in &block.statements {
            match statement {
                Statement::Play(play) => self.play(play),
                Statement::On(on) => {
                    self.gap(on.body.span, 2);
                    self.block(&on.body);
                }
                Statement::Expect(expect) => {
                    if let Some(over) = &expect.over {
                        self.stretch(over);
                    }
                }
                Statement::Let(_) | Statement::Unreadable(_) => {}
            }
        }
    }

    fn play(&mut self, play: &Play) {
        let what = match &play.what {
            What::Layer(channel, _) => channel.span,
            What::Cue(call) => call.span,
            What::Block(block) => block.span,
        };
        if let Some(when) = &play.when {
            self.gap(what, 2);
            if let When::Every(repeat) = when
                && let Some(during) = &repeat.during
            {
                self.stretch(during);
            }
        }
        if let What::Block(block) = &play.what {
            self.block(block);
        }
        for suffix in &play.suffixes {
            self.gap(suffix.span, 2);
        }
        self.sort(&play.suffixes);
    }

    /// A stretch of time has spaces around its `..`; a range of a value has none.
    fn stretch(&mut self, stretch: &SpanExpr) {
        let Some(to) = &stretch.to else { return };
        let after = self.index(to.span);
        for index in [after, after.saturating_sub(1)] {
            if let Some(gap) = self.out.gaps.get_mut(index) {
                *gap = Some(1);
            }
        }
    }

    fn sort(&mut self, suffixes: &[Suffix]) {
        let mut sorted: Vec<&Suffix> = suffixes.iter().collect();
        sorted.sort_by_key(|suffix| rank(&suffix.kind));
        let (Some(first), Some(last)) = (suffixes.first(), suffixes.last()) else { return };
        if sorted.iter().zip(suffixes).all(|(a, b)| a.span == b.span) {
            return;
        }
        let (start, end) = (self.index(first.span), self.past(last.span));
        let places = sorted.iter().flat_map(|suffix| self.index(suffix.span)..self.past(suffix.span));
        let moved: Vec<u32> = places.map(|index| index as u32).collect();
        if let Some(places) = self.out.order.get_mut(start..end)
            && places.len() == moved.len()
        {
            places.copy_from_slice(&moved);
            self.out.moved.push((start as u32, end as u32));
        }
    }

    fn gap(&mut self, span: Span, spaces: u8) {
        let index = self.index(span);
        if let Some(gap) = self.out.gaps.get_mut(index) {
            *gap = Some(spaces);
        }
    }

    /// The token that starts at a span's start.
    fn index(&self, span: Span) -> usize {
        self.tokens.partition_point(|token| token.start < span.start)
    }

    /// The token after a span.
    fn past(&self, span: Span) -> usize {
        self.tokens.partition_point(|token| token.start < span.end)
    }
}

fn rank(kind: &SuffixKind) -> u8 {
    match kind {
        SuffixKind::For(_) => 0,
        SuffixKind::Rise(_) => 1,
        SuffixKind::Fall(_) => 2,
        SuffixKind::Gain(_) => 3,
        SuffixKind::As(_) => 4,
    }
}
