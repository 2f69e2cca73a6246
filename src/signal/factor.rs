//! What multiplies a waveform: gains, and the edges that bring it to rest.

use super::lanes::{Lanes, WIDTH};
use super::{BLOCK, Curve, Jet, Majorant, smoothstep};

/// A factor that multiplies a waveform; times are scenario seconds.
#[derive(Debug, Clone, PartialEq)]
pub enum Factor {
    /// Any curve.
    Gain(Curve),
    /// S from 0 at `start_s` to 1 `length_s` later.
    Rise {
        /// Where it starts.
        start_s: f64,
        /// How long it takes; above zero.
        length_s: f64,
    },
    /// S from 1 to 0, ending at `end_s`.
    Fall {
        /// Where it ends.
        end_s: f64,
        /// How long it takes; above zero.
        length_s: f64,
    },
}

impl Factor {
    /// Value and derivatives at `t_s`.
    pub fn jet(&self, t_s: f64) -> Jet {
        let [[value], [rate], [acceleration], [jerk]] = self.lanes([t_s]).0;
        Jet([value, rate, acceleration, jerk])
    }

    /// Bounds over `from_s..=to_s`.
    pub fn majorant(&self, from_s: f64, to_s: f64) -> Majorant {
        match self {
            Self::Gain(curve) => curve.majorant(from_s, to_s),
            Self::Rise { .. } | Self::Fall { .. } => {
                let (a, b) = (self.edge_place(from_s), self.edge_place(to_s));
                Majorant(smoothstep::bounds(a.min(b), a.max(b))).stretched(self.edge_length_s())
            }
        }
    }

    /// The constant that this factor is over `from_s..=to_s`, if it is one there.
    pub(super) fn constant_over(&self, from_s: f64, to_s: f64) -> Option<f64> {
        match self {
            Self::Gain(curve) => curve.constant(),
            Self::Rise { .. } | Self::Fall { .. } => {
                let (a, b) = (self.edge_place(from_s), self.edge_place(to_s));
                if a >= 1.0 && b >= 1.0 { Some(1.0) } else { (a <= 0.0 && b <= 0.0).then_some(0.0) }
            }
        }
    }

    /// Multiplies the jets of samples `from..to` in `rows` by this factor at their `time_s`.
    pub(super) fn apply(&self, time_s: &[f64], from: usize, to: usize, rows: &mut [[f64; BLOCK]; 4]) {
        let mut place = from;
        for times in time_s.get(from..to).unwrap_or_default().chunks(WIDTH) {
            let count = times.len();
            let mut part = Lanes([[0.0; WIDTH]; 4]);
            for (lane, row) in part.0.iter_mut().zip(rows.iter()) {
                *lane = padded(&row[place..place + count]);
            }
            let part = part.product(&self.lanes(padded(times)));
            for (lane, row) in part.0.iter().zip(rows.iter_mut()) {
                match row[place..place + count].first_chunk_mut::<WIDTH>() {
                    Some(whole) => *whole = *lane,
                    None => row[place..place + count].copy_from_slice(&lane[..count]),
                }
            }
            place += count;
        }
    }

    /// Value and derivatives at several instants.
    fn lanes<const N: usize>(&self, t_s: [f64; N]) -> Lanes<N> {
        if let Self::Gain(curve) = self {
            return curve.lanes(t_s);
        }
        let rate = if matches!(self, Self::Rise { .. }) { 1.0 } else { -1.0 } / self.edge_length_s();
        let mut u = Lanes([[0.0; N], [rate; N], [0.0; N], [0.0; N]]);
        for (place, t) in u.0[0].iter_mut().zip(t_s) {
            *place = self.edge_place(t);
        }
        u.smoothstep()
    }

    /// Where on its edge an instant lies: S is 0 below 0 and 1 above 1. Beyond for a gain.
    fn edge_place(&self, t_s: f64) -> f64 {
        match self {
            Self::Gain(_) => f64::INFINITY,
            Self::Rise { start_s, length_s } => (t_s - start_s) / length_s,
            Self::Fall { end_s, length_s } => (end_s - t_s) / length_s,
        }
    }

    fn edge_length_s(&self) -> f64 {
        match self {
            Self::Gain(_) => f64::INFINITY,
            Self::Rise { length_s, .. } | Self::Fall { length_s, .. } => *length_s,
        }
    }
}

/// Up to a lane of values, zeros behind them. Whole lanes have a length that is known, which copies at once.
#[inline]
fn padded(values: &[f64]) -> [f64; WIDTH] {
    values.first_chunk().copied().unwrap_or_else(|| {
        let mut lane = [0.0; WIDTH];
        lane[..values.len()].copy_from_slice(values);
        lane
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rise_and_fall_are_the_edge_polynomial_in_time() {
        let rise = Factor::Rise { start_s: 2.0, length_s: 0.5 };
        assert_eq!(rise.jet(2.25).0, [0.5, 2.1875 / 0.5, 0.0, -52.5 / 0.125]);
        assert_eq!(rise.jet(2.0).0, [0.0; 4]);
        assert_eq!(rise.jet(9.0).0, [1.0, 0.0, 0.0, 0.0]);
        let fall = Factor::Fall { end_s: 2.0, length_s: 0.5 };
        assert_eq!(fall.jet(1.75).0, [0.5, -2.1875 / 0.5, 0.0, 52.5 / 0.125]);
        assert_eq!(fall.jet(0.0).0[0], 1.0);
        assert_eq!(fall.jet(2.5).0[0], 0.0);
        assert_eq!(fall.majorant(0.0, 3.0).0[..2], [1.0, 2.1875 / 0.5]);
        assert_eq!(fall.majorant(0.0, 1.0).0, [1.0, 0.0, 0.0, 0.0, 0.0]);
    }

    #[test]
    fn constant_stretches_are_seen() {
        let rise = Factor::Rise { start_s: 2.0, length_s: 0.5 };
        assert_eq!(rise.constant_over(2.5, 3.0), Some(1.0));
        assert_eq!(rise.constant_over(2.4, 3.0), None);
        assert_eq!(rise.constant_over(1.0, 2.0), Some(0.0));
        assert_eq!(Factor::Gain(Curve::Constant(3.0)).constant_over(0.0, 1.0), Some(3.0));
    }
}
