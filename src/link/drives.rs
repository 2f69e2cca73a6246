//! Links to drives: one trait, whatever carries it. A link reads no clock and starts no thread; it is told the time.

use super::frame::{FrameFault, OrderKind, PowerState};
use super::{DriveTime, LinkFault};
use crate::commissioning::FarEnd;
use crate::record::DriveCause;
use crate::safety::Legs;
use crate::safety::operation::{Brakes, Inputs};

/// One cycle's order to the drives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DriveOrder {
    /// When the set-points apply, on the same clock as everything that the link is told.
    pub apply_at: DriveTime,
    /// What the drives are to do.
    pub kind: OrderKind,
    /// The warning sounds.
    pub warn: bool,
    /// Brakes off.
    pub release: bool,
    /// One a leg, m.
    pub lengths_m: Legs,
    /// Their rates, m/s; the speeds wanted in a jog.
    pub speeds_m_s: Legs,
    /// Largest force at the nut, N.
    pub force_limits_n: Legs,
    /// How far a leg may be from its set-point before its drive calls that a fault, m; more than the drive's own bound
    /// counts as that.
    pub windows_m: Legs,
}

impl DriveOrder {
    /// To be off: no torque, brakes on.
    pub fn off(apply_at: DriveTime, legs: usize) -> Self {
        let zero = Legs::filled(legs, 0.0);
        Self {
            apply_at,
            kind: OrderKind::Off,
            warn: false,
            release: false,
            lengths_m: zero,
            speeds_m_s: zero,
            force_limits_n: zero,
            windows_m: Legs::filled(legs, f64::INFINITY),
        }
    }

    /// Whether it says of that many legs all that it says.
    ///
    /// # Errors
    /// When it does not: of how many it does.
    pub fn is_for(&self, legs: usize) -> Result<(), LinkFault> {
        let said = [&self.lengths_m, &self.speeds_m_s, &self.force_limits_n, &self.windows_m];
        let other = said.iter().map(|of| of.len()).find(|found| *found != legs);
        other.map_or(Ok(()), |found| Err(LinkFault::Count { found, expected: legs }))
    }
}

/// What the far end reports.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DriveReport {
    /// From sending the order that it answers to its arrival here, microseconds; `None` before the first order.
    pub round_trip_us: Option<u64>,
    /// What the drives are doing.
    pub state: PowerState,
    /// All brakes together.
    pub brakes: Brakes,
    /// The controller's inputs.
    pub inputs: Inputs,
    /// Whether torque is on, on all legs.
    pub power: bool,
    /// Whether the far end knows where its legs are.
    pub homed: bool,
    /// Whether it moves legs by itself.
    pub moving: bool,
    /// What is wrong, and on which leg.
    pub fault: Option<(FrameFault, Option<usize>)>,
    /// The same more exactly, where the link knows.
    pub cause: Option<DriveCause>,
    /// Measured, m.
    pub lengths_m: Legs,
    /// Measured, m/s; no number where a leg is not heard any more.
    pub speeds_m_s: Legs,
    /// At the nut, N, positive pushing; no number where the drive does not know.
    pub forces_n: Legs,
    /// Of motor or drive, degrees Celsius.
    pub temperatures_c: Legs,
    /// Orders that the far end dropped so far.
    pub rejected: u32,
}

/// How a link wants to be asked who is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Asking {
    /// Time between two questions, microseconds.
    pub every_us: u64,
    /// Without an answer for so long nobody is there, microseconds.
    pub most_us: u64,
}

/// A link to drives.
pub trait DriveLink: Send {
    /// Asks who is there, and says who has answered since.
    ///
    /// # Errors
    /// When the link itself fails.
    fn identify(&mut self, now: DriveTime) -> Result<Option<FarEnd>, LinkFault>;

    /// The newest report since the last poll, if there is one. Does not allocate, does not wait.
    ///
    /// # Errors
    /// When the link itself fails.
    fn poll(&mut self, now: DriveTime) -> Result<Option<DriveReport>, LinkFault>;

    /// Sends an order. Does not allocate, does not wait.
    ///
    /// # Errors
    /// When it is not fit to send, or does not go out.
    fn send(&mut self, now: DriveTime, order: &DriveOrder) -> Result<(), LinkFault>;

    /// Whether set-points apply when [`DriveOrder::apply_at`] says. Where they are taken as they come, one too late stays
    /// late: two at once would be a step of two cycles' way in one.
    fn is_dated(&self) -> bool {
        true
    }

    /// Says farewell to drives that stand and are off, so that they do not stop for silence. Whoever calls it knows that
    /// nobody else has taken the drives on since; a link that is only dropped says nothing.
    ///
    /// # Errors
    /// When it does not go out.
    fn leave(&mut self) -> Result<(), LinkFault> {
        Ok(())
    }

    /// How [`DriveLink::identify`] is to be called.
    fn asking(&self) -> Asking {
        Asking { every_us: 20_000, most_us: 3_000_000 }
    }

    /// What was dropped because it was damaged, stale or a stranger's.
    fn dropped(&self) -> u64 {
        0
    }
}

impl<L: DriveLink + ?Sized> DriveLink for Box<L> {
    fn identify(&mut self, now: DriveTime) -> Result<Option<FarEnd>, LinkFault> {
        (**self).identify(now)
    }
    fn poll(&mut self, now: DriveTime) -> Result<Option<DriveReport>, LinkFault> {
        (**self).poll(now)
    }
    fn send(&mut self, now: DriveTime, order: &DriveOrder) -> Result<(), LinkFault> {
        (**self).send(now, order)
    }
    fn is_dated(&self) -> bool {
        (**self).is_dated()
    }
    fn leave(&mut self) -> Result<(), LinkFault> {
        (**self).leave()
    }
    fn asking(&self) -> Asking {
        (**self).asking()
    }
    fn dropped(&self) -> u64 {
        (**self).dropped()
    }
}
