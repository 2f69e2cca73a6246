//! Expedited reads and writes of objects, one at a time and cranked; every written value is read back and compared.
//! Source: CiA 301, SDO protocols.

use super::fault::{CanFault, Object};
use super::network::cob;
use super::wire::CanFrame;
use crate::link::DriveTime;

/// A drive that has not answered for so long does not (own choice; common masters wait as long).
const ANSWER_US: u64 = 500_000;

/// A value of one, two or four bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Value {
    /// Its bits; signed ones as two's complement in `bytes` bytes.
    pub bits: u32,
    /// How many bytes.
    pub bytes: u8,
}

impl Value {
    /// One byte.
    pub const fn u8(value: u8) -> Self {
        Self { bits: value as u32, bytes: 1 }
    }
    /// One byte with a sign.
    pub const fn i8(value: i8) -> Self {
        Self { bits: value as u8 as u32, bytes: 1 }
    }
    /// Two bytes.
    pub const fn u16(value: u16) -> Self {
        Self { bits: value as u32, bytes: 2 }
    }
    /// Two bytes with a sign.
    pub const fn i16(value: i16) -> Self {
        Self { bits: value as u16 as u32, bytes: 2 }
    }
    /// Four bytes.
    pub const fn u32(value: u32) -> Self {
        Self { bits: value, bytes: 4 }
    }
}

/// The question that writes.
pub fn write(node: u8, object: Object, value: Value) -> CanFrame {
    let unused = 4 - value.bytes.clamp(1, 4);
    let [low, high] = object.index.to_le_bytes();
    let [a, b, c, d] = value.bits.to_le_bytes();
    CanFrame::of(cob::SDO_QUESTION, node, &[0x23 | unused << 2, low, high, object.sub, a, b, c, d])
}

/// The question that reads.
pub fn read(node: u8, object: Object) -> CanFrame {
    let [low, high] = object.index.to_le_bytes();
    CanFrame::of(cob::SDO_QUESTION, node, &[0x40, low, high, object.sub, 0, 0, 0, 0])
}

/// What a drive answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// Written.
    Written(Object),
    /// Its value.
    Is(Object, Value),
    /// It will not, and why.
    Refused(Object, u32),
    /// Its value has more than four bytes.
    Long(Object),
}

impl Answer {
    /// Out of the bytes of an answer; `None` when they are none.
    pub fn of(data: &[u8]) -> Option<Self> {
        let &[command, low, high, sub, a, b, c, d] = data else { return None };
        let object = Object::at(u16::from_le_bytes([low, high]), sub);
        let bits = u32::from_le_bytes([a, b, c, d]);
        match command {
            0x60 => Some(Answer::Written(object)),
            0x80 => Some(Answer::Refused(object, bits)),
            // Expedited with a size: 4 - n bytes.
            0x43 | 0x47 | 0x4B | 0x4F => {
                let bytes = 4 - (command >> 2 & 3);
                Some(Answer::Is(object, Value { bits: bits & mask(bytes), bytes }))
            }
            // Expedited without a size: whatever fits.
            0x42 => Some(Answer::Is(object, Value { bits, bytes: 4 })),
            0x40 | 0x41 => Some(Answer::Long(object)),
            _ => None,
        }
    }

    fn object(self) -> Object {
        match self {
            Answer::Written(object)
            | Answer::Is(object, _)
            | Answer::Refused(object, _)
            | Answer::Long(object) => object,
        }
    }
}

fn mask(bytes: u8) -> u32 {
    u32::MAX >> (32 - 8 * u32::from(bytes.clamp(1, 4)))
}

/// What is done with an object.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Task {
    /// Its value.
    Read(Object),
    /// This value, read back and compared where `mask` has ones.
    Write(Object, Value, u32),
}

impl Task {
    /// Writes all bits of a value.
    pub fn write(object: Object, value: Value) -> Self {
        Task::Write(object, value, mask(value.bytes))
    }

    /// The one that it is about.
    pub(super) fn object(self) -> Object {
        match self {
            Task::Read(object) | Task::Write(object, ..) => object,
        }
    }
}

/// One node's objects: at most one task at a time.
#[derive(Debug, Clone, Copy)]
pub struct Sdo {
    node: u8,
    under_way: Option<(Task, bool, u64)>,
}

impl Sdo {
    /// Of a node.
    pub fn of(node: u8) -> Self {
        Self { node, under_way: None }
    }

    /// Whether a task is under way.
    pub fn is_busy(&self) -> bool {
        self.under_way.is_some()
    }

    /// Waits for no answer any more.
    pub fn forget(&mut self) {
        self.under_way = None;
    }

    /// Begins a task; the frame to send. `None` while another is under way.
    pub fn begin(&mut self, now: DriveTime, task: Task) -> Option<CanFrame> {
        if self.is_busy() {
            return None;
        }
        let writes = matches!(task, Task::Write(..));
        self.under_way = Some((task, writes, now.0));
        Some(match task {
            Task::Read(object) => read(self.node, object),
            Task::Write(object, value, _) => write(self.node, object, value),
        })
    }

    /// Takes an answer: what comes of the task, and a frame that must be sent for it to go on. Answers to nothing that
    /// was asked are left aside.
    pub fn take(
        &mut self,
        now: DriveTime,
        data: &[u8],
    ) -> (Option<Result<Value, CanFault>>, Option<CanFrame>) {
        let (Some((task, writing, _)), Some(answer)) = (self.under_way, Answer::of(data)) else {
            return (None, None);
        };
        let (node, object) = (self.node, task.object());
        if answer.object() != object {
            return (None, None);
        }
        let result = match (answer, task) {
            (Answer::Written(_), Task::Write(..)) if writing => {
                self.under_way = Some((task, false, now.0));
                return (None, Some(read(node, object)));
            }
            (Answer::Is(_, found), Task::Read(_)) => Ok(found),
            (Answer::Is(_, found), Task::Write(_, value, compared)) if !writing => {
                if (found.bits ^ value.bits) & compared & mask(value.bytes) == 0 {
                    Ok(value)
                } else {
                    Err(CanFault::NotKept { node, object, written: value.bits, found: found.bits })
                }
            }
            (Answer::Refused(_, code), _) => Err(CanFault::Refused { node, object, write: writing, code }),
            (Answer::Long(_), _) if !writing => Err(CanFault::TooLong { node, object }),
            _ => return (None, None),
        };
        self.under_way = None;
        (Some(result), None)
    }

    /// Gives up when no answer came in time.
    pub fn late(&mut self, now: DriveTime) -> Option<CanFault> {
        let (task, _, since) = self.under_way?;
        (now.0.saturating_sub(since) > ANSWER_US).then(|| {
            self.under_way = None;
            CanFault::Silent { node: self.node, object: task.object() }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: DriveTime = DriveTime(1000);

    #[test]
    fn questions_are_those_of_the_standard() {
        // By the tables of CiA 301: 0x2F one byte, 0x2B two, 0x23 four, 0x40 read.
        let object = Object::at(0x6060, 0);
        let frame = |data: &[u8]| CanFrame::new(0x603, data).unwrap();
        assert_eq!(write(3, object, Value::i8(-1)), frame(&[0x2F, 0x60, 0x60, 0, 0xFF, 0, 0, 0]));
        let object = Object::at(0x1017, 0);
        assert_eq!(write(3, object, Value::u16(0x0102)), frame(&[0x2B, 0x17, 0x10, 0, 2, 1, 0, 0]));
        let object = Object::at(0x1400, 1);
        let cob = Value::u32(0x8000_0203);
        assert_eq!(write(3, object, cob), frame(&[0x23, 0, 0x14, 1, 3, 2, 0, 0x80]));
        assert_eq!(read(3, object), frame(&[0x40, 0, 0x14, 1, 0, 0, 0, 0]));
    }

    #[test]
    fn what_is_written_is_read_back_and_compared() {
        let object = Object::at(0x6065, 0);
        let task = Task::write(object, Value::u32(5000));
        let mut sdo = Sdo::of(3);
        assert_eq!(sdo.begin(NOW, task), Some(write(3, object, Value::u32(5000))));
        assert_eq!(sdo.begin(NOW, task), None, "one at a time");
        // Of another object, and no answer at all.
        assert_eq!(sdo.take(NOW, &[0x60, 0x66, 0x60, 0, 0, 0, 0, 0]), (None, None));
        assert_eq!(sdo.take(NOW, &[0x60, 0x65]), (None, None));
        assert_eq!(sdo.take(NOW, &[0x60, 0x65, 0x60, 0, 0, 0, 0, 0]), (None, Some(read(3, object))));
        let kept = [0x43, 0x65, 0x60, 0, 0x88, 0x13, 0, 0];
        assert_eq!(sdo.take(NOW, &kept), (Some(Ok(Value::u32(5000))), None));
        sdo.begin(NOW, task);
        sdo.take(NOW, &[0x60, 0x65, 0x60, 0, 0, 0, 0, 0]);
        let other = [0x43, 0x65, 0x60, 0, 0x87, 0x13, 0, 0];
        let fault = CanFault::NotKept { node: 3, object, written: 5000, found: 4999 };
        assert_eq!(sdo.take(NOW, &other), (Some(Err(fault)), None));
        assert!(!sdo.is_busy());
    }

    #[test]
    fn only_the_bits_that_are_asked_for_are_compared() {
        let object = Object::at(0x1800, 1);
        let mut sdo = Sdo::of(3);
        sdo.begin(NOW, Task::Write(object, Value::u32(0x183), 0xBFFF_FFFF));
        sdo.take(NOW, &[0x60, 0, 0x18, 1, 0, 0, 0, 0]);
        let (result, _) = sdo.take(NOW, &[0x43, 0, 0x18, 1, 0x83, 1, 0, 0x40]);
        assert_eq!(result, Some(Ok(Value::u32(0x183))));
    }

    #[test]
    fn short_long_refused_and_late_answers_are_told_apart() {
        let object = Object::at(0x6061, 0);
        let mut sdo = Sdo::of(3);
        sdo.begin(NOW, Task::Read(object));
        // One byte; what stands beside it does not count.
        let (result, _) = sdo.take(NOW, &[0x4F, 0x61, 0x60, 0, 8, 9, 9, 9]);
        assert_eq!(result, Some(Ok(Value::u8(8))));
        sdo.begin(NOW, Task::Read(object));
        let (result, _) = sdo.take(NOW, &[0x41, 0x61, 0x60, 0, 20, 0, 0, 0]);
        assert_eq!(result, Some(Err(CanFault::TooLong { node: 3, object })));
        sdo.begin(NOW, Task::Read(object));
        let (result, _) = sdo.take(NOW, &[0x80, 0x61, 0x60, 0, 0, 0, 2, 6]);
        let refused = CanFault::Refused { node: 3, object, write: false, code: 0x0602_0000 };
        assert_eq!(result, Some(Err(refused)));
        sdo.begin(NOW, Task::Read(object));
        assert_eq!(sdo.late(DriveTime(501_000)), None);
        assert_eq!(sdo.late(DriveTime(501_001)), Some(CanFault::Silent { node: 3, object }));
        assert_eq!(sdo.late(DriveTime(601_001)), None);
    }
}
