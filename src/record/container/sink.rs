//! The writer of the container, made anew before what it remembers fills the memory.
//!
//! The library's writer keeps an index of every chunk for the end of the file: 10 MB an hour at ten chunks a second. So
//! after an hour its stream is handed to a fresh one. Such a file ends without an index, as one that was cut off does, and
//! readers go through it from the front.

use super::other;
use super::topics::Topic;
use mcap::records::{MessageHeader, Metadata};
use mcap::write::NoSeek;
use mcap::{WriteOptions, Writer};
use std::collections::BTreeMap;
use std::io::{self, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Bytes of a chunk before it is closed by itself; it is closed more often by time.
const CHUNK: u64 = 1 << 20;

/// Chunks of one writer: an hour of a run, in which ten are closed a second.
const MOST_CHUNKS: u32 = 36_000;

/// A stream that lets nothing through while a fresh writer says what stands there already.
struct Gate {
    to: Box<dyn Write + Send>,
    is_shut: Arc<AtomicBool>,
}

impl Write for Gate {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.is_shut.load(Ordering::Relaxed) { Ok(bytes.len()) } else { self.to.write(bytes) }
    }

    fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
    }
}

type Mcap = Writer<NoSeek<Gate>>;

/// The container's stream of messages.
pub(super) struct Sink {
    /// `None` after a failure alone.
    writer: Option<Mcap>,
    is_shut: Arc<AtomicBool>,
    /// One a topic.
    channels: Vec<u16>,
    chunks: u32,
    most_chunks: u32,
}

fn options() -> WriteOptions {
    WriteOptions::new()
        .profile("")
        .library(concat!("cueloom ", env!("CARGO_PKG_VERSION")))
        .chunk_size(Some(CHUNK))
        .disable_seeking(true)
}

/// Tells a writer of every topic; always the same numbers, since they are told in the same order.
fn announce(writer: &mut Mcap) -> io::Result<Vec<u16>> {
    let mut channel = |topic: Topic| {
        let (name, schema) = (topic.name(), topic.schema());
        let id = writer.add_schema(name, "jsonschema", schema.as_bytes()).map_err(other)?;
        writer.add_channel(id, name, "json", &BTreeMap::new()).map_err(other)
    };
    Topic::ALL.into_iter().map(&mut channel).collect()
}

impl Sink {
    /// Begins a container with what is known of its run.
    pub(super) fn start(to: Box<dyn Write + Send>, run: BTreeMap<String, String>) -> io::Result<Self> {
        let is_shut = Arc::new(AtomicBool::new(false));
        let gate = Gate { to, is_shut: is_shut.clone() };
        let mut writer = options().create(NoSeek::new(gate)).map_err(other)?;
        let channels = announce(&mut writer)?;
        writer.write_metadata(&Metadata { name: "run".into(), metadata: run }).map_err(other)?;
        writer.flush().map_err(other)?;
        Ok(Self { writer: Some(writer), is_shut, channels, chunks: 0, most_chunks: MOST_CHUNKS })
    }

    fn writer(&mut self) -> io::Result<&mut Mcap> {
        self.writer.as_mut().ok_or_else(|| io::Error::other("the container could not be gone on with"))
    }

    /// Writes a message of a topic.
    pub(super) fn message(&mut self, topic: Topic, mut header: MessageHeader, text: &str) -> io::Result<()> {
        header.channel_id = self.channels.get(topic as usize).copied().unwrap_or_default();
        self.writer()?.write_to_known_channel(&header, text.as_bytes()).map_err(other)
    }

    /// Closes the chunk under way.
    pub(super) fn flush(&mut self) -> io::Result<()> {
        self.writer()?.flush().map_err(other)?;
        self.chunks += 1;
        if self.chunks < self.most_chunks {
            return Ok(());
        }
        self.chunks = 0;
        self.renew()
    }

    /// Goes on with a writer that remembers nothing. It counts its bytes from here on, so it writes no index and no sum of
    /// the whole.
    fn renew(&mut self) -> io::Result<()> {
        let Some(before) = self.writer.take() else { return Ok(()) };
        let options = options()
            .emit_summary_records(false)
            .emit_summary_offsets(false)
            .calculate_data_section_crc(false)
            .calculate_summary_section_crc(false);
        let gate = before.into_inner().into_inner();
        self.is_shut.store(true, Ordering::Relaxed);
        let fresh = options.create(NoSeek::new(gate)).map_err(other);
        self.is_shut.store(false, Ordering::Relaxed);
        let mut fresh = fresh?;
        self.channels = announce(&mut fresh)?;
        self.writer = Some(fresh);
        Ok(())
    }

    /// Writes what stands at the end of a whole container.
    pub(super) fn finish(&mut self) -> io::Result<()> {
        self.writer()?.finish().map(|_| ()).map_err(other)
    }

    /// For tests: a writer that is made anew after so many chunks.
    #[cfg(test)]
    pub(super) fn renewed_after(self, most_chunks: u32) -> Self {
        Self { most_chunks, ..self }
    }
}
