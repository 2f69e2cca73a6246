//! Source text, spans and diagnostics: what was found, what was expected, where, and what would work.
//!
//! A diagnostic is the author's mistake and always has a place. One renderer serves every face.
//! Cannot: know which phase found the mistake, or where a text came from on disk.

mod excerpt;
mod hash;
mod render;
mod source;
mod suggest;

pub use hash::sha256;
pub use render::{WIDTH, render_human, render_human_in, render_short};
pub use source::{LineColumn, SourceId, SourceText, Sources, Span};
pub use suggest::nearest;

/// What `explain` says of one rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rule {
    /// The rule's slug, as it stands in messages: `speed`.
    pub slug: &'static str,
    /// What it checks, why it matters, an example, what to write instead.
    pub text: &'static str,
}

/// How much a diagnostic matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// Probably not meant.
    Warning,
    /// Cannot be played.
    Error,
}

impl Severity {
    /// The word that stands in messages and in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Severity::Note => "note",
            Severity::Warning => "warning",
            Severity::Error => "error",
        }
    }
}

/// A place, and the few words that belong beside it (may be empty).
#[derive(Debug, Clone, PartialEq)]
pub struct Label {
    /// Where.
    pub span: Span,
    /// What stands there, without a full stop.
    pub text: String,
}

/// A change of text that the diagnostic knows would work.
#[derive(Debug, Clone, PartialEq)]
pub struct Fix {
    /// What it does, as words for a button: `use gain 0.58`.
    pub title: String,
    /// What it replaces.
    pub span: Span,
    /// The new text.
    pub replacement: String,
}

/// One mistake of the author's, or one thing worth knowing.
#[derive(Debug, Clone, PartialEq)]
pub struct Diagnostic {
    /// The rule's slug, as `explain` takes it: `unknown-name`, `dimension`, `speed`.
    pub rule: &'static str,
    /// How much it matters.
    pub severity: Severity,
    /// One line, lower case, no full stop: found and expected.
    pub title: String,
    /// Where it is.
    pub primary: Label,
    /// Other places that matter.
    pub secondary: Vec<Label>,
    /// What to do next, one line each.
    pub help: Vec<String>,
    /// Changes that would work, best first.
    pub fixes: Vec<Fix>,
}

impl Diagnostic {
    /// An error at `span`.
    pub fn error(rule: &'static str, span: Span, title: impl Into<String>) -> Self {
        Self::new(rule, Severity::Error, span, title)
    }

    /// A warning at `span`.
    pub fn warning(rule: &'static str, span: Span, title: impl Into<String>) -> Self {
        Self::new(rule, Severity::Warning, span, title)
    }

    /// A note at `span`.
    pub fn note(rule: &'static str, span: Span, title: impl Into<String>) -> Self {
        Self::new(rule, Severity::Note, span, title)
    }

    fn new(rule: &'static str, severity: Severity, span: Span, title: impl Into<String>) -> Self {
        Self {
            rule,
            severity,
            title: title.into(),
            primary: Label { span, text: String::new() },
            secondary: Vec::new(),
            help: Vec::new(),
            fixes: Vec::new(),
        }
    }

    /// The same with words beside the primary place.
    #[must_use]
    pub fn label(mut self, text: impl Into<String>) -> Self {
        self.primary.text = text.into();
        self
    }

    /// The same with another place.
    #[must_use]
    pub fn also(mut self, span: Span, text: impl Into<String>) -> Self {
        self.secondary.push(Label { span, text: text.into() });
        self
    }

    /// The same with one more line of help.
    #[must_use]
    pub fn help(mut self, text: impl Into<String>) -> Self {
        self.help.push(text.into());
        self
    }

    /// The same with a fix: its words, the text to replace, and what to put there.
    #[must_use]
    pub fn fix(mut self, title: impl Into<String>, span: Span, replacement: impl Into<String>) -> Self {
        self.fixes.push(Fix { title: title.into(), span, replacement: replacement.into() });
        self
    }
}
