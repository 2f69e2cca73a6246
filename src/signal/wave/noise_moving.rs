//! The sums of a noise whose band moves.

#![allow(
    clippy::needless_range_loop,
    reason = "parallel arrays of fixed length, walked side by side, vectorise"
)]

use super::noise::Noise;
use super::noise_lines::{GROUP, Group};
use super::phase::{Local, since_first};
use super::{Instants, Rows};
use crate::signal::lanes::WIDTH;
use crate::signal::turns::{Pair, sine_cosine};
use crate::signal::widest;

/// Lines turned at once.
const LANE: usize = 4;
/// Such sets in a group.
const SETS: usize = GROUP / LANE;
/// Samples after which the chirp is started afresh. Errors of the second turn grow with the square of the run: 128
/// samples leave at most 128^2 / 2 roundings, 1e-12.
const RUN: usize = 128;

/// Adds to `rows` the sums over lines of F and its derivatives in the angle of the lower edge. `local` is the phase about
/// the first instant.
pub(super) fn sum(noise: &Noise, local: &Local, instants: &Instants<'_>, rows: &mut Rows) {
    let base = noise.phase.turns_at(instants.first_s(), instants.start_s);
    widest(
        #[inline(always)]
        || {
            for group in &noise.groups {
                match local.chirp() {
                    Some(chirp) => add_chirp(group, base, chirp, instants, rows),
                    None => add_exactly(group, base, local, instants, rows),
                }
            }
        },
    );
}

/// Straight ramps: each line turns by an angle that itself turns by a constant one.
#[inline(always)]
fn add_chirp(group: &Group, base: Pair, (hz, hz_s): (f64, f64), instants: &Instants<'_>, rows: &mut Rows) {
    let step_s = instants.step_s;
    let start: [f64; GROUP] = std::array::from_fn(|i| base.fraction(group.ratio[i], group.offset_turns[i]));
    let mut from = 0;
    while from < instants.time_s.len() {
        let to = (from + RUN).min(instants.time_s.len());
        let x = from as f64 * step_s;
        let since = x * (hz + 0.5 * hz_s * x);
        let first = step_s * (hz + hz_s * (x + 0.5 * step_s));
        let mut z = Turning::new(|i| start[i] + group.ratio[i] * since);
        let mut turn = Turning::new(|i| group.ratio[i] * first);
        let second = Turning::new(|i| group.ratio[i] * (hz_s * step_s * step_s));
        for sample in from..to {
            let mut sums = [[0.0; LANE]; 4];
            for set in 0..SETS {
                for l in 0..LANE {
                    let i = set * LANE + l;
                    let (s, c) = (z.sine[i], z.cosine[i]);
                    sums[0][l] += group.weight[0][i] * s;
                    sums[1][l] += group.weight[1][i] * c;
                    sums[2][l] += group.weight[2][i] * s;
                    sums[3][l] += group.weight[3][i] * c;
                }
            }
            z.turn(&turn);
            turn.turn(&second);
            for ((row, sum), sign) in rows.iter_mut().zip(&sums).zip([1.0, 1.0, -1.0, -1.0]) {
                row[sample] += sign * ((sum[0] + sum[1]) + (sum[2] + sum[3]));
            }
        }
        from = to;
    }
}

/// Unit vectors of a group of lines.
struct Turning {
    cosine: [f64; GROUP],
    sine: [f64; GROUP],
}

impl Turning {
    #[inline(always)]
    fn new(turns: impl Fn(usize) -> f64) -> Self {
        let mut out = Self { cosine: [0.0; GROUP], sine: [0.0; GROUP] };
        for i in 0..GROUP {
            (out.sine[i], out.cosine[i]) = sine_cosine(turns(i));
        }
        out
    }

    /// Turns each by the other's angle.
    #[inline(always)]
    fn turn(&mut self, by: &Self) {
        for i in 0..GROUP {
            let (c, s) = (self.cosine[i], self.sine[i]);
            self.cosine[i] = c * by.cosine[i] - s * by.sine[i];
            self.sine[i] = c * by.sine[i] + s * by.cosine[i];
        }
    }
}

/// Any polynomial: a sine for every line and sample.
#[inline(always)]
fn add_exactly(group: &Group, base: Pair, local: &Local, instants: &Instants<'_>, rows: &mut Rows) {
    let start: [f64; GROUP] = std::array::from_fn(|i| base.fraction(group.ratio[i], group.offset_turns[i]));
    let mut place = 0;
    for (x, count) in since_first(instants) {
        let (turns, _) = local.at(x);
        let mut sums = [[0.0; WIDTH]; 4];
        for i in 0..GROUP {
            for l in 0..WIDTH {
                let (s, c) = sine_cosine(start[i] + group.ratio[i] * turns[l]);
                sums[0][l] += group.weight[0][i] * s;
                sums[1][l] += group.weight[1][i] * c;
                sums[2][l] -= group.weight[2][i] * s;
                sums[3][l] -= group.weight[3][i] * c;
            }
        }
        for (row, sum) in rows.iter_mut().zip(&sums) {
            for (slot, x) in row.iter_mut().skip(place).zip(&sum[..count]) {
                *slot += x;
            }
        }
        place += count;
    }
}
