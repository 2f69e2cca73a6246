//! The records of a container one after the other, from the front, as far as it can be read; never more than a chunk of it
//! in memory.

use mcap::records::Record;
use mcap::sans_io::{LinearReadEvent, LinearReader, LinearReaderOptions};
use std::io::{self, Read};

/// The longest record or chunk that is taken: chunks are of a mebibyte, and a damaged length must not ask for all memory.
const LONGEST: usize = 64 << 20;

/// Records of a container.
pub(in crate::record) struct Records<R> {
    from: R,
    reader: LinearReader,
    /// Why it could not be read to its end.
    cut_off: Option<String>,
}

impl<R: Read> Records<R> {
    /// From a container's first byte on.
    pub(in crate::record) fn of(from: R) -> Self {
        // A chunk is looked at whole, and then told: nothing is told of one that is damaged.
        let options = LinearReaderOptions::default()
            .with_prevalidate_chunk_crcs(true)
            .with_record_length_limit(LONGEST);
        Self { from, reader: LinearReader::new_with_options(options), cut_off: None }
    }

    /// The next record; `None` at the end, and at the first thing that cannot be read: what comes after that is not
    /// looked for.
    ///
    /// # Errors
    /// When the system cannot read on, which is not the container's fault.
    pub(in crate::record) fn next(&mut self) -> io::Result<Option<Record<'static>>> {
        if self.cut_off.is_some() {
            return Ok(None);
        }
        loop {
            match self.reader.next_event() {
                None => return Ok(None),
                Some(Ok(LinearReadEvent::ReadRequest(wanted))) => {
                    let read = loop {
                        match self.from.read(self.reader.insert(wanted)) {
                            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
                            Err(e) => {
                                break Err(io::Error::new(e.kind(), format!("it cannot be read on: {e}")));
                            }
                            read => break read,
                        }
                    }?;
                    self.reader.notify_read(read);
                }
                Some(Ok(LinearReadEvent::Record { data, opcode })) => {
                    match mcap::parse_record(opcode, data) {
                        Ok(record) => return Ok(Some(record.into_owned())),
                        Err(e) => return self.ends(&e.to_string()),
                    }
                }
                Some(Err(e)) => return self.ends(&e.to_string()),
            }
        }
    }

    /// Takes nothing more: what was told last makes no sense.
    pub(in crate::record) fn ends<T>(&mut self, why: &str) -> io::Result<Option<T>> {
        self.cut_off = Some(why.to_string());
        Ok(None)
    }

    /// Why it could not be read to its end; `None` where it could, or where that is not known yet.
    pub(in crate::record) fn cut_off(&self) -> Option<&str> {
        self.cut_off.as_deref()
    }
}
