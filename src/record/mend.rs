//! A whole container from one that was cut off, or from a long one that ended without an index: everything that can be
//! read, in its order, with an index and a summary. What stands in the messages is not looked at.

use super::container::{Records, other};
use mcap::records::{Metadata, Record};
use mcap::write::NoSeek;
use mcap::{Attachment, WriteOptions};
use std::collections::BTreeMap;
use std::io::{self, Read, Write};

/// Bytes of a chunk. The index remembers some hundred bytes of each until the end, a few megabytes for a day.
const CHUNK: u64 = 1 << 20;

/// What was mended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mended {
    /// Messages that are in it now.
    pub messages: u64,
    /// Why the first one could not be read to its end; `None` where it could.
    pub cut_off: Option<String>,
}

/// Writes what can be read of `from`, which is called `name`, as a whole container.
///
/// # Errors
/// When either side fails, or nothing can be read as a container at all.
pub fn mend(from: impl Read, name: &str, to: impl Write) -> io::Result<Mended> {
    let mut records = Records::of(from);
    let options = WriteOptions::new()
        .profile("")
        .library(concat!("cueloom ", env!("CARGO_PKG_VERSION")))
        .chunk_size(Some(CHUNK))
        .disable_seeking(true);
    let mut whole = options.create(NoSeek::new(to)).map_err(other)?;
    let (mut schemas, mut channels) = (BTreeMap::from([(0, 0)]), BTreeMap::new());
    let (mut messages, mut said) = (0, false);
    while let Some(record) = records.next()? {
        said = true;
        match record {
            Record::Schema { header, data } => {
                let id = whole.add_schema(&header.name, &header.encoding, &data).map_err(other)?;
                schemas.insert(header.id, id);
            }
            Record::Channel(channel) => {
                let schema = schemas.get(&channel.schema_id).copied().unwrap_or(0);
                let encoding = &channel.message_encoding;
                let id = whole.add_channel(schema, &channel.topic, encoding, &channel.metadata);
                channels.insert(channel.id, id.map_err(other)?);
            }
            Record::Message { mut header, data } => {
                let Some(id) = channels.get(&header.channel_id) else {
                    records.ends::<()>("a message belongs to no channel")?;
                    continue;
                };
                header.channel_id = *id;
                whole.write_to_known_channel(&header, &data).map_err(other)?;
                messages += 1;
            }
            Record::Metadata(metadata) => whole.write_metadata(&metadata).map_err(other)?,
            Record::Attachment { header, data, .. } => {
                let mcap::records::AttachmentHeader { log_time, create_time, name, media_type } = header;
                whole.attach(&Attachment { log_time, create_time, name, media_type, data }).map_err(other)?;
            }
            // Indexes and sums are made anew.
            _ => {}
        }
    }
    let cut_off = records.cut_off().map(String::from);
    if !said {
        let why = cut_off.unwrap_or_else(|| "it is empty".to_string());
        return Err(io::Error::new(io::ErrorKind::InvalidData, why));
    }
    let mut metadata = BTreeMap::from([("from".to_string(), name.to_string())]);
    metadata.insert("why".to_string(), cut_off.clone().unwrap_or_else(|| "it was whole".to_string()));
    whole.write_metadata(&Metadata { name: "mended".to_string(), metadata }).map_err(other)?;
    whole.finish().map_err(other)?;
    Ok(Mended { messages, cut_off })
}

#[cfg(test)]
mod tests {
    use super::super::container_read::tests::{Paper, written, written_by};
    use super::super::read_container;
    use super::*;

    /// Of a container that was cut off: the same cycles and events, whole, with an index.
    #[test]
    fn what_was_cut_off_is_whole_again_with_an_index() {
        let bytes = written(false);
        for share in [10, 25, 39] {
            let cut = &bytes[..bytes.len() * share / 40];
            assert!(mcap::Summary::read(cut).is_err());
            let paper = Paper::default();
            let mended = mend(cut, "run.mcap", paper.clone()).unwrap();
            let whole = paper.0.lock().unwrap().clone();
            let (before, after) = (read_container(cut).unwrap(), read_container(&whole).unwrap());
            assert!(before.cut_off && !after.cut_off && mended.cut_off.is_some());
            assert_eq!(format!("{:?}", after.cycles), format!("{:?}", before.cycles));
            assert_eq!((after.events, after.legs), (before.events, before.legs));
            let summary = mcap::Summary::read(&whole).unwrap().unwrap();
            assert_eq!(summary.stats.unwrap().message_count, mended.messages);
            // Five messages a cycle, and one that comes on change.
            assert!(mended.messages > 4 * after.cycles.len() as u64 && !summary.chunk_indexes.is_empty());
        }
    }

    /// What lasted longer than an index may grow tells its channels again and again; they stay one each.
    #[test]
    fn a_long_one_gets_its_index() {
        let (long, paper) = (written_by(3, true), Paper::default());
        let mended = mend(&*long, "run.mcap", paper.clone()).unwrap();
        assert_eq!(mended.cut_off, None);
        let whole = paper.0.lock().unwrap().clone();
        let summary = mcap::Summary::read(&whole).unwrap().unwrap();
        let count = |topic: &str| summary.channels.values().filter(|channel| channel.topic == topic).count();
        assert_eq!((count("timing"), count("events")), (1, 1));
        // Half a megabyte of messages.
        assert!((1..=2).contains(&summary.chunk_indexes.len()));
        assert_eq!(read_container(&whole).unwrap().cycles.len(), 1000);
    }

    #[test]
    fn what_is_no_container_is_refused() {
        assert!(mend(&b"time_s,path\n1,2\n"[..], "a", Vec::new()).is_err());
        assert!(mend(&b""[..], "a", Vec::new()).is_err());
    }
}
