//! What the governor holds every set-point to.

use super::legs::MAX_LEGS;
use crate::rig::Rig;

/// The most linear bounds over several legs: two a platform coordinate, and a score that keep clearances.
pub const MAX_ROWS: usize = 32;

/// What a bound over several legs keeps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keeps {
    /// A joint inside its range.
    Joint,
    /// A point of the platform away from an obstacle.
    Clearance,
}

impl Keeps {
    /// The word in logs.
    pub fn word(self) -> &'static str {
        match self {
            Keeps::Joint => "joint",
            Keeps::Clearance => "clearance",
        }
    }
}

/// Limits of one leg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LegLimits {
    /// Shortest length, m: the stroke's end and the soft stop together.
    pub low_m: f64,
    /// Longest length, m.
    pub high_m: f64,
    /// Largest |speed|, m/s, of set-points one cycle apart.
    pub speed_m_s: f64,
    /// Largest |acceleration|, m/s^2, of the second difference of set-points.
    pub acceleration_m_s2: f64,
    /// How far the measured length may be from the set-point, m, before it trips.
    pub window_m: f64,
}

/// A bound on a weighted sum of leg lengths.
#[derive(Debug, Clone, PartialEq)]
pub struct Bound {
    /// One weight a leg.
    pub weight: Vec<f64>,
    /// The largest sum, m.
    pub at_most_m: f64,
}

impl Bound {
    /// Whether legs of these lengths (m, one a leg) keep it.
    pub fn is_kept(&self, lengths_m: &[f64]) -> bool {
        weighted_m(&self.weight, lengths_m) <= self.at_most_m
    }
}

/// The sum of `weight[i] * lengths_m[i]`.
pub(super) fn weighted_m(weight: &[f64], lengths_m: &[f64]) -> f64 {
    weight.iter().zip(lengths_m).map(|(w, l)| w * l).sum()
}

/// The same in fixed room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Row {
    /// What for.
    pub(super) keeps: Keeps,
    /// One weight a leg.
    pub(super) weight: [f64; MAX_LEGS],
    /// The largest sum, m.
    pub(super) at_most_m: f64,
}

/// Limits of all legs at one cycle.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    legs: [LegLimits; MAX_LEGS],
    count: usize,
    rows: [Row; MAX_ROWS],
    row_count: usize,
    period_s: f64,
}

/// Why limits cannot be held.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LimitsError {
    /// No legs, or more than a cycle can carry.
    #[error("{found} legs, expected 1 to {MAX_LEGS}")]
    Count {
        /// How many legs there are.
        found: usize,
    },
    /// A limit is no number, not positive, or leaves no room.
    #[error("leg {}: {what} is {value}, expected {expected}", leg + 1)]
    Value {
        /// The leg, from 0.
        leg: usize,
        /// Which limit.
        what: &'static str,
        /// Its value, SI.
        value: f64,
        /// What it should be.
        expected: &'static str,
    },
    /// The cycle is no time.
    #[error("the cycle is {period_s} s, expected more than 0 and at most 1 s")]
    Period {
        /// The cycle, s.
        period_s: f64,
    },
    /// More bounds over several legs than there is room for.
    #[error(
        "joints and clearances need more than {MAX_ROWS} bounds: name fewer `[[clearance]]` points or obstacles"
    )]
    Rows,
}

/// What a measured length may be off its set-point by at rest, m.
const WINDOW_M: f64 = 0.002;

impl Limits {
    /// Limits of `legs` for set-points every `period_s` seconds.
    ///
    /// # Errors
    /// When a limit is no number, not positive, or leaves no room.
    pub fn new(legs: &[LegLimits], period_s: f64) -> Result<Self, LimitsError> {
        if legs.is_empty() || legs.len() > MAX_LEGS {
            return Err(LimitsError::Count { found: legs.len() });
        }
        if !(period_s > 0.0 && period_s <= 1.0) {
            return Err(LimitsError::Period { period_s });
        }
        for (leg, l) in legs.iter().enumerate() {
            let wrong = |what, value, expected| Err(LimitsError::Value { leg, what, value, expected });
            // A leg longer than a kilometre is no leg; the bound keeps rounding below a micrometre.
            if !(-1e3..=1e3).contains(&l.low_m) {
                return wrong("shortest length", l.low_m, "at most 1000 m either way");
            }
            if !(l.high_m > l.low_m && l.high_m <= 1e3) {
                return wrong("longest length", l.high_m, "more than the shortest, at most 1000 m");
            }
            if !(l.speed_m_s > 0.0 && l.speed_m_s <= 1e3) {
                return wrong("speed", l.speed_m_s, "more than 0, at most 1000 m/s");
            }
            if !(l.acceleration_m_s2 > 1e-6 && l.acceleration_m_s2 <= 1e6) {
                return wrong("acceleration", l.acceleration_m_s2, "1e-6 to 1e6 m/s^2");
            }
            if l.window_m.is_nan() || l.window_m <= 0.0 {
                return wrong("window of the measured length", l.window_m, "more than 0 m");
            }
        }
        let none =
            LegLimits { low_m: 0.0, high_m: 0.0, speed_m_s: 0.0, acceleration_m_s2: 0.0, window_m: 0.0 };
        let mut limits = Self {
            legs: [none; MAX_LEGS],
            count: legs.len(),
            rows: [Row { keeps: Keeps::Joint, weight: [0.0; MAX_LEGS], at_most_m: 0.0 }; MAX_ROWS],
            row_count: 0,
            period_s,
        };
        limits.legs.iter_mut().zip(legs).for_each(|(place, leg)| *place = *leg);
        Ok(limits)
    }

    /// The limits of a rig file: stroke less soft stops, speed, acceleration, at the drive's cycle.
    ///
    /// The window of the measured length is what a second-order drive lags at full speed (delay, link, two cycles,
    /// and 2 zeta / omega with zeta at most 1), half as much again for its transients, and 2 mm (our own choice; the
    /// lag of a second-order system behind a ramp is from memory).
    ///
    /// # Errors
    /// When the rig's numbers leave no room.
    pub fn of(rig: &Rig) -> Result<Self, LimitsError> {
        let period_s = f64::from(rig.drive.cycle_us) * 1e-6;
        let omega_rad_s = std::f64::consts::TAU * 0.6 * rig.drive.bandwidth_hz;
        let lag_s = rig.drive.delay_s + rig.drive.link_s + 2.0 * period_s + 2.0 / omega_rad_s;
        let legs: Vec<LegLimits> = rig
            .actuators
            .iter()
            .map(|a| LegLimits {
                low_m: a.soft_ends_m().0,
                high_m: a.soft_ends_m().1,
                speed_m_s: a.speed_m_s,
                acceleration_m_s2: a.acceleration_m_s2,
                window_m: 1.5 * a.speed_m_s * lag_s + WINDOW_M,
            })
            .collect();
        Self::new(&legs, period_s)
    }

    /// The same with one more bound.
    ///
    /// # Errors
    /// When there is no room for more, or a weight is no number.
    pub fn bounded(mut self, keeps: Keeps, bound: &Bound) -> Result<Self, LimitsError> {
        let Bound { weight, at_most_m } = bound;
        let finite = weight.iter().all(|w| w.is_finite()) && at_most_m.is_finite();
        let place = self.rows.get_mut(self.row_count).ok_or(LimitsError::Rows)?;
        if !finite || weight.len() != self.count {
            return Err(LimitsError::Value {
                leg: 0,
                what: "bound over several legs",
                value: *at_most_m,
                expected: "one finite weight a leg and a finite bound",
            });
        }
        place.weight.iter_mut().zip(weight).for_each(|(to, from)| *to = *from);
        (place.keeps, place.at_most_m) = (keeps, *at_most_m);
        self.row_count += 1;
        Ok(self)
    }

    /// One a leg.
    pub fn legs(&self) -> &[LegLimits] {
        self.legs.get(..self.count).unwrap_or(&[])
    }

    /// Whether legs at `at_m` that go on with `speeds_m_s` for `ahead_s` leave a stroke, a joint's range or a clearance, or go further out
    /// of one that they have left. Numbers that are none leave nothing.
    pub fn are_left_by(&self, at_m: &[f64], speeds_m_s: &[f64], ahead_s: f64) -> bool {
        let mut legs = self.legs().iter().zip(at_m.iter().zip(speeds_m_s));
        let leg_goes = legs.any(|(leg, (at, speed))| {
            let next = at + speed * ahead_s;
            (*speed > 0.0 && next > leg.high_m) || (*speed < 0.0 && next < leg.low_m)
        });
        let sum = |row: &Row, of: &[f64]| weighted_m(&row.weight, of);
        leg_goes
            || self.rows().iter().any(|row| {
                let (at, out) = (sum(row, at_m), sum(row, speeds_m_s));
                out > 0.0 && at + out * ahead_s > row.at_most_m
            })
    }

    /// The same for legs that go no faster than `fastest_m_s` (one a leg): then a lag may be less, and so may what a measured
    /// length is off by before it trips.
    #[must_use]
    pub fn no_faster_than(mut self, fastest_m_s: &[f64]) -> Self {
        for (leg, fastest) in self.legs.iter_mut().zip(fastest_m_s).take(self.count) {
            let share = (fastest / leg.speed_m_s).clamp(0.0, 1.0);
            leg.window_m = WINDOW_M + share * (leg.window_m - WINDOW_M);
        }
        self
    }

    /// The same for legs that stand at `at_m` (one a leg): a clearance that they have passed by no more than `most_m` ends
    /// where they stand, so that they may go back and no further in.
    #[must_use]
    pub fn let_back(mut self, at_m: &[f64], most_m: f64) -> Self {
        for row in self.rows.iter_mut().take(self.row_count).filter(|row| row.keeps == Keeps::Clearance) {
            let sum_m = weighted_m(&row.weight, at_m);
            if sum_m > row.at_most_m && sum_m <= row.at_most_m + most_m {
                row.at_most_m = sum_m;
            }
        }
        self
    }

    pub(super) fn rows(&self) -> &[Row] {
        self.rows.get(..self.row_count).unwrap_or(&[])
    }

    /// Time between set-points, s.
    pub fn period_s(&self) -> f64 {
        self.period_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LEG: LegLimits =
        LegLimits { low_m: 0.6, high_m: 0.9, speed_m_s: 0.3, acceleration_m_s2: 3.0, window_m: 0.01 };

    #[test]
    fn slower_legs_are_watched_more_closely() {
        let limits = Limits::new(&[LEG, LEG, LEG], 0.001).unwrap().no_faster_than(&[0.15, 0.6, 0.0]);
        let windows: Vec<f64> = limits.legs().iter().map(|leg| leg.window_m).collect();
        // Of 10 mm two are for legs at rest, and half of the other eight for half of 0.3 m/s.
        assert_eq!(windows, [0.006, 0.01, 0.002]);
    }

    #[test]
    fn refuses_what_leaves_no_room() {
        assert!(Limits::new(&[LEG], 0.001).is_ok());
        assert_eq!(Limits::new(&[], 0.001), Err(LimitsError::Count { found: 0 }));
        assert_eq!(Limits::new(&[LEG; 13], 0.001), Err(LimitsError::Count { found: 13 }));
        for wrong in [
            LegLimits { high_m: 0.6, ..LEG },
            LegLimits { low_m: f64::NAN, ..LEG },
            LegLimits { speed_m_s: 0.0, ..LEG },
            LegLimits { acceleration_m_s2: f64::INFINITY, ..LEG },
            LegLimits { window_m: f64::NAN, ..LEG },
        ] {
            assert!(matches!(Limits::new(&[LEG, wrong], 0.001), Err(LimitsError::Value { leg: 1, .. })));
        }
        assert!(Limits::new(&[LEG], 0.0).is_err());
        let bound = Bound { weight: vec![1.0], at_most_m: 0.8 };
        let full = (0..MAX_ROWS)
            .try_fold(Limits::new(&[LEG], 0.001).unwrap(), |l, _| l.bounded(Keeps::Joint, &bound));
        assert_eq!(full.unwrap().bounded(Keeps::Joint, &bound), Err(LimitsError::Rows));
    }
}
