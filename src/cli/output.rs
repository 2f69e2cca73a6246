//! Standard output and error: colour, width, and a reader that went away.

use std::io::{IsTerminal, Write};

/// Why a command could not run: words for a person.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Failure(pub(super) String);

impl<E: std::error::Error> From<E> for Failure {
    fn from(error: E) -> Self {
        Self(error.to_string())
    }
}

/// What a command that ran has found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Outcome {
    /// Nothing that needs doing.
    Clean,
    /// Something that needs doing.
    Findings,
}

/// Writes to standard output. That nobody reads any more (`| head`) is no failure: what was asked for goes on.
pub(super) fn say(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(Failure(format!("cannot write to standard output: {error}")))
        }
        _ => Ok(()),
    }
}

/// Writes a line to standard error, where a person looks and no program reads. Nothing is done when it is closed.
pub(super) fn tell(text: &str) {
    let _ = writeln!(std::io::stderr(), "{text}");
}

/// Whether standard output shows colours: it is a terminal, and nobody asked for none (<https://no-color.org>).
pub(super) fn colour() -> bool {
    let set = |name| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    std::io::stdout().is_terminal() && !set("NO_COLOR") && !dumb
}

/// Columns that a message may take.
pub(super) fn width() -> usize {
    let columns = std::env::var("COLUMNS").ok().and_then(|text| text.parse().ok());
    columns.unwrap_or(crate::diag::WIDTH).clamp(40, 200)
}
