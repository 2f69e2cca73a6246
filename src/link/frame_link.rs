//! Drives behind the open frame, whatever wire carries it: session, sequence, who is a stranger, round trips.

use super::drives::{DriveLink, DriveOrder, DriveReport};
use super::frame::{Body, Feedback, Frame, Header, Identity, LegOrder, MAX_FRAME, Order, leg_flag};
use super::wire::Wire;
use super::{DriveTime, LinkFault};
use crate::commissioning::FarEnd;
use crate::safety::{Legs, MAX_LEGS};

/// Frames that one poll looks at: a flood must not hold the cycle.
const MOST_FRAMES: usize = 64;

/// A far end that was not heard for so long must say anew who it is before it counts, microseconds (own choice: nobody
/// swaps a controller or switches it off and on in less).
const GAP_US: u64 = 100_000;

/// A report so many numbers before the newest is no late one: whoever sends it has begun anew.
const BEGUN_ANEW: u32 = 1000;

/// Drives behind a wire.
#[derive(Debug)]
pub struct FrameLink<W> {
    wire: W,
    session: u32,
    legs: usize,
    silence_ms: u16,
    sequence: u32,
    hellos: u32,
    heard: Option<u32>,
    /// When, microseconds.
    heard_us: u64,
    /// Who answered first.
    known: Option<Identity>,
    /// Who is there must be heard before reports count again.
    asks: bool,
    is_stranger: bool,
    dropped: u64,
}

impl<W: Wire> FrameLink<W> {
    /// For a rig of `legs` legs. `session` should be another number for every run; the far end stops by itself after
    /// `silence_ms` without an order.
    pub fn new(wire: W, session: u32, legs: usize, silence_ms: u16) -> Self {
        let legs = legs.min(MAX_LEGS);
        Self {
            wire,
            session,
            legs,
            silence_ms,
            sequence: 0,
            hellos: 0,
            heard: None,
            heard_us: 0,
            known: None,
            asks: false,
            is_stranger: false,
            dropped: 0,
        }
    }

    fn write(&mut self, now: DriveTime, sequence: u32, body: Body) -> Result<(), LinkFault> {
        let header = Header { session: self.session, sequence, time_us: now.0 };
        let mut bytes = [0; MAX_FRAME];
        let length = Frame { header, body }.write(&mut bytes).ok_or(LinkFault::NotANumber)?;
        self.wire.send(bytes.get(..length).unwrap_or(&[]))
    }

    /// Takes what came in; the newest feedback of this run.
    fn listen(&mut self, now: DriveTime) -> Result<Option<DriveReport>, LinkFault> {
        let mut newest = None;
        let mut bytes = [0; MAX_FRAME];
        for _ in 0..MOST_FRAMES {
            let Some(length) = self.wire.receive(&mut bytes)? else { break };
            let frame = match Frame::read(bytes.get(..length).unwrap_or(&[])) {
                Ok(frame) if frame.header.session == self.session => frame,
                _ => {
                    self.dropped += 1;
                    continue;
                }
            };
            match frame.body {
                Body::Feedback(feedback)
                    if feedback.legs == self.legs && self.counts(now, frame.header.sequence) =>
                {
                    (self.heard, self.heard_us) = (Some(frame.header.sequence), now.0);
                    newest = Some(report(&feedback, now));
                }
                Body::Identity(identity) => self.name_heard(identity),
                _ => self.dropped += 1,
            }
        }
        Ok(newest)
    }

    /// Who was connected to is who goes on: the first name counts, and it is asked for again after every gap.
    fn name_heard(&mut self, identity: Identity) {
        match self.known {
            None => self.known = Some(identity),
            Some(known) if known == identity => {
                if self.asks {
                    self.heard = None;
                }
                (self.asks, self.is_stranger) = (false, false);
            }
            // Asked on: whoever was there at first may come back.
            Some(_) => (self.asks, self.is_stranger) = (true, true),
        }
    }

    /// Whether a report with this number counts.
    fn counts(&mut self, now: DriveTime, sequence: u32) -> bool {
        if let Some(heard) = self.heard {
            let back = heard.wrapping_sub(sequence);
            let begun_anew = (BEGUN_ANEW..u32::MAX / 2).contains(&back);
            self.asks |= begun_anew || now.0.saturating_sub(self.heard_us) > GAP_US;
        }
        !self.asks && self.is_newer(sequence)
    }

    /// Sequences wrap: newer is less than half the circle ahead.
    fn is_newer(&self, sequence: u32) -> bool {
        self.heard.is_none_or(|heard| sequence.wrapping_sub(heard).wrapping_sub(1) < u32::MAX / 2)
    }
}

fn far_end(identity: &Identity) -> FarEnd {
    let end = identity.name.iter().position(|b| *b == 0).unwrap_or(identity.name.len());
    let name = String::from_utf8_lossy(identity.name.get(..end).unwrap_or(&[]));
    FarEnd {
        name: name.chars().filter(|c| !c.is_control()).collect(),
        legs: identity.legs,
        cycle_us: identity.cycle_us,
        firmware: identity.firmware,
        parameters: identity.parameters,
        serials: identity.serial.iter().take(identity.legs).copied().collect(),
    }
}

fn report(feedback: &Feedback, now: DriveTime) -> DriveReport {
    let of = |value: &dyn Fn(&super::frame::LegFeedback) -> f64| {
        Legs::from_fn(feedback.legs, |leg| feedback.leg.get(leg).map_or(f64::NAN, value))
    };
    let power = feedback.leg.iter().take(feedback.legs).all(|leg| leg.flags & leg_flag::POWER != 0);
    let leg = usize::from(feedback.fault_leg);
    DriveReport {
        round_trip_us: (feedback.echo_us > 0).then(|| now.0.saturating_sub(feedback.echo_us)),
        state: feedback.state,
        brakes: feedback.brakes,
        inputs: feedback.inputs,
        power,
        homed: feedback.homed,
        moving: feedback.moving,
        fault: feedback.fault.map(|fault| (fault, (leg < feedback.legs).then_some(leg))),
        cause: None,
        lengths_m: of(&|leg| leg.position_nm as f64 / 1e9),
        speeds_m_s: of(&|leg| f64::from(leg.speed_um_s) / 1e6),
        forces_n: of(&|leg| f64::from(leg.force_mn) / 1e3),
        temperatures_c: of(&|leg| f64::from(leg.temperature_dc) / 10.0),
        rejected: feedback.rejected,
    }
}

impl<W: Wire> DriveLink for FrameLink<W> {
    fn identify(&mut self, now: DriveTime) -> Result<Option<FarEnd>, LinkFault> {
        self.listen(now)?;
        self.hellos = self.hellos.wrapping_add(1);
        // A hello that does not go out is one that is not answered.
        let _ = self.write(now, self.hellos, Body::Hello);
        Ok(self.known.as_ref().map(far_end))
    }

    fn poll(&mut self, now: DriveTime) -> Result<Option<DriveReport>, LinkFault> {
        let newest = self.listen(now)?;
        if self.is_stranger { Err(LinkFault::Stranger) } else { Ok(newest) }
    }

    fn send(&mut self, now: DriveTime, order: &DriveOrder) -> Result<(), LinkFault> {
        let expected = self.legs;
        order.is_for(expected)?;
        let mut leg = [LegOrder::default(); MAX_LEGS];
        for (at, place) in leg.iter_mut().take(expected).enumerate() {
            let length_nm = order.lengths_m[at] * 1e9;
            let speed_um_s = order.speeds_m_s[at] * 1e6;
            let force_mn = order.force_limits_n[at] * 1e3;
            // A kilometre, a kilometre a second and four meganewtons are beyond any rig file.
            let fits = length_nm.abs() <= 1e12
                && speed_um_s.abs() <= 1e9
                && force_mn >= 0.0
                && force_mn <= f64::from(u32::MAX);
            if !fits {
                return Err(LinkFault::NotANumber);
            }
            place.position_nm = length_nm.round() as i64;
            place.speed_um_s = speed_um_s.round() as i32;
            place.force_limit_mn = force_mn.round() as u32;
        }
        let window_um =
            order.windows_m.iter().fold(0.0, |most: f64, window_m| most.max(window_m * 1e6)).ceil();
        if order.windows_m.iter().any(|window_m| window_m.is_nan()) || window_um < 1.0 {
            return Err(LinkFault::NotANumber);
        }
        let body = Body::Order(Order {
            apply_at_us: order.apply_at.0,
            kind: order.kind,
            warn: order.warn,
            release: order.release,
            silence_ms: self.silence_ms,
            // Four kilometres are no bound.
            window_um: window_um.min(f64::from(u32::MAX)) as u32,
            legs: expected,
            leg,
        });
        if self.asks {
            self.hellos = self.hellos.wrapping_add(1);
            let _ = self.write(now, self.hellos, Body::Hello);
        }
        if self.is_stranger {
            // Nobody else's drives get torque by this run's orders; whoever it is stops by itself when none come.
            return Err(LinkFault::Stranger);
        }
        self.sequence = self.sequence.wrapping_add(1);
        self.write(now, self.sequence, body)
    }

    fn dropped(&self) -> u64 {
        self.dropped
    }
}

#[cfg(test)]
mod tests;
