//! Takes rows and notes off the cycle: to the log, and into what the run adds up to.

use crate::record::{Header, Histogram, Note, Row, Tracking, What, write_header, write_note, write_row};
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

/// Writes a log and adds up.
pub(super) struct Recorder {
    to: Box<dyn Write + Send>,
    buffer: Vec<u8>,
    header: Header,
    flushed_us: u64,
    /// The first thing that went wrong with writing; nothing is written after it.
    pub(super) error: Option<io::Error>,
    pub(super) tracking: Tracking,
    pub(super) late: Histogram,
    pub(super) rows: u64,
    pub(super) dropped: u64,
}

impl Recorder {
    /// Writes the header.
    pub(super) fn start(to: Box<dyn Write + Send>, header: Header, cycle_s: f64) -> Self {
        let tracking = Tracking::new(header.legs.len(), cycle_s);
        let mut recorder = Self {
            to,
            buffer: Vec::new(),
            header,
            flushed_us: 0,
            error: None,
            tracking,
            late: Histogram::default(),
            rows: 0,
            dropped: 0,
        };
        let written = write_header(&mut recorder.buffer, &recorder.header);
        recorder.keep(written);
        recorder.flush();
        recorder
    }

    /// Takes one entry.
    pub(super) fn take(&mut self, entry: &Entry) {
        let (written, time_us) = match entry {
            Entry::Row(row) => {
                self.rows += 1;
                self.tracking.add(row);
                self.late.count(row.late_us);
                (write_row(&mut self.buffer, row, self.header.axes.len()), row.time_us)
            }
            Entry::Note(note) => {
                if let What::Dropped { rows } = note.what {
                    self.dropped += rows;
                }
                (write_note(&mut self.buffer, note, &self.header.legs), note.time_us)
            }
        };
        self.keep(written);
        if time_us >= self.flushed_us + FLUSH_US {
            self.flushed_us = time_us;
            self.flush();
        }
    }

    /// Hands on what is buffered, whole lines only.
    pub(super) fn flush(&mut self) {
        if self.error.is_none() {
            let written = self.to.write_all(&self.buffer).and_then(|()| self.to.flush());
            self.keep(written);
        }
        self.buffer.clear();
    }

    fn keep(&mut self, written: io::Result<()>) {
        if let Err(e) = written {
            self.error.get_or_insert(e);
        }
    }
}
