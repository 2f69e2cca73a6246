//! What one leg does in a sweep: its friction, and the way in which forces turn round where it does.

use super::{MEAN_S, median};
use crate::record::LoggedCycle;
use std::collections::VecDeque;

/// Slower than this a leg is not taken to slide, m/s.
const SLIDES_M_S: f64 = 0.001;
/// Parts of a leg's way that friction is worked out in, so that it is told at one place in both directions.
const PLACES: usize = 24;
/// Rows that a direction needs at a place.
const LEAST_ROWS: usize = 20;
/// Beside where a leg turns round, forces between these two distances count as before and after it, m.
const BESIDE_M: (f64, f64) = (0.001, 0.003);
/// A force has turned round when so much of the change is done.
pub(super) const TURNED: f64 = 0.9;
/// So long before and after it what belongs to a turn is looked for, s: a leg that slides is out of reach in a tenth of it.
const TURN_S: f64 = 30.0;
/// So many turns are enough.
const MOST_TURNS: usize = 100_000;

/// One leg's rows, smoothed, of the last while.
pub(super) struct Swept {
    /// What a mean is over: time, where it was, and what is reported less what is predicted.
    near: VecDeque<(f64, f64, f64)>,
    half: usize,
    /// Shortest and longest of the whole record, m.
    reach_m: (f64, f64),
    /// Sum and count of forces, longer and shorter.
    places: Vec<[(f64, usize); 2]>,
    /// Where it was, m, and its force, N, in the last rows; the number of the first of them.
    rows: VecDeque<(f64, f64)>,
    first: usize,
    most_rows: usize,
    /// How fast it slid last, and the row since then in which it was furthest that way.
    slid: Option<(f64, usize)>,
    /// Rows at which it turned round, whose ways are not told yet.
    turns: Vec<usize>,
    ways_m: Vec<f64>,
}

impl Swept {
    pub(super) fn new(step_s: f64, reach_m: (f64, f64)) -> Self {
        Self {
            near: VecDeque::new(),
            half: (0.5 * MEAN_S / step_s).round().max(1.0) as usize,
            reach_m,
            places: vec![[(0.0, 0); 2]; PLACES],
            rows: VecDeque::new(),
            first: 0,
            most_rows: (2.0 * TURN_S / step_s) as usize,
            slid: None,
            turns: Vec::new(),
            ways_m: Vec::new(),
        }
    }

    /// Adds a cycle of `leg`.
    pub(super) fn add(&mut self, cycle: &LoggedCycle, leg: usize) {
        let of = |values: &[f64]| values.get(leg).copied().unwrap_or(f64::NAN);
        let force_n = of(&cycle.force_n) - of(&cycle.predicted_n);
        self.near.push_back((cycle.time_s, of(&cycle.measured_m), force_n));
        if self.near.len() < 2 * self.half + 1 {
            return;
        }
        let sum: f64 = self.near.iter().map(|(_, _, force_n)| force_n).sum();
        let force_n = sum / self.near.len() as f64;
        let (first, last, middle) = (self.near[0], self.near[2 * self.half], self.near[self.half]);
        self.near.pop_front();
        self.row(middle.1, (last.1 - first.1) / (last.0 - first.0), force_n);
    }

    fn row(&mut self, at_m: f64, speed_m_s: f64, force_n: f64) {
        let slides = speed_m_s.abs() > SLIDES_M_S;
        if slides && force_n.is_finite() {
            let (low, high) = self.reach_m;
            let place = ((at_m - low) / (high - low) * PLACES as f64) as usize;
            if let Some(place) = self.places.get_mut(place.min(PLACES - 1)) {
                let (sum, count) = &mut place[usize::from(speed_m_s < 0.0)];
                *sum += force_n;
                *count += 1;
            }
        }
        self.rows.push_back((at_m, force_n));
        let last = self.first + self.rows.len() - 1;
        match &mut self.slid {
            slid if slides => {
                if let Some((before, turn)) = slid.replace((speed_m_s, last))
                    && before * speed_m_s < 0.0
                    && self.turns.len() + self.ways_m.len() < MOST_TURNS
                {
                    self.turns.push(turn);
                }
            }
            Some((before, turn)) => {
                let is_further = self
                    .rows
                    .get(*turn - self.first)
                    .is_some_and(|(far_m, _)| (at_m - far_m) * *before >= 0.0);
                *turn = if is_further { last } else { *turn };
            }
            None => {}
        }
        // A turn is told once the leg has gone on, or it stands for too long.
        let (told, waiting) = std::mem::take(&mut self.turns).into_iter().partition(|turn| {
            let off_m = (at_m - self.rows[turn - self.first].0).abs();
            off_m >= BESIDE_M.1 || last - turn >= self.most_rows / 2
        });
        self.turns = waiting;
        self.tell(told);
        if self.rows.len() > self.most_rows {
            self.rows.pop_front();
            self.first += 1;
            // It stood for so long that where it turns is any of the rows that are left.
            self.slid = self.slid.map(|(before, turn)| (before, turn.max(self.first)));
        }
    }

    fn tell(&mut self, turns: Vec<usize>) {
        let ways_m: Vec<f64> = turns.into_iter().filter_map(|turn| self.turn_at(turn - self.first)).collect();
        self.ways_m.extend(ways_m);
    }

    pub(super) fn friction_n(&self) -> Option<f64> {
        let both = self.places.iter().filter(|place| place.iter().all(|(_, count)| *count >= LEAST_ROWS));
        let mean = |(sum, count): (f64, usize)| sum / count as f64;
        median(both.map(|[longer, shorter]| 0.5 * (mean(*longer) - mean(*shorter))).collect())
    }

    pub(super) fn turn_m(&mut self) -> Option<f64> {
        let turns = std::mem::take(&mut self.turns);
        self.tell(turns);
        median(self.ways_m.clone())
    }

    /// How far a leg goes back from where it turns until the force has turned round; `turn` counts from the first row.
    fn turn_at(&self, turn: usize) -> Option<f64> {
        let rows = &self.rows;
        let turn_m = rows.get(turn)?.0;
        let off_m = |k: &usize| (rows[*k].0 - turn_m).abs();
        let is_beside = |k: &usize| (BESIDE_M.0..BESIDE_M.1).contains(&off_m(k));
        let mean = |those: &mut dyn Iterator<Item = usize>| {
            let (sum, count) = those.fold((0.0, 0), |(sum, count), k| (sum + rows[k].1, count + 1));
            (count >= LEAST_ROWS).then(|| sum / count as f64)
        };
        let is_near = |k: &usize| off_m(k) < BESIDE_M.1;
        let before_n = mean(&mut (0..turn).rev().take_while(is_near).filter(is_beside))?;
        let after_n = mean(&mut (turn..rows.len()).take_while(is_near).filter(is_beside))?;
        let change_n = after_n - before_n;
        let done = |k: &usize| (rows[*k].1 - before_n) / change_n >= TURNED;
        (turn..rows.len()).take_while(is_near).find(done).map(|k| off_m(&k))
    }
}
