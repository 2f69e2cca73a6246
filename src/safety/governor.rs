//! The governor: whatever set-points come in, what goes out stays inside the limits and can always stop in time.
//!
//! # What it promises
//! With x\[k\] the set-points that go out and T the cycle, for every leg and every k, to [`TOLERANCE`]:
//! low <= x\[k\] <= high, |x\[k\] - x\[k-1\]| / T <= speed, |x\[k\] - 2 x\[k-1\] + x\[k-2\]| / T^2 <= acceleration (this
//! one to the rounding of the lengths over T^2 besides), every bound of joints and clearances holds, and a *coordinated stop* from here
//! keeps all of it.
//!
//! # The coordinated stop
//! All legs lose the same share of the speed that they had at its start in every cycle: v\[j\] = (1 - j / n) v, with n
//! the cycles that the slowest leg needs, n = max |v| / (acceleration T). So the platform stops along a straight line
//! of leg lengths, and no leg braked alone turns pitch into roll. It runs on by v T (m - m (m + 1) / (2 n)),
//! m = floor(n) (sum of the series; derived here). A step of the stop ends where the stop before it ended, so that
//! once a stop fits there is always a next step: the stop itself.
//!
//! # When it cannot follow
//! It heads for what is wanted by the largest common share of the way between the stop and the wanted step; a far
//! target is approached so that a stop would end on it.

use super::legs::Legs;
use super::limits::{Keeps, Limits, weighted_m};

/// How exactly the promise holds: m, m/s, and a part of the acceleration.
pub const TOLERANCE: f64 = 1e-9;

/// Slack of a stop's end against a limit, m: far below [`TOLERANCE`], above the rounding of lengths.
const ROUNDING_M: f64 = 1e-12;

/// Halvings in the search for the largest share: 2^-40 of a step is below rounding.
const HALVINGS: u32 = 40;

/// What kept a step from being followed, and the leg (from 0) that it was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hold {
    /// The wanted length is no number.
    NotANumber {
        /// Leg.
        leg: usize,
    },
    /// The wanted length is outside the stroke less its soft stops.
    Stroke {
        /// Leg.
        leg: usize,
    },
    /// It would be too fast.
    Speed {
        /// Leg.
        leg: usize,
    },
    /// It would accelerate too hard.
    Acceleration {
        /// Leg.
        leg: usize,
    },
    /// The platform could not be stopped inside the leg's stroke from there.
    Stopping {
        /// Leg.
        leg: usize,
    },
    /// A joint or a clearance would go, or could not be stopped, past its bound.
    Bound {
        /// What the bound keeps.
        keeps: Keeps,
        /// Which, in the order in which the limits were given them.
        bound: usize,
    },
    /// It is stopping because it was told to.
    Braking,
}

impl Hold {
    /// The word in logs.
    pub fn word(self) -> &'static str {
        match self {
            Hold::NotANumber { .. } => "not-a-number",
            Hold::Stroke { .. } => "stroke",
            Hold::Speed { .. } => "speed",
            Hold::Acceleration { .. } => "acceleration",
            Hold::Stopping { .. } => "stopping",
            Hold::Bound { keeps, .. } => keeps.word(),
            Hold::Braking => "braking",
        }
    }

    /// The leg, where it is one leg's.
    pub fn leg(self) -> Option<usize> {
        match self {
            Hold::NotANumber { leg }
            | Hold::Stroke { leg }
            | Hold::Speed { leg }
            | Hold::Acceleration { leg }
            | Hold::Stopping { leg } => Some(leg),
            Hold::Bound { .. } | Hold::Braking => None,
        }
    }
}

/// A measured length too far from its set-point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trip {
    /// The leg, from 0.
    pub leg: usize,
    /// Measured, m; may be no number.
    pub measured_m: f64,
    /// The set-point that it was held against, m.
    pub set_point_m: f64,
    /// How far apart they may be, m.
    pub window_m: f64,
}

/// What became of a wanted step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Outcome {
    /// It goes out as it came in.
    Followed,
    /// Something else goes out.
    Held(Hold),
    /// A measured length tripped it, now or before: it stops, then holds until reset.
    Tripped(Trip),
}

/// A start that is refused.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum StartError {
    /// A leg stands outside its limits.
    #[error("leg {} stands at {at_m} m, expected {low_m} m to {high_m} m", leg + 1)]
    Outside {
        /// The leg, from 0.
        leg: usize,
        /// Where it stands, m.
        at_m: f64,
        /// Shortest allowed, m.
        low_m: f64,
        /// Longest allowed, m.
        high_m: f64,
    },
    /// A joint or a clearance stands past its bound.
    #[error("{} bound {} is passed by {by_m} m where the rig stands", keeps.word(), bound + 1)]
    Bound {
        /// What the bound keeps.
        keeps: Keeps,
        /// Which, from 0.
        bound: usize,
        /// By how much, m of weighted leg length.
        by_m: f64,
    },
    /// Not one length a leg.
    #[error("{found} lengths, expected {expected}")]
    Count {
        /// How many came.
        found: usize,
        /// How many legs there are.
        expected: usize,
    },
}

/// The last thing that every set-point goes through. See the module's text for what it promises.
#[derive(Debug, Clone)]
pub struct Governor {
    limits: Limits,
    at_m: Legs,
    before_m: Legs,
    wanted_before_m: Option<Legs>,
    trip: Option<Trip>,
    braking: bool,
}

impl Governor {
    /// A governor over a rig that stands still at `at_m`.
    ///
    /// # Errors
    /// When the rig does not stand inside the limits.
    pub fn start(limits: Limits, at_m: &[f64]) -> Result<Self, StartError> {
        let expected = limits.legs().len();
        let at = Legs::from_slice(at_m)
            .filter(|at| at.len() == expected)
            .ok_or(StartError::Count { found: at_m.len(), expected })?;
        for (leg, (&at_m, l)) in at.iter().zip(limits.legs()).enumerate() {
            if !(at_m >= l.low_m && at_m <= l.high_m) {
                return Err(StartError::Outside { leg, at_m, low_m: l.low_m, high_m: l.high_m });
            }
        }
        for (bound, row) in limits.rows().iter().enumerate() {
            let by_m = weighted_m(&row.weight, &at) - row.at_most_m;
            if by_m > ROUNDING_M {
                return Err(StartError::Bound { keeps: row.keeps, bound, by_m });
            }
        }
        Ok(Self { limits, at_m: at, before_m: at, wanted_before_m: None, trip: None, braking: false })
    }

    /// A governor over a rig that went from `before_m` to `at_m` in the last cycle, for looking ahead; never for a
    /// link. `None` when it could not have been there.
    pub(crate) fn moving(limits: Limits, before_m: Legs, at_m: Legs) -> Option<Self> {
        let mut governor = Self::start(limits, &before_m).ok()?;
        if at_m.len() != before_m.len() {
            return None;
        }
        let speed = governor.step_to(&at_m);
        // Held against itself, so that its acceleration does not count.
        let fits = governor.objection(&at_m, &speed, &speed).is_none();
        governor.at_m = at_m;
        fits.then_some(governor)
    }

    /// The next set-points (m) for what is wanted (m; one a leg, a missing one counts as no number) and, where there
    /// is feedback, what was measured (m). Total, and it does not allocate.
    pub fn step(&mut self, wanted_m: &[f64], measured_m: Option<&[f64]>) -> (Legs, Outcome) {
        if self.trip.is_none() {
            self.trip = measured_m.and_then(|measured| self.find_trip(measured));
        }
        let count = self.at_m.len();
        let wanted = Legs::from_fn(count, |leg| wanted_m.get(leg).copied().unwrap_or(f64::NAN));
        let speed = self.speed_m_s();
        let stop = self.stop_step(&speed);
        let bad = wanted.iter().position(|w| !w.is_finite());
        let (next, outcome) = if let Some(trip) = self.trip {
            (self.moved(&stop), Outcome::Tripped(trip))
        } else if self.braking {
            (self.moved(&stop), Outcome::Held(Hold::Braking))
        } else if let Some(leg) = bad {
            (self.moved(&stop), Outcome::Held(Hold::NotANumber { leg }))
        } else {
            match self.objection(&wanted, &self.step_to(&wanted), &speed) {
                None => (wanted, Outcome::Followed),
                Some(hold) => {
                    let aim = self.aim(&wanted);
                    let share = self.largest_share(&stop, &aim, &speed);
                    let step = between(&stop, &aim, share);
                    (self.moved(&step), Outcome::Held(hold))
                }
            }
        };
        self.wanted_before_m = bad.is_none().then_some(wanted);
        self.before_m = self.at_m;
        self.at_m = next;
        (next, outcome)
    }

    /// What would keep `wanted_m` from being followed as the next set-points; `None` when nothing would.
    pub fn would_hold(&self, wanted_m: &[f64]) -> Option<Hold> {
        let wanted = Legs::from_fn(self.at_m.len(), |leg| wanted_m.get(leg).copied().unwrap_or(f64::NAN));
        if let Some(leg) = wanted.iter().position(|w| !w.is_finite()) {
            return Some(Hold::NotANumber { leg });
        }
        self.objection(&wanted, &self.step_to(&wanted), &self.speed_m_s())
    }

    /// From now on stop, all legs together, then hold until [`Governor::reset`].
    pub fn brake(&mut self) {
        self.braking = true;
    }

    /// Leaves a trip or a stop behind, if it has come to rest; the set-points stay where they are.
    pub fn reset(&mut self) -> bool {
        let rests = self.is_at_rest();
        if rests {
            self.trip = None;
            self.braking = false;
            self.wanted_before_m = None;
        }
        rests
    }

    /// Whether the last two set-points are the same.
    pub fn is_at_rest(&self) -> bool {
        self.at_m == self.before_m
    }

    /// The last set-points, m.
    pub fn set_points_m(&self) -> &Legs {
        &self.at_m
    }

    /// What tripped it, until reset.
    pub fn trip(&self) -> Option<Trip> {
        self.trip
    }

    fn find_trip(&self, measured: &[f64]) -> Option<Trip> {
        self.limits.legs().iter().enumerate().find_map(|(leg, l)| {
            let measured_m = measured.get(leg).copied().unwrap_or(f64::NAN);
            let set_point_m = self.at_m[leg];
            // Written so that what is no number trips.
            let near = (measured_m - set_point_m).abs() <= l.window_m;
            (!near).then_some(Trip { leg, measured_m, set_point_m, window_m: l.window_m })
        })
    }

    fn step_to(&self, wanted: &Legs) -> Legs {
        Legs::from_fn(wanted.len(), |leg| (wanted[leg] - self.at_m[leg]) / self.limits.period_s())
    }

    fn speed_m_s(&self) -> Legs {
        Legs::from_fn(self.at_m.len(), |leg| (self.at_m[leg] - self.before_m[leg]) / self.limits.period_s())
    }

    /// Cycles that the slowest leg needs to lose `speed`.
    fn cycles_to_stop(&self, speed: &Legs) -> f64 {
        let period_s = self.limits.period_s();
        speed
            .iter()
            .zip(self.limits.legs())
            .map(|(v, l)| v.abs() / (l.acceleration_m_s2 * period_s))
            .fold(0.0, f64::max)
    }

    /// The next step of a coordinated stop, m/s.
    fn stop_step(&self, speed: &Legs) -> Legs {
        let cycles = self.cycles_to_stop(speed);
        let left = if cycles <= 1.0 { 0.0 } else { 1.0 - 1.0 / cycles };
        Legs::from_fn(speed.len(), |leg| left * speed[leg])
    }

    fn moved(&self, step: &Legs) -> Legs {
        let period_s = self.limits.period_s();
        // Nothing is cut off here: a cut of a picometre would be a jolt of a micrometre a second squared.
        Legs::from_fn(step.len(), |leg| self.at_m[leg] + step[leg] * period_s)
    }

    /// What speaks against going to `next` at `step` (m/s), if anything.
    fn objection(&self, next: &Legs, step: &Legs, speed: &Legs) -> Option<Hold> {
        let period_s = self.limits.period_s();
        let legs = || self.limits.legs().iter().enumerate();
        let inside = |x: f64, low: f64, high: f64| x >= low - ROUNDING_M && x <= high + ROUNDING_M;
        if let Some((leg, _)) = legs().find(|(leg, l)| !inside(next[*leg], l.low_m, l.high_m)) {
            return Some(Hold::Stroke { leg });
        }
        // Asked as "is inside", so that what is no number is not.
        let slow = |leg: usize, most: f64| step[leg].abs() <= most + TOLERANCE / 2.0;
        if let Some((leg, _)) = legs().find(|(leg, l)| !slow(*leg, l.speed_m_s)) {
            return Some(Hold::Speed { leg });
        }
        let too_hard = legs().find(|(leg, l)| {
            let rounding = 4.0 * f64::EPSILON * l.low_m.abs().max(l.high_m.abs()) / (period_s * period_s);
            let most = l.acceleration_m_s2 * (1.0 + TOLERANCE / 2.0) + rounding;
            let gentle = (step[*leg] - speed[*leg]).abs() <= most * period_s;
            !gentle
        });
        if let Some((leg, _)) = too_hard {
            return Some(Hold::Acceleration { leg });
        }
        let run_on_s = period_s * run_on_cycles(self.cycles_to_stop(step));
        let end = Legs::from_fn(next.len(), |leg| next[leg] + step[leg] * run_on_s);
        if let Some((leg, _)) = legs().find(|(leg, l)| !inside(end[*leg], l.low_m, l.high_m)) {
            return Some(Hold::Stopping { leg });
        }
        // Bounds are linear and the stop is straight: inside here and at its end is inside all the way.
        self.limits.rows().iter().enumerate().find_map(|(bound, row)| {
            let inside = weighted_m(&row.weight, next).max(weighted_m(&row.weight, &end))
                <= row.at_most_m + ROUNDING_M;
            (!inside).then_some(Hold::Bound { keeps: row.keeps, bound })
        })
    }

    /// The speed (m/s) at which to head for `wanted`, which may move: the target's own speed, and as much of the way
    /// left as ends on the target when stopped from.
    fn aim(&self, wanted: &Legs) -> Legs {
        let period_s = self.limits.period_s();
        let count = wanted.len();
        let limits = self.limits.legs();
        let target = self
            .wanted_before_m
            .map(|before| Legs::from_fn(count, |leg| (wanted[leg] - before[leg]) / period_s))
            .filter(|v| v.iter().zip(limits).all(|(v, l)| v.abs() <= l.speed_m_s))
            .unwrap_or(Legs::filled(count, 0.0));
        let way = Legs::from_fn(count, |leg| wanted[leg] - self.at_m[leg] - target[leg] * period_s);
        // A far target is brought near along the same line, so that nothing overflows.
        let near =
            way.iter().zip(limits).map(|(way, l)| 2.0 * (l.high_m - l.low_m) / way.abs()).fold(1.0, f64::min);
        let full = Legs::from_fn(count, |leg| near * way[leg] / period_s);
        let fits = |share: f64| {
            let relative = Legs::from_fn(count, |leg| share * full[leg]);
            let in_time = share * (1.0 + run_on_cycles(self.cycles_to_stop(&relative))) <= 1.0;
            in_time && (0..count).all(|leg| (target[leg] + relative[leg]).abs() <= limits[leg].speed_m_s)
        };
        let share = largest(fits);
        Legs::from_fn(count, |leg| target[leg] + share * full[leg])
    }

    fn largest_share(&self, stop: &Legs, aim: &Legs, speed: &Legs) -> f64 {
        largest(|share| {
            let step = between(stop, aim, share);
            self.objection(&self.moved(&step), &step, speed).is_none()
        })
    }
}

/// How many cycles' worth of its present speed a stop of `cycles` runs on after this step.
fn run_on_cycles(cycles: f64) -> f64 {
    let whole = cycles.floor();
    if whole < 1.0 { 0.0 } else { whole - whole * (whole + 1.0) / (2.0 * cycles) }
}

fn between(from: &Legs, to: &Legs, share: f64) -> Legs {
    Legs::from_fn(from.len(), |leg| from[leg] + share * (to[leg] - from[leg]))
}

/// A share in 0..1 that fits, as large as halving finds; 0 is taken to fit.
fn largest(fits: impl Fn(f64) -> bool) -> f64 {
    if fits(1.0) {
        return 1.0;
    }
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if fits(middle) { low = middle } else { high = middle }
    }
    low
}

#[cfg(test)]
mod tests;
