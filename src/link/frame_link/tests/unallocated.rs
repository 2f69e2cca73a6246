//! Frames go out and come in without an allocation, whatever comes in; over wires that have none of their own.

use super::*;
use crate::link::allocations::counted;
use std::io::{ErrorKind, Read, Write};

/// Frames that wait to be heard, and how many were sent.
struct Shelf {
    frames: [[u8; MAX_FRAME]; 8],
    lengths: [usize; 8],
    next: usize,
    sent: usize,
}

impl Shelf {
    fn of(frames: &[Vec<u8>]) -> Self {
        let mut shelf = Self { frames: [[0; MAX_FRAME]; 8], lengths: [0; 8], next: 0, sent: 0 };
        assert!(frames.len() <= shelf.frames.len());
        for (at, frame) in frames.iter().enumerate() {
            shelf.frames[at][..frame.len()].copy_from_slice(frame);
            shelf.lengths[at] = frame.len();
        }
        shelf
    }
}

impl Wire for Shelf {
    fn send(&mut self, _: &[u8]) -> Result<(), LinkFault> {
        self.sent += 1;
        Ok(())
    }

    fn receive(&mut self, to: &mut [u8; MAX_FRAME]) -> Result<Option<usize>, LinkFault> {
        let length = self.lengths.get(self.next).copied().filter(|length| *length > 0);
        if let Some(length) = length {
            to[..length].copy_from_slice(&self.frames[self.next][..length]);
            self.next += 1;
        }
        Ok(length)
    }
}

fn damaged() -> Vec<u8> {
    let mut damaged = feedback(7, 9, 2);
    damaged[60] ^= 1;
    damaged
}

#[test]
fn neither_polls_nor_orders_allocate_whoever_answers() {
    // A name, reports old and new, one that is damaged, one of another run, nonsense.
    let all = [
        named(42),
        feedback(7, 5, 1),
        feedback(7, 4, 1),
        damaged(),
        feedback(8, 6, 1),
        b"Cu\x01nonsense".to_vec(),
        feedback(7, 7, 3),
    ];
    let mut link = FrameLink::new(Shelf::of(&all), 7, 2, 20);
    let (heard, count) = counted(|| link.poll(DriveTime(1000)));
    assert_eq!((heard.unwrap().unwrap().lengths_m[0], link.dropped(), count), (3e-9, 4, 0));
    let (sent, count) =
        counted(|| (link.send(DriveTime(1000), &order(0.5)), link.send(DriveTime(2000), &order(f64::NAN))));
    assert_eq!((sent, count), ((Ok(()), Err(LinkFault::NotANumber)), 0));
    // Nothing came; then after a gap, where it asks who is there; then a stranger.
    let (silent, count) = counted(|| link.poll(DriveTime(3000)));
    assert_eq!((silent, count), (Ok(None), 0));
    link.wire = Shelf::of(&[feedback(7, 8, 4), named(43)]);
    let (strange, count) =
        counted(|| (link.poll(DriveTime(200_000)), link.send(DriveTime(200_000), &order(0.5))));
    assert_eq!((strange, count), ((Err(LinkFault::Stranger), Err(LinkFault::Stranger)), 0));
    assert_eq!(link.wire.sent, 1, "it is asked who it is");
}

/// A line of bytes that gives back what was written, in pieces, and is full now and then.
struct Line {
    bytes: [u8; 4096],
    from: usize,
    to: usize,
    writes: usize,
}

impl Write for Line {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.writes += 1;
        if self.writes.is_multiple_of(31) {
            return Err(ErrorKind::WouldBlock.into());
        }
        let some = bytes.len().min(7).min(self.bytes.len() - self.to);
        self.bytes[self.to..self.to + some].copy_from_slice(&bytes[..some]);
        self.to += some;
        Ok(some)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

impl Read for Line {
    fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
        let some = to.len().min(11).min(self.to - self.from);
        to[..some].copy_from_slice(&self.bytes[self.from..self.from + some]);
        self.from += some;
        if some > 0 { Ok(some) } else { Err(ErrorKind::WouldBlock.into()) }
    }
}

#[test]
fn a_line_of_bytes_does_not_allocate_either() {
    let mut wire = StreamWire::over(Line { bytes: [0; 4096], from: 0, to: 0, writes: 0 });
    let (frame, mut to) = (feedback(7, 1, 1), [0; MAX_FRAME]);
    let (came, count) = counted(|| {
        let mut came = 0;
        for _ in 0..12 {
            let _ = wire.send(&frame);
            while let Ok(Some(length)) = wire.receive(&mut to) {
                came += usize::from(to[..length] == frame[..]);
            }
        }
        came
    });
    assert!(came > 8, "{came}");
    assert_eq!(count, 0);
}
