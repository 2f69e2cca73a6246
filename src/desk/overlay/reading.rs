//! A record read in the background and laid over its scene; given up when nobody wants it any more.

use super::Laid;
use super::head::Head;
use super::laying::Laying;
use crate::files::{FileError, LongFile};
use crate::record::{Tape, Told as Taped, is_container};
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, TryRecvError, channel};

/// Something under way in the background, with what it has said so far. Dropped, it is given up.
#[derive(Debug)]
pub struct Errand<T> {
    news: Receiver<T>,
    wanted: Arc<AtomicBool>,
}

/// What an errand has to say.
#[derive(Debug)]
pub enum Told<T> {
    /// A word of it.
    Word(T),
    /// Nothing since.
    NotYet,
    /// Nothing any more.
    All,
}

/// Says something; `false` when nobody wants to hear more.
pub type Say<'a, T> = &'a mut dyn FnMut(T) -> bool;

impl<T: Send + 'static> Errand<T> {
    /// Begins; `wake` is called at every word and at its end.
    ///
    /// # Errors
    /// When the system has no thread to give.
    pub fn begin(
        name: &str,
        wake: Arc<dyn Fn() + Send + Sync>,
        work: impl FnOnce(Say<'_, T>) + Send + 'static,
    ) -> std::io::Result<Self> {
        let (outbox, news) = channel();
        let wanted = Arc::new(AtomicBool::new(true));
        let still = wanted.clone();
        std::thread::Builder::new().name(name.to_string()).spawn(move || {
            let mut say = |word| {
                let heard = still.load(Ordering::Relaxed) && outbox.send(word).is_ok();
                if heard {
                    wake();
                }
                heard
            };
            work(&mut say);
            drop(outbox);
            if still.load(Ordering::Relaxed) {
                wake();
            }
        })?;
        Ok(Self { news, wanted })
    }

    /// What it has said since.
    pub fn news(&self) -> Told<T> {
        match self.news.try_recv() {
            Ok(word) => Told::Word(word),
            Err(TryRecvError::Empty) => Told::NotYet,
            Err(TryRecvError::Disconnected) => Told::All,
        }
    }
}

impl<T> Drop for Errand<T> {
    fn drop(&mut self) {
        self.wanted.store(false, Ordering::Relaxed);
    }
}

/// What the reading of a record has to say.
#[derive(Debug)]
pub enum News {
    /// How much of it is read, 0 to 1.
    Part(f32),
    /// It is read; or why not, and what to do.
    Read(Result<Arc<Laid>, String>),
}

/// Reads a record and lays it.
pub fn lay(path: &Path, say: Say<'_, News>) {
    let laid = read(path, &mut |part| say(News::Part(part)));
    if let Some(laid) = laid.transpose() {
        say(News::Read(laid.map(Arc::new)));
    }
}

/// Told things from one word about progress to the next.
const OFTEN: usize = 20_000;

/// The one place that knows how a record is read. `None` when it was given up.
///
/// # Errors
/// Why there is none to read, and what to do.
fn read(path: &Path, part: &mut dyn FnMut(f32) -> bool) -> Result<Option<Laid>, String> {
    let name = path.display();
    let file = LongFile::open(path).map_err(|error| match error {
        FileError::Missing { .. } => format!("{error}: choose one of the list, or look at the path"),
        error => error.to_string(),
    })?;
    let no_record = |why: &str| {
        format!(
            "`{name}` is no record of a run on drives ({why}): choose a file that a run has left, `….mcap`"
        )
    };
    let share = file.share();
    let mut from = BufReader::new(file);
    let first = from.fill_buf().map_err(|error| no_record(&error.to_string()))?;
    if first.starts_with(b"# layout: ") {
        return Err(no_record("it is the text log of a run without drives; `cueloom log` reads it"));
    }
    if !is_container(first) {
        return Err(no_record("it does not begin like one"));
    }
    if !part(0.0) {
        return Ok(None);
    }
    let mut tape = Tape::begin(from).map_err(|why| no_record(&why))?;
    let mut laying = Laying::new(Head::of(&tape.head().entries), tape.head().legs.clone());
    for at in 1.. {
        if at % OFTEN == 0 && !part(share() as f32) {
            return Ok(None);
        }
        match tape.told().map_err(|why| no_record(&why))? {
            Some(Taped::Cycle(cycle)) => laying.cycle(&cycle),
            Some(Taped::Event { time_s, words }) => laying.event(time_s, words),
            Some(Taped::Finding(_) | Taped::Margin { .. }) => {}
            None => break,
        }
    }
    laying.end(tape.is_cut_off()).map(Some).map_err(|why| format!("`{name}`: {why}"))
}

#[cfg(test)]
mod tests;
