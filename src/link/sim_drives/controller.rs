//! The simulated controller: what it makes of orders, and how it stops by itself. Torque comes before brakes open, and
//! brakes close before torque goes; it never homes, parks or starts by itself.

use super::leg::{Leg, Told};
use crate::link::DriveOrder;
use crate::link::frame::{FrameFault, OrderKind, PowerState};
use crate::rig::Rig;
use crate::safety::Legs;
use crate::safety::operation::Inputs;
use std::collections::VecDeque;

/// Brakes that were told to open and are not confirmed after this long are a fault, microseconds.
const BRAKE_PATIENCE_US: u64 = 500_000;

/// Fastest in jog and homing, m/s (own choice: a hand has time to let go).
const CREEP_M_S: f64 = 0.02;

/// A leg further than this from where it should be is a fault, m.
const FOLLOWING_M: f64 = 0.012;

/// How far a leg is backed off from its soft end once homed, m.
const BACK_OFF_M: f64 = 0.007;

/// Set-points that are kept for drawing lines between them.
const POINTS: usize = 16;

/// A stop along the line that the platform was on: all legs lose the same share of their speed.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Stopping {
    rates_m_s: Legs,
    length_us: u64,
    gone_us: u64,
}

/// How far homing has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Homing {
    /// Towards the short ends; each leg waits on its switch for the others.
    Down,
    /// All back off together.
    Off,
}

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
    low_m: Legs,
    high_m: Legs,
    home_m: Legs,
    braking_m_s2: Legs,
    patience_us: u64,
    pub(super) state: PowerState,
    pub(super) homed: bool,
    pub(super) fault: Option<(FrameFault, Option<usize>)>,
    pub(super) rejected: u32,
    order: Option<DriveOrder>,
    /// When the newest order came, microseconds.
    came_us: u64,
    points: VecDeque<(f64, Legs)>,
    reference_m: Legs,
    rate_m_s: Legs,
    /// What the first set-point was away from where the legs stood: taken out slowly.
    join_m: Legs,
    stopping: Option<Stopping>,
    homing: Homing,
    /// The reference has been looked for since that was asked.
    homes: bool,
    /// How long brakes have been told to open, microseconds.
    opening_us: u64,
    release: bool,
}

impl Controller {
    pub(super) fn new(rig: &Rig, at_m: &Legs) -> Self {
        let legs = at_m.len();
        let each =
            |value: &dyn Fn(&crate::rig::Actuator) -> f64| Legs::from_fn(legs, |i| value(&rig.actuators[i]));
        Self {
            low_m: each(&|leg| leg.min_m + 0.5 * leg.soft_stop_m),
            high_m: each(&|leg| leg.max_m - 0.5 * leg.soft_stop_m),
            home_m: each(&|leg| leg.park_m.min(leg.min_m + leg.soft_stop_m + BACK_OFF_M)),
            braking_m_s2: each(&|leg| leg.acceleration_m_s2),
            patience_us: rig.drive.patience_us(),
            state: PowerState::Off,
            homed: true,
            fault: None,
            rejected: 0,
            order: None,
            came_us: 0,
            points: VecDeque::with_capacity(POINTS),
            reference_m: *at_m,
            rate_m_s: Legs::filled(legs, 0.0),
            join_m: Legs::filled(legs, 0.0),
            stopping: None,
            homing: Homing::Down,
            homes: false,
            opening_us: 0,
            release: false,
        }
    }

    /// Whether legs are moved by its own doing.
    pub(super) fn is_moving(&self) -> bool {
        self.state != PowerState::Follow && self.rate_m_s.iter().any(|rate| *rate != 0.0)
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
        if order.kind == OrderKind::Follow {
            if self.points.len() == POINTS {
                self.points.pop_front();
            }
            self.points.push_back((order.apply_at.0 as f64, order.lengths_m));
        } else {
            self.points.clear();
        }
    }

    fn find(&mut self, fault: FrameFault, leg: Option<usize>) {
        self.fault.get_or_insert((fault, leg));
    }

    fn has_power(&self) -> bool {
        !matches!(self.state, PowerState::Off | PowerState::Fault)
    }

    fn look(&mut self, now_us: u64, legs: &[Leg], shown: &Shown) {
        let moves = self.has_power() && self.state != PowerState::Hold;
        let homes = self.state == PowerState::Home || !self.homed;
        for (i, leg) in legs.iter().enumerate() {
            if leg.is_broken {
                self.find(FrameFault::Drive, Some(i));
            }
            if leg.is_hot {
                self.find(FrameFault::Hot, Some(i));
            }
            let at_end = (leg.is_short() && !homes) || leg.is_long();
            if moves && (leg.has_open_switch || at_end && self.state != PowerState::Jog) {
                self.find(FrameFault::EndSwitch, Some(i));
            }
            if moves && (leg.measured_m() - self.reference_m[i]).abs() > FOLLOWING_M {
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
            reference_m: self.reference_m[leg],
            force_limit_n: self.order.map_or(0.0, |order| order.force_limits_n[leg]),
        }
    }

    /// One tick of `tick_us`.
    pub(super) fn tick(&mut self, now_us: u64, tick_us: u64, legs: &[Leg], shown: &Shown) {
        let (kind, opens) = self.order.map_or((OrderKind::Off, false), |order| (order.kind, order.release));
        self.opening_us = if opens && self.has_power() { self.opening_us + tick_us } else { 0 };
        self.look(now_us, legs, shown);
        if self.fault.is_some() && self.has_power() {
            self.begin_stop();
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
        let stands = self.stopping.is_some_and(|stop| stop.gone_us >= stop.length_us);
        // A leg without torque is driven by its load: nothing stops it but its brake.
        let is_broken = matches!(self.fault, Some((FrameFault::Drive, _)));
        self.release = self.has_power() && opens && !stands && !is_broken;
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
        let next = match kind {
            _ if !released => PowerState::Hold,
            OrderKind::Follow if self.homed && !self.points.is_empty() => PowerState::Follow,
            // Once for as long as it is asked.
            OrderKind::Home if !self.homes || !self.homed => PowerState::Home,
            OrderKind::Jog => PowerState::Jog,
            _ => PowerState::Hold,
        };
        if next == PowerState::Home && self.state != PowerState::Home {
            (self.homing, self.homed) = (Homing::Down, false);
        }
        self.homes = kind == OrderKind::Home && (self.homes || next == PowerState::Home);
        if next != PowerState::Follow {
            self.points.clear();
        } else if self.state != PowerState::Follow {
            // The first set-point is hardly where the legs stand to a micrometre: no step of it.
            let first = self.points.front().map_or(self.reference_m, |(_, lengths)| *lengths);
            self.join_m = Legs::from_fn(first.len(), |leg| self.reference_m[leg] - first[leg]);
        }
        self.state = next;
    }

    fn begin_stop(&mut self) {
        if self.state == PowerState::Stop {
            return;
        }
        let needs_s =
            self.rate_m_s.iter().zip(self.braking_m_s2.iter()).map(|(rate, most)| rate.abs() / most);
        let length_us = (needs_s.fold(0.0, f64::max) * 1e6) as u64;
        self.stopping = Some(Stopping { rates_m_s: self.rate_m_s, length_us, gone_us: 0 });
        self.state = PowerState::Stop;
    }

    fn move_on(&mut self, now_us: u64, tick_us: u64, legs: &[Leg], shown: &Shown) {
        let tick_s = tick_us as f64 * 1e-6;
        if self.state != PowerState::Stop {
            self.stopping = None;
        }
        match self.state {
            PowerState::Off | PowerState::Fault => {
                for (i, leg) in legs.iter().enumerate() {
                    (self.reference_m[i], self.rate_m_s[i]) = (leg.measured_m(), 0.0);
                }
            }
            PowerState::Hold => (0..legs.len()).for_each(|leg| self.creep(leg, 0.0, tick_s)),
            PowerState::Jog => {
                let wanted = self.order.map_or(Legs::filled(legs.len(), 0.0), |order| order.speeds_m_s);
                (0..legs.len()).for_each(|leg| self.creep(leg, wanted[leg], tick_s));
            }
            PowerState::Follow => self.follow(now_us as f64, tick_s),
            PowerState::Home => self.home(legs, tick_s),
            PowerState::Stop => {
                let Some(stop) = &mut self.stopping else { return };
                stop.gone_us += tick_us;
                let left = 1.0 - stop.gone_us as f64 / stop.length_us.max(1) as f64;
                let rates = stop.rates_m_s;
                (0..legs.len()).for_each(|leg| self.go(leg, left.max(0.0) * rates[leg], tick_s));
                // Torque stays until the brakes hold.
                if left <= 0.0 && shown.all_set {
                    self.state = PowerState::Fault;
                }
            }
        }
    }

    fn go(&mut self, leg: usize, rate_m_s: f64, tick_s: f64) {
        let next = self.reference_m[leg] + rate_m_s * tick_s;
        self.rate_m_s[leg] = rate_m_s;
        // Soft ends hold only where it is known where the legs are.
        self.reference_m[leg] = if self.homed { next.clamp(self.low_m[leg], self.high_m[leg]) } else { next };
    }

    /// Towards a wanted speed, no harder than the leg may be braked.
    fn creep(&mut self, leg: usize, wanted_m_s: f64, tick_s: f64) {
        let most = self.braking_m_s2[leg] * tick_s;
        let change = wanted_m_s.clamp(-CREEP_M_S, CREEP_M_S) - self.rate_m_s[leg];
        self.go(leg, self.rate_m_s[leg] + change.clamp(-most, most), tick_s);
    }

    /// Set-points at a time between them: a straight line; beyond the last, on at the same rate until silence is
    /// noticed.
    fn follow(&mut self, now_us: f64, tick_s: f64) {
        while self.points.len() > 2 && self.points.get(1).is_some_and(|(at_us, _)| *at_us <= now_us) {
            self.points.pop_front();
        }
        let Some((from_us, from)) = self.points.front().copied() else { return };
        let (to_us, to) = self.points.get(1).copied().unwrap_or((from_us + 1.0, from));
        let share = ((now_us - from_us) / (to_us - from_us)).max(0.0);
        let fade = 0.1 * CREEP_M_S * tick_s;
        for leg in 0..from.len() {
            self.join_m[leg] -= self.join_m[leg].clamp(-fade, fade);
            let next = from[leg] + share * (to[leg] - from[leg]) + self.join_m[leg];
            self.go(leg, (next - self.reference_m[leg]) / tick_s, tick_s);
        }
    }

    fn home(&mut self, legs: &[Leg], tick_s: f64) {
        let mut there = true;
        for (i, leg) in legs.iter().enumerate() {
            match self.homing {
                Homing::Down => {
                    self.creep(i, if leg.is_short() { 0.0 } else { -CREEP_M_S }, tick_s);
                    there &= leg.is_short();
                }
                Homing::Off => {
                    let left_m = self.home_m[i] - self.reference_m[i];
                    let speed_m_s = (self.braking_m_s2[i] * left_m.abs()).sqrt();
                    let is_near = left_m.abs() < 1e-6;
                    self.creep(i, if is_near { 0.0 } else { speed_m_s.copysign(left_m) }, tick_s);
                    there &= is_near;
                }
            }
            there &= self.rate_m_s[i] == 0.0;
        }
        match self.homing {
            Homing::Down if there => self.homing = Homing::Off,
            Homing::Off if there => self.homed = true,
            _ => {}
        }
    }
}
