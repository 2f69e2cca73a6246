//! The simulated rig: a second-order position loop a leg, with delay, interpolation, limits and an encoder.
//!
//! It is integrated at a fixed step, so that the same set-points at the same times give the same bytes.

use super::servo::{self, Servo};
use super::{DriveFault, DriveTime, EngagedLink, Feedback, Identity, Link, LinkFault, SetPoints};
use crate::rig::{Drive, Interpolation, Rig};
use crate::safety::{Legs, MAX_LEGS};
use std::collections::VecDeque;

/// The longest internal step, microseconds.
const STEP_US: u64 = 50;

/// The longest time that one poll simulates, microseconds; what is asked beyond it is passed over at rest.
const LONGEST_POLL_US: u64 = 10_000_000;

#[derive(Debug, Clone, Copy)]
struct SimLeg {
    min_m: f64,
    max_m: f64,
    count_m: f64,
    servo: Servo,
    at_m: f64,
    rate_m_s: f64,
    /// Added to what the encoder shows: a slipped coupling, for tests.
    slip_m: f64,
}

/// The simulated rig, released.
#[derive(Debug, Clone)]
pub struct SimRig {
    name: String,
    drive: Drive,
    legs: Vec<SimLeg>,
    now_us: u64,
    step_us: u64,
    points: VecDeque<SetPoints>,
    newest: Option<u64>,
    fault: Option<DriveFault>,
    silent: bool,
}

/// The simulated rig, engaged.
#[derive(Debug, Clone)]
pub struct EngagedSim(SimRig);

impl SimRig {
    /// The rig of a rig file, at rest at `at_m` (m, one a leg; its park lengths where a leg has none).
    pub fn new(rig: &Rig, at_m: &[f64]) -> Self {
        let legs = rig.actuators.iter().take(MAX_LEGS).enumerate().map(|(leg, a)| SimLeg {
            min_m: a.min_m,
            max_m: a.max_m,
            count_m: a.lead_m / f64::from(rig.drive.counts_per_turn.max(1)),
            servo: Servo::new(&rig.drive, a),
            at_m: at_m.get(leg).copied().unwrap_or(a.park_m),
            rate_m_s: 0.0,
            slip_m: 0.0,
        });
        let cycle_us = u64::from(rig.drive.cycle_us.max(1));
        let step_us = (1..=STEP_US).rev().find(|step| cycle_us.is_multiple_of(*step)).unwrap_or(1);
        Self {
            name: rig.name.clone(),
            drive: rig.drive.clone(),
            legs: legs.collect(),
            now_us: 0,
            step_us,
            points: VecDeque::new(),
            newest: None,
            fault: None,
            silent: false,
        }
    }

    /// From now on leg `leg`'s encoder shows `by_m` more than there is: for tests of what trips.
    pub fn slip_encoder(&mut self, leg: usize, by_m: f64) {
        if let Some(leg) = self.legs.get_mut(leg) {
            leg.slip_m += by_m;
        }
    }

    /// From now on nobody answers (or again): for tests of a lost link.
    pub fn set_silent(&mut self, silent: bool) {
        self.silent = silent;
    }

    /// The true lengths, m.
    pub fn lengths_m(&self) -> Legs {
        Legs::from_fn(self.legs.len(), |leg| self.legs[leg].at_m)
    }

    /// The true speeds, m/s.
    pub fn speeds_m_s(&self) -> Legs {
        Legs::from_fn(self.legs.len(), |leg| self.legs[leg].rate_m_s)
    }

    fn identity(&self) -> Result<Identity, LinkFault> {
        if self.silent {
            return Err(LinkFault::Silent);
        }
        Ok(Identity { name: self.name.clone(), legs: self.legs.len(), cycle_us: self.drive.cycle_us })
    }

    fn feedback(&mut self, now: DriveTime, engaged: bool) -> Result<Feedback, LinkFault> {
        self.advance(now, engaged);
        if self.silent {
            return Err(LinkFault::Silent);
        }
        let measured_m = Legs::from_fn(self.legs.len(), |leg| {
            let leg = &self.legs[leg];
            leg.min_m + ((leg.at_m + leg.slip_m - leg.min_m) / leg.count_m).round() * leg.count_m
        });
        Ok(Feedback { at: now, sequence: self.newest, measured_m, fault: self.fault })
    }

    fn advance(&mut self, now: DriveTime, engaged: bool) {
        let until = now.0.min(self.now_us.saturating_add(LONGEST_POLL_US));
        while engaged && self.now_us + self.step_us <= until {
            self.now_us += self.step_us;
            self.step();
        }
        if !engaged || now.0 > until {
            self.now_us = self.now_us.max(now.0);
        }
    }

    fn step(&mut self) {
        let step_s = self.step_us as f64 * 1e-6;
        let seen_us = self.seen_us();
        self.notice_silence(seen_us);
        self.forget(seen_us);
        for leg in 0..self.legs.len() {
            let target_m = self.reference_m(leg, seen_us);
            let Some(l) = self.legs.get_mut(leg) else { continue };
            let target_m = target_m.unwrap_or(l.at_m);
            let gain = l.servo.pull_m_s2(target_m, l.at_m, l.rate_m_s, f64::INFINITY) * step_s;
            let before = l.rate_m_s;
            l.rate_m_s = l.servo.fast_m_s(before + gain);
            l.at_m += 0.5 * (before + l.rate_m_s) * step_s;
            if l.at_m < l.min_m || l.at_m > l.max_m {
                l.at_m = l.at_m.clamp(l.min_m, l.max_m);
                l.rate_m_s = 0.0;
                self.fault.get_or_insert(DriveFault::EndStop { leg });
            }
        }
    }

    /// The time whose set-points have their effect now, microseconds.
    fn seen_us(&self) -> f64 {
        self.now_us as f64 - late_s(&self.drive) * 1e6
    }

    fn notice_silence(&mut self, seen_us: f64) {
        let newest = self.points.back().map(|p| p.apply_at.0 as f64);
        if newest.is_some_and(|newest| seen_us > newest + self.drive.patience_us() as f64) {
            self.fault.get_or_insert(DriveFault::Silence);
        }
    }

    /// Drops set-points that no interpolation needs any more.
    fn forget(&mut self, seen_us: f64) {
        while self.points.get(2).is_some_and(|p| (p.apply_at.0 as f64) < seen_us) {
            self.points.pop_front();
        }
    }

    /// What the drive interpolates at `at_us`, m; the last set-point beyond the last.
    fn reference_m(&self, leg: usize, at_us: f64) -> Option<f64> {
        let point = |index: usize| self.points.get(index).map(|p| (p.apply_at.0 as f64, p.lengths_m[leg]));
        let after = self.points.iter().position(|p| p.apply_at.0 as f64 > at_us);
        let Some(after) = after else { return self.points.back().map(|p| p.lengths_m[leg]) };
        let Some(before) = after.checked_sub(1) else { return point(0).map(|(_, x)| x) };
        let ((t0, x0), (t1, x1)) = (point(before)?, point(after)?);
        let share = (at_us - t0) / (t1 - t0);
        match self.drive.interpolation {
            Interpolation::Linear => Some(x0 + share * (x1 - x0)),
            Interpolation::Cubic => {
                // Slopes from the neighbours on either side; the chord at the ends.
                let slope = |a: (f64, f64), b: (f64, f64)| (b.1 - a.1) / (b.0 - a.0) * (t1 - t0);
                let m0 = slope(before.checked_sub(1).and_then(point).unwrap_or((t0, x0)), (t1, x1));
                let m1 = slope((t0, x0), point(after + 1).unwrap_or((t1, x1)));
                let (u, u2, u3) = (share, share * share, share * share * share);
                Some(
                    (2.0 * u3 - 3.0 * u2 + 1.0) * x0
                        + (u3 - 2.0 * u2 + u) * m0
                        + (3.0 * u2 - 2.0 * u3) * x1
                        + (u3 - u2) * m1,
                )
            }
        }
    }
}

/// How far legs are behind set-points that go slowly, s: link, delay, interpolation and position loop.
pub fn lag_s(drive: &Drive) -> f64 {
    late_s(drive) + servo::lag_s(drive)
}

/// How much later than it should a set-point has its effect, s. The link's time counts only as far as set-points are not
/// sent ahead by it: they are sent a cycle ahead of when they apply.
fn late_s(drive: &Drive) -> f64 {
    let cycle_s = f64::from(drive.cycle_us) * 1e-6;
    let behind_s = match drive.interpolation {
        Interpolation::Linear => 0.0,
        Interpolation::Cubic => cycle_s,
    };
    drive.delay_s + (drive.link_s - cycle_s).max(0.0) + behind_s
}

impl Link for SimRig {
    type Engaged = EngagedSim;

    fn identify(&mut self) -> Result<Identity, LinkFault> {
        self.identity()
    }

    fn poll(&mut self, now: DriveTime) -> Result<Feedback, LinkFault> {
        self.feedback(now, false)
    }

    fn engage(mut self, now: DriveTime) -> Result<EngagedSim, (Self, LinkFault)> {
        match self.feedback(now, false) {
            Err(fault) => Err((self, fault)),
            Ok(Feedback { fault: Some(_), .. }) => Err((self, LinkFault::Drives)),
            Ok(_) => {
                self.points.clear();
                Ok(EngagedSim(self))
            }
        }
    }
}

impl EngagedSim {
    /// The rig itself: what is true in it, and what tests do to it.
    pub fn rig(&mut self) -> &mut SimRig {
        &mut self.0
    }
}

impl EngagedLink for EngagedSim {
    type Idle = SimRig;

    fn send(&mut self, set_points: &SetPoints) -> Result<(), LinkFault> {
        let rig = &mut self.0;
        if rig.silent {
            return Err(LinkFault::Silent);
        }
        let (found, expected) = (set_points.lengths_m.len(), rig.legs.len());
        if found != expected {
            return Err(LinkFault::Count { found, expected });
        }
        if set_points.lengths_m.iter().any(|x| !x.is_finite()) {
            return Err(LinkFault::NotANumber);
        }
        let late = rig.newest.is_some_and(|newest| set_points.sequence <= newest)
            || rig.points.back().is_some_and(|last| set_points.apply_at <= last.apply_at);
        if late {
            return Err(LinkFault::Order);
        }
        rig.newest = Some(set_points.sequence);
        rig.points.push_back(*set_points);
        Ok(())
    }

    fn poll(&mut self, now: DriveTime) -> Result<Feedback, LinkFault> {
        self.0.feedback(now, true)
    }

    fn release(mut self) -> SimRig {
        self.0.points.clear();
        self.0.newest = None;
        // The simulated drives have brakes that hold at once.
        self.0.legs.iter_mut().for_each(|leg| leg.rate_m_s = 0.0);
        self.0
    }
}

#[cfg(test)]
mod tests;
