//! The simulated controller: what it makes of orders, and how it stops by itself. Torque comes before brakes open, and
//! brakes close before torque goes; it never homes, parks or starts by itself.

use super::leg::{Leg, Told};
use super::motion::{FOLLOWING_M, Homed, Motion};
use crate::link::DriveOrder;
use crate::link::frame::{FrameFault, OrderKind, PowerState};
use crate::rig::Rig;
use crate::safety::Legs;
use crate::safety::operation::Inputs;

/// Brakes that were told to open and are not confirmed after this long are a fault, microseconds.
const BRAKE_PATIENCE_US: u64 = 500_000;

/// What legs and inputs show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shown {
    pub(super) inputs: Inputs,
    pub(super) all_set: bool,
    pub(super) all_released: bool,
}

/// A controller.
#[derive(Debug, Clone)]
pub(super) struct Controller {
    patience_us: u64,
    pub(super) state: PowerState,
    pub(super) fault: Option<(FrameFault, Option<usize>)>,
    pub(super) rejected: u32,
    order: Option<DriveOrder>,
    /// When the newest order came, microseconds.
    came_us: u64,
    pub(super) motion: Motion,
    /// A stop has come to rest.
    stands: bool,
    /// The reference has been looked for since that was asked.
    homes: bool,
    /// How long brakes have been told to open, microseconds.
    opening_us: u64,
    release: bool,
}

impl Controller {
    /// Off, where the encoders began to count, which is known.
    pub(super) fn new(rig: &Rig, at_m: &Legs) -> Self {
        Self {
            patience_us: rig.drive.patience_us(),
            state: PowerState::Off,
            fault: None,
            rejected: 0,
            order: None,
            came_us: 0,
            motion: Motion::new(rig, at_m),
            stands: false,
            homes: false,
            opening_us: 0,
            release: false,
        }
    }

    /// Whether legs are moved by its own doing.
    pub(super) fn is_moving(&self) -> bool {
        self.state != PowerState::Follow && self.motion.goes()
    }

    /// Whether the warning sounds.
    pub(super) fn is_warning(&self) -> bool {
        self.order.is_some_and(|order| order.warn)
    }

    /// Takes an order that came at `now_us`; one that is older than another before it is dropped.
    pub(super) fn take(&mut self, now_us: u64, order: &DriveOrder) {
        if self.order.is_some_and(|known| order.apply_at <= known.apply_at) {
            self.rejected += 1;
            return;
        }
        (self.order, self.came_us) = (Some(*order), now_us);
        match order.kind {
            OrderKind::Follow => self.motion.point(order.apply_at.0 as f64, &order.lengths_m),
            _ => self.motion.forget(),
        }
    }

    fn find(&mut self, fault: FrameFault, leg: Option<usize>) {
        self.fault.get_or_insert((fault, leg));
    }

    /// How far a leg may be from its reference, m: what the simulation has built in, and less where an order says so.
    fn window_m(&self, leg: usize) -> f64 {
        self.order.map_or(FOLLOWING_M, |order| FOLLOWING_M.min(order.windows_m[leg]))
    }

    fn has_power(&self) -> bool {
        !matches!(self.state, PowerState::Off | PowerState::Fault)
    }

    fn look(&mut self, now_us: u64, legs: &[Leg], shown: &Shown) {
        // What a drive holds with its brake off, or moves: beside a closed brake it only pulls.
        let driven = self.has_power() && (self.state != PowerState::Hold || shown.all_released);
        for (i, leg) in legs.iter().enumerate() {
            if leg.is_broken {
                self.find(FrameFault::Drive, Some(i));
            }
            if leg.is_hot {
                self.find(FrameFault::Hot, Some(i));
            }
            // Homing looks for the short end's switch, and a jog is what brings a leg off either.
            let ends = match self.state {
                PowerState::Follow => leg.is_short() || leg.is_long(),
                PowerState::Home => leg.is_long() && self.motion.goes_out(i),
                _ => false,
            };
            if ends {
                self.find(FrameFault::EndSwitch, Some(i));
            }
            let off_m = self.motion.length_m(i, leg) - self.motion.reference_m[i];
            if driven && off_m.abs() > self.window_m(i) {
                self.find(FrameFault::Following, Some(i));
            }
        }
        if self.has_power() {
            if self.opening_us > BRAKE_PATIENCE_US && !shown.all_released {
                self.find(FrameFault::Brake, None);
            }
            if now_us.saturating_sub(self.came_us) > self.patience_us {
                self.find(FrameFault::Silence, None);
            }
            if !shown.inputs.stop.is_closed() {
                self.find(FrameFault::Stop, None);
            }
        }
    }

    /// What a leg is told since the last tick.
    pub(super) fn told(&self, leg: usize) -> Told {
        Told {
            power: self.has_power(),
            release: self.release,
            reference_m: self.motion.reference_m[leg] - self.motion.zero_m[leg],
            force_limit_n: self.order.map_or(0.0, |order| order.force_limits_n[leg]),
        }
    }

    /// One tick of `tick_us`.
    pub(super) fn tick(&mut self, now_us: u64, tick_us: u64, legs: &[Leg], shown: &Shown) {
        let (kind, opens) = self.order.map_or((OrderKind::Off, false), |order| (order.kind, order.release));
        self.opening_us = if opens && self.has_power() { self.opening_us + tick_us } else { 0 };
        self.look(now_us, legs, shown);
        if self.fault.is_some() && self.has_power() {
            self.state = PowerState::Stop;
        }
        if kind == OrderKind::Off {
            self.switch_off(now_us, legs, shown);
        } else if self.state == PowerState::Off && self.fault.is_none() {
            let fresh = now_us.saturating_sub(self.came_us) < self.patience_us;
            if fresh && shown.inputs.stop.is_closed() {
                // Whatever was asked: first torque, where it stands.
                self.state = PowerState::Hold;
            }
        } else if self.has_power() && self.state != PowerState::Stop {
            self.heed(kind, shown.all_released && opens);
        }
        self.move_on(now_us, tick_us, legs, shown);
        // A leg without torque is driven by its load: nothing stops it but its brake, whatever else was wrong first.
        let driven = legs.iter().all(|leg| !leg.is_broken);
        self.release = self.has_power() && opens && driven && !self.stands;
    }

    /// At once: that is what the order is for. A fault that the program has seen ends when its cause has.
    fn switch_off(&mut self, now_us: u64, legs: &[Leg], shown: &Shown) {
        let had_power = self.has_power();
        if !had_power {
            self.fault = None;
        }
        self.state = PowerState::Off;
        self.look(now_us, legs, shown);
        if self.fault.is_some() {
            self.state = PowerState::Fault;
        }
    }

    /// Set-points move only with brakes confirmed off, whatever the order says.
    fn heed(&mut self, kind: OrderKind, released: bool) {
        let windows_m = Legs::from_fn(self.motion.reference_m.len(), |leg| self.window_m(leg));
        let homed = self.motion.homed;
        let next = match kind {
            _ if !released => PowerState::Hold,
            OrderKind::Follow if homed && self.motion.is_led() => PowerState::Follow,
            // Once for as long as it is asked.
            OrderKind::Home if !self.homes || !homed => PowerState::Home,
            OrderKind::Jog => PowerState::Jog,
            _ => PowerState::Hold,
        };
        if next == PowerState::Home && self.state != PowerState::Home {
            self.motion.begin_homing();
        }
        self.homes = kind == OrderKind::Home && (self.homes || next == PowerState::Home);
        if next != PowerState::Follow {
            self.motion.forget();
        } else if self.state != PowerState::Follow
            && let Some(leg) = self.motion.join(&windows_m)
        {
            self.find(FrameFault::Following, Some(leg));
            return;
        }
        self.state = next;
    }

    fn move_on(&mut self, now_us: u64, tick_us: u64, legs: &[Leg], shown: &Shown) {
        let tick_s = tick_us as f64 * 1e-6;
        self.stands = false;
        match self.state {
            PowerState::Off | PowerState::Fault => self.motion.stand(legs),
            PowerState::Hold => _ = self.motion.slow(tick_s),
            PowerState::Jog => {
                let wanted = self.order.map_or(Legs::filled(legs.len(), 0.0), |order| order.speeds_m_s);
                self.motion.jog(&wanted, legs, tick_s);
            }
            PowerState::Follow => {
                if let Some(leg) = self.motion.follow(now_us as f64, tick_s) {
                    self.find(FrameFault::Following, Some(leg));
                }
            }
            PowerState::Home => {
                if let Homed::Failed(leg) = self.motion.home(legs, tick_s) {
                    self.find(FrameFault::Homing, Some(leg));
                }
            }
            PowerState::Stop => {
                self.stands = self.motion.slow(tick_s);
                // Torque stays until the brakes hold.
                if self.stands && shown.all_set {
                    self.state = PowerState::Fault;
                }
            }
        }
    }
}
