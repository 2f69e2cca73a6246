//! Words to the terminal from a thread of their own: a terminal that stands still holds up nobody who speaks to it.

use std::sync::mpsc::{Sender, channel};

enum Said {
    Words(String),
    /// Everything before it was written: answered by dropping this.
    All(#[allow(dead_code, reason = "only that it is dropped is heard")] Sender<()>),
}

/// Takes words and never waits.
#[derive(Clone)]
pub(super) struct Teller(Sender<Said>);

impl Teller {
    /// Starts the thread, on which `write` may wait for as long as it likes.
    ///
    /// # Errors
    /// When the system has no thread to give.
    pub(super) fn start(write: impl Fn(&str) + Send + 'static) -> std::io::Result<Self> {
        let (to, from) = channel();
        std::thread::Builder::new().name("teller".to_string()).spawn(move || {
            for said in from {
                match said {
                    Said::Words(words) => write(&words),
                    Said::All(answer) => drop(answer),
                }
            }
        })?;
        Ok(Self(to))
    }

    /// To be written when its turn comes.
    pub(super) fn tell(&self, words: impl Into<String>) {
        // The thread ends with the last teller, not before.
        let _ = self.0.send(Said::Words(words.into()));
    }

    /// Waits until everything was written.
    pub(super) fn finish(&self) {
        let (answer, written) = channel();
        if self.0.send(Said::All(answer)).is_ok() {
            let _ = written.recv();
        }
    }
}
