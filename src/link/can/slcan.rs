//! CAN frames as lines of text on a serial adapter (slcan, the ASCII protocol that most USB adapters speak).
//!
//! `tIIILDD…` and a carriage return: identifier in three hexadecimal digits, length in one, two a byte. `C` closes the
//! channel, `Sn` sets its bit rate, `O` opens it; the adapter answers with a carriage return, or a bell when it does
//! not do what it was told. Source: the command lists of the adapters that speak it (from memory), held in the tests
//! against python-can.

use super::wire::{CanFrame, CanWire};
use crate::link::LinkFault;
#[cfg(feature = "serial")]
use crate::link::serial_line::SerialLine;
use std::io::{ErrorKind, Read, Write};

/// The longest line that is read: a frame of eight bytes with a 29-bit identifier and a time stamp, and some more.
const LONGEST: usize = 40;

/// Text that may wait to go out, bytes: some hundred frames. More means that the adapter does not take it.
const MOST_WAITING: usize = 4096;

/// Reads of the stream in one call: a line that never falls silent must not hold the cycle.
const MOST_READS: usize = 8;

/// The digit after `S`; `None` for a bit rate that adapters do not agree on.
pub fn speed_digit(bit_rate: u32) -> Option<u8> {
    [10_000, 20_000, 50_000, 100_000, 125_000, 250_000, 500_000, 0, 1_000_000]
        .iter()
        .position(|known| *known == bit_rate && bit_rate > 0)
        .map(|digit| b'0' + digit as u8)
}

/// A frame as a line, with its carriage return; how many bytes of `to` it takes.
pub fn encode(frame: &CanFrame, to: &mut [u8; LONGEST]) -> usize {
    const DIGITS: &[u8; 16] = b"0123456789ABCDEF";
    let digit = |value: u16| DIGITS.get(usize::from(value & 0xF)).copied().unwrap_or(b'0');
    let head = [b't', digit(frame.id() >> 8), digit(frame.id() >> 4), digit(frame.id())];
    let length = [digit(frame.data().len() as u16)];
    let bytes = frame.data().iter().flat_map(|byte| [digit(u16::from(byte >> 4)), digit(u16::from(*byte))]);
    let line = head.into_iter().chain(length).chain(bytes).chain([b'\r']);
    to.iter_mut().zip(line).map(|(to, from)| *to = from).count()
}

/// What a line says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Line {
    /// A frame.
    Frame(CanFrame),
    /// The adapter's answer to what it was told: it did it.
    Done,
    /// Nothing that this program reads: damaged, or of another kind.
    Unknown,
}

/// Reads a line without its carriage return. Whatever is not exactly a frame is none.
pub fn decode(line: &[u8]) -> Line {
    let Some((kind, rest)) = line.split_first() else { return Line::Done };
    match kind {
        b't' => {}
        // The answer to a frame that was sent.
        b'z' | b'Z' if rest.is_empty() => return Line::Done,
        _ => return Line::Unknown,
    }
    frame(rest).map_or(Line::Unknown, Line::Frame)
}

fn frame(text: &[u8]) -> Option<CanFrame> {
    let digit = |at: usize| char::from(*text.get(at)?).to_digit(16);
    let id = digit(0)? << 8 | digit(1)? << 4 | digit(2)?;
    let length = digit(3)? as usize;
    let mut data = [0; 8];
    let bytes = data.get_mut(..length)?;
    for (place, byte) in bytes.iter_mut().enumerate() {
        *byte = (digit(4 + 2 * place)? << 4 | digit(5 + 2 * place)?) as u8;
    }
    // Nothing may follow but a time stamp of four digits, which some adapters add.
    let rest = text.get(4 + 2 * length..)?;
    let stamped = rest.len() == 4 && rest.iter().all(u8::is_ascii_hexdigit);
    (rest.is_empty() || stamped).then(|| CanFrame::new(id as u16, bytes)).flatten()
}

/// Frames on a stream of bytes that does not block.
#[derive(Debug)]
pub struct SlcanWire<S: Read + Write> {
    stream: S,
    line: [u8; LONGEST],
    length: usize,
    /// The line is longer than any that is known: skipped to its end.
    overlong: bool,
    came: [u8; 512],
    at: usize,
    end: usize,
    waiting: Vec<u8>,
    /// The line that waits first has begun to go out.
    begun: bool,
    dropped: u64,
}

impl<S: Read + Write> SlcanWire<S> {
    /// Over `stream`, which must not block; closes the channel, sets `bit_rate` and opens it. `None` for a bit rate
    /// that adapters do not agree on.
    pub fn open(stream: S, bit_rate: u32) -> Option<Self> {
        let mut wire = Self {
            stream,
            line: [0; LONGEST],
            length: 0,
            overlong: false,
            came: [0; 512],
            at: 0,
            end: 0,
            waiting: Vec::with_capacity(MOST_WAITING),
            begun: false,
            dropped: 0,
        };
        // The first carriage return ends whatever line somebody else began.
        wire.waiting.extend([b'\r', b'C', b'\r', b'S', speed_digit(bit_rate)?, b'\r', b'O', b'\r']);
        // What does not go out now goes out with the first frame.
        let _ = wire.push();
        Some(wire)
    }

    fn push(&mut self) -> Result<(), LinkFault> {
        let mut out = 0;
        let result = loop {
            let left = self.waiting.get(out..).unwrap_or(&[]);
            if left.is_empty() {
                break Ok(());
            }
            match self.stream.write(left) {
                Ok(0) => break Err(LinkFault::Silent),
                Ok(count) => out += count,
                Err(e) if e.kind() == ErrorKind::Interrupted => {}
                Err(e) if matches!(e.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => break Ok(()),
                Err(_) => break Err(LinkFault::Silent),
            }
        };
        let mut gone = self.waiting.drain(..out.min(self.waiting.len()));
        self.begun = gone.next_back().map_or(self.begun, |last| last != b'\r');
        result
    }

    /// Keeps no more than the rest of a line that has begun to go out; how many lines it drops.
    fn drop_waiting(&mut self) -> usize {
        let ends = self.waiting.iter().position(|byte| *byte == b'\r').map_or(0, |at| at + 1);
        let kept = if self.begun { ends } else { 0 };
        let lines = self.waiting.get(kept..).unwrap_or(&[]).iter().filter(|byte| **byte == b'\r').count();
        self.dropped += lines as u64;
        self.waiting.truncate(kept);
        lines
    }

    fn take(&mut self, byte: u8) -> Option<CanFrame> {
        match byte {
            b'\r' => {
                let line = self.line.get(..self.length).unwrap_or(&[]);
                let read = if self.overlong { Line::Unknown } else { decode(line) };
                (self.length, self.overlong) = (0, false);
                match read {
                    Line::Frame(frame) => return Some(frame),
                    Line::Done => {}
                    Line::Unknown => self.dropped += 1,
                }
            }
            // The adapter refuses: its own end of line.
            0x07 => {
                (self.length, self.overlong) = (0, false);
                self.dropped += 1;
            }
            b'\n' => {}
            _ => match self.line.get_mut(self.length) {
                Some(place) => {
                    *place = byte;
                    self.length += 1;
                }
                None => self.overlong = true,
            },
        }
        None
    }
}

impl<S: Read + Write + Send> CanWire for SlcanWire<S> {
    fn send(&mut self, frame: &CanFrame) -> Result<(), LinkFault> {
        let mut line = [0; LONGEST];
        let length = encode(frame, &mut line);
        if self.waiting.len() + length > MOST_WAITING {
            return Err(LinkFault::Silent);
        }
        self.waiting.extend_from_slice(line.get(..length).unwrap_or(&[]));
        Ok(())
    }

    fn flush(&mut self) -> Result<(), LinkFault> {
        self.push()
    }

    fn forget(&mut self) -> usize {
        self.drop_waiting()
    }

    fn receive(&mut self) -> Result<Option<CanFrame>, LinkFault> {
        for _ in 0..MOST_READS {
            while self.at < self.end {
                let byte = self.came.get(self.at).copied().unwrap_or(0);
                self.at += 1;
                if let Some(frame) = self.take(byte) {
                    return Ok(Some(frame));
                }
            }
            match self.stream.read(&mut self.came) {
                Ok(0) => return Ok(None),
                Ok(count) => (self.at, self.end) = (0, count.min(self.came.len())),
                Err(e) if matches!(e.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => return Ok(None),
                Err(e) if e.kind() == ErrorKind::Interrupted => {}
                Err(_) => return Err(LinkFault::Silent),
            }
        }
        Ok(None)
    }

    fn dropped(&self) -> u64 {
        self.dropped
    }
}

impl<S: Read + Write> Drop for SlcanWire<S> {
    /// The channel is closed, so that the next program finds the adapter as this one did.
    fn drop(&mut self) {
        // An adapter that comes back gets no orders of before.
        let _ = self.push();
        self.drop_waiting();
        self.waiting.extend_from_slice(b"C\r");
        let _ = self.push();
    }
}

#[cfg(feature = "serial")]
impl SlcanWire<SerialLine> {
    /// A serial adapter: `/dev/ttyACM0` or `/dev/ttyUSB0@921600` (baud; adapters on USB do not care).
    ///
    /// # Errors
    /// When the port cannot be opened, or adapters do not agree on the bit rate.
    pub fn serial(port: &str, bit_rate: u32) -> std::io::Result<Self> {
        Self::open(SerialLine::open(port)?, bit_rate)
            .ok_or_else(|| std::io::Error::new(ErrorKind::InvalidInput, "no adapter knows this bit rate"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::VecDeque;
    use std::sync::{Arc, Mutex};

    /// An adapter that takes and gives a few bytes at a time.
    #[derive(Clone, Default)]
    struct Stream(Arc<Mutex<Slow>>);

    #[derive(Default)]
    struct Slow {
        written: Vec<u8>,
        to_read: VecDeque<u8>,
        writes: usize,
    }

    impl Write for Stream {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            let mut inner = self.0.lock().unwrap();
            inner.writes += 1;
            if bytes.len() > 2 && inner.writes.is_multiple_of(3) {
                return Err(ErrorKind::WouldBlock.into());
            }
            let some = bytes.len().min(5);
            inner.written.extend(&bytes[..some]);
            Ok(some)
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    impl Read for Stream {
        fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
            let mut inner = self.0.lock().unwrap();
            let count = to.len().min(7).min(inner.to_read.len());
            if count == 0 {
                return Err(ErrorKind::WouldBlock.into());
            }
            to.iter_mut().zip(inner.to_read.drain(..count)).for_each(|(to, from)| *to = from);
            Ok(count)
        }
    }

    fn frame(id: u16, data: &[u8]) -> CanFrame {
        CanFrame::new(id, data).unwrap()
    }

    #[test]
    fn frames_are_lines_as_adapters_write_them() {
        let line = |frame: &CanFrame| {
            let mut to = [0; LONGEST];
            let length = encode(frame, &mut to);
            String::from_utf8(to[..length].to_vec()).unwrap()
        };
        assert_eq!(line(&frame(0x080, &[])), "t0800\r");
        assert_eq!(line(&frame(0x201, &[0x0F, 0x00, 0xA0, 0x25, 0xFF, 0x7F])), "t20160F00A025FF7F\r");
        assert_eq!(decode(b"t20160F00a025ff7f"), Line::Frame(frame(0x201, &[15, 0, 0xA0, 0x25, 0xFF, 0x7F])));
        assert_eq!(decode(b"t1811AB12CD"), Line::Frame(frame(0x181, &[0xAB])), "with a time stamp");
        assert_eq!((decode(b""), decode(b"z")), (Line::Done, Line::Done));
        let damaged =
            ["t", "t18", "t8000", "t1819", "t1812AB", "t1811ABC", "t1811GG", "r1810", "T0000018100", "S8"];
        for line in damaged {
            assert_eq!(decode(line.as_bytes()), Line::Unknown, "{line}");
        }
    }

    #[test]
    fn the_channel_is_opened_and_closed_and_garbage_loses_no_other_frame() {
        let stream = Stream::default();
        let mut wire = SlcanWire::open(stream.clone(), 1_000_000).unwrap();
        assert!(SlcanWire::open(Stream::default(), 800_000).is_none());
        for n in 0..20 {
            wire.send(&frame(0x201, &[n])).unwrap();
            wire.flush().unwrap();
        }
        let long = "t".repeat(300);
        let text = format!("\r\x07t1811AA\rt1811A\r{long}\rt1812\x01\x7F\rt1811BB\r\x07garbage\rt1811CC\r");
        stream.0.lock().unwrap().to_read.extend(text.as_bytes());
        let mut came = Vec::new();
        for _ in 0..100 {
            came.extend(wire.receive().unwrap().map(|frame| frame.data()[0]));
        }
        assert_eq!((came, wire.dropped()), (vec![0xAA, 0xBB, 0xCC], 6));
        for _ in 0..50 {
            wire.flush().unwrap();
        }
        drop(wire);
        let written = String::from_utf8(stream.0.lock().unwrap().written.clone()).unwrap();
        assert!(
            written.starts_with("\rC\rS8\rO\rt201100\rt201101\r") && written.ends_with("t201113\rC\r"),
            "{written}"
        );
    }

    #[test]
    fn what_is_older_than_a_cycle_is_dropped_but_for_the_rest_of_a_line() {
        let stream = Stream::default();
        let mut wire = SlcanWire::open(stream.clone(), 1_000_000).unwrap();
        (0..10).for_each(|_| wire.flush().unwrap());
        stream.0.lock().unwrap().written.clear();
        // Five bytes go out at once, and then none.
        stream.0.lock().unwrap().writes = 1;
        for n in 0..3 {
            wire.send(&frame(0x201, &[n])).unwrap();
        }
        wire.flush().unwrap();
        wire.forget();
        wire.send(&frame(0x080, &[])).unwrap();
        (0..10).for_each(|_| wire.flush().unwrap());
        assert_eq!(wire.dropped(), 2);
        let written = |stream: &Stream| String::from_utf8(stream.0.lock().unwrap().written.clone()).unwrap();
        assert_eq!(written(&stream), "t201100\rt0800\r");
        // And an adapter that comes back when the program is over gets no orders of before.
        wire.send(&frame(0x201, &[9])).unwrap();
        stream.0.lock().unwrap().writes = 2;
        drop(wire);
        assert!(written(&stream).len() <= "t201100\rt0800\rt2011".len(), "{}", written(&stream));
    }

    #[test]
    fn an_adapter_that_takes_nothing_is_said_to_be_silent() {
        struct Stuck;
        impl Read for Stuck {
            fn read(&mut self, _: &mut [u8]) -> std::io::Result<usize> {
                Err(ErrorKind::WouldBlock.into())
            }
        }
        impl Write for Stuck {
            fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
                Err(ErrorKind::WouldBlock.into())
            }
            fn flush(&mut self) -> std::io::Result<()> {
                Ok(())
            }
        }
        let mut wire = SlcanWire::open(Stuck, 500_000).unwrap();
        let sent = (0..1000).take_while(|_| wire.send(&frame(0x80, &[0; 8])).is_ok()).count();
        assert!(sent > 100 && sent < 300, "{sent}");
    }

    proptest! {
        #[test]
        fn what_is_written_is_read(id in 0_u16..0x800, data in prop::collection::vec(any::<u8>(), 0..=8)) {
            let frame = frame(id, &data);
            let mut line = [0; LONGEST];
            let length = encode(&frame, &mut line);
            prop_assert_eq!(decode(&line[..length - 1]), Line::Frame(frame));
        }

        #[test]
        fn any_line_ends_well(line in prop::collection::vec(any::<u8>(), 0..60)) {
            let _ = decode(&line);
        }
    }
}
