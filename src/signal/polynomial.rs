//! Polynomials in time: frequencies and speeds, whose integrals (phase, distance) are exact.

use super::turns::Pair;

/// A polynomial: coefficient k multiplies t^k. Never empty.
#[derive(Debug, Clone, PartialEq)]
pub struct Polynomial(pub Vec<f64>);

/// Roots are bisected until the interval no longer shrinks; a double has no more bits than this.
const HALVINGS: usize = 200;

impl Polynomial {
    /// Its value at `t`.
    pub fn at(&self, t: f64) -> f64 {
        self.0.iter().rev().fold(0.0, |sum, c| sum * t + c)
    }

    /// Its value at `t` to about twice the precision of a number.
    pub(super) fn at_exactly(&self, t: Pair) -> Pair {
        self.0.iter().rev().fold(Pair { high: 0.0, low: 0.0 }, |sum, c| sum.times_plus(t, *c))
    }

    /// Its derivative.
    pub fn derivative(&self) -> Self {
        let mut out: Vec<f64> = self.0.iter().enumerate().skip(1).map(|(k, c)| k as f64 * c).collect();
        if out.is_empty() {
            out.push(0.0);
        }
        Self(out)
    }

    /// Its integral from 0.
    pub fn integral(&self) -> Self {
        let rest = self.0.iter().enumerate().map(|(k, c)| c / (k + 1) as f64);
        Self(std::iter::once(0.0).chain(rest).collect())
    }

    /// The same curve with its origin at `by`: p(t + by) as a polynomial in t.
    pub fn shifted(&self, by: f64) -> Self {
        let mut out = self.0.clone();
        shift(&mut out, by);
        Self(out)
    }

    /// Its smallest and largest value over `from..=to`, by its turning points.
    pub fn extremes(&self, from: f64, to: f64) -> (f64, f64) {
        let turns = self.derivative().roots(from, to);
        turns
            .into_iter()
            .chain([from, to])
            .map(|t| self.at(t))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)))
    }

    /// Bounds of |p| and its first four |derivatives| over `from..=to`: the expansion about the middle with all signs
    /// against us.
    pub(super) fn bounds(&self, from: f64, to: f64) -> [f64; 5] {
        if let [constant] = self.0[..] {
            return [constant.abs(), 0.0, 0.0, 0.0, 0.0];
        }
        let half = 0.5 * (to - from);
        let mut buffer = [0.0; DEGREE + 1];
        let coefficients = match buffer.get_mut(..self.0.len()) {
            Some(part) => part,
            None => return [f64::INFINITY; 5],
        };
        coefficients.copy_from_slice(&self.0);
        shift(coefficients, 0.5 * (from + to));
        let mut out = [0.0; 5];
        for (order, bound) in out.iter_mut().enumerate() {
            let mut power = 1.0;
            for (k, c) in coefficients.iter().enumerate().skip(order) {
                let falling: f64 = (k - order + 1..=k).map(|j| j as f64).product();
                *bound += c.abs() * falling * power;
                power *= half;
            }
        }
        out
    }

    /// Where it is zero in `from..=to`, rising, each crossing once; touching without crossing may be missed.
    fn roots(&self, from: f64, to: f64) -> Vec<f64> {
        if self.0.iter().skip(1).all(|c| *c == 0.0) {
            return Vec::new();
        }
        let mut stations = vec![from];
        stations.extend(self.derivative().roots(from, to));
        stations.push(to);
        let mut out = Vec::new();
        for (a, b) in stations.iter().zip(stations.iter().skip(1)) {
            let (mut low, mut high) = (*a, *b);
            let rising = self.at(high) > self.at(low);
            if (self.at(low) > 0.0) == rising && (self.at(high) < 0.0) == rising {
                continue;
            }
            for _ in 0..HALVINGS {
                let middle = 0.5 * (low + high);
                if middle <= low || middle >= high {
                    break;
                }
                if (self.at(middle) < 0.0) == rising { low = middle } else { high = middle }
            }
            if self.at(*a) * self.at(*b) <= 0.0 {
                out.push(0.5 * (low + high));
            }
        }
        out
    }
}

/// The largest degree that a curve of time gives.
pub(super) const DEGREE: usize = 9;

/// Taylor shift in place (synthetic division; Knuth, TAOCP vol. 2, 4.6.4).
pub(super) fn shift(coefficients: &mut [f64], by: f64) {
    let count = coefficients.len();
    for first in 0..count.saturating_sub(1) {
        let mut above = 0.0;
        for c in coefficients.iter_mut().skip(first).rev() {
            *c += by * above;
            above = *c;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn calculus_and_shift() {
        let p = Polynomial(vec![1.0, -2.0, 3.0]);
        assert_eq!(p.derivative(), Polynomial(vec![-2.0, 6.0]));
        assert_eq!(p.integral(), Polynomial(vec![0.0, 1.0, -1.0, 1.0]));
        assert_eq!(p.shifted(2.0), Polynomial(vec![9.0, 10.0, 3.0]));
        assert_eq!(Polynomial(vec![4.0]).derivative(), Polynomial(vec![0.0]));
    }

    #[test]
    fn extremes_find_the_turning_points() {
        // (t - 1)(t - 2)(t - 4) turns at (7 +- sqrt 7) / 3
        let p = Polynomial(vec![-8.0, 14.0, -7.0, 1.0]);
        let turn = |sign: f64| (7.0 + sign * 7.0_f64.sqrt()) / 3.0;
        let (low, high) = p.extremes(0.9, 4.05);
        assert!((low - p.at(turn(1.0))).abs() < 1e-12 && (high - p.at(turn(-1.0))).abs() < 1e-12);
        assert_eq!(p.extremes(4.0, 5.0), (0.0, 12.0));
    }

    proptest! {
        #[test]
        fn bounds_hold(c in prop::collection::vec(-3.0..3.0_f64, 1..9), from in -2.0..2.0_f64, length in 0.0..2.0_f64) {
            let mut p = Polynomial(c);
            let bounds = p.bounds(from, from + length);
            let (low, high) = p.extremes(from, from + length);
            for (order, bound) in bounds.into_iter().enumerate() {
                for i in 0..=50 {
                    let x = p.at(from + length * f64::from(i) / 50.0);
                    prop_assert!(x.abs() <= bound * (1.0 + 1e-12) + 1e-12);
                    if order == 0 {
                        prop_assert!(low - 1e-9 <= x && x <= high + 1e-9);
                    }
                }
                p = p.derivative();
            }
        }
    }
}
