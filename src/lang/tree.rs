//! The syntax tree: what was written, with a span on everything. Units are unread words here.

use crate::diag::Span;
use std::sync::Arc;

/// A whole file.
#[derive(Debug, Clone, PartialEq)]
pub struct File {
    /// In the order written.
    pub items: Vec<Item>,
}

/// A thing at the top level.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// `use "library/all.cues"`
    Use(Text, Span),
    /// `let name = value`
    Let(Let),
    /// `cue name(params) { … }`
    Cue(CueDefinition),
    /// `input name 0 kt..200 kt`
    Input(Input),
    /// `scene "title" { … }`
    Scene(Scene),
    /// A stretch that could not be read; its error was reported.
    Unreadable(Span),
}

/// A quoted string, without its quotes.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// What stands between the quotes.
    pub text: Arc<str>,
    /// The quotes included.
    pub span: Span,
}

/// A name.
#[derive(Debug, Clone, PartialEq)]
pub struct Name {
    /// The word.
    pub text: Arc<str>,
    /// Where.
    pub span: Span,
}

/// `let name = value`
#[derive(Debug, Clone, PartialEq)]
pub struct Let {
    /// The new name.
    pub name: Name,
    /// What it stands for.
    pub value: Value,
    /// The whole statement.
    pub span: Span,
}

/// `cue name(params) { … }`
#[derive(Debug, Clone, PartialEq)]
pub struct CueDefinition {
    /// The cue's name.
    pub name: Name,
    /// Its parameters, in order.
    pub params: Vec<Param>,
    /// Lets and plays.
    pub body: Block,
    /// The whole definition.
    pub span: Span,
}

/// `speed: kt` or `spacing = 5 m`
#[derive(Debug, Clone, PartialEq)]
pub struct Param {
    /// The parameter's name.
    pub name: Name,
    /// What it must be, or what it is when nothing is said.
    pub kind: ParamKind,
    /// The whole parameter.
    pub span: Span,
}

/// How a parameter says what it is.
#[derive(Debug, Clone, PartialEq)]
pub enum ParamKind {
    /// A unit that stands for its dimension; the caller must give a value.
    Unit(UnitWord),
    /// A default, whose dimension the caller must match.
    Default(Value),
}

/// `input airspeed 0 kt..200 kt`
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    /// The input's name.
    pub name: Name,
    /// Its smallest value.
    pub low: Expr,
    /// Its largest value.
    pub high: Expr,
    /// The whole statement.
    pub span: Span,
}

/// `scene "title" { … }`
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// The quoted title.
    pub title: Text,
    /// What happens.
    pub body: Block,
    /// The whole scene.
    pub span: Span,
}

/// `{ … }`
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// In the order written.
    pub statements: Vec<Statement>,
    /// The braces included.
    pub span: Span,
}

/// A statement of a scene or block. `On` and `Expect` stand in scenes only; the parser reports them elsewhere.
#[allow(
    clippy::large_enum_variant,
    reason = "nearly every statement is a play; a box would cost an allocation for each"
)]
#[derive(Debug, Clone, PartialEq)]
pub enum Statement {
    /// A name for a value.
    Let(Let),
    /// Something that plays.
    Play(Play),
    /// Something that plays when an input crosses a value.
    On(Box<On>),
    /// Something that must hold.
    Expect(Box<Expect>),
    /// A stretch that could not be read; its error was reported.
    Unreadable(Span),
}

/// `on airspeed below 62 kt until 66 kt pause 3 s { … }`
#[derive(Debug, Clone, PartialEq)]
pub struct On {
    /// Which input.
    pub input: Name,
    /// `above` (else `below`).
    pub above: bool,
    /// The value whose crossing fires it.
    pub threshold: Expr,
    /// The value that arms it again.
    pub until: Expr,
    /// The shortest time between two firings.
    pub pause: Option<Expr>,
    /// What plays.
    pub body: Block,
    /// The whole statement.
    pub span: Span,
}

/// `expect peak roll <= 10 deg over touch .. 1:40`
#[derive(Debug, Clone, PartialEq)]
pub struct Expect {
    /// `peak`, `rms`, `margin`, or a mistake.
    pub measure: Name,
    /// The channel, where the measure has one.
    pub channel: Option<Channel>,
    /// `<=` (else `>=`).
    pub at_most: bool,
    /// What it is compared with.
    pub bound: Expr,
    /// Where; the whole scene when absent.
    pub over: Option<SpanExpr>,
    /// The whole statement.
    pub span: Span,
}

/// `a` or `a .. b`: a stretch of time. One expression alone names a labelled thing, from its start to its end.
#[derive(Debug, Clone, PartialEq)]
pub struct SpanExpr {
    /// Where it starts.
    pub from: Expr,
    /// Where it ends.
    pub to: Option<Expr>,
    /// Both.
    pub span: Span,
}

/// A layer, a placed cue or a block, with when and how.
#[derive(Debug, Clone, PartialEq)]
pub struct Play {
    /// When; with its body where absent.
    pub when: Option<When>,
    /// What plays.
    pub what: What,
    /// In the order written.
    pub suffixes: Vec<Suffix>,
    /// The whole statement.
    pub span: Span,
}

/// When something plays.
#[derive(Debug, Clone, PartialEq)]
pub enum When {
    /// `at EXPR`
    At(Expr),
    /// `during SPAN every EXPR after EXPR at VALUE`
    Every(Box<Repeat>),
}

/// How something repeats.
#[derive(Debug, Clone, PartialEq)]
pub struct Repeat {
    /// The stretch it repeats in; the body's where absent.
    pub during: Option<SpanExpr>,
    /// The time or the length between two.
    pub every: Expr,
    /// The time or length before the first.
    pub after: Option<Expr>,
    /// The speed at which a length is covered.
    pub at: Option<Value>,
}

/// What plays.
#[derive(Debug, Clone, PartialEq)]
pub enum What {
    /// `CHANNEL waveform(…)`
    Layer(Channel, Call),
    /// `cue(…)`
    Cue(Call),
    /// `{ … }`
    Block(Block),
}

/// Whose motion a channel means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Group {
    /// The platform about its pivot: no prefix.
    Platform,
    /// The aircraft: `vehicle.`
    Vehicle,
    /// The occupant: `seat.`
    Seat,
}

/// The last word of a channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Line {
    /// Nose up.
    Pitch,
    /// Right wing down.
    Roll,
    /// Nose right.
    Yaw,
    /// Forward.
    Surge,
    /// Right.
    Sway,
    /// Up.
    Heave,
    /// Loudspeakers.
    Sound,
    /// Tactile transducer.
    Shaker,
}

impl Line {
    /// As it is written.
    pub fn word(self) -> &'static str {
        match self {
            Self::Pitch => "pitch",
            Self::Roll => "roll",
            Self::Yaw => "yaw",
            Self::Surge => "surge",
            Self::Sway => "sway",
            Self::Heave => "heave",
            Self::Sound => "sound",
            Self::Shaker => "shaker",
        }
    }
}

/// `seat.heave`, `roll`, `sound`
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Channel {
    /// Prefix. Always `Platform` for sound and shaker.
    pub group: Group,
    /// Last word.
    pub line: Line,
    /// Where.
    pub span: Span,
}

/// `name(args)`
#[derive(Debug, Clone, PartialEq)]
pub struct Call {
    /// The waveform, cue or function.
    pub name: Name,
    /// In the order written.
    pub args: Vec<Arg>,
    /// The whole call.
    pub span: Span,
}

/// One argument.
#[derive(Debug, Clone, PartialEq)]
pub struct Arg {
    /// `name:` before it.
    pub name: Option<Name>,
    /// The value.
    pub value: ArgValue,
    /// The name included.
    pub span: Span,
}

/// What an argument holds.
#[derive(Debug, Clone, PartialEq)]
pub enum ArgValue {
    /// `"circuit.csv"`
    Text(Text),
    /// Anything else.
    Value(Value),
}

/// A suffix of a play.
#[derive(Debug, Clone, PartialEq)]
pub struct Suffix {
    /// Which, and its value.
    pub kind: SuffixKind,
    /// The whole suffix.
    pub span: Span,
}

/// The suffixes, in the formatter's order.
#[derive(Debug, Clone, PartialEq)]
pub enum SuffixKind {
    /// `for 3 s`
    For(Value),
    /// `rise 1 s`
    Rise(Value),
    /// `fall 1 s`
    Fall(Value),
    /// `gain -3 dB`
    Gain(Value),
    /// `as turn`
    As(Name),
}

/// `expr`, `expr -> expr`, `expr..expr`
#[derive(Debug, Clone, PartialEq)]
pub struct Value {
    /// Which of the three.
    pub kind: ValueKind,
    /// The whole value.
    pub span: Span,
}

/// The three kinds of value.
#[derive(Debug, Clone, PartialEq)]
pub enum ValueKind {
    /// One expression.
    Single(Expr),
    /// A straight ramp over the statement it stands in.
    Ramp(Box<[Expr; 2]>),
    /// From one to another: a band, a stretch.
    Range(Box<[Expr; 2]>),
}

/// An expression.
#[derive(Debug, Clone, PartialEq)]
pub struct Expr {
    /// What it is.
    pub kind: ExprKind,
    /// Where.
    pub span: Span,
}

/// The kinds of expression.
#[derive(Debug, Clone, PartialEq)]
pub enum ExprKind {
    /// `3.5 deg/s`
    Number(f64, Option<UnitWord>),
    /// `1:24.5`, in seconds
    Clock(f64),
    /// `ease(x, a..b)`
    Call(Box<Call>),
    /// `touch`
    Name(Name),
    /// `touch.end`
    End(Name),
    /// `( … )`
    Group(Box<Value>),
    /// `-x`
    Negative(Box<Expr>),
    /// `a + b` and its like
    Binary(Operator, Box<[Expr; 2]>),
    /// `x^-2`
    Power(Box<Expr>, i32),
}

/// The four operators.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Operator {
    /// `+`
    Add,
    /// `-`
    Subtract,
    /// `*`
    Multiply,
    /// `/`
    Divide,
}

/// Words with exponents.
pub type Powers = [(Arc<str>, i32)];

/// A unit as written: words with exponents, those after `/` negative. Not looked up yet.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitWord {
    /// `m/s^2` is `[("m", 1), ("s", -2)]`.
    pub powers: Arc<Powers>,
    /// Where.
    pub span: Span,
}
