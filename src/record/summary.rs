//! What a record adds up to, cycle by cycle: the same memory whatever its length. The lag of a leg needs no second look,
//! since [`Tracking`] keeps a sum for every lag that is looked at.

mod trips;

pub use trips::RoundTrips;

use super::tape::{LoggedCycle, Told};
use super::{Histogram, LegTracking, Row, Tracking};
use crate::safety::{Legs, MAX_AXES, MAX_LEGS, Outcome, State};
use std::collections::VecDeque;

/// So many of the first events, and so many of the last, are kept in words.
const EVENTS: usize = 1000;

/// The most letters of an event that are kept.
const LETTERS: usize = 1000;

/// So many findings of the check, and so many of the margins that are used most, are kept.
const FINDINGS: usize = 100;
const MARGINS: usize = 3;

/// The largest of one leg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LegPeaks {
    /// From one cycle to the next, as measured, m/s.
    pub speed_m_s: f64,
    /// As reported, either way, N; no number where none was.
    pub force_n: f64,
    /// Degrees Celsius; no number where none was reported.
    pub temperature_c: f64,
}

/// The first events and the last.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Events {
    /// From the front: time (s) and words.
    pub first: Vec<(f64, String)>,
    /// How many are left out between those and the last.
    pub left_out: u64,
    /// The last, in order.
    pub last: VecDeque<(f64, String)>,
}

impl Events {
    fn add(&mut self, time_s: f64, words: &str) {
        let event = (time_s, words.chars().take(LETTERS).collect());
        if self.first.len() < EVENTS {
            self.first.push(event);
            return;
        }
        self.last.push_back(event);
        if self.last.len() > EVENTS {
            self.last.pop_front();
            self.left_out += 1;
        }
    }
}

/// Adds up.
#[derive(Debug, Clone)]
pub struct Summary {
    /// Cycles that passed by.
    pub cycles: u64,
    /// Time of the last, s.
    pub length_s: f64,
    /// How late cycles were served.
    pub late: Histogram,
    /// From orders to their answers.
    pub trips: RoundTrips,
    /// One a leg.
    pub peaks: Vec<LegPeaks>,
    /// What happened.
    pub events: Events,
    /// How many cycles are missing between those that are there.
    pub missing: u64,
    /// What the check said before the run.
    pub findings: Vec<String>,
    /// The limits that the scene comes nearest to, and the part of the way that is used.
    pub margins: Vec<(String, f64)>,
    before: Option<LoggedCycle>,
    /// From the second cycle on: before that it is not known how long one is.
    tracking: Option<Tracking>,
    /// What the far end, and this computer, had dropped when the run began, and have now.
    rejected: Option<(u64, u64)>,
    dropped: Option<(u64, u64)>,
}

impl Summary {
    /// Nothing yet, of so many legs.
    pub fn new(legs: usize) -> Self {
        let none = LegPeaks { speed_m_s: 0.0, force_n: f64::NAN, temperature_c: f64::NAN };
        Self {
            cycles: 0,
            length_s: 0.0,
            late: Histogram::default(),
            trips: RoundTrips::default(),
            peaks: vec![none; legs.min(MAX_LEGS)],
            events: Events::default(),
            missing: 0,
            findings: Vec::new(),
            margins: Vec::new(),
            before: None,
            tracking: None,
            rejected: None,
            dropped: None,
        }
    }

    /// Adds what passes by.
    pub fn add(&mut self, told: &Told) {
        match told {
            Told::Cycle(cycle) => self.cycle(cycle),
            Told::Event { time_s, words } => self.events.add(*time_s, words),
            Told::Finding(words) if self.findings.len() < FINDINGS => self.findings.push(words.clone()),
            Told::Margin { what, used } if self.margins.len() < MARGINS => {
                self.margins.push((what.clone(), *used));
            }
            Told::Finding(_) | Told::Margin { .. } => {}
        }
    }

    fn cycle(&mut self, cycle: &LoggedCycle) {
        self.cycles += 1;
        self.length_s = cycle.time_s;
        self.late.count(cycle.late_us);
        cycle.round_trip_us.into_iter().for_each(|us| self.trips.count(us));
        for (leg, peaks) in self.peaks.iter_mut().enumerate() {
            // `max` takes the number where one side is none.
            let force_n = cycle.force_n.get(leg).map_or(f64::NAN, |force| force.abs());
            peaks.force_n = peaks.force_n.max(force_n);
            let temperature_c = cycle.temperature_c.get(leg).copied().unwrap_or(f64::NAN);
            peaks.temperature_c = peaks.temperature_c.max(temperature_c);
        }
        let counted = |count: &mut Option<(u64, u64)>, now: Option<u64>| {
            now.into_iter().for_each(|now| count.get_or_insert((now, now)).1 = now);
        };
        counted(&mut self.rejected, cycle.rejected);
        counted(&mut self.dropped, cycle.dropped);
        let legs = self.peaks.len();
        if let Some(before) = self.before.replace(cycle.clone()) {
            let step_s = cycle.time_s - before.time_s;
            self.missing += cycle.tick.saturating_sub(before.tick).saturating_sub(1);
            for (leg, peaks) in self.peaks.iter_mut().enumerate() {
                if let (Some(from), Some(to)) = (before.measured_m.get(leg), cycle.measured_m.get(leg)) {
                    let speed_m_s = (to - from).abs() / step_s;
                    peaks.speed_m_s =
                        peaks.speed_m_s.max(if speed_m_s.is_finite() { speed_m_s } else { 0.0 });
                }
            }
            let tracking = self.tracking.get_or_insert_with(|| {
                let mut tracking = Tracking::new(legs, step_s);
                tracking.add(&row(&before, legs));
                tracking
            });
            tracking.add(&row(cycle, legs));
        }
    }

    /// How each leg followed while the scene played.
    pub fn legs(&self) -> Vec<LegTracking> {
        let nothing = || Tracking::new(self.peaks.len(), 0.001);
        self.tracking.as_ref().map_or_else(|| nothing().legs(), Tracking::legs)
    }

    /// Orders that the far end dropped during the run; `None` where it did not say.
    pub fn rejected(&self) -> Option<u64> {
        self.rejected.map(|(first, last)| last.saturating_sub(first))
    }

    /// Reports that were dropped here during the run; `None` where the record does not say.
    pub fn dropped(&self) -> Option<u64> {
        self.dropped.map(|(first, last)| last.saturating_sub(first))
    }
}

/// As it was when it was written, as far as tracking looks at it.
fn row(cycle: &LoggedCycle, count: usize) -> Row {
    let legs = |values: &[f64]| Legs::from_fn(count, |leg| values.get(leg).copied().unwrap_or(f64::NAN));
    let measured_m = legs(&cycle.measured_m);
    Row {
        tick: cycle.tick,
        time_us: (cycle.time_s * 1e6) as u64,
        path_s: cycle.path_s,
        rate: 1.0,
        gain: 1.0,
        state: State::ALL.into_iter().find(|state| state.word() == cycle.path).unwrap_or(State::Parked),
        platform: [f64::NAN; MAX_AXES],
        planned_m: legs(&cycle.commanded_m),
        sent_m: legs(&cycle.sent_m),
        measured_m: measured_m.iter().all(|at| at.is_finite()).then_some(measured_m),
        late_us: cycle.late_us,
        outcome: Outcome::Followed,
        drive: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cycle(tick: u64, at_m: f64) -> LoggedCycle {
        LoggedCycle {
            tick,
            time_s: tick as f64 * 0.002,
            path: "following".into(),
            sent_m: vec![at_m],
            measured_m: vec![at_m + 0.001],
            force_n: vec![if tick == 7 { -321.0 } else { f64::NAN }],
            rejected: Some(5 + tick / 10),
            ..LoggedCycle::default()
        }
    }

    #[test]
    fn the_largest_of_each_and_what_was_dropped_and_lost() {
        let mut summary = Summary::new(1);
        for tick in (0..20).chain(24..40) {
            summary.add(&Told::Cycle(Box::new(cycle(tick, 0.5 + 0.0002 * tick as f64))));
        }
        let peaks = summary.peaks[0];
        assert!((peaks.speed_m_s - 0.1).abs() < 1e-9 && peaks.temperature_c.is_nan(), "{peaks:?}");
        assert_eq!((peaks.force_n, summary.cycles, summary.missing), (321.0, 36, 4));
        assert_eq!((summary.rejected(), summary.dropped()), (Some(3), None));
        assert!((summary.legs()[0].peak_m - 0.001).abs() < 1e-12);
        assert_eq!(summary.length_s, 0.078);
    }

    #[test]
    fn of_many_events_the_first_and_the_last_stay() {
        let mut summary = Summary::new(1);
        for k in 0..5000 {
            summary.add(&Told::Event { time_s: f64::from(k), words: format!("event {k}") });
        }
        let Events { first, left_out, last } = &summary.events;
        assert_eq!((first.len(), *left_out, last.len()), (1000, 3000, 1000));
        assert_eq!((first[999].0, last[0].0, last[999].1.as_str()), (999.0, 4000.0, "event 4999"));
    }
}
