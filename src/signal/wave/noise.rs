//! Noise: a seeded sum of sinusoids whose frequencies keep their ratios.

use super::noise_lines::{GROUP, Group, draw};
use super::phase::{Local, Phase, since_first};
use super::{Instants, Rows, WaveError, above_zero, noise_moving, noise_steady};
use crate::signal::lanes::compose;
use crate::signal::turns::sine_cosine;
use crate::signal::{Curve, Jet, Majorant, Order};
use std::f64::consts::TAU;

/// F(angle of the lower edge), F a fixed sum of sines: all that varies in time is that one angle, so sums over lines
/// are of F and its derivatives, and the chain rule comes after.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Noise {
    /// The phase of the lower edge.
    pub(super) phase: Phase,
    /// The upper edge over the lower.
    ratio: f64,
    /// The lines.
    pub(super) groups: Vec<Group>,
    /// Sums of all weights, by power of the ratio: bounds of F and its derivatives.
    bounds: [f64; 5],
}

/// Coefficients of two curves that are multiples agree to this part of the largest.
const SAME: f64 = 1e-9;
/// Below this part of its largest value a frequency counts as zero.
const ZERO: f64 = 1e-12;
/// More than this would ask for thousands of lines.
const OCTAVES: f64 = 20.0;

impl Noise {
    /// See [`super::Wave::noise`]; `stretch_s` is start and length.
    pub(super) fn new(
        low: &Curve,
        high: &Curve,
        slope: f64,
        seed: u64,
        order: Order,
        stretch_s: (f64, f64),
    ) -> Result<Self, WaveError> {
        let (start_s, length_s) = stretch_s;
        above_zero("length", length_s)?;
        let phase = Phase::new(low, start_s)?;
        let upper = Phase::new(high, start_s)?;
        let (least, most) = phase.frequency_hz.extremes(0.0, length_s);
        above_zero("frequency", most)?;
        if order != Order::Value || least < -ZERO * most {
            above_zero("frequency", if least.abs() <= ZERO * most { 0.0 } else { least })?;
        }
        let (high_least, high_most) = upper.frequency_hz.extremes(0.0, length_s);
        if least == most && high_least == high_most && high_most <= most {
            return Err(WaveError::BandOrder { low_hz: most, high_hz: high_most });
        }
        let ratio = constant_ratio(&phase, &upper, length_s).ok_or(WaveError::Band)?;
        let octaves = libm::log2(ratio);
        if octaves > OCTAVES {
            return Err(WaveError::Length(format!(
                "the noise band spans {octaves:.1} octaves; at most {OCTAVES} are allowed: raise its lower edge"
            )));
        }
        if !slope.is_finite() {
            return Err(WaveError::Length(format!(
                "the slope of the noise must be a finite number; it is {slope}"
            )));
        }
        let groups = draw(ratio, slope, seed, order);
        let mut bounds = [0.0; 5];
        for group in &groups {
            for i in 0..GROUP {
                for (bound, row) in bounds.iter_mut().zip(&group.weight) {
                    *bound += row[i];
                }
                bounds[4] += group.weight[3][i] * group.ratio[i];
            }
        }
        Ok(Self { phase, ratio, groups, bounds })
    }

    pub(super) fn jet(&self, t_s: f64, start_s: f64) -> Jet {
        let turns = self.phase.turns_at(t_s, start_s);
        let mut sums = [0.0; 4];
        for group in &self.groups {
            for i in 0..GROUP {
                let (s, c) = sine_cosine(turns.fraction(group.ratio[i], group.offset_turns[i]));
                for ((sum, row), x) in sums.iter_mut().zip(&group.weight).zip([s, c, -s, -c]) {
                    *sum += row[i] * x;
                }
            }
        }
        Jet(compose(sums, self.phase.angle_rates(t_s - start_s)))
    }

    pub(super) fn fill(&self, instants: &Instants<'_>, rows: &mut Rows) {
        if let Some(hz) = self.phase.steady_hz() {
            noise_steady::sum(self, hz, instants, rows);
            let mut power = 1.0;
            for row in rows.iter_mut() {
                row.iter_mut().take(instants.time_s.len()).for_each(|x| *x *= power);
                power *= TAU * hz;
            }
            return;
        }
        let local = Local::about(&self.phase, instants.first_s() - instants.start_s);
        noise_moving::sum(self, &local, instants, rows);
        let mut place = 0;
        for (x, count) in since_first(instants) {
            let (_, rates) = local.at(x);
            let [_, rate, acceleration, jerk] = rates;
            let rates = rate.into_iter().zip(acceleration).zip(jerk);
            for (((rate, acceleration), jerk), k) in rates.zip(place..place + count) {
                let sums = [rows[0][k], rows[1][k], rows[2][k], rows[3][k]];
                let jet = compose(sums, [0.0, rate, acceleration, jerk]);
                rows.iter_mut().zip(jet).for_each(|(row, x)| row[k] = x);
            }
            place += count;
        }
    }

    pub(super) fn majorant(&self, from_s: f64, to_s: f64) -> Majorant {
        self.phase.angle_majorant(from_s, to_s).compose(self.bounds)
    }

    /// The band as written; the lines lie within.
    pub(super) fn band_hz(&self, length_s: f64) -> (f64, f64) {
        let (low, high) = self.phase.frequency_hz.extremes(0.0, length_s);
        (low.max(0.0), high * self.ratio)
    }
}

/// The ratio of two frequencies, if it is constant and above 1.
fn constant_ratio(low: &Phase, high: &Phase, length_s: f64) -> Option<f64> {
    let weighed = |phase: &Phase| {
        let mut power = 1.0;
        let mut out = [0.0; crate::signal::polynomial::DEGREE];
        for (slot, c) in out.iter_mut().zip(&phase.frequency_hz.0) {
            *slot = c * power;
            power *= length_s;
        }
        out
    };
    let (low, high) = (weighed(low), weighed(high));
    let (a, b) = low.iter().zip(&high).max_by(|x, y| x.0.abs().total_cmp(&y.0.abs()))?;
    let ratio = b / a;
    let size = high.iter().fold(0.0_f64, |size, x| size.max(x.abs()));
    let same = low.iter().zip(&high).all(|(x, y)| (ratio * x - y).abs() <= SAME * size);
    (same && ratio > 1.0 + SAME && ratio.is_finite()).then_some(ratio)
}
