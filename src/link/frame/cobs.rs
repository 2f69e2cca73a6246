//! Consistent overhead byte stuffing: frames on a serial line, set apart by zero bytes.
//!
//! Source: Cheshire and Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM Transactions on Networking 7 (1999),
//! from memory.

use super::MAX_FRAME;

/// Bytes of the largest frame once stuffed, with its zero at the end: one more for every 254, one for the first code.
pub const MAX_ENCODED: usize = MAX_FRAME + MAX_FRAME / 254 + 2;

/// Stuffs `frame` into `to` with a zero at the end; how many bytes that are. `None` when there is no room.
pub fn encode(frame: &[u8], to: &mut [u8]) -> Option<usize> {
    let (mut code_at, mut at, mut code) = (0usize, 1usize, 1u8);
    for byte in frame {
        if *byte != 0 {
            *to.get_mut(at)? = *byte;
            at += 1;
            code += 1;
        }
        if *byte == 0 || code == 0xff {
            *to.get_mut(code_at)? = code;
            code_at = at;
            at += 1;
            code = 1;
        }
    }
    *to.get_mut(code_at)? = code;
    *to.get_mut(at)? = 0;
    Some(at + 1)
}

/// Takes bytes as they come and gives whole frames. Fixed memory; what is too long is dropped up to the next zero.
#[derive(Debug, Clone)]
pub struct CobsReader {
    buffer: [u8; MAX_FRAME],
    length: usize,
    /// Bytes left of the present group, and whether a zero follows it.
    left: u8,
    zero_after: bool,
    dropping: bool,
    fresh: bool,
}

impl Default for CobsReader {
    fn default() -> Self {
        // What comes before the first zero may be half a frame: it is read like any other, and its sum refuses it.
        Self { buffer: [0; MAX_FRAME], length: 0, left: 0, zero_after: false, dropping: false, fresh: true }
    }
}

impl CobsReader {
    /// Takes one byte; a frame when it was the last of one. Whether its sum is right is not looked at here.
    pub fn take(&mut self, byte: u8) -> Option<&[u8]> {
        if byte == 0 {
            let whole = !self.dropping && !self.fresh && self.left == 0 && self.length > 0;
            let length = self.length;
            let buffer = self.buffer;
            *self = Self { buffer, ..Self::default() };
            return if whole { self.buffer.get(..length) } else { None };
        }
        if self.left == 0 {
            if self.zero_after {
                self.put(0);
            }
            self.left = byte - 1;
            self.zero_after = byte != 0xff;
            self.fresh = false;
        } else {
            self.left -= 1;
            self.put(byte);
        }
        None
    }

    fn put(&mut self, byte: u8) {
        match self.buffer.get_mut(self.length) {
            Some(place) => {
                *place = byte;
                self.length += 1;
            }
            None => self.dropping = true,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn through(reader: &mut CobsReader, bytes: &[u8]) -> Vec<Vec<u8>> {
        bytes.iter().filter_map(|byte| reader.take(*byte).map(<[u8]>::to_vec)).collect()
    }

    fn stuffed(frame: &[u8]) -> Vec<u8> {
        let mut to = [0; MAX_ENCODED];
        let length = encode(frame, &mut to).unwrap();
        to[..length].to_vec()
    }

    #[test]
    fn stuffs_as_the_paper_does() {
        assert_eq!(stuffed(&[0x11, 0x22, 0x00, 0x33]), [0x03, 0x11, 0x22, 0x02, 0x33, 0x00]);
        assert_eq!(stuffed(&[0x00]), [0x01, 0x01, 0x00]);
        assert_eq!(stuffed(&[0x11, 0, 0, 0]), [0x02, 0x11, 0x01, 0x01, 0x01, 0x00]);
        let long: Vec<u8> = (1..=254).collect();
        let mut expected = vec![0xff];
        expected.extend(&long);
        expected.extend([0x01, 0x00]);
        assert_eq!(stuffed(&long), expected);
        assert_eq!(encode(&[1, 2, 3], &mut [0; 4]), None);
    }

    proptest! {
        #[test]
        fn frames_come_out_as_they_went_in_after_any_rubbish(
            rubbish in proptest::collection::vec(any::<u8>(), 0..700),
            frames in proptest::collection::vec(
                proptest::collection::vec(prop_oneof![Just(0u8), any::<u8>()], 1..MAX_FRAME), 1..5),
        ) {
            let mut reader = CobsReader::default();
            through(&mut reader, &rubbish);
            through(&mut reader, &[0]);
            for frame in &frames {
                prop_assert_eq!(through(&mut reader, &stuffed(frame)), vec![frame.clone()]);
            }
        }
    }
}
