//! A glance at a container: what its head says, and every event in it, without the cycles between.
//!
//! A record of an hour holds tens of thousands of chunks, and an event stands in few of them. What follows a chunk says
//! which channels are in it, so all others are passed over unread.

use super::container::Topic;
use super::container_read::{Logged, read_container};
use mcap::records::{Record, op};
use mcap::sans_io::{LinearReadEvent, LinearReader, LinearReaderOptions};
use std::io::{self, Read, Seek, SeekFrom};

/// Bytes before a record: what it is, and its length (MCAP specification, "Records").
const HEAD: usize = 9;

/// Most bytes that are taken of head, events and end together: a run that says so much is not listed with its words.
const MOST: u64 = 16 << 20;

/// A part of the container, in bytes.
#[derive(Clone, Copy)]
struct Part {
    start: u64,
    length: u64,
}

/// What a container says of its run without what was played: entries, legs, events, whether it is whole. Of cycles those
/// that stand beside an event are in it.
///
/// # Errors
/// Why the bytes are none, in words.
pub fn glance(mut from: impl Read + Seek) -> Result<Logged, String> {
    let words = |error: io::Error| error.to_string();
    let parts = parts(&mut from).map_err(words)?;
    if parts.iter().map(|part| part.length).sum::<u64>() > MOST {
        return Err("it says too much to be listed".to_string());
    }
    let mut bytes = Vec::new();
    for part in parts {
        from.seek(SeekFrom::Start(part.start)).map_err(words)?;
        from.by_ref().take(part.length).read_to_end(&mut bytes).map_err(words)?;
    }
    read_container(&bytes)
}

/// What is to be read: all outside of chunks but their indexes, the first chunk, and those with an event in them.
fn parts(from: &mut (impl Read + Seek)) -> io::Result<Vec<Part>> {
    let end = from.seek(SeekFrom::End(0))?;
    let mut at = from.seek(SeekFrom::Start(0))? + mcap::MAGIC.len() as u64;
    let mut parts = vec![Part { start: 0, length: at.min(end) }];
    let (mut events, mut chunk): (Option<u16>, Option<Part>) = (None, None);
    while at + HEAD as u64 <= end {
        let mut head = [0; HEAD];
        from.seek(SeekFrom::Start(at))?;
        from.read_exact(&mut head)?;
        let [what, length @ ..] = head;
        let length = u64::from_le_bytes(length).saturating_add(HEAD as u64);
        if length > end - at {
            break;
        }
        let part = Part { start: at, length };
        match what {
            op::CHUNK if events.is_none() => {
                // The first: it says which channel events have.
                parts.push(part);
                events = channel(from, part)?;
            }
            op::CHUNK => chunk = Some(part),
            op::MESSAGE_INDEX => {
                let mut number = [0; 2];
                from.read_exact(&mut number)?;
                if events == Some(u16::from_le_bytes(number)) {
                    parts.extend(chunk.take());
                }
            }
            op::HEADER | op::METADATA | op::FOOTER | op::DATA_END => parts.push(part),
            _ => {}
        }
        at += length;
    }
    if at < end {
        // A whole container ends with its magic, one that was cut off with anything.
        parts.push(Part { start: at, length: end - at });
    }
    Ok(parts)
}

/// The channel of events, as the first chunk announces it; `None` where it does not.
fn channel(from: &mut (impl Read + Seek), chunk: Part) -> io::Result<Option<u16>> {
    let mut bytes = Vec::new();
    from.seek(SeekFrom::Start(chunk.start))?;
    from.by_ref().take(chunk.length.min(MOST)).read_to_end(&mut bytes)?;
    let options = LinearReaderOptions::default()
        .with_skip_start_magic(true)
        .with_skip_end_magic(true)
        // A damaged length must not ask for all memory.
        .with_record_length_limit(MOST as usize);
    let (mut reader, mut rest) = (LinearReader::new_with_options(options), bytes.as_slice());
    while let Some(Ok(event)) = reader.next_event() {
        match event {
            LinearReadEvent::ReadRequest(wanted) => {
                let (now, later) = rest.split_at(wanted.min(rest.len()));
                reader.insert(now.len()).copy_from_slice(now);
                reader.notify_read(now.len());
                rest = later;
            }
            LinearReadEvent::Record { data, opcode } => {
                if let Ok(Record::Channel(channel)) = mcap::parse_record(opcode, data)
                    && channel.topic == Topic::Events.name()
                {
                    return Ok(Some(channel.id));
                }
            }
        }
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::super::sample::driven;
    use super::super::{CheckNotes, Container, Header, Note, What};
    use super::*;
    use crate::safety::operation::Brakes;
    use std::io::Cursor;
    use std::sync::{Arc, Mutex};

    #[derive(Clone, Default)]
    struct Paper(Arc<Mutex<Vec<u8>>>);

    impl io::Write for Paper {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            self.0.lock().unwrap().extend_from_slice(bytes);
            Ok(bytes.len())
        }
        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    /// Forty chunks of 50 cycles; a note in the third and in the thirtieth.
    fn written(finish: bool) -> Vec<u8> {
        let paper = Paper::default();
        let legs: Vec<String> = ["left", "right"].map(String::from).to_vec();
        let header = Header {
            entries: vec![("scene".into(), "small".into())],
            legs,
            axes: Vec::new(),
            check: CheckNotes::default(),
        };
        let mut container = Container::start(Box::new(paper.clone()), &header).unwrap();
        for tick in 0..2000 {
            container.row(&driven(tick, [0.5, 0.6], Brakes::Released), 0).unwrap();
            if [120, 1470].contains(&tick) {
                let note = Note { time_us: tick * 2000, what: What::Late { by_us: tick } };
                container.note(&note, &header.legs).unwrap();
            }
            if tick % 50 == 49 {
                container.flush().unwrap();
            }
        }
        if finish {
            container.finish().unwrap();
        } else {
            std::mem::forget(container);
        }
        paper.0.lock().unwrap().clone()
    }

    #[test]
    fn head_and_events_are_those_of_the_whole_and_few_cycles_are_read() {
        let bytes = written(true);
        let seen = glance(Cursor::new(&bytes)).unwrap();
        assert_eq!(seen.entries.iter().find(|(key, _)| key == "scene").unwrap().1, "small");
        let late = |us: u64| (us as f64 * 0.002, format!("late by {us} us: deadlines set anew"));
        assert_eq!(seen.events, [late(120), late(1470)]);
        assert!(!seen.cut_off && (1..=150).contains(&seen.cycles.len()), "{}", seen.cycles.len());
    }

    #[test]
    fn what_was_cut_off_says_so_and_what_is_none_is_refused() {
        let whole = written(false);
        let seen = glance(Cursor::new(&whole)).unwrap();
        assert!(seen.cut_off && seen.events.len() == 2);
        let seen = glance(Cursor::new(&whole[..whole.len() / 2])).unwrap();
        assert!(seen.cut_off && seen.events.len() == 1);
        assert!(glance(Cursor::new(b"")).is_err() && glance(Cursor::new(b"a,b\n1,2\n")).is_err());
        for at in (0..whole.len()).step_by(97) {
            let mut bad = whole.clone();
            bad[at] ^= 0x55;
            let _ = glance(Cursor::new(&bad));
        }
    }
}
