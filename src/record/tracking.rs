//! How well the drives follow: error and lag of each leg, added up row by row.
//!
//! The lag is the shift between what was sent and what was measured at which the squared error is least, with a
//! parabola through the least and its neighbours for the part of a cycle (from memory).

use super::row::Row;
use crate::safety::{Legs, Outcome, State};

/// The largest shift that is looked at, cycles.
const SHIFTS: usize = 128;

/// What one leg did while the scene played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LegTracking {
    /// Largest |measured - sent|, m.
    pub peak_m: f64,
    /// Root of its mean square, m.
    pub rms_m: f64,
    /// How long what was measured lies behind what was sent, s; `None` when it did not move enough to tell.
    pub lag_s: Option<f64>,
    /// Root of the mean square error with that lag (in whole cycles) taken out, m.
    pub rms_after_lag_m: f64,
    /// The largest error with that lag taken out, m: how far the leg strayed from its path, however late it was on it.
    pub peak_after_lag_m: f64,
}

/// Adds up rows.
#[derive(Debug, Clone)]
pub struct Tracking {
    legs: usize,
    cycle_s: f64,
    /// What was sent in the last cycles, a ring.
    sent: Vec<Legs>,
    /// For each leg and shift, the sum of squared errors, and the largest.
    squares: Vec<[f64; SHIFTS]>,
    peaks: Vec<[f64; SHIFTS]>,
    /// Of each leg, nothing shifted: largest error, m, and sum of squares.
    peak: Legs,
    square: Legs,
    rows: u64,
    rows_shifted: u64,
    next_tick: Option<u64>,
    interventions: u64,
}

impl Tracking {
    /// Nothing yet, for `legs` legs at a cycle of `cycle_s`.
    pub fn new(legs: usize, cycle_s: f64) -> Self {
        Self {
            legs,
            cycle_s,
            sent: Vec::with_capacity(SHIFTS),
            squares: vec![[0.0; SHIFTS]; legs],
            peaks: vec![[0.0; SHIFTS]; legs],
            peak: Legs::filled(legs, 0.0),
            square: Legs::filled(legs, 0.0),
            rows: 0,
            rows_shifted: 0,
            next_tick: None,
            interventions: 0,
        }
    }

    /// Adds one row; only rows in which the scene plays count for the tracking.
    pub fn add(&mut self, row: &Row) {
        let on_path = row.state.is_moving() && row.state != State::Braking;
        self.interventions += u64::from(on_path && row.outcome != Outcome::Followed);
        let (State::Following | State::Slowing, Some(measured)) = (row.state, row.measured_m) else { return };
        if self.next_tick != Some(row.tick) {
            // A gap: shifts across it would compare what does not belong together.
            self.sent.clear();
        }
        self.next_tick = Some(row.tick + 1);
        if self.sent.len() == SHIFTS {
            self.sent.rotate_right(1);
            if let Some(first) = self.sent.first_mut() {
                *first = row.sent_m;
            }
        } else {
            self.sent.insert(0, row.sent_m);
        }
        self.rows += 1;
        for leg in 0..self.legs {
            let error = (measured[leg] - row.sent_m[leg]).abs();
            self.peak[leg] = self.peak[leg].max(error);
            self.square[leg] += error * error;
        }
        if self.sent.len() < SHIFTS {
            return;
        }
        self.rows_shifted += 1;
        for (leg, (squares, peaks)) in self.squares.iter_mut().zip(&mut self.peaks).enumerate() {
            for ((square, peak), sent) in squares.iter_mut().zip(peaks).zip(&self.sent) {
                let error = measured[leg] - sent[leg];
                *square += error * error;
                *peak = peak.max(error.abs());
            }
        }
    }

    /// How many rows counted.
    pub fn rows(&self) -> u64 {
        self.rows
    }

    /// In how many cycles the governor sent something else than the path asked for (a stop off the path not counted).
    pub fn interventions(&self) -> u64 {
        self.interventions
    }

    /// One a leg.
    pub fn legs(&self) -> Vec<LegTracking> {
        (0..self.legs).map(|leg| self.leg(leg)).collect()
    }

    /// How far each leg strayed from its path, m, when all of them are taken to be equally late: the same shift for all,
    /// with which the squares of all errors are least. Legs that are differently late are off by that, too, for the
    /// platform between them is. `None` where too little was played to tell.
    pub fn strayed_m(&self) -> Option<Vec<f64>> {
        let square = |shift: usize| self.squares.iter().map(|squares| squares[shift]).sum::<f64>();
        let best = (0..SHIFTS).min_by(|a, b| square(*a).total_cmp(&square(*b)))?;
        let strayed_m: Vec<f64> = self.peaks.iter().map(|peaks| peaks[best]).collect();
        (self.rows_shifted > 0 && square(best).is_finite()).then_some(strayed_m)
    }

    fn leg(&self, leg: usize) -> LegTracking {
        let rms = |square: f64, rows: u64| (square / rows.max(1) as f64).sqrt();
        let squares = &self.squares[leg];
        let best = (0..SHIFTS).min_by(|a, b| squares[*a].total_cmp(&squares[*b])).unwrap_or(0);
        let inner = best > 0 && best + 1 < SHIFTS && self.rows_shifted > 0;
        let lag_s = inner
            .then(|| {
                let (a, b, c) = (squares[best - 1], squares[best], squares[best + 1]);
                let bend = a - 2.0 * b + c;
                (bend > 0.0).then(|| (best as f64 + 0.5 * (a - c) / bend) * self.cycle_s)
            })
            .flatten();
        LegTracking {
            peak_m: self.peak[leg],
            rms_m: rms(self.square[leg], self.rows),
            lag_s,
            rms_after_lag_m: rms(squares[best], self.rows_shifted),
            peak_after_lag_m: self.peaks[leg][best],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::safety::MAX_AXES;

    fn row(tick: u64, sent_m: Legs, measured_m: Legs) -> Row {
        Row {
            tick,
            time_us: tick * 1000,
            path_s: tick as f64 * 0.001,
            rate: 1.0,
            gain: 1.0,
            state: State::Following,
            platform: [0.0; MAX_AXES],
            planned_m: sent_m,
            sent_m,
            measured_m: Some(measured_m),
            late_us: 0,
            outcome: Outcome::Followed,
            drive: None,
        }
    }

    #[test]
    fn finds_a_known_lag_between_two_cycles() {
        let mut tracking = Tracking::new(1, 0.001);
        let length = |t: f64| 0.7 + 0.02 * libm::sin(6.0 * t) + 0.003 * libm::sin(31.0 * t);
        for tick in 0..4000 {
            let t = tick as f64 * 0.001;
            tracking.add(&row(tick, Legs::filled(1, length(t)), Legs::filled(1, length(t - 0.0123))));
        }
        let leg = tracking.legs()[0];
        assert!((leg.lag_s.unwrap() - 0.0123).abs() < 2e-5, "{leg:?}");
        assert!(leg.rms_after_lag_m < 0.0001 && leg.rms_m > 0.001, "{leg:?}");
        // A third of a cycle is left, at up to 0.213 m/s.
        let left_m = 0.213 * 0.0003;
        assert!((0.9 * left_m..1.1 * left_m).contains(&leg.peak_after_lag_m), "{leg:?}");
        assert!(leg.peak_m > leg.rms_m && leg.peak_m < 0.213 * 0.0123);
        assert_eq!((tracking.rows(), tracking.interventions()), (4000, 0));
    }

    #[test]
    fn legs_that_are_differently_late_stray_by_that() {
        let mut tracking = Tracking::new(2, 0.001);
        assert_eq!(tracking.strayed_m(), None);
        // 0.1 m/s one way and the other; one leg comes 10 ms after its set-points, the other 20 ms.
        let length = |t: f64| 0.7 + 0.1 * ((t + 0.5) % 2.0 - 1.0).abs();
        for tick in 0..6000 {
            let t = tick as f64 * 0.001;
            let late_m = Legs::from_slice(&[length(t - 0.010), length(t - 0.020)]).unwrap();
            tracking.add(&row(tick, Legs::filled(2, length(t)), late_m));
        }
        assert!(tracking.legs().iter().all(|leg| leg.peak_after_lag_m < 1e-9), "{:?}", tracking.legs());
        // Half way between them each is 5 ms off its own.
        let strayed_m = tracking.strayed_m().unwrap();
        assert!(strayed_m.iter().all(|strayed_m| (strayed_m - 0.0005).abs() < 1e-9), "{strayed_m:?}");
    }

    #[test]
    fn tells_nothing_of_a_leg_that_stands() {
        assert_eq!(Tracking::new(1, 0.001).legs()[0].lag_s, None);
    }
}
