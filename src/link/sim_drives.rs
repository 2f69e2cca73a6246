//! Simulated drives: the whole far end in this program. A controller that holds, follows, jogs, homes and stops by
//! itself; legs with brakes, inputs, end switches and a load; and every fault at will. What is sent to it at the same
//! times gives the same reports.
//!
//! Cannot: move anything that is real.

mod act;
mod controller;
mod leg;
mod motion;

pub use act::{SimAct, SimFault, SimInput};

use super::frame::PowerState;
use super::{DriveLink, DriveOrder, DriveReport, DriveTime, FarEnd, LinkFault};
use crate::rig::{Carried, Rig};
use crate::safety::operation::{Brakes, Input, Inputs};
use crate::safety::{Legs, MAX_LEGS};
use controller::{Controller, Shown};
use leg::{Leg, Rub};
use rtrb::{Consumer, Producer, RingBuffer};
use std::collections::VecDeque;

/// The controller's tick, microseconds.
const TICK_US: u64 = 500;

/// The step of the legs, microseconds.
const STEP_US: u64 = 50;

/// The longest time that one poll simulates, microseconds: long enough for every stop; what is asked beyond it is passed
/// over.
const LONGEST_POLL_US: u64 = 10_000_000;

/// Orders that can be under way when they come late.
const UNDER_WAY: usize = 4096;

/// Acts that can wait.
const ACTS: usize = 64;

/// The hand that does things to simulated drives while something else plays on them.
#[derive(Debug)]
pub struct SimHand(Producer<SimAct>);

impl SimHand {
    /// Does `act` before the next report. False when nobody plays any more, or too much waits.
    pub fn act(&mut self, act: SimAct) -> bool {
        !self.0.is_abandoned() && self.0.push(act).is_ok()
    }
}

/// How orders get through.
#[derive(Debug, Clone, Default)]
struct Hearing {
    mute: bool,
    deaf: bool,
    corrupt: bool,
    twice: bool,
    swapped: bool,
    held: Option<DriveOrder>,
    late_us: u64,
    under_way: VecDeque<(u64, DriveOrder)>,
}

/// A platform that somebody has knocked on.
#[derive(Debug, Clone, Copy)]
struct Ringing {
    from_us: u64,
    frequency_hz: f64,
    force_n: f64,
}

impl Ringing {
    /// What a leg reports of it, N: damped by three parts of a hundred (a steel frame with joints, from memory).
    fn force_n(&self, now_us: u64) -> f64 {
        let angle = std::f64::consts::TAU * self.frequency_hz * (now_us - self.from_us) as f64 * 1e-6;
        self.force_n * libm::exp(-0.03 * angle) * libm::cos(angle)
    }
}

/// Simulated drives of a rig.
#[derive(Debug)]
pub struct SimDrives {
    rig: Rig,
    far: FarEnd,
    acts: Consumer<SimAct>,
    hearing: Hearing,
    controller: Controller,
    legs: Vec<Leg>,
    inputs: Inputs,
    brakes_stick: bool,
    /// Another rig answers than at first.
    is_stranger: bool,
    ringing: Option<Ringing>,
    carried: Carried,
    now_us: u64,
    /// When the newest order was sent, as far as it has been answered.
    sent_us: Option<u64>,
}

impl SimDrives {
    /// Drives of the rig of a rig file, off and braked at `at_m` (m, one a leg; its park lengths where a leg has none),
    /// homed, everything closed but the presence input; and the hand for them.
    pub fn new(rig: &Rig, at_m: &[f64]) -> (Self, SimHand) {
        let (hand, acts) = RingBuffer::new(ACTS);
        let at = |(i, leg): (usize, &crate::rig::Actuator)| at_m.get(i).copied().unwrap_or(leg.park_m);
        let stand: Vec<f64> = rig.actuators.iter().take(MAX_LEGS).enumerate().map(at).collect();
        let legs: Vec<Leg> =
            rig.actuators.iter().zip(&stand).map(|(leg, at_m)| Leg::new(rig, leg, *at_m)).collect();
        let drives = Self {
            far: FarEnd {
                name: "simulated drives".to_string(),
                legs: legs.len(),
                cycle_us: rig.drive.cycle_us,
                firmware: 0x0001_0000,
                parameters: 0,
                serials: (1..=legs.len() as u64).collect(),
            },
            acts,
            hearing: Hearing { under_way: VecDeque::with_capacity(UNDER_WAY), ..Hearing::default() },
            controller: Controller::new(rig, &Legs::from_fn(legs.len(), |leg| stand[leg])),
            legs,
            inputs: Inputs { presence: Input::Open, ..Inputs::CLOSED },
            brakes_stick: false,
            is_stranger: false,
            ringing: None,
            carried: Carried::default(),
            now_us: 0,
            sent_us: None,
            rig: rig.clone(),
        };
        (drives, SimHand(hand))
    }

    /// The true lengths, m.
    pub fn lengths_m(&self) -> Legs {
        Legs::from_fn(self.legs.len(), |leg| self.legs[leg].at_m)
    }

    /// The true speeds, m/s.
    pub fn speeds_m_s(&self) -> Legs {
        Legs::from_fn(self.legs.len(), |leg| self.legs[leg].rate_m_s)
    }

    /// Whether all brakes hold.
    pub fn is_braked(&self) -> bool {
        self.legs.iter().all(|leg| leg.braked)
    }

    /// Whether the controller stops by itself.
    pub fn is_stopping(&self) -> bool {
        self.controller.state == PowerState::Stop
    }

    /// Whether the warning sounds.
    pub fn is_warning(&self) -> bool {
        self.controller.is_warning()
    }

    /// Does something to them.
    pub fn act(&mut self, act: SimAct) {
        match act {
            SimAct::Input(SimInput::Presence, input) => self.inputs.presence = input,
            SimAct::Input(SimInput::Gate, input) => self.inputs.gate = input,
            SimAct::Input(SimInput::Mat, input) => self.inputs.mat = input,
            SimAct::Input(SimInput::Belt, input) => self.inputs.belt = input,
            SimAct::Input(SimInput::Stop, input) => self.inputs.stop = input,
            SimAct::Fault(fault) => self.break_down(fault),
            SimAct::Tap { frequency_hz, force_n } => {
                self.ringing = Some(Ringing { from_us: self.now_us, frequency_hz, force_n });
            }
            SimAct::Clear => {
                self.legs.iter_mut().for_each(Leg::mend);
                self.brakes_stick = false;
                let under_way = std::mem::take(&mut self.hearing.under_way);
                self.hearing = Hearing { under_way, ..Hearing::default() };
            }
        }
    }

    fn break_down(&mut self, fault: SimFault) {
        let hearing = &mut self.hearing;
        match fault {
            SimFault::Mute => hearing.mute = true,
            SimFault::Deaf => hearing.deaf = true,
            SimFault::Late { by_us } => hearing.late_us = by_us,
            SimFault::Twice => hearing.twice = true,
            SimFault::Swapped => hearing.swapped = true,
            SimFault::Corrupt => hearing.corrupt = true,
            SimFault::BrakesStick => self.brakes_stick = true,
            SimFault::Stranger => {
                self.is_stranger = true;
                self.far.serials.iter_mut().for_each(|serial| *serial += 1_000);
            }
            SimFault::Unhomed => {
                for (i, leg) in self.legs.iter_mut().enumerate() {
                    self.controller.motion.lost(i, leg.lose_count());
                }
            }
            SimFault::Drive { leg }
            | SimFault::Hot { leg }
            | SimFault::EndSwitch { leg }
            | SimFault::Slip { leg, .. }
            | SimFault::Snag { leg, .. }
            | SimFault::Rub { leg, .. }
            | SimFault::Push { leg, .. } => {
                let Some(leg) = self.legs.get_mut(leg) else { return };
                match fault {
                    SimFault::Drive { .. } => leg.is_broken = true,
                    SimFault::Hot { .. } => leg.is_hot = true,
                    SimFault::EndSwitch { .. } => leg.has_open_switch = true,
                    SimFault::Slip { by_m, .. } => leg.slip_m += by_m,
                    SimFault::Snag { force_n, .. } => leg.snag_n = force_n,
                    SimFault::Rub { force_n, way_m, .. } => leg.rub = Rub::new(force_n, way_m),
                    SimFault::Push { by_m, .. } => leg.push(by_m),
                    _ => {}
                }
            }
        }
    }

    fn shown(&self) -> Shown {
        let told = |leg: usize| self.controller.told(leg).release;
        let every = |braked: bool| {
            !self.brakes_stick
                && self.legs.iter().enumerate().all(|(i, leg)| leg.braked == braked && told(i) != braked)
        };
        Shown { inputs: self.inputs, all_set: every(true), all_released: every(false) }
    }

    /// Lets time pass.
    fn go_on(&mut self, now: DriveTime) {
        while let Ok(act) = self.acts.pop() {
            self.act(act);
        }
        if now.0 > self.now_us + LONGEST_POLL_US {
            self.now_us = now.0 - LONGEST_POLL_US;
        }
        while self.now_us + TICK_US <= now.0 {
            self.now_us += TICK_US;
            while let Some((due_us, order)) = self.hearing.under_way.front().copied() {
                if due_us > self.now_us {
                    break;
                }
                self.hearing.under_way.pop_front();
                self.controller.take(self.now_us, &order);
            }
            let shown = self.shown();
            self.controller.tick(self.now_us, TICK_US, &self.legs, &shown);
            for (i, leg) in self.legs.iter_mut().enumerate() {
                let told = self.controller.told(i);
                let before_m_s = leg.rate_m_s;
                for _ in 0..TICK_US / STEP_US {
                    leg.go_on(STEP_US, &told, self.brakes_stick);
                }
                // Not of one step: a reference that moves tick by tick makes legs hurry and wait within each.
                let up_m_s2 = (leg.rate_m_s - before_m_s) / (TICK_US as f64 * 1e-6);
                leg.acceleration_m_s2 = if leg.braked { 0.0 } else { up_m_s2 };
            }
        }
    }

    fn hear(&mut self, now: DriveTime, order: &DriveOrder) {
        if self.hearing.under_way.len() == UNDER_WAY {
            self.controller.rejected += 1;
            return;
        }
        self.hearing.under_way.push_back((now.0 + self.hearing.late_us, *order));
    }

    fn report(&mut self, now: DriveTime) -> DriveReport {
        let count = self.legs.len();
        let each = |value: &dyn Fn(&Leg) -> f64| Legs::from_fn(count, |i| value(&self.legs[i]));
        let lengths_m = Legs::from_fn(count, |i| self.controller.motion.length_m(i, &self.legs[i]));
        let speeds_m_s = each(&|leg| leg.rate_m_s);
        let (at_m, up_m_s2) = (each(&|leg| leg.at_m), each(&|leg| leg.acceleration_m_s2));
        let carried = self.carried.legs_n(&self.rig, &at_m, &speeds_m_s, &up_m_s2);
        let shown = self.shown();
        let power = self.controller.told(0).power;
        let rings_n = self.ringing.map_or(0.0, |ringing| ringing.force_n(self.now_us));
        DriveReport {
            round_trip_us: self.sent_us.map(|sent_us| now.0.saturating_sub(sent_us)),
            state: self.controller.state,
            brakes: match (shown.all_set, shown.all_released) {
                (true, _) => Brakes::Set,
                (_, true) => Brakes::Released,
                _ => Brakes::Unknown,
            },
            inputs: self.inputs,
            power: power && self.legs.iter().all(|leg| !leg.is_broken),
            homed: self.controller.motion.homed,
            moving: self.controller.is_moving(),
            fault: self.controller.fault,
            cause: None,
            lengths_m,
            speeds_m_s,
            forces_n: Legs::from_fn(count, |i| match carried {
                // Brakes carry what no torque does.
                _ if !power => 0.0,
                Some(carried) => carried[i] + self.legs[i].snag_n + self.legs[i].rub.force_n + rings_n,
                None => f64::NAN,
            }),
            temperatures_c: each(&|leg| if leg.is_hot { 95.0 } else { 30.0 }),
            rejected: self.controller.rejected,
        }
    }
}

impl DriveLink for SimDrives {
    fn identify(&mut self, now: DriveTime) -> Result<Option<FarEnd>, LinkFault> {
        self.go_on(now);
        Ok((!self.hearing.mute && !self.hearing.deaf).then(|| self.far.clone()))
    }

    fn poll(&mut self, now: DriveTime) -> Result<Option<DriveReport>, LinkFault> {
        self.go_on(now);
        if self.is_stranger && self.sent_us.is_some() && !self.hearing.mute {
            return Err(LinkFault::Stranger);
        }
        Ok((!self.hearing.mute).then(|| self.report(now)))
    }

    fn send(&mut self, now: DriveTime, order: &DriveOrder) -> Result<(), LinkFault> {
        self.go_on(now);
        order.is_for(self.legs.len())?;
        let numbers = order.lengths_m.iter().chain(order.speeds_m_s.iter());
        if numbers
            .chain(order.force_limits_n.iter())
            .chain(order.windows_m.iter())
            .any(|value| value.is_nan())
        {
            return Err(LinkFault::NotANumber);
        }
        if self.hearing.deaf {
            return Ok(());
        }
        if self.hearing.corrupt {
            self.controller.rejected += 1;
            return Ok(());
        }
        self.sent_us = Some(now.0);
        if self.hearing.swapped {
            match self.hearing.held.take() {
                None => self.hearing.held = Some(*order),
                Some(held) => {
                    self.hear(now, order);
                    self.hear(now, &held);
                }
            }
            return Ok(());
        }
        self.hear(now, order);
        if self.hearing.twice {
            self.hear(now, order);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests;
