//! CAN frames through sockets of the kernel (SocketCAN), for adapters that Linux has a driver for.

use super::wire::{CanFrame, CanWire};
use crate::link::LinkFault;
use socketcan::{CanSocket, EmbeddedFrame as _, Id, Socket as _, StandardId};
use std::collections::VecDeque;
use std::io::{self, ErrorKind};

/// Frames that may wait for room in the kernel's queue: some cycles of them. More means that nobody on the bus takes them.
const MOST_WAITING: usize = 256;

/// Frames of others that are read past in one call: a flood of them must not hold the cycle.
const MOST_READS: usize = 256;

/// Frames on an interface of the kernel, such as `can0`.
#[derive(Debug)]
pub struct SocketWire {
    socket: CanSocket,
    waiting: VecDeque<socketcan::CanFrame>,
    dropped: u64,
}

impl SocketWire {
    /// On an interface that is up; its bit rate is the system's to set.
    ///
    /// # Errors
    /// When there is no such interface, or it is no CAN interface.
    pub fn open(interface: &str) -> io::Result<Self> {
        Self::over(CanSocket::open(interface)?)
    }

    fn over(socket: CanSocket) -> io::Result<Self> {
        socket.set_nonblocking(true)?;
        Ok(Self { socket, waiting: VecDeque::with_capacity(MOST_WAITING), dropped: 0 })
    }
}

/// Whether the kernel only has no room, or nothing for us, now.
fn is_for_now(error: &io::Error) -> bool {
    matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::Interrupted)
        // The queue of the interface is full.
        || error.raw_os_error() == Some(libc::ENOBUFS)
}

/// A frame as it is spoken here; remote frames, long identifiers and reports of errors are not.
fn known(frame: &socketcan::CanFrame) -> Option<CanFrame> {
    match (frame, frame.id()) {
        (socketcan::CanFrame::Data(data), Id::Standard(id)) => CanFrame::new(id.as_raw(), data.data()),
        _ => None,
    }
}

impl CanWire for SocketWire {
    fn send(&mut self, frame: &CanFrame) -> Result<(), LinkFault> {
        let id = StandardId::new(frame.id()).ok_or(LinkFault::Silent)?;
        let frame = socketcan::CanFrame::new(id, frame.data()).ok_or(LinkFault::Silent)?;
        if self.waiting.len() >= MOST_WAITING {
            return Err(LinkFault::Silent);
        }
        self.waiting.push_back(frame);
        Ok(())
    }

    fn flush(&mut self) -> Result<(), LinkFault> {
        while let Some(frame) = self.waiting.front() {
            match self.socket.write_frame(frame) {
                Ok(()) => _ = self.waiting.pop_front(),
                Err(error) if is_for_now(&error) => return Ok(()),
                Err(_) => return Err(LinkFault::Silent),
            }
        }
        Ok(())
    }

    fn forget(&mut self) -> usize {
        let count = self.waiting.len();
        self.dropped += count as u64;
        self.waiting.clear();
        count
    }

    fn receive(&mut self) -> Result<Option<CanFrame>, LinkFault> {
        for _ in 0..MOST_READS {
            match self.socket.read_frame() {
                Ok(frame) => match known(&frame) {
                    Some(known) => return Ok(Some(known)),
                    None => self.dropped += 1,
                },
                Err(error) if is_for_now(&error) => return Ok(None),
                Err(_) => return Err(LinkFault::Silent),
            }
        }
        Ok(None)
    }

    fn dropped(&self) -> u64 {
        self.dropped
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::os::fd::OwnedFd;
    use std::os::unix::net::UnixDatagram;

    /// A wire, and the other end of its socket. Frames have the kernel's form there (linux/can.h, `struct can_frame`: 32 bits
    /// of identifier and flags, the length, three bytes unused, eight of data), as on a CAN socket, which not every kernel
    /// gives.
    fn wire() -> (SocketWire, UnixDatagram) {
        let (near, far) = UnixDatagram::pair().unwrap();
        (SocketWire::over(CanSocket::from(OwnedFd::from(near))).unwrap(), far)
    }

    fn raw(id: u32, length: u8, data: [u8; 8]) -> [u8; 16] {
        let mut raw = [0; 16];
        raw[..4].copy_from_slice(&id.to_ne_bytes());
        raw[4] = length;
        raw[8..].copy_from_slice(&data);
        raw
    }

    #[test]
    fn frames_go_out_and_come_in_in_the_form_of_the_kernel() {
        let (mut wire, far) = wire();
        wire.send(&CanFrame::new(0x201, &[0x0F, 0x00, 0xE8]).unwrap()).unwrap();
        wire.send(&CanFrame::new(0x080, &[]).unwrap()).unwrap();
        far.set_nonblocking(true).unwrap();
        let mut came = [0; 32];
        assert_eq!(far.recv(&mut came).unwrap_err().kind(), ErrorKind::WouldBlock, "not before the flush");
        wire.flush().unwrap();
        assert_eq!(far.recv(&mut came).unwrap(), 16);
        assert_eq!(came[..16], raw(0x201, 3, [0x0F, 0, 0xE8, 0, 0, 0, 0, 0]));
        assert_eq!(far.recv(&mut came).unwrap(), 16);
        assert_eq!(came[..16], raw(0x080, 0, [0; 8]));

        assert_eq!(wire.receive(), Ok(None));
        far.send(&raw(0x182, 2, [7, 8, 0, 0, 0, 0, 0, 0])).unwrap();
        assert_eq!(wire.receive(), Ok(CanFrame::new(0x182, &[7, 8])));
        assert_eq!((wire.receive(), wire.dropped()), (Ok(None), 0));
    }

    #[test]
    fn what_is_not_spoken_is_dropped_and_counted() {
        const EXTENDED: u32 = 0x8000_0000;
        const REMOTE: u32 = 0x4000_0000;
        const ERROR: u32 = 0x2000_0000;
        let (mut wire, far) = wire();
        for id in [EXTENDED | 0x182, REMOTE | 0x182, ERROR | 0x40] {
            far.send(&raw(id, 8, [1; 8])).unwrap();
        }
        // What is meant for this program is not kept waiting behind them.
        far.send(&raw(0x182, 1, [1, 0, 0, 0, 0, 0, 0, 0])).unwrap();
        assert_eq!((wire.receive(), wire.dropped()), (Ok(CanFrame::new(0x182, &[1])), 3));
        far.send(&raw(EXTENDED | 0x182, 8, [1; 8])).unwrap();
        assert_eq!((wire.receive(), wire.dropped()), (Ok(None), 4));
    }

    #[test]
    fn what_nobody_takes_waits_until_there_is_too_much_of_it_and_a_bus_that_is_gone_is_silent() {
        let (mut wire, far) = wire();
        let frame = |k: u16| CanFrame::new(k & 0x7FF, &[1, 2, 3, 4, 5, 6, 7, 8]).unwrap();
        let mut sent = 0;
        while wire.send(&frame(sent)).is_ok() {
            wire.flush().unwrap();
            sent += 1;
        }
        assert_eq!(wire.waiting.len(), MOST_WAITING);
        // In their order, once there is room again.
        let mut came = [0; 32];
        for k in 0..sent {
            far.recv(&mut came).unwrap();
            assert_eq!(came[..4], u32::from(k & 0x7FF).to_ne_bytes());
            wire.flush().unwrap();
        }
        // What is older than a cycle is not said any more.
        let dropped = wire.dropped();
        wire.send(&frame(7)).unwrap();
        wire.forget();
        wire.flush().unwrap();
        assert_eq!(wire.dropped(), dropped + 1);
        far.set_nonblocking(true).unwrap();
        assert_eq!(far.recv(&mut came).unwrap_err().kind(), ErrorKind::WouldBlock);
        drop(far);
        wire.send(&frame(1)).unwrap();
        assert_eq!(wire.flush(), Err(LinkFault::Silent));
        let missing = SocketWire::open("no-such-bus").unwrap_err();
        assert_eq!(missing.raw_os_error(), Some(libc::ENODEV), "{missing}");
    }
}
