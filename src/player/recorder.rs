//! Takes rows and notes off the cycle: to the log, and into what the run adds up to.

use super::Record;
use crate::record::{
    Container, Header, Histogram, Note, Row, Tracking, WearMeter, What, write_header, write_note, write_row,
};
use crate::safety::operation;
use std::io::{self, Write};

/// The log is handed on at least this often, microseconds of the run's own time.
const FLUSH_US: u64 = 100_000;

/// What goes from the cycle to the record.
#[allow(clippy::large_enum_variant, reason = "it lies in a ring of fixed places, and nearly all are rows")]
#[derive(Debug, Clone, Copy)]
pub(super) enum Entry {
    Row(Row),
    Note(Note),
}

/// Whether a run came to a fault or an emergency stop.
fn is_trip(to: operation::State, cause: operation::Cause) -> bool {
    use operation::{Cause, State};
    let emergency = matches!(cause, Cause::StopInput | Cause::EmergencyAsked);
    to == State::Faulted || (to == State::Stopped && emergency)
}

/// How a log is written.
enum Sink {
    Text(Box<dyn Write + Send>),
    /// Boxed, for it is large; `None` when it could not be begun.
    Container(Option<Box<Container>>),
}

/// Writes a log and adds up.
pub(super) struct Recorder {
    to: Sink,
    buffer: Vec<u8>,
    header: Header,
    flushed_us: u64,
    /// Of the last entry, microseconds.
    last_us: u64,
    /// The first thing that went wrong with writing; nothing is written after it.
    pub(super) error: Option<io::Error>,
    pub(super) tracking: Tracking,
    /// The least factor on the checked gain while a path was followed; off the scene it is what the scene left it at.
    pub(super) least_gain: f64,
    pub(super) wear: WearMeter,
    pub(super) late: Histogram,
    pub(super) dropped: u64,
    /// Why a fault or an emergency stop came up on drives, the first of them.
    pub(super) tripped: Option<operation::Cause>,
}

impl Recorder {
    /// Writes the header.
    pub(super) fn start(to: Record, header: Header, cycle_s: f64) -> Self {
        let tracking = Tracking::new(header.legs.len(), cycle_s);
        let wear = WearMeter::new(&header.legs);
        let (to, begun) = match to {
            Record::Text(to) => (Sink::Text(to), Ok(())),
            Record::Mcap(to) => match Container::start(to, &header) {
                Ok(container) => (Sink::Container(Some(Box::new(container))), Ok(())),
                Err(e) => (Sink::Container(None), Err(e)),
            },
        };
        let mut recorder = Self {
            to,
            buffer: Vec::new(),
            header,
            flushed_us: 0,
            last_us: 0,
            error: None,
            tracking,
            least_gain: 1.0,
            wear,
            late: Histogram::default(),
            dropped: 0,
            tripped: None,
        };
        recorder.keep(begun);
        if let Sink::Text(_) = recorder.to {
            let written = write_header(&mut recorder.buffer, &recorder.header);
            recorder.keep(written);
        }
        recorder.flush();
        recorder
    }

    /// Takes one entry.
    pub(super) fn take(&mut self, entry: &Entry) {
        let (written, time_us) = match entry {
            Entry::Row(row) => {
                self.tracking.add(row);
                if row.state.is_moving() {
                    self.least_gain = self.least_gain.min(row.gain);
                }
                self.wear.add(row);
                self.late.count(row.late_us);
                let axes = self.header.axes.len();
                let written = match &mut self.to {
                    Sink::Text(_) => write_row(&mut self.buffer, row, axes),
                    Sink::Container(container) => {
                        container.as_mut().map_or(Ok(()), |container| container.row(row, axes))
                    }
                };
                (written, row.time_us)
            }
            Entry::Note(note) => {
                match note.what {
                    What::Dropped { rows } => self.dropped += rows,
                    What::Run { to, cause, .. } if is_trip(to, cause) => {
                        self.tripped.get_or_insert(cause);
                    }
                    _ => {}
                }
                let legs = &self.header.legs;
                let written = match &mut self.to {
                    Sink::Text(_) => write_note(&mut self.buffer, note, legs),
                    Sink::Container(container) => {
                        container.as_mut().map_or(Ok(()), |container| container.note(note, legs))
                    }
                };
                (written, note.time_us)
            }
        };
        self.keep(written);
        self.last_us = self.last_us.max(time_us);
        if time_us >= self.flushed_us + FLUSH_US {
            self.flushed_us = time_us;
            self.flush();
        }
    }

    /// Hands on what is buffered, whole lines only.
    pub(super) fn flush(&mut self) {
        if self.error.is_none() {
            let written = match &mut self.to {
                Sink::Text(to) => to.write_all(&self.buffer).and_then(|()| to.flush()),
                Sink::Container(container) => {
                    container.as_mut().map_or(Ok(()), |container| container.flush())
                }
            };
            self.keep(written);
        }
        self.buffer.clear();
    }

    /// The last of it.
    pub(super) fn finish(&mut self) {
        self.flush();
        if let (Sink::Container(Some(container)), None) = (&mut self.to, &self.error) {
            let written = container.lateness(self.last_us, &self.late).and_then(|()| container.finish());
            self.keep(written);
        }
    }

    fn keep(&mut self, written: io::Result<()>) {
        if let Err(e) = written {
            self.error.get_or_insert(e);
        }
    }
}
