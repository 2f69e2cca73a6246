//! Lines on standard input, from somebody who types or a program that pipes: bounded, and read on whatever they hold. One
//! byte that is no text, or a cat on the keyboard, must not end a run without a word.

use crate::player::wait;
use std::io::{BufRead, Error, ErrorKind};
use std::time::Duration;

/// Longest line that is taken, bytes (own choice: far above every word that is known).
pub(super) const LONGEST: usize = 4096;

/// What came.
#[derive(Debug)]
pub(super) enum Typed {
    /// A line without its end; what is no UTF-8 in it stands there as U+FFFD.
    Line(String),
    /// A line of more than [`LONGEST`] bytes; it is passed over.
    TooLong,
    /// The input has ended: nothing will come any more.
    Ended,
    /// It cannot be read any more.
    Failed(Error),
}

/// The next line of `from`.
pub(super) fn next(from: &mut impl BufRead) -> Typed {
    let (mut line, mut length) = (Vec::new(), 0_usize);
    loop {
        let bytes = match from.fill_buf() {
            Ok(bytes) => bytes,
            Err(error) if error.kind() == ErrorKind::Interrupted => continue,
            // Somebody else who has the same terminal does not wait for it, and so neither can we: look again later.
            Err(error) if error.kind() == ErrorKind::WouldBlock => {
                wait(Duration::from_millis(20));
                continue;
            }
            Err(error) => return Typed::Failed(error),
        };
        if bytes.is_empty() && length == 0 {
            return Typed::Ended;
        }
        let end = bytes.iter().position(|byte| *byte == b'\n');
        let part = bytes.get(..end.unwrap_or(bytes.len())).unwrap_or(bytes);
        let room = LONGEST.saturating_sub(line.len());
        line.extend(part.iter().take(room));
        length = length.saturating_add(part.len());
        let (is_whole, used) = (end.is_some() || bytes.is_empty(), part.len() + usize::from(end.is_some()));
        from.consume(used);
        if is_whole && length > LONGEST {
            return Typed::TooLong;
        }
        if is_whole {
            return Typed::Line(String::from_utf8_lossy(&line).trim_end_matches('\r').to_string());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::{BufReader, Read};

    /// Everything that comes, in words.
    fn all(from: impl Read) -> Vec<String> {
        // A small buffer, so that lines come in pieces.
        let mut from = BufReader::with_capacity(7, from);
        let mut found = Vec::new();
        loop {
            match next(&mut from) {
                Typed::Line(line) => found.push(line),
                Typed::TooLong => found.push("too long".into()),
                Typed::Ended => return found,
                Typed::Failed(error) => {
                    found.push(format!("failed: {error}"));
                    return found;
                }
            }
        }
    }

    #[test]
    fn a_byte_that_is_no_text_and_a_line_without_bound_end_nothing() {
        assert_eq!(all(&b"start\r\n\npa\xffrk\nend"[..]), ["start", "", "pa\u{fffd}rk", "end"]);
        let (longest, longer) = ("x".repeat(LONGEST), "x".repeat(LONGEST + 1));
        assert_eq!(all(format!("{longer}\nend\n").as_bytes()), ["too long", "end"]);
        assert_eq!(all(format!("{longest}\nend\n").as_bytes()), [longest.as_str(), "end"]);
        assert_eq!(all(longer.as_bytes()), ["too long"]);
        assert_eq!(all(&b""[..]), [""; 0]);
    }

    struct Odd(Vec<std::io::Result<&'static [u8]>>);

    impl Read for Odd {
        fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
            if self.0.is_empty() {
                return Ok(0);
            }
            let bytes = self.0.remove(0)?;
            to[..bytes.len()].copy_from_slice(bytes);
            Ok(bytes.len())
        }
    }

    #[test]
    fn what_passes_is_waited_for_and_what_does_not_is_said() {
        let parts = vec![
            Ok(&b"pa"[..]),
            Err(ErrorKind::Interrupted.into()),
            Ok(b"r"),
            Err(ErrorKind::WouldBlock.into()),
            Ok(b"k\n"),
            Err(Error::other("gone")),
        ];
        assert_eq!(all(Odd(parts)), ["park", "failed: gone"]);
    }
}
