//! What a slow sweep of the legs tells, from the record of a run: friction, how soon forces turn round, what a tap rings
//! at. Held against an earlier one it shows what wears, comes loose or rubs.
//!
//! Forces are those that drives report, less what the plan predicts; so weight and inertia are taken out.
//!
//! A record goes by twice: first for how long a cycle is and how far legs go, then for what they do in between. Neither
//! keeps more than the last while of it.

mod change;
mod swept;
mod tap;

pub use change::Change;

use super::{Logged, LoggedCycle, RunHead};
use serde::{Deserialize, Serialize};
use swept::Swept;
use tap::Tap;

/// Speeds and forces are means over so long, s (own choice, as all numbers of a sweep).
const MEAN_S: f64 = 0.02;

/// What was found.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Sweep {
    /// One a leg.
    pub legs: Vec<SweptLeg>,
    /// What a tap rang at, Hz; `None` where none was found.
    pub tap_hz: Option<f64>,
    /// Who answered, as the record names it with the serial numbers of its drives: sweeps of others are not held against
    /// each other.
    #[serde(default)]
    pub of: String,
}

/// What was found of one leg.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SweptLeg {
    /// Its name.
    pub leg: String,
    /// Half of what the force differs by from one direction to the other, N; `None` where it was not swept both ways.
    pub friction_n: Option<f64>,
    /// The way in which the force turns round where the leg does, m: backlash and wind-up together, as far as the load
    /// lets them show. `None` where it did not turn.
    pub turn_m: Option<f64>,
}

/// The first time a record goes by: how long a cycle is, and how far legs go.
#[derive(Debug, Clone)]
pub struct SweepExtent {
    rows: u64,
    first_s: f64,
    last_s: f64,
    /// Of each leg, the shortest and the longest, m.
    reach_m: Vec<(f64, f64)>,
}

impl SweepExtent {
    /// Nothing yet, of so many legs.
    pub fn new(legs: usize) -> Self {
        Self { rows: 0, first_s: 0.0, last_s: 0.0, reach_m: vec![(f64::INFINITY, f64::NEG_INFINITY); legs] }
    }

    /// Adds a cycle.
    pub fn add(&mut self, cycle: &LoggedCycle) {
        if !is_swept(cycle) {
            return;
        }
        if self.rows == 0 {
            self.first_s = cycle.time_s;
        }
        (self.rows, self.last_s) = (self.rows + 1, cycle.time_s);
        for ((low, high), at) in self.reach_m.iter_mut().zip(&cycle.measured_m) {
            (*low, *high) = (low.min(*at), high.max(*at));
        }
    }

    /// The time between two cycles, s.
    fn step_s(&self) -> f64 {
        ((self.last_s - self.first_s) / self.rows.saturating_sub(1).max(1) as f64).max(1e-4)
    }
}

/// The second time it goes by.
pub struct SweepMeter {
    legs: Vec<Swept>,
    tap: Tap,
}

impl SweepMeter {
    /// After the first time.
    pub fn after(extent: &SweepExtent) -> Self {
        let step_s = extent.step_s();
        let legs = extent.reach_m.iter().map(|reach_m| Swept::new(step_s, *reach_m));
        Self { legs: legs.collect(), tap: Tap::new(step_s, extent.reach_m.len()) }
    }

    /// Adds a cycle.
    pub fn add(&mut self, cycle: &LoggedCycle) {
        if is_swept(cycle) {
            self.legs.iter_mut().enumerate().for_each(|(leg, swept)| swept.add(cycle, leg));
            self.tap.add(cycle);
        }
    }

    /// What it tells, of the run whose head this is.
    pub fn sweep(mut self, head: &RunHead) -> Sweep {
        let legs = head.legs.iter().zip(&mut self.legs).map(|(name, swept)| SweptLeg {
            leg: name.clone(),
            friction_n: swept.friction_n(),
            turn_m: swept.turn_m(),
        });
        let entry = |wanted: &str| head.entries.iter().find(|(key, _)| key == wanted);
        let words = ["answers", "drives"].map(|key| entry(key).map_or("", |(_, value)| value.as_str()));
        Sweep { legs: legs.collect(), tap_hz: self.tap.hz(), of: words.join(" ").trim().to_string() }
    }
}

/// Only while the scene plays.
fn is_swept(cycle: &LoggedCycle) -> bool {
    cycle.path == "following"
}

impl Sweep {
    /// Of a record in memory.
    pub fn of(logged: &Logged) -> Self {
        let mut extent = SweepExtent::new(logged.legs.len());
        logged.cycles.iter().for_each(|cycle| extent.add(cycle));
        let mut meter = SweepMeter::after(&extent);
        logged.cycles.iter().for_each(|cycle| meter.add(cycle));
        let Logged { entries, legs, axes, .. } = logged.clone();
        meter.sweep(&RunHead { entries, legs, axes })
    }
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.retain(|value| value.is_finite());
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

#[cfg(test)]
#[path = "sweep/tests.rs"]
mod tests;
