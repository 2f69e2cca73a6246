//! What a slow sweep of the legs tells, from the record of a run: friction, how soon forces turn round, what a tap rings
//! at. Held against an earlier one it shows what wears, comes loose or rubs.
//!
//! Forces are those that drives report, less what the plan predicts; so weight and inertia are taken out.

mod change;

pub use change::Change;

use super::{Logged, LoggedCycle};
use realfft::RealFftPlanner;
use serde::{Deserialize, Serialize};

/// Slower than this a leg is not taken to slide, m/s (own choice, as all of these).
const SLIDES_M_S: f64 = 0.001;
/// Parts of a leg's way that friction is worked out in, so that it is told at one place in both directions.
const PLACES: usize = 24;
/// Rows that a direction needs at a place.
const LEAST_ROWS: usize = 20;
/// Beside where a leg turns round, forces between these two distances count as before and after it, m.
const BESIDE_M: (f64, f64) = (0.001, 0.003);
/// A force has turned round when so much of the change is done.
const TURNED: f64 = 0.9;
/// Speeds and forces are means over so long, s.
const MEAN_S: f64 = 0.02;
/// How long set-points must stand for a tap, s, and how long one is listened to.
const STANDS_S: f64 = 3.0;
const RINGS_S: f64 = 3.0;
/// A tap is so many times as strong as what goes on before and after, in power.
const TAP: f64 = 100.0;
/// Where a platform's frequencies may lie, Hz.
const BAND_HZ: (f64, f64) = (1.5, 60.0);

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

impl Sweep {
    /// Of a record.
    pub fn of(logged: &Logged) -> Self {
        let rows: Vec<&LoggedCycle> =
            logged.cycles.iter().filter(|cycle| cycle.path == "following").collect();
        let legs = logged.legs.iter().enumerate().map(|(leg, name)| {
            let swept = Swept::of(&rows, leg);
            SweptLeg { leg: name.clone(), friction_n: swept.friction_n(), turn_m: swept.turn_m() }
        });
        let entry = |wanted: &str| logged.entries.iter().find(|(key, _)| key == wanted);
        let words = ["answers", "drives"].map(|key| entry(key).map_or("", |(_, value)| value.as_str()));
        let of = words.join(" ").trim().to_string();
        Self { legs: legs.collect(), tap_hz: tap_hz(&rows, logged.legs.len()), of }
    }
}

/// One leg's rows, smoothed.
struct Swept {
    at_m: Vec<f64>,
    speed_m_s: Vec<f64>,
    /// What is reported less what is predicted.
    force_n: Vec<f64>,
}

impl Swept {
    fn of(rows: &[&LoggedCycle], leg: usize) -> Self {
        let half = (0.5 * MEAN_S / step_s(rows)).round().max(1.0) as usize;
        let at = |row: &LoggedCycle| row.measured_m.get(leg).copied().unwrap_or(f64::NAN);
        let force = |row: &LoggedCycle| Some(row.force_n.get(leg)? - row.predicted_n.get(leg)?);
        let (mut at_m, mut speed_m_s, mut force_n) = (Vec::new(), Vec::new(), Vec::new());
        for near in rows.windows(2 * half + 1) {
            let [Some(first), Some(last)] = [near.first(), near.last()] else { continue };
            at_m.push(at(near[half]));
            speed_m_s.push((at(last) - at(first)) / (last.time_s - first.time_s));
            let sum: f64 = near.iter().map(|row| force(row).unwrap_or(f64::NAN)).sum();
            force_n.push(sum / near.len() as f64);
        }
        Self { at_m, speed_m_s, force_n }
    }

    fn friction_n(&self) -> Option<f64> {
        let (low, high) = self
            .at_m
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| (low.min(*at), high.max(*at)));
        let mut places = vec![[(0.0, 0_usize); 2]; PLACES];
        for ((at, speed), force) in self.at_m.iter().zip(&self.speed_m_s).zip(&self.force_n) {
            if speed.abs() > SLIDES_M_S && force.is_finite() {
                let place = ((at - low) / (high - low) * PLACES as f64) as usize;
                let Some(place) = places.get_mut(place.min(PLACES - 1)) else { continue };
                let (sum, count) = &mut place[usize::from(*speed < 0.0)];
                *sum += force;
                *count += 1;
            }
        }
        let both = places.iter().filter(|place| place.iter().all(|(_, count)| *count >= LEAST_ROWS));
        let mean = |(sum, count): (f64, usize)| sum / count as f64;
        median(both.map(|[longer, shorter]| 0.5 * (mean(*longer) - mean(*shorter))).collect())
    }

    fn turn_m(&self) -> Option<f64> {
        median(self.turns().into_iter().filter_map(|turn| self.turn_at(turn)).collect())
    }

    /// The rows at which it turns round: the furthest between sliding one way and sliding the other.
    fn turns(&self) -> Vec<usize> {
        let (mut turns, mut slid) = (Vec::new(), None);
        for (k, speed) in self.speed_m_s.iter().enumerate().filter(|(_, speed)| speed.abs() > SLIDES_M_S) {
            if let Some((from, before)) = slid.replace((k, *speed))
                && before * speed < 0.0
            {
                let out_m = |row: &usize| self.at_m[*row] * before.signum();
                turns.extend((from..k).max_by(|a, b| out_m(a).total_cmp(&out_m(b))));
            }
        }
        turns
    }

    /// How far a leg goes back from where it turns until the force has turned round.
    fn turn_at(&self, turn: usize) -> Option<f64> {
        let off_m = |k: &usize| (self.at_m[*k] - self.at_m[turn]).abs();
        let is_beside = |k: &usize| (BESIDE_M.0..BESIDE_M.1).contains(&off_m(k));
        let mean = |rows: &mut dyn Iterator<Item = usize>| {
            let (sum, count) = rows.fold((0.0, 0), |(sum, count), k| (sum + self.force_n[k], count + 1));
            (count >= LEAST_ROWS).then(|| sum / count as f64)
        };
        let is_near = |k: &usize| off_m(k) < BESIDE_M.1;
        let before_n = mean(&mut (0..turn).rev().take_while(is_near).filter(is_beside))?;
        let after_n = mean(&mut (turn..self.at_m.len()).take_while(is_near).filter(is_beside))?;
        let change_n = after_n - before_n;
        let done = |k: &usize| (self.force_n[*k] - before_n) / change_n >= TURNED;
        (turn..self.at_m.len()).take_while(is_near).find(done).map(|k| off_m(&k))
    }
}

/// The time between two rows, s.
fn step_s(rows: &[&LoggedCycle]) -> f64 {
    let length_s = rows.first().zip(rows.last()).map_or(0.0, |(first, last)| last.time_s - first.time_s);
    (length_s / rows.len().saturating_sub(1).max(1) as f64).max(1e-4)
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.retain(|value| value.is_finite());
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// What the platform rings at after the strongest knock in the longest stretch in which set-points stand.
fn tap_hz(rows: &[&LoggedCycle], legs: usize) -> Option<f64> {
    let stands = |pair: &[&LoggedCycle]| pair[0].sent_m == pair[1].sent_m;
    let (mut longest, mut from) = (0..0, 0);
    for k in 1..=rows.len() {
        if k == rows.len() || !stands(&rows[k - 1..=k]) {
            if k - from > longest.len() {
                longest = from..k;
            }
            from = k;
        }
    }
    let (step_s, rows) = (step_s(rows), rows.get(longest)?);
    if (rows.len() as f64) * step_s < STANDS_S {
        return None;
    }
    let leg = |leg: usize| -> Option<Vec<f64>> {
        let force_n: Vec<f64> =
            rows.iter().map(|row| row.force_n.get(leg).copied()).collect::<Option<_>>()?;
        let mean = force_n.iter().sum::<f64>() / force_n.len() as f64;
        Some(force_n.iter().map(|force| force - mean).collect())
    };
    let forces = (0..legs).map(leg).collect::<Option<Vec<_>>>()?;
    let power: Vec<f64> =
        (0..rows.len()).map(|k| forces.iter().map(|force| force[k] * force[k]).sum()).collect();
    let (knock, most) = power.iter().copied().enumerate().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let usual = median(power)?;
    let last = (knock + (RINGS_S / step_s) as usize).min(rows.len());
    // The blow itself is no ring.
    let first = knock + (0.5 * MEAN_S / step_s).ceil() as usize;
    if most <= TAP * usual || first + 64 > last {
        return None;
    }
    frequency_hz(forces.iter().filter_map(|force| force.get(first..last)), last - first, step_s)
}

/// Where the power of some signals together is largest: a parabola through the logarithms of the largest and its
/// neighbours.
fn frequency_hz<'f>(signals: impl Iterator<Item = &'f [f64]>, count: usize, step_s: f64) -> Option<f64> {
    // Zeros behind them draw the spectrum finely.
    let size = (8 * count).next_power_of_two();
    let transform = RealFftPlanner::<f64>::new().plan_fft_forward(size);
    let mut power = vec![0.0; size / 2 + 1];
    for signal in signals {
        let mut input = signal.to_vec();
        input.resize(size, 0.0);
        let mut bins = transform.make_output_vec();
        transform.process(&mut input, &mut bins).ok()?;
        power.iter_mut().zip(&bins).for_each(|(power, bin)| *power += bin.norm_sqr());
    }
    let bin_hz = 1.0 / (step_s * size as f64);
    let inside = |k: &usize| (BAND_HZ.0..BAND_HZ.1).contains(&(*k as f64 * bin_hz));
    let best =
        (1..power.len().saturating_sub(1)).filter(inside).max_by(|a, b| power[*a].total_cmp(&power[*b]))?;
    let [a, b, c] = [best - 1, best, best + 1].map(|k| libm::log(power[k]));
    let bend = a - 2.0 * b + c;
    let beside = if bend < 0.0 { 0.5 * (a - c) / bend } else { 0.0 };
    Some((best as f64 + beside) * bin_hz)
}

#[cfg(test)]
#[path = "sweep/tests.rs"]
mod tests;
