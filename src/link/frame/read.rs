//! Bytes to frames. Total: whatever comes is a frame or a reason why not.

use super::{Body, Feedback, Frame, FrameError, FrameFault, HEADER, Header, Identity, LegFeedback, LegOrder};
use super::{MAGIC, Order, OrderKind, PowerState, VERSION, crc32, frame_length, leg_flag};
use crate::safety::MAX_LEGS;
use crate::safety::operation::{Brakes, Input, Inputs};

/// Numbers at fixed places; beyond the end they are 0, and lengths were looked at before.
struct Page<'a>(&'a [u8]);

impl Page<'_> {
    fn bytes<const N: usize>(&self, at: usize) -> [u8; N] {
        self.0.get(at..at + N).and_then(|bytes| bytes.try_into().ok()).unwrap_or([0; N])
    }
    fn u8(&self, at: usize) -> u8 {
        u8::from_le_bytes(self.bytes(at))
    }
    fn u16(&self, at: usize) -> u16 {
        u16::from_le_bytes(self.bytes(at))
    }
    fn u32(&self, at: usize) -> u32 {
        u32::from_le_bytes(self.bytes(at))
    }
    fn i32(&self, at: usize) -> i32 {
        i32::from_le_bytes(self.bytes(at))
    }
    fn u64(&self, at: usize) -> u64 {
        u64::from_le_bytes(self.bytes(at))
    }
    fn i64(&self, at: usize) -> i64 {
        i64::from_le_bytes(self.bytes(at))
    }
}

impl Frame {
    /// Reads a frame that fills `bytes`.
    ///
    /// # Errors
    /// Why it is none.
    pub fn read(bytes: &[u8]) -> Result<Self, FrameError> {
        let page = Page(bytes);
        if bytes.len() < HEADER + 4 {
            return Err(FrameError::Length { found: bytes.len(), expected: 0 });
        }
        if page.bytes::<2>(0) != MAGIC {
            return Err(FrameError::Magic);
        }
        if page.u8(2) != VERSION {
            return Err(FrameError::Version(page.u8(2)));
        }
        let (kind, legs) = (page.u8(3), page.u8(6));
        if usize::from(legs) > MAX_LEGS {
            return Err(FrameError::Legs(legs));
        }
        let expected = frame_length(kind, usize::from(legs));
        if expected == 0 {
            return Err(FrameError::Kind(kind));
        }
        if bytes.len() != expected || usize::from(page.u16(4)) != expected {
            return Err(FrameError::Length { found: bytes.len(), expected });
        }
        let sum = crc32(bytes.get(..expected - 4).unwrap_or(&[]));
        let found = page.u32(expected - 4);
        if found != sum {
            return Err(FrameError::Checksum { found, expected: sum });
        }
        if page.u8(7) != 0 {
            return Err(FrameError::Field(7));
        }
        let header = Header { session: page.u32(8), sequence: page.u32(12), time_us: page.u64(16) };
        let legs = usize::from(legs);
        let body = match kind {
            1 if legs == 0 => Body::Hello,
            1 => return Err(FrameError::Field(6)),
            2 => Body::Order(order(&page, legs)?),
            3 => Body::Feedback(feedback(&page, legs)?),
            _ => Body::Identity(identity(&page, legs)),
        };
        Ok(Self { header, body })
    }
}

fn order(page: &Page<'_>, legs: usize) -> Result<Order, FrameError> {
    let kind = match page.u8(32) {
        0 => OrderKind::Off,
        1 => OrderKind::Hold,
        2 => OrderKind::Follow,
        3 => OrderKind::Home,
        4 => OrderKind::Jog,
        _ => return Err(FrameError::Field(32)),
    };
    let flags = page.u8(33);
    if flags > 3 {
        return Err(FrameError::Field(33));
    }
    let window_um = page.u32(36);
    if window_um == 0 {
        return Err(FrameError::Field(36));
    }
    let mut leg = [LegOrder::default(); MAX_LEGS];
    for (place, at) in leg.iter_mut().take(legs).zip((40..).step_by(16)) {
        *place = LegOrder {
            position_nm: page.i64(at),
            speed_um_s: page.i32(at + 8),
            force_limit_mn: page.u32(at + 12),
        };
    }
    Ok(Order {
        apply_at_us: page.u64(24),
        kind,
        warn: flags & 1 != 0,
        release: flags & 2 != 0,
        silence_ms: page.u16(34),
        window_um,
        legs,
        leg,
    })
}

fn inputs(bits: u16) -> Result<Inputs, FrameError> {
    let input = |at: u32| match (bits >> (2 * at)) & 3 {
        0 => Ok(Input::Unknown),
        1 => Ok(Input::Open),
        2 => Ok(Input::Closed),
        _ => Err(FrameError::Field(38)),
    };
    if bits >> 10 != 0 {
        return Err(FrameError::Field(38));
    }
    Ok(Inputs { presence: input(0)?, gate: input(1)?, mat: input(2)?, belt: input(3)?, stop: input(4)? })
}

fn feedback(page: &Page<'_>, legs: usize) -> Result<Feedback, FrameError> {
    let state = match page.u8(36) {
        0 => PowerState::Off,
        1 => PowerState::Hold,
        2 => PowerState::Follow,
        3 => PowerState::Home,
        4 => PowerState::Jog,
        5 => PowerState::Stop,
        6 => PowerState::Fault,
        _ => return Err(FrameError::Field(36)),
    };
    let brakes = match page.u8(37) {
        0 => Brakes::Unknown,
        1 => Brakes::Set,
        2 => Brakes::Released,
        _ => return Err(FrameError::Field(37)),
    };
    let fault = match page.u8(41) {
        0 => None,
        1 => Some(FrameFault::Silence),
        2 => Some(FrameFault::Drive),
        3 => Some(FrameFault::Following),
        4 => Some(FrameFault::EndSwitch),
        5 => Some(FrameFault::Hot),
        6 => Some(FrameFault::Brake),
        7 => Some(FrameFault::Stop),
        8 => Some(FrameFault::Homing),
        _ => return Err(FrameError::Field(41)),
    };
    let flags = page.u8(40);
    if flags > 3 {
        return Err(FrameError::Field(40));
    }
    let fault_leg = page.u8(42);
    if usize::from(fault_leg) >= legs && fault_leg != u8::MAX {
        return Err(FrameError::Field(42));
    }
    if page.u8(43) != 0 {
        return Err(FrameError::Field(43));
    }
    let mut leg = [LegFeedback::default(); MAX_LEGS];
    for (place, at) in leg.iter_mut().take(legs).zip((48..).step_by(20)) {
        *place = LegFeedback {
            position_nm: page.i64(at),
            speed_um_s: page.i32(at + 8),
            force_mn: page.i32(at + 12),
            temperature_dc: i16::from_le_bytes(page.bytes(at + 16)),
            flags: page.u16(at + 18),
        };
        if place.flags >= 2 * leg_flag::FAULT {
            return Err(FrameError::Field(at + 18));
        }
    }
    Ok(Feedback {
        echo_us: page.u64(24),
        echo_sequence: page.u32(32),
        state,
        brakes,
        inputs: inputs(page.u16(38))?,
        homed: flags & 1 != 0,
        moving: flags & 2 != 0,
        fault,
        fault_leg,
        rejected: page.u32(44),
        legs,
        leg,
    })
}

fn identity(page: &Page<'_>, legs: usize) -> Identity {
    let mut serial = [0; MAX_LEGS];
    for (place, at) in serial.iter_mut().take(legs).zip((72..).step_by(8)) {
        *place = page.u64(at);
    }
    Identity {
        cycle_us: page.u32(24),
        firmware: page.u32(28),
        parameters: page.u64(32),
        name: page.bytes(40),
        legs,
        serial,
    }
}
