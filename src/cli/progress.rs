//! Progress on a terminal, for work that a person waits for; nothing where no person looks.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;

/// A bar over a share from 0 to 1.
pub(super) struct Progress(ProgressBar);

const STEPS: u64 = 1000;

impl Progress {
    /// A bar with a word before it, drawn on standard error.
    pub(super) fn new(word: &'static str) -> Self {
        let target = match std::io::stderr().is_terminal() {
            true => ProgressDrawTarget::stderr_with_hz(10),
            false => ProgressDrawTarget::hidden(),
        };
        let bar = ProgressBar::with_draw_target(Some(STEPS), target);
        if let Ok(style) = ProgressStyle::with_template("{prefix:>8} [{bar:36}] {percent:>3} %  {msg}") {
            bar.set_style(style.progress_chars("##."));
        }
        bar.set_prefix(word);
        Self(bar)
    }

    /// Moves it.
    pub(super) fn set(&self, share: f64) {
        self.0.set_position((share.clamp(0.0, 1.0) * STEPS as f64) as u64);
    }

    /// Says a few words behind it.
    pub(super) fn say(&self, words: String) {
        self.0.set_message(words);
    }

    /// Takes it away.
    pub(super) fn finish(self) {
        self.0.finish_and_clear();
    }
}
