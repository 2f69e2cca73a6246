//! The bodies of frames: plain numbers in the units of the wire.

use crate::safety::MAX_LEGS;
use crate::safety::operation::{Brakes, Inputs};

/// What drives are asked to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OrderKind {
    /// Torque off, brakes on.
    Off,
    /// Torque on, holding wherever the legs stand; a jog or homing under way comes to rest.
    Hold,
    /// Follow the set-points.
    Follow,
    /// Find the reference, slowly, within the controller's own bounds; ends by itself when another kind comes.
    Home,
    /// Move at the speeds given, within the controller's own creep limit.
    Jog,
}

/// One leg of an order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LegOrder {
    /// Set-point, nm.
    pub position_nm: i64,
    /// Its rate, um/s; the speed wanted in a jog.
    pub speed_um_s: i32,
    /// Largest force at the nut that the drive may use, mN.
    pub force_limit_mn: u32,
}

/// An order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Order {
    /// When the set-points apply, on the sender's clock, microseconds.
    pub apply_at_us: u64,
    /// What drives are asked to do.
    pub kind: OrderKind,
    /// The warning sounds.
    pub warn: bool,
    /// Brakes off; only heeded while there is torque.
    pub release: bool,
    /// Silence for longer than this makes the far end stop by itself, ms.
    pub silence_ms: u16,
    /// A leg further than this from its set-point is a fault of its drive, um, at least 1; the far end's own bound holds
    /// besides.
    pub window_um: u32,
    /// How many legs.
    pub legs: usize,
    /// One a leg; the rest is nothing.
    pub leg: [LegOrder; MAX_LEGS],
}

/// What the drives say that they are doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PowerState {
    /// Off.
    Off,
    /// On, standing.
    Hold,
    /// Following set-points.
    Follow,
    /// Looking for the reference.
    Home,
    /// Moving by hand.
    Jog,
    /// Stopping by itself.
    Stop,
    /// A fault; off until an order of kind `Off` has come and the cause is gone.
    Fault,
}

impl PowerState {
    /// Its word in records.
    pub fn word(self) -> &'static str {
        match self {
            PowerState::Off => "off",
            PowerState::Hold => "hold",
            PowerState::Follow => "follow",
            PowerState::Home => "home",
            PowerState::Jog => "jog",
            PowerState::Stop => "stop",
            PowerState::Fault => "fault",
        }
    }
}

/// What is wrong at the far end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FrameFault {
    /// Orders stayed away.
    Silence,
    /// A drive.
    Drive,
    /// Too far from the set-point.
    Following,
    /// An end switch.
    EndSwitch,
    /// Too hot.
    Hot,
    /// A brake did not do what it was told.
    Brake,
    /// A stop device.
    Stop,
    /// The reference was not found.
    Homing,
}

impl FrameFault {
    /// Its word in records.
    pub fn word(self) -> &'static str {
        match self {
            FrameFault::Silence => "silence",
            FrameFault::Drive => "drive",
            FrameFault::Following => "following error",
            FrameFault::EndSwitch => "end switch",
            FrameFault::Hot => "hot",
            FrameFault::Brake => "brake",
            FrameFault::Stop => "stop device",
            FrameFault::Homing => "homing",
        }
    }
}

/// Bits of [`LegFeedback::flags`].
pub mod leg_flag {
    /// Torque is on.
    pub const POWER: u16 = 1;
    /// The brake is confirmed off.
    pub const RELEASED: u16 = 2;
    /// The brake is confirmed on.
    pub const SET: u16 = 4;
    /// On the switch at the short end.
    pub const SHORT_END: u16 = 8;
    /// On the switch at the long end.
    pub const LONG_END: u16 = 16;
    /// Its drive reports a fault.
    pub const FAULT: u16 = 32;
}

/// One leg of a feedback.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LegFeedback {
    /// Measured, nm.
    pub position_nm: i64,
    /// Measured, um/s.
    pub speed_um_s: i32,
    /// At the nut, mN; positive pushes the leg longer.
    pub force_mn: i32,
    /// Of motor or drive, a tenth of a degree Celsius.
    pub temperature_dc: i16,
    /// See [`leg_flag`].
    pub flags: u16,
}

/// A feedback.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Feedback {
    /// Sender's time of the newest order that came, microseconds.
    pub echo_us: u64,
    /// Its sequence.
    pub echo_sequence: u32,
    /// What the drives are doing.
    pub state: PowerState,
    /// All brakes together.
    pub brakes: Brakes,
    /// The controller's inputs.
    pub inputs: Inputs,
    /// Whether the controller knows where its legs are.
    pub homed: bool,
    /// Whether it moves legs by itself.
    pub moving: bool,
    /// What is wrong.
    pub fault: Option<FrameFault>,
    /// On which leg, from 0; 255 where it is no one leg's.
    pub fault_leg: u8,
    /// Orders that were dropped: damaged, stale, strangers'.
    pub rejected: u32,
    /// How many legs.
    pub legs: usize,
    /// One a leg; the rest is nothing.
    pub leg: [LegFeedback; MAX_LEGS],
}

/// Who is at the far end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Identity {
    /// Time between orders that it expects, microseconds.
    pub cycle_us: u32,
    /// Version of its program.
    pub firmware: u32,
    /// A sum over the drives' parameters: another when somebody changed one.
    pub parameters: u64,
    /// Its name, UTF-8, zeros at the end.
    pub name: [u8; 32],
    /// How many legs.
    pub legs: usize,
    /// The drives' serial numbers; the rest is nothing.
    pub serial: [u64; MAX_LEGS],
}
