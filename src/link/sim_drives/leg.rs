//! A simulated leg: a servo, a brake, an encoder, two ends, and what may be wrong with them.

use crate::link::servo::Servo;
use crate::rig::{Actuator, Rig};

/// A brake takes this long to open and to close, microseconds.
const BRAKE_US: u64 = 30_000;

/// How hard a closed brake slows a leg, m/s^2.
const BRAKE_M_S2: f64 = 20.0;

/// How a leg falls with neither torque nor brake, m/s^2: what back-drives the screw (own choice).
const FALL_M_S2: f64 = -3.0;

/// An end switch opens so near the end, m.
pub(super) const SWITCH_M: f64 = 0.0005;

/// What a leg is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Told {
    /// Torque.
    pub(super) power: bool,
    /// Brake off.
    pub(super) release: bool,
    /// Where to be, m, as its encoder counts.
    pub(super) reference_m: f64,
    /// Largest force, N.
    pub(super) force_limit_n: f64,
}

/// Dry friction that turns round within a way: a slider on a spring (Jenkin's element, from memory).
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Rub {
    most_n: f64,
    way_m: f64,
    /// What a drive gives against it, N.
    pub(super) force_n: f64,
}

impl Rub {
    /// `most_n` both ways, from one to the other within `way_m`.
    pub(super) fn new(most_n: f64, way_m: f64) -> Self {
        Self { most_n, way_m, force_n: 0.0 }
    }

    fn slide(&mut self, by_m: f64) {
        if self.way_m > 0.0 {
            let stiffness_n_m = 2.0 * self.most_n / self.way_m;
            self.force_n = (self.force_n + stiffness_n_m * by_m).clamp(-self.most_n, self.most_n);
        }
    }
}

/// A leg.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Leg {
    servo: Servo,
    low_m: f64,
    high_m: f64,
    step_m: f64,
    /// How long it was where its encoder began to count.
    zero_m: f64,
    /// A leg's part of the payload, kg.
    carries_kg: f64,
    pub(super) at_m: f64,
    pub(super) rate_m_s: f64,
    /// Over the last tick, m/s^2.
    pub(super) acceleration_m_s2: f64,
    pub(super) braked: bool,
    /// How long the brake has been told to be otherwise, microseconds.
    turning_us: u64,
    /// What is wrong.
    pub(super) slip_m: f64,
    pub(super) snag_n: f64,
    pub(super) rub: Rub,
    pub(super) is_broken: bool,
    pub(super) is_hot: bool,
    pub(super) has_open_switch: bool,
}

impl Leg {
    /// A leg at rest and braked at `at_m`.
    pub(super) fn new(rig: &Rig, leg: &Actuator, at_m: f64) -> Self {
        Self {
            servo: Servo::new(&rig.drive, leg),
            low_m: leg.min_m,
            high_m: leg.max_m,
            step_m: leg.lead_m / f64::from(rig.drive.counts_per_turn.max(1)),
            zero_m: at_m,
            carries_kg: rig.payload.mass_kg / rig.actuators.len().max(1) as f64,
            at_m,
            rate_m_s: 0.0,
            acceleration_m_s2: 0.0,
            braked: true,
            turning_us: 0,
            slip_m: 0.0,
            snag_n: 0.0,
            rub: Rub::default(),
            is_broken: false,
            is_hot: false,
            has_open_switch: false,
        }
    }

    /// What the encoder shows, m, from where it began to count.
    pub(super) fn count_m(&self) -> f64 {
        ((self.at_m + self.slip_m - self.zero_m) / self.step_m).round() * self.step_m
    }

    /// The encoder loses its count, and begins anew; by how much it shows more than before, m.
    pub(super) fn lose_count(&mut self) -> f64 {
        let before_m = self.count_m();
        self.zero_m = self.at_m;
        self.count_m() - before_m
    }

    /// On the switch at the short end, or that says so.
    pub(super) fn is_short(&self) -> bool {
        self.has_open_switch || self.at_m <= self.low_m + SWITCH_M
    }

    /// On the switch at the long end.
    pub(super) fn is_long(&self) -> bool {
        self.at_m >= self.high_m - SWITCH_M
    }

    /// Somebody moves it by hand.
    pub(super) fn push(&mut self, by_m: f64) {
        self.at_m = (self.at_m + by_m).clamp(self.low_m, self.high_m);
    }

    /// Everything that was wrong is mended.
    pub(super) fn mend(&mut self) {
        (self.slip_m, self.snag_n, self.rub) = (0.0, 0.0, Rub::default());
        (self.is_broken, self.is_hot, self.has_open_switch) = (false, false, false);
    }

    /// Goes on by `step_us`. `stuck` for a brake that stays as it is.
    pub(super) fn go_on(&mut self, step_us: u64, told: &Told, stuck: bool) {
        let step_s = step_us as f64 * 1e-6;
        let wanted = if stuck { self.braked } else { !told.release };
        self.turning_us = if wanted == self.braked { 0 } else { self.turning_us + step_us };
        if self.turning_us >= BRAKE_US {
            (self.braked, self.turning_us) = (wanted, 0);
        }
        let before = self.rate_m_s;
        if self.braked {
            let slowing = BRAKE_M_S2 * step_s;
            self.rate_m_s -= before.clamp(-slowing, slowing);
        } else if told.power && !self.is_broken {
            let most_m_s2 = told.force_limit_n / self.carries_kg;
            let pull = self.servo.pull_m_s2(told.reference_m + self.zero_m, self.at_m, before, most_m_s2);
            self.rate_m_s = self.servo.fast_m_s(before + pull * step_s);
        } else {
            self.rate_m_s += FALL_M_S2 * step_s;
        }
        self.at_m += 0.5 * (before + self.rate_m_s) * step_s;
        self.rub.slide(0.5 * (before + self.rate_m_s) * step_s);
        if self.at_m < self.low_m || self.at_m > self.high_m {
            self.at_m = self.at_m.clamp(self.low_m, self.high_m);
            self.rate_m_s = 0.0;
        }
    }
}
