//! What carries frames: a network, a serial line, or two queues for tests. Never waits.

use super::LinkFault;
use super::frame::{CobsReader, MAX_ENCODED, MAX_FRAME, cobs_encode};
#[cfg(feature = "serial")]
use super::serial_line::SerialLine;
use std::io::{ErrorKind, Read, Write};
use std::net::{SocketAddr, ToSocketAddrs, UdpSocket};
use std::sync::mpsc::{Receiver, Sender, channel};

/// Carries whole frames.
pub trait Wire: Send {
    /// Sends one frame.
    ///
    /// # Errors
    /// When it does not go out now.
    fn send(&mut self, frame: &[u8]) -> Result<(), LinkFault>;

    /// The next frame that came in, put into `to`: its length. `None` when there is none now.
    ///
    /// # Errors
    /// When the wire itself fails.
    fn receive(&mut self, to: &mut [u8; MAX_FRAME]) -> Result<Option<usize>, LinkFault>;
}

/// Datagrams to and from one address; what comes from any other the system keeps away.
#[derive(Debug)]
pub struct UdpWire(UdpSocket);

impl UdpWire {
    /// To the far end at `address` (`192.168.7.2:7750`).
    ///
    /// # Errors
    /// When the address is none, or no socket is to be had.
    pub fn to(address: &str) -> std::io::Result<Self> {
        let far = address
            .to_socket_addrs()?
            .next()
            .ok_or_else(|| std::io::Error::new(ErrorKind::NotFound, "the name has no address"))?;
        let own: SocketAddr = if far.is_ipv4() { ([0, 0, 0, 0], 0).into() } else { ([0u16; 8], 0).into() };
        let socket = UdpSocket::bind(own)?;
        socket.connect(far)?;
        socket.set_nonblocking(true)?;
        Ok(Self(socket))
    }
}

impl Wire for UdpWire {
    fn send(&mut self, frame: &[u8]) -> Result<(), LinkFault> {
        match self.0.send(frame) {
            Ok(sent) if sent == frame.len() => Ok(()),
            // Refused: nobody listens there now, which silence will tell. Full: the same.
            _ => Err(LinkFault::Silent),
        }
    }

    fn receive(&mut self, to: &mut [u8; MAX_FRAME]) -> Result<Option<usize>, LinkFault> {
        match self.0.recv(to) {
            Ok(length) => Ok(Some(length)),
            Err(e) if matches!(e.kind(), ErrorKind::WouldBlock | ErrorKind::ConnectionRefused) => Ok(None),
            Err(e) if e.kind() == ErrorKind::Interrupted => Ok(None),
            Err(_) => Err(LinkFault::Silent),
        }
    }
}

/// Stuffed frames on a stream of bytes that does not block.
#[derive(Debug)]
pub struct StreamWire<S> {
    stream: S,
    reader: CobsReader,
    came: [u8; 512],
    /// What of `came` was not looked at yet.
    at: usize,
    end: usize,
    /// What of the last frame did not go out in one piece.
    rest: [u8; MAX_ENCODED],
    rest_at: usize,
    rest_end: usize,
}

impl<S: Read + Write + Send> StreamWire<S> {
    /// Over `stream`, which must not block.
    pub fn over(stream: S) -> Self {
        Self {
            stream,
            reader: CobsReader::default(),
            came: [0; 512],
            at: 0,
            end: 0,
            rest: [0; MAX_ENCODED],
            rest_at: 0,
            rest_end: 0,
        }
    }

    fn push_rest(&mut self) -> Result<(), LinkFault> {
        while self.rest_at < self.rest_end {
            let left = self.rest.get(self.rest_at..self.rest_end).unwrap_or(&[]);
            match self.stream.write(left) {
                Ok(0) => return Err(LinkFault::Silent),
                Ok(count) => self.rest_at += count,
                Err(e) if e.kind() == ErrorKind::Interrupted => {}
                Err(_) => return Err(LinkFault::Silent),
            }
        }
        Ok(())
    }
}

impl<S: Read + Write + Send> Wire for StreamWire<S> {
    fn send(&mut self, frame: &[u8]) -> Result<(), LinkFault> {
        // Half a frame must be followed by its other half, or the next one is lost too.
        self.push_rest()?;
        let length = cobs_encode(frame, &mut self.rest).ok_or(LinkFault::Silent)?;
        (self.rest_at, self.rest_end) = (0, length);
        self.push_rest()
    }

    fn receive(&mut self, to: &mut [u8; MAX_FRAME]) -> Result<Option<usize>, LinkFault> {
        // A bounded number of reads: a line that never falls silent must not hold the cycle.
        for _ in 0..8 {
            while self.at < self.end {
                let byte = self.came.get(self.at).copied().unwrap_or(0);
                self.at += 1;
                if let Some(frame) = self.reader.take(byte)
                    && let Some(place) = to.get_mut(..frame.len())
                {
                    place.copy_from_slice(frame);
                    return Ok(Some(frame.len()));
                }
            }
            match self.stream.read(&mut self.came) {
                Ok(0) => return Ok(None),
                Ok(count) => (self.at, self.end) = (0, count),
                Err(e) if matches!(e.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => return Ok(None),
                Err(e) if e.kind() == ErrorKind::Interrupted => {}
                Err(_) => return Err(LinkFault::Silent),
            }
        }
        Ok(None)
    }
}

#[cfg(feature = "serial")]
impl StreamWire<SerialLine> {
    /// A serial line: `/dev/ttyACM0` or `/dev/ttyACM0@921600` (baud; 115200 when not given), 8 data bits, no parity, one
    /// stop bit, no flow control.
    ///
    /// # Errors
    /// When the port cannot be opened or set up.
    pub fn serial(port: &str) -> std::io::Result<Self> {
        Ok(Self::over(SerialLine::open(port)?))
    }
}

/// One end of two queues: the hand-cranked twin of every wire.
#[derive(Debug)]
pub struct QueueWire {
    to: Sender<Vec<u8>>,
    from: Receiver<Vec<u8>>,
}

impl QueueWire {
    /// Both ends.
    pub fn pair() -> (Self, Self) {
        let ((to_b, from_a), (to_a, from_b)) = (channel(), channel());
        (Self { to: to_b, from: from_b }, Self { to: to_a, from: from_a })
    }
}

impl Wire for QueueWire {
    fn send(&mut self, frame: &[u8]) -> Result<(), LinkFault> {
        self.to.send(frame.to_vec()).map_err(|_| LinkFault::Silent)
    }

    fn receive(&mut self, to: &mut [u8; MAX_FRAME]) -> Result<Option<usize>, LinkFault> {
        let Ok(frame) = self.from.try_recv() else { return Ok(None) };
        let length = frame.len().min(MAX_FRAME);
        to.iter_mut().zip(&frame).for_each(|(to, from)| *to = *from);
        Ok(Some(length))
    }
}
