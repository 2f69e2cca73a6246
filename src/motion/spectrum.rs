//! How an axis's acceleration spreads over frequency.
//!
//! Windows of about four seconds, half overlapped, Hann. Source of the estimate: Welch, IEEE Trans. Audio Electroacoust.
//! 15(2), 1967.

use super::Plan;
use realfft::RealFftPlanner;
use std::f64::consts::PI;

/// About so long is a window, s.
const WINDOW_S: f64 = 4.0;

/// The acceleration of one coordinate over frequency.
#[derive(Debug, Clone, PartialEq)]
pub struct Spectrum {
    /// Between two values, Hz; the first is at 0.
    pub step_hz: f64,
    /// Power spectral density averaged over the plan, (rad/s^2)^2/Hz or (m/s^2)^2/Hz.
    pub mean: Vec<f64>,
    /// The same of the loudest window at each frequency.
    pub loudest: Vec<f64>,
}

/// One spectrum a coordinate. Windows in which nothing moves count in the mean.
pub fn spectra(plan: &Plan, progress: &dyn Fn(f64)) -> Vec<Spectrum> {
    let rate_hz = f64::from(plan.rate().hz());
    let size = ((WINDOW_S * rate_hz) as usize).next_power_of_two().clamp(16, 1 << 20);
    let hop = size / 2;
    let hann: Vec<f64> =
        (0..size).map(|k| 0.5 - 0.5 * libm::cos(2.0 * PI * k as f64 / size as f64)).collect();
    // One-sided density: 2 |X|^2 / (rate sum w^2).
    let scale = 2.0 / (rate_hz * hann.iter().map(|w| w * w).sum::<f64>());
    let transform = RealFftPlanner::new().plan_fft_forward(size);
    let (mut input, mut output) = (transform.make_input_vec(), transform.make_output_vec());
    let axes = plan.rig().axes.len();
    let mut sums: Vec<Spectrum> = (0..axes)
        .map(|_| Spectrum {
            step_hz: rate_hz / size as f64,
            mean: vec![0.0; size / 2 + 1],
            loudest: vec![0.0; size / 2 + 1],
        })
        .collect();
    // What has been rendered and not yet gone out of the window, one row a coordinate.
    let mut rows: Vec<Vec<f64>> = vec![Vec::new(); axes];
    let mut frames = plan.frames();
    let (blocks, mut windows) = (plan.blocks(), 0_u64);
    for block in 0..blocks {
        plan.render_platform(block, &mut frames);
        for (row, jet) in rows.iter_mut().zip(&frames.platform) {
            row.extend(jet.0[2].iter().take(frames.count));
        }
        if block + 1 == blocks {
            rows.iter_mut().for_each(|row| row.resize(row.len().max(1).next_multiple_of(hop) + hop, 0.0));
        }
        while rows.first().is_some_and(|row| row.len() >= size) {
            windows += 1;
            for (row, sum) in rows.iter_mut().zip(&mut sums) {
                if row.iter().take(size).any(|value| *value != 0.0) {
                    input.iter_mut().zip(row.iter().zip(&hann)).for_each(|(slot, (a, w))| *slot = a * w);
                    if transform.process(&mut input, &mut output).is_ok() {
                        add(sum, output.iter().map(|bin| bin.norm_sqr() * scale));
                    }
                }
                row.drain(..hop);
            }
        }
        progress((block + 1) as f64 / blocks as f64);
    }
    for sum in &mut sums {
        sum.mean.iter_mut().for_each(|value| *value /= windows.max(1) as f64);
    }
    sums
}

fn add(sum: &mut Spectrum, densities: impl Iterator<Item = f64>) {
    for ((mean, loudest), density) in sum.mean.iter_mut().zip(&mut sum.loudest).zip(densities) {
        *mean += density;
        *loudest = loudest.max(density);
    }
}
