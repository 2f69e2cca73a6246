//! The sums of a noise at constant frequency.
//!
//! Samples are taken in runs of 32 about a centre. With x the time from the centre, sin(a + w x) = sin a cos w x + cos a
//! sin w x; the first part is even in x and the second odd, so two samples share both sums, and the tables of cos w x
//! and sin w x serve every run. What is left is a small matrix product, which vectorises.

use super::noise::Noise;
use super::noise_lines::{GROUP, Group};
use super::{Instants, Rows};
use crate::signal::turns::sine_cosine;
use crate::signal::widest;

/// Samples on one side of a centre.
const SIDE: usize = 16;
/// Samples in a run.
const RUN: usize = 2 * SIDE;
/// Samples summed at once on each side.
const TILE: usize = 4;

/// Adds to `rows` the sums over lines of F and its derivatives in the angle of the lower edge, which turns with `hz`.
/// Samples beyond the instants asked for get numbers that nobody reads.
pub(super) fn sum(noise: &Noise, hz: f64, instants: &Instants<'_>, rows: &mut Rows) {
    let base = noise.phase.turns_at(instants.first_s(), instants.start_s);
    let step_turns = hz * instants.step_s;
    let runs = instants.time_s.len().div_ceil(RUN);
    widest(
        #[inline(always)]
        || {
            for group in &noise.groups {
                let step: [f64; GROUP] = group.ratio.map(|ratio| ratio * step_turns);
                let mut centre = [0.0; GROUP];
                for i in 0..GROUP {
                    centre[i] =
                        base.fraction(group.ratio[i], group.offset_turns[i]) + (SIDE as f64 - 0.5) * step[i];
                }
                add(group, &Tables::new(&step), centre, runs, rows);
            }
        },
    );
}

/// Cosines and sines of the angles from a centre to the samples after it, for every line.
struct Tables {
    cosine: [[f64; SIDE]; GROUP],
    sine: [[f64; SIDE]; GROUP],
    /// Cosine and sine of the angle from one centre to the next.
    next: ([f64; GROUP], [f64; GROUP]),
}

impl Tables {
    #[inline(always)]
    fn new(step_turns: &[f64; GROUP]) -> Self {
        let (half_sine, half_cosine) = all(step_turns.map(|x| 0.5 * x));
        let (step_sine, step_cosine) = all(*step_turns);
        let (next_sine, next_cosine) = all(step_turns.map(|x| RUN as f64 * x));
        let mut cosine = [[0.0; SIDE]; GROUP];
        let mut sine = [[0.0; SIDE]; GROUP];
        for i in 0..GROUP {
            let (mut c, mut s) = (half_cosine[i], half_sine[i]);
            for k in 0..SIDE {
                cosine[i][k] = c;
                sine[i][k] = s;
                (c, s) = (c * step_cosine[i] - s * step_sine[i], c * step_sine[i] + s * step_cosine[i]);
            }
        }
        Self { cosine, sine, next: (next_cosine, next_sine) }
    }
}

/// Sines and cosines of many turns.
#[inline(always)]
fn all(turns: [f64; GROUP]) -> ([f64; GROUP], [f64; GROUP]) {
    let mut sine = [0.0; GROUP];
    let mut cosine = [0.0; GROUP];
    for i in 0..GROUP {
        (sine[i], cosine[i]) = sine_cosine(turns[i]);
    }
    (sine, cosine)
}

#[inline(always)]
fn add(group: &Group, tables: &Tables, centre_turns: [f64; GROUP], runs: usize, rows: &mut Rows) {
    let (mut s, mut c) = all(centre_turns);
    let w = &group.weight;
    for run in 0..runs {
        // Factors of the even and of the odd part, for F and its three derivatives.
        let mut even = [[0.0; 4]; GROUP];
        let mut odd = [[0.0; 4]; GROUP];
        for i in 0..GROUP {
            even[i] = [w[0][i] * s[i], w[1][i] * c[i], -w[2][i] * s[i], -w[3][i] * c[i]];
            odd[i] = [w[0][i] * c[i], -w[1][i] * s[i], -w[2][i] * c[i], w[3][i] * s[i]];
        }
        for tile in (0..SIDE).step_by(TILE) {
            let p = product(&even, &tables.cosine, tile);
            let q = product(&odd, &tables.sine, tile);
            let (after, before) = (run * RUN + SIDE + tile, run * RUN + SIDE - 1 - tile);
            for ((row, p), q) in rows.iter_mut().zip(&p).zip(&q) {
                for l in 0..TILE {
                    row[after + l] += p[l] + q[l];
                    row[before - l] += p[l] - q[l];
                }
            }
        }
        let (next_c, next_s) = &tables.next;
        for i in 0..GROUP {
            (c[i], s[i]) = (c[i] * next_c[i] - s[i] * next_s[i], c[i] * next_s[i] + s[i] * next_c[i]);
        }
    }
}

/// Four sums over lines for the samples of one tile.
#[inline(always)]
fn product(factors: &[[f64; 4]; GROUP], table: &[[f64; SIDE]; GROUP], tile: usize) -> [[f64; TILE]; 4] {
    let mut out = [[0.0; TILE]; 4];
    for (factor, row) in factors.iter().zip(table) {
        let Some(&[a, b, c, d]) = row.get(tile..tile + TILE) else { continue };
        for (sums, f) in out.iter_mut().zip(factor) {
            sums[0] += f * a;
            sums[1] += f * b;
            sums[2] += f * c;
            sums[3] += f * d;
        }
    }
    out
}
