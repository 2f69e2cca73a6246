//! Drives that do what they are told at once, and a wire that can stand still.

use super::super::network::{NmtCommand, cob};
use super::super::{CanFrame, CanWire, QueueCan};
use crate::link::LinkFault;
use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// A drive that does what it is told at once, and lets a test change what it says.
pub(super) struct Fake {
    pub(super) node: u8,
    pub(super) objects: BTreeMap<(u16, u8), [u8; 4]>,
    pub(super) status: u16,
    pub(super) position: i32,
    pub(super) mode: i8,
    pub(super) inputs: u32,
    pub(super) words: Vec<u16>,
    pub(super) target: i32,
    pub(super) operational: bool,
    pub(super) mute: bool,
    /// How many cycles after a synchronisation it answers it; for how many more, what it has not said yet.
    pub(super) late: u32,
    pub(super) unsaid: VecDeque<(u32, [CanFrame; 2])>,
    /// Its brake never closes: it stays in operation enabled when it is to leave it.
    pub(super) stays: bool,
    /// Objects that it refuses to have written, and with which code.
    pub(super) refuses: Vec<(u16, u8, u32)>,
    pub(super) written: Vec<(u16, u8, u32)>,
}

impl Fake {
    pub(super) fn new(node: u8, position: i32) -> Self {
        let mut objects = BTreeMap::new();
        let values: [(u16, u8, u32); 9] = [
            (0x1000, 0, 0x192),
            (0x1018, 1, 7),
            (0x1018, 2, 8),
            (0x1018, 3, 3),
            (0x1018, 4, 500 + u32::from(node)),
            (0x6041, 0, 0x240),
            (0x6502, 0, 0xA0),
            (0x6076, 0, 640),
            (0x603F, 0, 0x7305),
        ];
        values
            .into_iter()
            .for_each(|(index, sub, value)| _ = objects.insert((index, sub), value.to_le_bytes()));
        Self {
            node,
            objects,
            status: 0x240,
            position,
            mode: 0,
            inputs: 1 << 20 | 1 << 16 | 1 << 17,
            words: Vec::new(),
            target: 0,
            operational: false,
            mute: false,
            late: 0,
            unsaid: VecDeque::with_capacity(8),
            stays: false,
            refuses: Vec::new(),
            written: Vec::new(),
        }
    }

    pub(super) fn get(&self, index: u16) -> u16 {
        self.objects.get(&(index, 0)).map_or(0, |value| u16::from_le_bytes([value[0], value[1]]))
    }

    pub(super) fn command(&mut self, word: u16) {
        if self.words.last() != Some(&word) {
            self.words.push(word);
        }
        let state = self.status & 0x6F;
        self.status = match (word & 0xF, state) {
            _ if self.status & 8 != 0 && word & 0x80 == 0 => self.status,
            (0x6, _) => 0x231,
            (0x7, 0x27) if self.stays => self.status,
            (0x7, 0x21 | 0x23 | 0x27) => 0x233,
            (0xF, 0x23 | 0x27) => 0x1237 | (self.status & 0x2400),
            (0x2, 0x27) => 0x217,
            // Neither tells anything to a drive that stops quickly by itself.
            (0x2, _) | (0x7 | 0xF, 0x07) => self.status,
            _ => 0x240,
        };
    }

    /// What it answers to a frame.
    pub(super) fn answer(&mut self, frame: &CanFrame, far: &mut QueueCan) {
        let node = self.node;
        let mut say = |base: u16, data: &[u8]| _ = far.send(&CanFrame::of(base, node, data));
        let data = frame.data();
        if self.mute {
            return;
        }
        match frame.id().wrapping_sub(u16::from(node)) {
            cob::SDO_QUESTION => {
                let (index, sub) = (u16::from_le_bytes([data[1], data[2]]), data[3]);
                let head = [data[1], data[2], sub];
                let refuses = |at: &&(u16, u8, u32)| data[0] != 0x40 && (at.0, at.1) == (index, sub);
                let refused = self.refuses.iter().find(refuses).map(|(.., code)| *code);
                let bytes = |command: u8, tail: [u8; 4]| {
                    let [a, b, c, d] = tail;
                    [command, head[0], head[1], head[2], a, b, c, d]
                };
                match (data[0], refused, self.objects.get(&(index, sub))) {
                    (_, Some(code), _) => say(cob::SDO_ANSWER, &bytes(0x80, code.to_le_bytes())),
                    (0x40, None, Some(value)) => say(cob::SDO_ANSWER, &bytes(0x43, *value)),
                    (0x40, None, None) => say(cob::SDO_ANSWER, &bytes(0x80, 0x0602_0000_u32.to_le_bytes())),
                    _ => {
                        let value = [data[4], data[5], data[6], data[7]];
                        self.objects.insert((index, sub), value);
                        self.written.push((index, sub, u32::from_le_bytes(value)));
                        if index == 0x6060 {
                            self.mode = data[4] as i8;
                        }
                        say(cob::SDO_ANSWER, &bytes(0x60, [0; 4]));
                    }
                }
            }
            cob::RPDO1 if self.operational => {
                self.target = i32::from_le_bytes([data[2], data[3], data[4], data[5]]);
                self.command(u16::from_le_bytes([data[0], data[1]]));
            }
            _ if frame.id() == cob::NMT => {
                self.operational |= *frame == NmtCommand::Start.to(node);
                self.operational &= *frame != NmtCommand::PreOperational.to(node);
            }
            _ if frame.id() == cob::SYNC && self.operational => {
                let ([s0, s1], [p0, p1, p2, p3]) = (self.status.to_le_bytes(), self.position.to_le_bytes());
                let [i0, i1, i2, i3] = self.inputs.to_le_bytes();
                say(cob::HEARTBEAT, &[5]);
                let reports = [
                    CanFrame::of(cob::TPDO1, node, &[s0, s1, p0, p1, p2, p3, self.mode as u8]),
                    // A tenth of the rated torque.
                    CanFrame::of(cob::TPDO2, node, &[100, 0, i0, i1, i2, i3]),
                ];
                self.unsaid.push_back((self.late, reports));
            }
            _ => {}
        }
    }
}

/// A wire that can stand still for a while: what it took meanwhile waits, as in an adapter.
pub(super) struct Stalling {
    pub(super) wire: QueueCan,
    pub(super) waiting: VecDeque<CanFrame>,
    pub(super) stalls: Arc<AtomicBool>,
}

impl CanWire for Stalling {
    fn send(&mut self, frame: &CanFrame) -> Result<(), LinkFault> {
        self.waiting.push_back(*frame);
        Ok(())
    }

    fn flush(&mut self) -> Result<(), LinkFault> {
        if self.stalls.load(Ordering::Relaxed) {
            return Ok(());
        }
        self.waiting.drain(..).try_for_each(|frame| self.wire.send(&frame))
    }

    fn forget(&mut self) -> usize {
        self.waiting.drain(..).count()
    }

    fn receive(&mut self) -> Result<Option<CanFrame>, LinkFault> {
        self.wire.receive()
    }
}

impl Fake {
    /// A cycle passes: it says what is due.
    pub(super) fn pass(&mut self, far: &mut QueueCan) {
        while let Some((0, reports)) = self.unsaid.front() {
            reports.iter().for_each(|frame| _ = far.send(frame));
            self.unsaid.pop_front();
        }
        self.unsaid.iter_mut().for_each(|(more, _)| *more -= 1);
    }
}
