//! A record read in the background and laid over its scene; given up when nobody wants it any more.

use super::Laid;
use super::head::Head;
use super::laying::Laying;
use crate::files::{self, MAX_RECORDING_BYTES};
use crate::record::{is_container, read_container};
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

/// Cycles from one word about progress to the next.
const OFTEN: usize = 20_000;

/// The one place that knows how a record is read. `None` when it was given up.
///
/// # Errors
/// Why there is none to read, and what to do.
fn read(path: &Path, part: &mut dyn FnMut(f32) -> bool) -> Result<Option<Laid>, String> {
    let name = path.display();
    let bytes = files::read_bytes(path, MAX_RECORDING_BYTES).map_err(|error| match error {
        files::FileError::Missing { .. } => format!("{error}: choose one of the list, or look at the path"),
        error => error.to_string(),
    })?;
    let no_record = |why: &str| {
        format!(
            "`{name}` is no record of a run on drives ({why}): choose a file that a run has left, `….mcap`"
        )
    };
    if bytes.starts_with(b"# layout: ") {
        return Err(no_record("it is the text log of a run without drives; `cueloom log` reads it"));
    }
    if !is_container(&bytes) {
        return Err(no_record("it does not begin like one"));
    }
    if !part(0.0) {
        return Ok(None);
    }
    let logged = read_container(&bytes).map_err(|why| no_record(&why))?;
    drop(bytes);
    let (mut laying, count) = (Laying::new(Head::of(&logged.entries), logged.legs), logged.cycles.len());
    logged.events.into_iter().for_each(|(time_s, words)| laying.event(time_s, words));
    for (at, cycle) in logged.cycles.iter().enumerate() {
        if at % OFTEN == OFTEN - 1 && !part(at as f32 / count as f32) {
            return Ok(None);
        }
        laying.cycle(cycle);
    }
    laying.end(logged.cut_off).map(Some).map_err(|why| format!("`{name}`: {why}"))
}

#[cfg(test)]
mod tests;
