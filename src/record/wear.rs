//! What legs and brakes have done: way, reversals, stops by the brakes alone. Added up run by run, for maintenance.

use super::Row;
use crate::safety::Legs;
use crate::safety::operation::Brakes;
use serde::{Deserialize, Serialize};
use std::collections::VecDeque;

/// A leg that turns round by less is taken to stand, m: the last digits of an encoder are no way (own choice).
const PLAY_M: f64 = 1e-4;

/// Brakes that begin to close on a leg faster than this have to stop it, m/s, on average over a while, microseconds (own
/// choice: what creeps is held, not stopped; a digit of the encoder is no way).
const STOPPED_M_S: f64 = 0.005;
const WHILE_US: u64 = 50_000;

/// What was done since somebody began to count.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Wear {
    /// Runs on drives.
    pub runs: u64,
    /// How often brakes have closed.
    pub brake_closings: u64,
    /// How often a brake had to stop what moved.
    pub brake_stops: u64,
    /// One a leg.
    pub legs: Vec<LegWear>,
}

/// What one leg has done.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LegWear {
    /// Its name.
    pub leg: String,
    /// Its way there and back, m.
    pub travel_m: f64,
    /// How often it turned round.
    pub reversals: u64,
}

impl Wear {
    /// Adds what was done in another time. Legs are known by their names.
    pub fn add(&mut self, other: &Self) {
        self.runs += other.runs;
        self.brake_closings += other.brake_closings;
        self.brake_stops += other.brake_stops;
        for leg in &other.legs {
            match self.legs.iter_mut().find(|known| known.leg == leg.leg) {
                Some(known) => {
                    known.travel_m += leg.travel_m;
                    known.reversals += leg.reversals;
                }
                None => self.legs.push(leg.clone()),
            }
        }
    }
}

/// Adds up the rows of one run.
#[derive(Debug, Clone)]
pub struct WearMeter {
    wear: Wear,
    /// For each leg, where it was last as far as its play lets one tell, and which way it went.
    stood_m: Option<Legs>,
    ways: Vec<i8>,
    /// Where the legs were in the last while, and when.
    before: VecDeque<(u64, Legs)>,
    brakes: Brakes,
}

impl WearMeter {
    /// Nothing yet, for these legs.
    pub fn new(legs: &[String]) -> Self {
        let leg = |leg: &String| LegWear { leg: leg.clone(), travel_m: 0.0, reversals: 0 };
        Self {
            wear: Wear { legs: legs.iter().map(leg).collect(), ..Wear::default() },
            stood_m: None,
            ways: vec![0; legs.len()],
            before: VecDeque::new(),
            brakes: Brakes::Unknown,
        }
    }

    /// Adds a row; only those on drives count.
    pub fn add(&mut self, row: &Row) {
        let (Some(drive), Some(measured_m)) = (&row.drive, row.measured_m) else { return };
        if measured_m.iter().any(|at| !at.is_finite()) {
            return;
        }
        self.wear.runs = 1;
        let stood_m = self.stood_m.get_or_insert(measured_m);
        for (leg, (wear, way)) in self.wear.legs.iter_mut().zip(&mut self.ways).enumerate() {
            let off_m = measured_m[leg] - stood_m[leg];
            let gone_m = off_m.abs() - PLAY_M;
            if gone_m <= 0.0 {
                continue;
            }
            stood_m[leg] += gone_m.copysign(off_m);
            wear.travel_m += gone_m;
            let now = if off_m > 0.0 { 1 } else { -1 };
            wear.reversals += u64::from(*way == -now);
            *way = now;
        }
        let since_us = row.time_us.saturating_sub(WHILE_US);
        while self.before.len() > 1 && self.before.front().is_some_and(|(time_us, _)| *time_us < since_us) {
            self.before.pop_front();
        }
        let speed_m_s = self.before.front().map_or(0.0, |(time_us, before_m)| {
            let past_us = row.time_us.saturating_sub(*time_us).max(WHILE_US);
            let way_m = measured_m.iter().zip(before_m.iter()).map(|(a, b)| (a - b).abs());
            way_m.fold(0.0, f64::max) / (past_us as f64 * 1e-6)
        });
        self.before.push_back((row.time_us, measured_m));
        let brakes = drive.seen.brakes;
        if self.brakes == Brakes::Released && brakes != Brakes::Released {
            self.wear.brake_closings += 1;
            self.wear.brake_stops += u64::from(speed_m_s > STOPPED_M_S);
        }
        self.brakes = brakes;
    }

    /// What it came to; no run where there was no row.
    pub fn wear(&self) -> &Wear {
        &self.wear
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::sample::driven as row;

    fn legs() -> Vec<String> {
        ["left", "right"].map(String::from).to_vec()
    }

    #[test]
    fn way_and_reversals_are_those_of_the_motion_and_noise_is_none() {
        let mut meter = WearMeter::new(&legs());
        // Ten periods of 5 s with an amplitude of 20 mm, and an encoder that dithers by 30 um; the other leg stands.
        for tick in 0..25_000 {
            let t_s = tick as f64 * 0.002;
            let dither_m = if tick % 2 == 0 { 15e-6 } else { -15e-6 };
            let at_m = 0.6 + 0.02 * libm::sin(std::f64::consts::TAU * t_s / 5.0) + dither_m;
            meter.add(&row(tick, [at_m, 0.5 + dither_m], Brakes::Released));
        }
        let [left, right] = &meter.wear().legs[..] else { panic!("{meter:?}") };
        // Four amplitudes a period; the play is missing at each of 20 turns, twice.
        assert!((left.travel_m - 0.8).abs() < 20.0 * 2.0 * PLAY_M + 1e-3, "{left:?}");
        assert_eq!((left.reversals, right.reversals, right.travel_m), (20, 0, 0.0));
        assert_eq!((meter.wear().runs, meter.wear().brake_closings), (1, 0));
    }

    #[test]
    fn a_brake_that_closes_on_what_moves_is_a_stop_by_the_brake() {
        let mut meter = WearMeter::new(&legs());
        let mut at_m = 0.6;
        let mut tick = 0;
        for (speed_m_s, brakes, rows) in [
            (0.0, Brakes::Set, 10),
            (0.1, Brakes::Released, 100),
            (0.0, Brakes::Released, 10),
            // At rest, but for a digit of the encoder: it only closes.
            (0.0, Brakes::Released, 30),
            (0.000_015 / 0.002, Brakes::Released, 1),
            (0.0, Brakes::Unknown, 5),
            (0.0, Brakes::Set, 10),
            (0.1, Brakes::Released, 100),
            // Power is gone.
            (0.1, Brakes::Unknown, 5),
            (0.0, Brakes::Set, 10),
        ] {
            for _ in 0..rows {
                at_m += speed_m_s * 0.002;
                meter.add(&row(tick, [at_m, 0.5], brakes));
                tick += 1;
            }
        }
        assert_eq!((meter.wear().brake_closings, meter.wear().brake_stops), (2, 1));
    }

    #[test]
    fn runs_add_up_by_the_names_of_legs_and_what_is_no_run_on_drives_adds_nothing() {
        let mut meter = WearMeter::new(&legs());
        meter.add(&Row { drive: None, ..row(0, [0.5, 0.5], Brakes::Set) });
        assert_eq!(meter.wear().runs, 0);
        let one = |leg: &str, travel_m, reversals| LegWear { leg: leg.to_string(), travel_m, reversals };
        let run = |legs| Wear { runs: 1, brake_closings: 3, brake_stops: 1, legs };
        let mut all = run(vec![one("left", 1.0, 2)]);
        all.add(&run(vec![one("right", 4.0, 5), one("left", 0.5, 1)]));
        assert_eq!((all.runs, all.brake_closings, all.brake_stops), (2, 6, 2));
        assert_eq!(all.legs, [one("left", 1.5, 3), one("right", 4.0, 5)]);
    }
}
