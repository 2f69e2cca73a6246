//! The state of one resolving: bodies with their names and what was found out about them, and the mistakes.

use super::names::{Names, Program};
use super::recording::Recordings;
use super::value::Val;
use super::{World, limit};
use crate::diag::{Diagnostic, Sources, Span};
use crate::lang::tree::{Block, Statement, Value};
use crate::signal::{Order, Wave};
use crate::units::Dimension;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// Why something has no value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Stop {
    /// The author was told.
    Reported,
    /// A constant was asked for, and this ramp varies.
    Varies(Span),
}

/// Where an expression stands: in which body, and in which of its statements (none in a let).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Place {
    /// The body.
    pub(super) frame: usize,
    /// The statement, as a number in the body.
    pub(super) statement: Option<usize>,
}

/// Something that is found out once for a body and then kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Slot {
    /// A parameter's value.
    Param(usize),
    /// A let's value.
    Let(usize),
    /// When a statement starts.
    Start(usize),
    /// How long a statement is.
    Length(usize),
    /// How long all of it is.
    Body,
}

/// What a parameter is bound to.
#[derive(Debug, Clone, Copy)]
pub(super) enum Bound<'a> {
    /// A value, and where it was written.
    Value(&'a Value, Place),
    /// Only its dimension is known, while the cue is reviewed; nothing at all where its definition is wrong.
    Unknown(Option<Dimension>),
}

/// What is known of a let or a parameter: asked as a constant, and asked as it comes.
#[derive(Debug, Default)]
pub(super) struct Memo {
    pub(super) constant: Option<Result<Val, Stop>>,
    pub(super) varying: Option<Result<Val, Stop>>,
}

/// How long a body is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Extent {
    /// Not known: definitions are being reviewed.
    Unknown,
    /// A scene goes on for ever.
    Endless,
    /// Said by `for`, or by what the body stands in, s.
    Given(f64),
    /// As long as what is in it.
    Own,
}

/// One body: the top level, a scene, or one playing of a cue or block.
#[derive(Debug)]
pub(super) struct Frame<'a> {
    /// Whose names it sees besides its own.
    pub(super) parent: Option<usize>,
    /// What stands in it.
    pub(super) statements: &'a [Statement],
    /// Its names.
    pub(super) names: Rc<Names<'a>>,
    /// Its parameters.
    pub(super) params: Vec<Bound<'a>>,
    /// Start, s; `None` while definitions are reviewed.
    pub(super) start_s: Option<f64>,
    /// Length.
    pub(super) extent: Extent,
    /// How deep in other bodies.
    pub(super) depth: u32,
    /// Lets and parameters.
    pub(super) memos: BTreeMap<Slot, Memo>,
    /// Starts and lengths.
    pub(super) times: BTreeMap<Slot, Result<f64, Stop>>,
    /// The bodies of statements that play once.
    pub(super) children: BTreeMap<usize, Result<usize, Stop>>,
}

/// What it takes to open a body.
#[derive(Debug)]
pub(super) struct Opening<'a> {
    /// What stands in it.
    pub(super) block: &'a Block,
    /// The body whose names it sees.
    pub(super) parent: usize,
    /// The body that plays it.
    pub(super) above: usize,
    /// Its parameters.
    pub(super) params: Vec<Bound<'a>>,
    /// Whose body it is, if a cue's.
    pub(super) cue: Option<usize>,
    /// Start, s; `None` in a review.
    pub(super) start_s: Option<f64>,
    /// Length.
    pub(super) extent: Extent,
}

/// The top level's frame.
pub(super) const TOP: usize = 0;

/// The state of one resolving.
pub(super) struct Resolver<'a> {
    pub(super) program: &'a Program<'a>,
    pub(super) sources: &'a Sources,
    pub(super) recordings: Recordings<'a>,
    pub(super) frames: Vec<Frame<'a>>,
    pub(super) diagnostics: Vec<Diagnostic>,
    seen: BTreeSet<(&'static str, Span)>,
    /// Statements in which the review found a mistake: they are not played.
    pub(super) wrong: BTreeSet<Span>,
    /// The order that a layer's amplitude speaks of, by the layer's call.
    pub(super) orders: BTreeMap<Span, Order>,
    /// Dimensions of cues' parameters, once asked for.
    pub(super) signatures: BTreeMap<usize, Rc<Vec<Option<Dimension>>>>,
    /// Whether cues are open, once asked for.
    pub(super) open_cues: BTreeMap<usize, bool>,
    /// Rings and their lengths by frequency, damping (as bits) and order.
    pub(super) rings: BTreeMap<(u64, u64, u8), (Wave, f64)>,
    block_names: BTreeMap<Span, Rc<Names<'a>>>,
    busy: Vec<(usize, Slot, String, Span)>,
    depth: u32,
    /// A cap was reached: stop everything.
    pub(super) exhausted: bool,
}

impl<'a> Resolver<'a> {
    /// A resolver that knows the top level only.
    pub(super) fn new(program: &'a Program<'a>, sources: &'a Sources, world: &'a dyn World) -> Self {
        let names = Names { symbols: program.names.symbols.clone(), lets: program.names.lets.clone() };
        let top = Frame {
            parent: None,
            statements: &[],
            names: Rc::new(names),
            params: Vec::new(),
            start_s: None,
            extent: Extent::Unknown,
            depth: 0,
            memos: BTreeMap::new(),
            times: BTreeMap::new(),
            children: BTreeMap::new(),
        };
        Self {
            program,
            sources,
            recordings: Recordings::new(world),
            frames: vec![top],
            diagnostics: Vec::new(),
            seen: BTreeSet::new(),
            wrong: BTreeSet::new(),
            orders: BTreeMap::new(),
            signatures: BTreeMap::new(),
            open_cues: BTreeMap::new(),
            rings: BTreeMap::new(),
            block_names: BTreeMap::new(),
            busy: Vec::new(),
            depth: 0,
            exhausted: false,
        }
    }

    /// Tells the author, once for each rule and place: a cue played a hundred times has its mistake once.
    pub(super) fn tell(&mut self, diagnostic: Diagnostic) {
        if self.seen.insert((diagnostic.rule, diagnostic.primary.span)) {
            self.diagnostics.push(diagnostic);
        }
    }

    /// Tells the author, and gives what the caller hands up.
    pub(super) fn fail(&mut self, diagnostic: Diagnostic) -> Stop {
        self.tell(diagnostic);
        Stop::Reported
    }

    /// The frame of this number. Numbers come from [`Self::open`] only.
    pub(super) fn frame(&self, frame: usize) -> &Frame<'a> {
        &self.frames[frame]
    }

    /// The same, to change.
    pub(super) fn frame_mut(&mut self, frame: usize) -> &mut Frame<'a> {
        &mut self.frames[frame]
    }

    /// Whether a body is only being reviewed, and has no times.
    pub(super) fn is_review(&self, frame: usize) -> bool {
        self.frame(frame).start_s.is_none()
    }

    /// Opens a body.
    ///
    /// # Errors
    /// When there are too many, or too deep in one another.
    pub(super) fn open(&mut self, opening: Opening<'a>) -> Result<usize, Stop> {
        let Opening { block, parent, above, params, cue, start_s, extent } = opening;
        if self.exhausted {
            return Err(Stop::Reported);
        }
        let depth = self.frame(above).depth + 1;
        if depth > limit::BODY_DEPTH {
            let title = format!("bodies stand more than {} deep in one another", limit::BODY_DEPTH);
            return Err(self.fail(Diagnostic::error("limit", block.span, title)));
        }
        if self.frames.len() > limit::BODIES {
            self.exhausted = true;
            let title = format!("this scene plays more than {} cues and blocks", limit::BODIES);
            let diagnostic = Diagnostic::error("limit", block.span, title)
                .help("repeat less often, or cut the scene into several");
            return Err(self.fail(diagnostic));
        }
        let names = self.names_of(block, cue);
        self.frames.push(Frame {
            parent: Some(parent),
            statements: &block.statements,
            names,
            params,
            start_s,
            extent,
            depth,
            memos: BTreeMap::new(),
            times: BTreeMap::new(),
            children: BTreeMap::new(),
        });
        Ok(self.frames.len() - 1)
    }

    fn names_of(&mut self, block: &'a Block, cue: Option<usize>) -> Rc<Names<'a>> {
        if let Some(names) = self.block_names.get(&block.span) {
            return names.clone();
        }
        let params = cue.and_then(|k| self.program.cues.get(k)).map_or(&[][..], |cue| &cue.params);
        let mut wrong = Vec::new();
        let names = Rc::new(Names::of_block(block, params, &mut wrong));
        wrong.into_iter().for_each(|diagnostic| self.tell(diagnostic));
        self.block_names.insert(block.span, names.clone());
        names
    }

    /// Does `work` for a slot, unless the slot is what we are in the middle of finding out.
    ///
    /// # Errors
    /// When it is (the whole chain is told), and when the work fails.
    pub(super) fn guarded<T>(
        &mut self,
        frame: usize,
        slot: Slot,
        name: String,
        span: Span,
        work: impl FnOnce(&mut Self) -> Result<T, Stop>,
    ) -> Result<T, Stop> {
        if let Some(first) = self.busy.iter().position(|(f, s, ..)| (*f, *s) == (frame, slot)) {
            let chain: Vec<_> = self.busy[first..].to_vec();
            return Err(self.fail(circle(&chain)));
        }
        self.busy.push((frame, slot, name, span));
        let result = self.deeper(span, work);
        self.busy.pop();
        result
    }

    /// Does `work` one level deeper.
    ///
    /// # Errors
    /// When that is too deep, and when the work fails.
    pub(super) fn deeper<T>(
        &mut self,
        span: Span,
        work: impl FnOnce(&mut Self) -> Result<T, Stop>,
    ) -> Result<T, Stop> {
        if self.depth >= limit::VALUE_DEPTH {
            let title = format!("values and labels need one another more than {} deep", limit::VALUE_DEPTH);
            return Err(self.fail(Diagnostic::error("limit", span, title)));
        }
        self.depth += 1;
        let result = work(self);
        self.depth -= 1;
        result
    }
}

fn circle(chain: &[(usize, Slot, String, Span)]) -> Diagnostic {
    let mut names: Vec<&str> = chain.iter().map(|(_, _, name, _)| name.as_str()).collect();
    names.dedup();
    let (name, span) =
        chain.first().map_or(("this", None), |(_, _, name, span)| (name.as_str(), Some(*span)));
    let span = span.unwrap_or(Span { source: crate::diag::SourceId(0), start: 0, end: 0 });
    let title = match names.as_slice() {
        [only] => format!("{only} depends on itself"),
        many => format!("{name} depends on itself: {} -> {name}", many.join(" -> ")),
    };
    let mut diagnostic = Diagnostic::error("cycle", span, title);
    for (_, _, name, other) in chain.iter().skip(1) {
        if *other != span {
            diagnostic = diagnostic.also(*other, format!("{name} stands here"));
        }
    }
    let labels = names.iter().any(|name| name.starts_with("label "));
    diagnostic.help(if labels {
        "one of them needs a time that does not come from the others, such as `at 12 s`"
    } else {
        "give one of them a number"
    })
}
