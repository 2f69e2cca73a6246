//! What carries CAN frames: an adapter, or two queues for tests. Never waits.

use crate::link::LinkFault;
use std::sync::mpsc::{Receiver, Sender, channel};

/// A classic CAN frame with an 11-bit identifier.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CanFrame {
    id: u16,
    length: u8,
    data: [u8; 8],
}

impl CanFrame {
    /// `None` when the identifier has more than 11 bits or there are more than 8 bytes.
    pub fn new(id: u16, data: &[u8]) -> Option<Self> {
        let mut bytes = [0; 8];
        bytes.get_mut(..data.len())?.copy_from_slice(data);
        (id <= 0x7FF).then_some(Self { id, length: data.len() as u8, data: bytes })
    }

    /// A frame whose identifier is made of a function code and a node, both within their bits.
    pub(super) fn of(base: u16, node: u8, data: &[u8]) -> Self {
        let mut bytes = [0; 8];
        bytes.iter_mut().zip(data).for_each(|(to, from)| *to = *from);
        let id = (base + u16::from(node & 0x7F)) & 0x7FF;
        Self { id, length: data.len().min(8) as u8, data: bytes }
    }

    /// Its identifier.
    pub fn id(&self) -> u16 {
        self.id
    }

    /// What it carries.
    pub fn data(&self) -> &[u8] {
        self.data.get(..usize::from(self.length)).unwrap_or(&[])
    }
}

/// Carries whole CAN frames.
pub trait CanWire: Send {
    /// Takes a frame; it goes out with the next [`CanWire::flush`] at the latest.
    ///
    /// # Errors
    /// When there is no room for it.
    fn send(&mut self, frame: &CanFrame) -> Result<(), LinkFault>;

    /// Sends what was taken.
    ///
    /// # Errors
    /// When the wire itself fails.
    fn flush(&mut self) -> Result<(), LinkFault>;

    /// Drops what was taken and has not gone out, for what is older than a cycle is not to be said any more; how many frames.
    fn forget(&mut self) -> usize {
        0
    }

    /// The next frame that came in; `None` when there is none now.
    ///
    /// # Errors
    /// When the wire itself fails.
    fn receive(&mut self) -> Result<Option<CanFrame>, LinkFault>;

    /// Lines or frames that were dropped because they were damaged or of another kind.
    fn dropped(&self) -> u64 {
        0
    }
}

impl<W: CanWire + ?Sized> CanWire for Box<W> {
    fn send(&mut self, frame: &CanFrame) -> Result<(), LinkFault> {
        (**self).send(frame)
    }
    fn flush(&mut self) -> Result<(), LinkFault> {
        (**self).flush()
    }
    fn forget(&mut self) -> usize {
        (**self).forget()
    }
    fn receive(&mut self) -> Result<Option<CanFrame>, LinkFault> {
        (**self).receive()
    }
    fn dropped(&self) -> u64 {
        (**self).dropped()
    }
}

/// One end of two queues: the hand-cranked twin of every adapter.
#[derive(Debug)]
pub struct QueueCan {
    to: Sender<CanFrame>,
    from: Receiver<CanFrame>,
}

impl QueueCan {
    /// Both ends.
    pub fn pair() -> (Self, Self) {
        let ((to_b, from_a), (to_a, from_b)) = (channel(), channel());
        (Self { to: to_b, from: from_b }, Self { to: to_a, from: from_a })
    }
}

impl CanWire for QueueCan {
    fn send(&mut self, frame: &CanFrame) -> Result<(), LinkFault> {
        self.to.send(*frame).map_err(|_| LinkFault::Silent)
    }

    fn flush(&mut self) -> Result<(), LinkFault> {
        Ok(())
    }

    fn receive(&mut self) -> Result<Option<CanFrame>, LinkFault> {
        Ok(self.from.try_recv().ok())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_frame_has_eleven_bits_and_eight_bytes_at_most() {
        assert_eq!(CanFrame::new(0x800, &[]), None);
        assert_eq!(CanFrame::new(1, &[0; 9]), None);
        let frame = CanFrame::new(0x7FF, &[1, 2, 3]).unwrap();
        assert_eq!((frame.id(), frame.data()), (0x7FF, [1, 2, 3].as_slice()));
        let (mut near, mut far) = QueueCan::pair();
        near.send(&frame).unwrap();
        assert_eq!((far.receive(), far.receive()), (Ok(Some(frame)), Ok(None)));
        drop(near);
        assert_eq!(far.send(&frame), Err(LinkFault::Silent));
    }
}
