//! A bump: the fourth power of half a sine.

use super::{WaveError, above_zero};
use crate::signal::turns::sine_cosine;
use crate::signal::{Jet, Majorant, Order};
use std::f64::consts::PI;

/// sin^4(pi t / w). A fourth power, since 1 - cos would step the acceleration at its ends.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pulse {
    width_s: f64,
    scale: f64,
}

/// Largest |rate| over pi/w: 4 s^3 c where s^2 = 3/4, that is 3 sqrt(3) / 4.
const PEAK_RATE: f64 = 1.299_038_105_676_658;
/// Largest |acceleration| over (pi/w)^2: 12 s^2 c^2 - 4 s^4 at the top.
const PEAK_ACCELERATION: f64 = 4.0;

/// Places t/w in the first half where a derivative turns, with the derivative there over (pi/w)^order; the second half
/// mirrors them. Closed forms: rate s^2 = 3/4; acceleration s^2 = 3/8 and the top; jerk where
/// 4 cos^2 a - cos a / 2 - 2 = 0 and fourth derivative at cos a = 1/16 and the top, a = 2 pi t/w.
const TURNS: [(usize, f64, f64); 7] = [
    (1, 1.0 / 3.0, PEAK_RATE),
    (2, 0.209_784_688_372_416_84, 2.25),
    (2, 0.5, PEAK_ACCELERATION),
    (3, 0.109_537_194_462_492_9, 5.308_724_089_834_139),
    (3, 0.362_064_216_677_689_84, 10.943_260_416_256_882),
    (4, 0.240_046_328_615_355_66, 32.25),
    (4, 0.5, 40.0),
];

impl Pulse {
    /// sin^4 is a constant and two cosines: one a width, and two.
    pub(super) fn edge_hz(&self) -> f64 {
        2.0 / self.width_s
    }

    pub(super) fn new(width_s: f64, order: Order) -> Result<Self, WaveError> {
        above_zero("width", width_s)?;
        let p = PI / width_s;
        let scale = match order {
            Order::Value => 1.0,
            Order::Rate => 1.0 / (PEAK_RATE * p),
            Order::Acceleration => 1.0 / (PEAK_ACCELERATION * p * p),
        };
        Ok(Self { width_s, scale })
    }

    #[inline(always)]
    pub(super) fn jet(&self, t_s: f64) -> Jet {
        let [value, rate, acceleration, jerk, _] = self.five(t_s);
        Jet([value, rate, acceleration, jerk])
    }

    /// Value and four derivatives; zero outside.
    #[inline(always)]
    fn five(&self, t_s: f64) -> [f64; 5] {
        let turns = t_s / (2.0 * self.width_s);
        if !(0.0..=0.5).contains(&turns) {
            return [0.0; 5];
        }
        let (s, c) = sine_cosine(turns);
        let p = PI / self.width_s;
        let (s2, c2, sc) = (s * s, c * c, s * c);
        let a = self.scale;
        let b = a * p;
        let d = b * p;
        let e = d * p;
        [
            a * s2 * s2,
            b * 4.0 * s2 * sc,
            d * s2 * (12.0 * c2 - 4.0 * s2),
            e * sc * (24.0 * c2 - 40.0 * s2),
            e * p * (24.0 * c2 * c2 - 192.0 * s2 * c2 + 40.0 * s2 * s2),
        ]
    }

    pub(super) fn majorant(&self, from_s: f64, to_s: f64) -> Majorant {
        let (from, to) = (from_s.max(0.0), to_s.min(self.width_s));
        if from > to {
            return Majorant::default();
        }
        let (first, last) = (self.five(from).map(f64::abs), self.five(to).map(f64::abs));
        let mut out: [f64; 5] = std::array::from_fn(|k| first[k].max(last[k]));
        let holds = |part: f64| from <= part * self.width_s && part * self.width_s <= to;
        if holds(0.5) {
            out[0] = self.scale;
        }
        let p = PI / self.width_s;
        let unit = [1.0, p, p * p, p * p * p, p * p * p * p];
        for (order, part, peak) in TURNS {
            if holds(part) || holds(1.0 - part) {
                out[order] = out[order].max(peak * unit[order] * self.scale);
            }
        }
        Majorant(out)
    }
}
