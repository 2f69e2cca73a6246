//! What a platform rings at after somebody has knocked at it.

use super::{MEAN_S, median};
use crate::record::LoggedCycle;
use realfft::RealFftPlanner;

/// How long set-points must stand for a tap, s, and how long one is listened to.
const STANDS_S: f64 = 3.0;
const RINGS_S: f64 = 3.0;
/// Of a stretch in which they stand, so much is listened to, s.
const LISTENS_S: f64 = 120.0;
/// A tap is so many times as strong as what goes on before and after, in power.
const TAP: f64 = 100.0;
/// Where a platform's frequencies may lie, Hz.
const BAND_HZ: (f64, f64) = (1.5, 60.0);

/// A stretch in which set-points stand.
#[derive(Default)]
struct Stretch {
    rows: usize,
    /// Forces of each leg, N, of its first rows.
    forces_n: Vec<Vec<f64>>,
}

/// Listens in the longest stretch in which set-points stand.
pub(super) struct Tap {
    step_s: f64,
    legs: usize,
    sent_m: Option<Vec<f64>>,
    now: Stretch,
    longest: Stretch,
}

impl Tap {
    pub(super) fn new(step_s: f64, legs: usize) -> Self {
        Self { step_s, legs, sent_m: None, now: Stretch::default(), longest: Stretch::default() }
    }

    pub(super) fn add(&mut self, cycle: &LoggedCycle) {
        if self.sent_m.as_ref() != Some(&cycle.sent_m) {
            self.ends();
            self.sent_m = Some(cycle.sent_m.clone());
            self.now.forces_n = vec![Vec::new(); self.legs];
        }
        self.now.rows += 1;
        if self.now.rows as f64 * self.step_s <= LISTENS_S {
            for (leg, forces_n) in self.now.forces_n.iter_mut().enumerate() {
                forces_n.push(cycle.force_n.get(leg).copied().unwrap_or(f64::NAN));
            }
        }
    }

    fn ends(&mut self) {
        let over = std::mem::take(&mut self.now);
        if over.rows > self.longest.rows {
            self.longest = over;
        }
    }

    /// What it rang at after the strongest knock, Hz.
    pub(super) fn hz(&mut self) -> Option<f64> {
        self.ends();
        let (step_s, rows) = (self.step_s, self.longest.forces_n.first()?.len());
        if (rows as f64) * step_s < STANDS_S {
            return None;
        }
        for forces_n in &mut self.longest.forces_n {
            let mean = forces_n.iter().sum::<f64>() / rows as f64;
            forces_n.iter_mut().for_each(|force| *force -= mean);
        }
        let forces_n = &self.longest.forces_n;
        let power: Vec<f64> =
            (0..rows).map(|k| forces_n.iter().map(|force| force[k] * force[k]).sum()).collect();
        let (knock, most) = power.iter().copied().enumerate().max_by(|a, b| a.1.total_cmp(&b.1))?;
        let usual = median(power)?;
        let last = (knock + (RINGS_S / step_s) as usize).min(rows);
        // The blow itself is no ring.
        let first = knock + (0.5 * MEAN_S / step_s).ceil() as usize;
        if most <= TAP * usual || first + 64 > last {
            return None;
        }
        frequency_hz(forces_n.iter().filter_map(|force| force.get(first..last)), last - first, step_s)
    }
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
