//! The low-pass: a windowed sinc of linear phase.

use crate::signal::widest;
use std::f64::consts::PI;

/// Ripple and leak, dB: 0.01 % either way.
const ATTENUATION_DB: f64 = 80.0;
/// Kaiser's shape parameter for it: 0.1102 (A - 8.7). Source: J. F. Kaiser, "Nonrecursive digital filter design using
/// the I0-sinh window function" (ISCAS 1974); the same formula as `scipy.signal.kaiser_beta`.
const BETA: f64 = 0.1102 * (ATTENUATION_DB - 8.7);
/// Width of the transition about the cutoff, as a part of the cutoff.
const TRANSITION: f64 = 0.5;

/// How many taps the filter needs (always odd), by Kaiser's formula: (A - 7.95) / (2.285 dw) + 1, dw in rad a sample.
pub(super) fn tap_count(below_hz: f64, rate_hz: f64) -> usize {
    let width = 2.0 * PI * TRANSITION * below_hz / rate_hz;
    let order = (ATTENUATION_DB - 7.95) / (2.285 * width);
    (order / 2.0).ceil().min(1e9) as usize * 2 + 1
}

/// `count` (odd) taps of a sinc cut off at `below_hz`, in a Kaiser window, with unit sum: what
/// `scipy.signal.firwin(count, below_hz, window=("kaiser", beta), fs=rate_hz)` gives with beta = 7.857 26.
pub fn lowpass_taps(count: usize, below_hz: f64, rate_hz: f64) -> Vec<f64> {
    let half = (count / 2) as f64;
    let cutoff = 2.0 * below_hz / rate_hz;
    let mut taps: Vec<f64> = (0..count)
        .map(|k| {
            let x = k as f64 - half;
            let part = if half > 0.0 { x / half } else { 0.0 };
            let window = bessel_i0(BETA * (1.0 - part * part).max(0.0).sqrt()) / bessel_i0(BETA);
            cutoff * sinc(cutoff * x) * window
        })
        .collect();
    let sum: f64 = taps.iter().sum();
    taps.iter_mut().for_each(|tap| *tap /= sum);
    taps
}

/// sin(pi x) / (pi x)
fn sinc(x: f64) -> f64 {
    if x == 0.0 { 1.0 } else { libm::sin(PI * x) / (PI * x) }
}

/// The modified Bessel function of order zero: its power series, the sum of (x/2)^2k / k!^2 (Abramowitz and Stegun 9.6.12).
fn bessel_i0(x: f64) -> f64 {
    let quarter = 0.25 * x * x;
    let (mut sum, mut term, mut k) = (1.0, 1.0, 1.0);
    while term > sum * 1e-17 && k < 500.0 {
        term *= quarter / (k * k);
        sum += term;
        k += 1.0;
    }
    sum
}

/// `value` through symmetric `taps`, centred (no delay), at every `every`-th point from the first to the last or just past
/// it; beyond its ends `value` rests.
pub(super) fn filter(value: &[f64], taps: &[f64], every: usize) -> Vec<f64> {
    let half = taps.len() / 2;
    let first = value.first().copied().unwrap_or(0.0);
    let last = value.last().copied().unwrap_or(0.0);
    let count = value.len().saturating_sub(1).div_ceil(every) + 1;
    // Taps of zero to a whole number of strands, and values for them to meet.
    let mut taps = taps.to_vec();
    taps.resize(taps.len().next_multiple_of(STRANDS), 0.0);
    let mut wide = Vec::with_capacity(value.len() + taps.len() + every);
    wide.resize(half, first);
    wide.extend_from_slice(value);
    wide.resize(value.len() + taps.len() + every, last);
    widest(
        #[inline(always)]
        || (0..count).map(|k| dot(&taps, wide.get(k * every..).unwrap_or_default())).collect(),
    )
}

/// Sums that a dot product is kept in: enough that none waits for the addition before.
const STRANDS: usize = 16;

/// Sum of products in strands, so that it vectorises; the order is fixed, so the sum always rounds alike.
#[inline(always)]
fn dot(taps: &[f64], value: &[f64]) -> f64 {
    let mut strands = [0.0; STRANDS];
    for (tap, x) in taps.chunks_exact(STRANDS).zip(value.chunks_exact(STRANDS)) {
        for l in 0..STRANDS {
            strands[l] += tap[l] * x[l];
        }
    }
    let mut half = STRANDS / 2;
    while half > 0 {
        for l in 0..half {
            strands[l] += strands[l + half];
        }
        half /= 2;
    }
    strands[0]
}
