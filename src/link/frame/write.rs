//! Frames to bytes.

use super::{
    Body, Feedback, Frame, FrameFault, HEADER, Identity, MAGIC, Order, OrderKind, PowerState, VERSION,
};
use super::{crc32, frame_length};
use crate::safety::operation::{Brakes, Input, Inputs};

/// Puts numbers one after the other. What has no room is left out, which the length at the end tells.
struct Pen<'a> {
    to: &'a mut [u8],
    at: usize,
}

impl Pen<'_> {
    fn put(&mut self, bytes: &[u8]) {
        let end = self.at + bytes.len();
        if let Some(place) = self.to.get_mut(self.at..end) {
            place.copy_from_slice(bytes);
        }
        self.at = end;
    }
}

pub(super) fn kind_byte(body: &Body) -> u8 {
    match body {
        Body::Hello => 1,
        Body::Order(_) => 2,
        Body::Feedback(_) => 3,
        Body::Identity(_) => 4,
    }
}

impl Frame {
    /// Writes the frame; how many bytes it has. `None` when `to` has no room for it.
    pub fn write(&self, to: &mut [u8]) -> Option<usize> {
        let legs = match &self.body {
            Body::Hello => 0,
            Body::Order(order) => order.legs,
            Body::Feedback(feedback) => feedback.legs,
            Body::Identity(identity) => identity.legs,
        };
        let kind = kind_byte(&self.body);
        let length = frame_length(kind, legs);
        let mut pen = Pen { to, at: 0 };
        pen.put(&MAGIC);
        pen.put(&[VERSION, kind]);
        pen.put(&u16::try_from(length).ok()?.to_le_bytes());
        pen.put(&[u8::try_from(legs).ok()?, 0]);
        pen.put(&self.header.session.to_le_bytes());
        pen.put(&self.header.sequence.to_le_bytes());
        pen.put(&self.header.time_us.to_le_bytes());
        debug_assert_eq!(pen.at, HEADER);
        match &self.body {
            Body::Hello => {}
            Body::Order(order) => write_order(&mut pen, order),
            Body::Feedback(feedback) => write_feedback(&mut pen, feedback),
            Body::Identity(identity) => write_identity(&mut pen, identity),
        }
        let end = pen.at;
        let sum = crc32(to.get(..end)?);
        to.get_mut(end..end + 4)?.copy_from_slice(&sum.to_le_bytes());
        (end + 4 == length).then_some(length)
    }
}

fn write_order(pen: &mut Pen<'_>, order: &Order) {
    pen.put(&order.apply_at_us.to_le_bytes());
    let kind = match order.kind {
        OrderKind::Off => 0,
        OrderKind::Hold => 1,
        OrderKind::Follow => 2,
        OrderKind::Home => 3,
        OrderKind::Jog => 4,
    };
    pen.put(&[kind, u8::from(order.warn) | u8::from(order.release) << 1]);
    pen.put(&order.silence_ms.to_le_bytes());
    pen.put(&order.window_um.to_le_bytes());
    for leg in order.leg.iter().take(order.legs) {
        pen.put(&leg.position_nm.to_le_bytes());
        pen.put(&leg.speed_um_s.to_le_bytes());
        pen.put(&leg.force_limit_mn.to_le_bytes());
    }
}

/// Two bits an input, presence lowest: 0 unknown, 1 open, 2 closed.
fn input_bits(inputs: &Inputs) -> u16 {
    let bits = |input: Input| match input {
        Input::Unknown => 0u16,
        Input::Open => 1,
        Input::Closed => 2,
    };
    let all = [inputs.presence, inputs.gate, inputs.mat, inputs.belt, inputs.stop];
    all.iter().enumerate().map(|(at, input)| bits(*input) << (2 * at)).sum()
}

fn write_feedback(pen: &mut Pen<'_>, feedback: &Feedback) {
    pen.put(&feedback.echo_us.to_le_bytes());
    pen.put(&feedback.echo_sequence.to_le_bytes());
    let state = match feedback.state {
        PowerState::Off => 0,
        PowerState::Hold => 1,
        PowerState::Follow => 2,
        PowerState::Home => 3,
        PowerState::Jog => 4,
        PowerState::Stop => 5,
        PowerState::Fault => 6,
    };
    let brakes = match feedback.brakes {
        Brakes::Unknown => 0,
        Brakes::Set => 1,
        Brakes::Released => 2,
    };
    pen.put(&[state, brakes]);
    pen.put(&input_bits(&feedback.inputs).to_le_bytes());
    let fault = match feedback.fault {
        None => 0,
        Some(FrameFault::Silence) => 1,
        Some(FrameFault::Drive) => 2,
        Some(FrameFault::Following) => 3,
        Some(FrameFault::EndSwitch) => 4,
        Some(FrameFault::Hot) => 5,
        Some(FrameFault::Brake) => 6,
        Some(FrameFault::Stop) => 7,
        Some(FrameFault::Homing) => 8,
    };
    let flags = u8::from(feedback.homed) | u8::from(feedback.moving) << 1;
    pen.put(&[flags, fault, feedback.fault_leg, 0]);
    pen.put(&feedback.rejected.to_le_bytes());
    for leg in feedback.leg.iter().take(feedback.legs) {
        pen.put(&leg.position_nm.to_le_bytes());
        pen.put(&leg.speed_um_s.to_le_bytes());
        pen.put(&leg.force_mn.to_le_bytes());
        pen.put(&leg.temperature_dc.to_le_bytes());
        pen.put(&leg.flags.to_le_bytes());
    }
}

fn write_identity(pen: &mut Pen<'_>, identity: &Identity) {
    pen.put(&identity.cycle_us.to_le_bytes());
    pen.put(&identity.firmware.to_le_bytes());
    pen.put(&identity.parameters.to_le_bytes());
    pen.put(&identity.name);
    for serial in identity.serial.iter().take(identity.legs) {
        pen.put(&serial.to_le_bytes());
    }
}
