//! How the simulated controller's references move: along set-points, in a jog, in homing, and to rest.
//!
//! Whatever is asked, a reference goes no faster than its leg may, its speed changes no harder than the leg may be
//! braked, and once it is known where the legs are nothing goes further out than the soft ends. So every stop, from
//! whatever moment, ends within the square of its speed over twice its braking. The same in C: `controller/`.

use super::leg::Leg;
use crate::rig::{Actuator, Rig};
use crate::safety::Legs;
use std::collections::VecDeque;

/// Fastest in jog and homing, m/s (own choice: a hand has time to let go).
const CREEP_M_S: f64 = 0.02;

/// A leg further than this from where it should be is a fault, m.
pub(super) const FOLLOWING_M: f64 = 0.012;

/// How far a leg is backed off from its soft end once homed, m.
const BACK_OFF_M: f64 = 0.007;

/// Nearer than this is there, m.
const NEAR_M: f64 = 1e-6;

/// Set-points that are kept for drawing lines between them.
const POINTS: usize = 16;

/// How far homing has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Homing {
    /// Off the short ends' switches.
    Off,
    /// Onto them; each leg waits on its switch for the others.
    Onto,
    /// All back off together.
    Back,
}

/// What homing has come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Homed {
    /// It goes on.
    NotYet,
    /// The reference is known.
    Found,
    /// This leg's switch does not do what a switch does.
    Failed(usize),
}

/// References and where they are led.
#[derive(Debug, Clone)]
pub(super) struct Motion {
    low_m: Legs,
    high_m: Legs,
    home_m: Legs,
    switch_m: Legs,
    stroke_m: Legs,
    speed_m_s: Legs,
    braking_m_s2: Legs,
    cycle_s: f64,
    /// Set-points and when they apply, microseconds.
    points: VecDeque<(f64, Legs)>,
    pub(super) reference_m: Legs,
    rate_m_s: Legs,
    /// How long a leg is where its encoder shows nothing.
    pub(super) zero_m: Legs,
    /// Whether that is known.
    pub(super) homed: bool,
    /// What the first set-point was away from where the legs stood: taken out slowly.
    join_m: Legs,
    homing: Homing,
    homing_from_m: Legs,
    found: [bool; crate::safety::MAX_LEGS],
}

impl Motion {
    /// At rest at `at_m`, where the encoders began to count, which is known.
    pub(super) fn new(rig: &Rig, at_m: &Legs) -> Self {
        let each = |value: &dyn Fn(&Actuator) -> f64| Legs::from_fn(at_m.len(), |i| value(&rig.actuators[i]));
        let still = Legs::filled(at_m.len(), 0.0);
        Self {
            low_m: each(&|leg| leg.min_m + 0.5 * leg.soft_stop_m),
            high_m: each(&|leg| leg.max_m - 0.5 * leg.soft_stop_m),
            home_m: each(&|leg| leg.park_m.min(leg.min_m + leg.soft_stop_m + BACK_OFF_M)),
            switch_m: each(&|leg| leg.min_m + super::leg::SWITCH_M),
            stroke_m: each(&|leg| leg.max_m - leg.min_m),
            speed_m_s: each(&|leg| leg.speed_m_s),
            braking_m_s2: each(&|leg| leg.acceleration_m_s2),
            cycle_s: rig.drive.cycle_us as f64 * 1e-6,
            points: VecDeque::with_capacity(POINTS),
            reference_m: *at_m,
            rate_m_s: still,
            zero_m: *at_m,
            homed: true,
            join_m: still,
            homing: Homing::Off,
            homing_from_m: *at_m,
            found: Default::default(),
        }
    }

    /// How long a leg is, by its encoder.
    pub(super) fn length_m(&self, leg: usize, at: &Leg) -> f64 {
        at.count_m() + self.zero_m[leg]
    }

    /// An encoder has lost its count and shows `more_m`; its drive stays where it is.
    pub(super) fn lost(&mut self, leg: usize, more_m: f64) {
        self.homed = false;
        self.reference_m[leg] += more_m;
    }

    /// Whether references go anywhere.
    pub(super) fn goes(&self) -> bool {
        self.rate_m_s.iter().any(|rate| *rate != 0.0)
    }

    /// A set-point for a time.
    pub(super) fn point(&mut self, at_us: f64, lengths_m: &Legs) {
        if self.points.len() == POINTS {
            self.points.pop_front();
        }
        self.points.push_back((at_us, *lengths_m));
    }

    /// No set-points any more.
    pub(super) fn forget(&mut self) {
        self.points.clear();
    }

    /// Whether there are set-points.
    pub(super) fn is_led(&self) -> bool {
        !self.points.is_empty()
    }

    /// References stand where the legs are.
    pub(super) fn stand(&mut self, legs: &[Leg]) {
        for (i, leg) in legs.iter().enumerate() {
            (self.reference_m[i], self.rate_m_s[i]) = (self.length_m(i, leg), 0.0);
        }
    }

    /// The first set-point is rarely just where the legs stand: the difference is faded out, and no step. Gives a leg that is
    /// further off than its window, m.
    pub(super) fn join(&mut self, windows_m: &Legs) -> Option<usize> {
        let first = self.points.front().map_or(self.reference_m, |(_, lengths_m)| *lengths_m);
        self.join_m = Legs::from_fn(first.len(), |leg| self.reference_m[leg] - first[leg]);
        self.join_m.iter().zip(windows_m.iter()).position(|(off_m, window_m)| off_m.abs() > *window_m)
    }

    /// As much of a wanted speed as a leg may have: what it can be stopped from before its soft end. Where it stands
    /// beyond one already it only goes inward, and not by itself.
    fn allowed_m_s(&self, leg: usize, wanted_m_s: f64) -> f64 {
        let outward_m = if wanted_m_s > 0.0 {
            self.high_m[leg] - self.reference_m[leg]
        } else {
            self.reference_m[leg] - self.low_m[leg]
        };
        let room_m = if self.homed { outward_m.max(0.0) } else { f64::INFINITY };
        let most = self.speed_m_s[leg].min((2.0 * self.braking_m_s2[leg] * room_m).sqrt());
        wanted_m_s.clamp(-most, most)
    }

    /// Towards a wanted speed, no harder than the leg may be braked.
    fn go(&mut self, leg: usize, wanted_m_s: f64, tick_s: f64) {
        let most = self.braking_m_s2[leg] * tick_s;
        let wanted = self.allowed_m_s(leg, wanted_m_s);
        let change = wanted - self.rate_m_s[leg];
        self.rate_m_s[leg] =
            if change.abs() <= most { wanted } else { self.rate_m_s[leg] + change.clamp(-most, most) };
        self.reference_m[leg] += self.rate_m_s[leg] * tick_s;
    }

    /// All legs lose the same share of their speed, so that the platform stops along its line. Whether they stand.
    pub(super) fn slow(&mut self, tick_s: f64) -> bool {
        let needs_s =
            self.rate_m_s.iter().zip(self.braking_m_s2.iter()).map(|(rate, most)| rate.abs() / most);
        let longest_s = needs_s.fold(0.0, f64::max);
        let left = if longest_s > tick_s { 1.0 - tick_s / longest_s } else { 0.0 };
        (0..self.rate_m_s.len()).for_each(|leg| self.go(leg, left * self.rate_m_s[leg], tick_s));
        longest_s <= 0.0
    }

    /// Along the set-points exactly, a straight line between two of them, as long as that is within what the leg may do;
    /// what jumps, or comes after a while in which nothing came, is caught up with, at half of what the leg may do so
    /// that the path has the other half. Beyond the last it goes on at the same rate until silence is noticed. A leg
    /// whose set-points lead further off than a leg may stray.
    pub(super) fn follow(&mut self, now_us: f64, tick_s: f64) -> Option<usize> {
        while self.points.len() > 2 && self.points.get(1).is_some_and(|(at_us, _)| *at_us <= now_us) {
            self.points.pop_front();
        }
        let (from_us, from) = self.points.front().copied()?;
        let (to_us, to) = self.points.get(1).copied().unwrap_or((from_us + 1.0, from));
        let gone_us = (now_us - from_us).max(0.0);
        let mut strays = None;
        for leg in 0..from.len() {
            let (join, fade) = (self.join_m[leg], 0.1 * CREEP_M_S * tick_s);
            self.join_m[leg] -= join.clamp(-fade, fade);
            let rate_m_us = (to[leg] - from[leg]) / (to_us - from_us);
            let away_m = from[leg] + gone_us * rate_m_us + self.join_m[leg] - self.reference_m[leg];
            let rate_m_s = if gone_us > 0.0 { rate_m_us * 1e6 } else { 0.0 };
            let behind_m = away_m - rate_m_s * tick_s;
            if behind_m.abs() > FOLLOWING_M {
                strays = strays.or(Some(leg));
            }
            let needed_m_s = away_m / tick_s;
            // Between two set-points the rate is one, so it changes once a cycle for the whole of it.
            let most = self.braking_m_s2[leg] * (tick_s + self.cycle_s);
            let fits = needed_m_s.abs() <= self.allowed_m_s(leg, needed_m_s).abs();
            if fits && (needed_m_s - self.rate_m_s[leg]).abs() <= most {
                self.rate_m_s[leg] = needed_m_s;
                self.reference_m[leg] += away_m;
            } else {
                let catch_up_m_s = (self.braking_m_s2[leg] * behind_m.abs()).sqrt().copysign(behind_m);
                self.go(leg, rate_m_s + catch_up_m_s, tick_s);
            }
        }
        strays
    }

    /// Not further onto a switch or beyond a soft end, while the way back is free. A leg that may not go keeps the others
    /// standing, too: legs that are jogged together stay as level as they are.
    pub(super) fn jog(&mut self, wanted_m_s: &Legs, legs: &[Leg], tick_s: f64) {
        let wanted = Legs::from_fn(legs.len(), |leg| wanted_m_s[leg].clamp(-CREEP_M_S, CREEP_M_S));
        let may = |leg: usize| match wanted[leg] {
            0.0 => 1.0,
            in_m_s if in_m_s < 0.0 && legs[leg].is_short() => 0.0,
            out_m_s if out_m_s > 0.0 && legs[leg].is_long() => 0.0,
            either_m_s => self.allowed_m_s(leg, either_m_s) / either_m_s,
        };
        let share = (0..legs.len()).map(may).fold(1.0, f64::min);
        (0..legs.len()).for_each(|leg| self.go(leg, share * wanted[leg], tick_s));
    }

    /// Looks for the reference from here on.
    pub(super) fn begin_homing(&mut self) {
        (self.homed, self.found) = (false, Default::default());
        (self.homing, self.homing_from_m) = (Homing::Off, self.reference_m);
    }

    /// Whether a leg goes towards its long end.
    pub(super) fn goes_out(&self, leg: usize) -> bool {
        self.rate_m_s[leg] > 0.0
    }

    /// At creep: off the short ends' switches, onto them, and all back off together. The count at which a switch closes
    /// is the length at which it stands.
    pub(super) fn home(&mut self, legs: &[Leg], tick_s: f64) -> Homed {
        let (mut there, mut failed) = (true, None);
        for (i, leg) in legs.iter().enumerate() {
            let gone_m = (self.reference_m[i] - self.homing_from_m[i]).abs();
            let (wanted_m_s, most_m) = match self.homing {
                Homing::Off => (if leg.is_short() { CREEP_M_S } else { 0.0 }, BACK_OFF_M),
                Homing::Onto => {
                    if leg.is_short() && !self.found[i] {
                        let zero_m = self.switch_m[i] - leg.count_m();
                        self.reference_m[i] += zero_m - self.zero_m[i];
                        (self.zero_m[i], self.found[i]) = (zero_m, true);
                    }
                    (if self.found[i] { 0.0 } else { -CREEP_M_S }, self.stroke_m[i])
                }
                Homing::Back => {
                    let left_m = self.home_m[i] - self.reference_m[i];
                    let speed_m_s = (self.braking_m_s2[i] * left_m.abs()).sqrt().min(CREEP_M_S);
                    (if left_m.abs() < NEAR_M { 0.0 } else { speed_m_s.copysign(left_m) }, f64::INFINITY)
                }
            };
            if gone_m > most_m && !self.found[i] {
                failed = failed.or(Some(i));
            }
            self.go(i, wanted_m_s, tick_s);
            there &= wanted_m_s == 0.0 && self.rate_m_s[i] == 0.0;
        }
        match (failed, self.homing) {
            (Some(leg), _) => return Homed::Failed(leg),
            _ if !there => return Homed::NotYet,
            (None, Homing::Off) => self.homing = Homing::Onto,
            (None, Homing::Onto) => self.homing = Homing::Back,
            (None, Homing::Back) => {
                // One that does not open again never was there.
                let stuck = legs.iter().position(Leg::is_short);
                self.homed = stuck.is_none();
                return stuck.map_or(Homed::Found, Homed::Failed);
            }
        }
        self.homing_from_m = self.reference_m;
        Homed::NotYet
    }
}
