//! Where a curve can be and how fast it can change: interval arithmetic and majorants in one walk.

use super::{Curve, Majorant, NEPER_PER_DECIBEL};
use crate::signal::smoothstep;

/// All values from `low` to `high`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Interval {
    pub(super) low: f64,
    pub(super) high: f64,
}

impl Interval {
    const ALL: Self = Self { low: f64::NEG_INFINITY, high: f64::INFINITY };

    /// The smallest interval over `values`, a little wider for their rounding (at most a few units in the last place
    /// of `scale`, the largest number that went into them).
    fn over(values: impl IntoIterator<Item = f64>, scale: f64) -> Self {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for x in values {
            if x.is_nan() {
                return Self::ALL;
            }
            low = low.min(x);
            high = high.max(x);
        }
        let slack = 4.0 * f64::EPSILON;
        let wide = |x: f64| slack * x.abs().max(scale) + f64::MIN_POSITIVE;
        Self { low: low - wide(low), high: high + wide(high) }
    }

    fn size(self) -> f64 {
        self.low.abs().max(self.high.abs())
    }

    fn holds_zero(self) -> bool {
        self.low <= 0.0 && 0.0 <= self.high
    }

    fn sum(self, other: Self) -> Self {
        Self::over([self.low + other.low, self.high + other.high], self.size().max(other.size()))
    }

    fn product(self, other: Self) -> Self {
        if self.size().is_infinite() || other.size().is_infinite() {
            // Zero times what has no bounds is not even a number where a divisor was zero.
            return Self::ALL;
        }
        let (a, b, c, d) = (self.low, self.high, other.low, other.high);
        Self::over([a * c, a * d, b * c, b * d], 0.0)
    }

    fn reciprocal(self) -> Self {
        if self.holds_zero() { Self::ALL } else { Self::over([1.0 / self.high, 1.0 / self.low], 0.0) }
    }

    fn power(self, n: u32) -> Self {
        let raised = |x: f64| libm::pow(x, f64::from(n));
        let zero = (n.is_multiple_of(2) && self.holds_zero()).then_some(0.0);
        let ends = Self::over([raised(self.low), raised(self.high)].into_iter().chain(zero), 0.0);
        // Repeated squaring rounds up to 2 log2 n times more than one call of pow.
        let slack = 1.0 + 64.0 * f64::EPSILON;
        let out = |x: f64, up: bool| if (x > 0.0) == up { x * slack } else { x / slack };
        Self { low: out(ends.low, false), high: out(ends.high, true) }
    }
}

impl Curve {
    /// The interval that holds every value over `from_s..=to_s`, and bounds of value and derivatives.
    pub(super) fn bounds(&self, from_s: f64, to_s: f64) -> (Interval, Majorant) {
        let (range, majorant) = match self {
            Self::Constant(value) => {
                return if value.is_nan() {
                    (Interval::ALL, Majorant::UNBOUNDED)
                } else {
                    (Interval { low: *value, high: *value }, Majorant::constant(*value))
                };
            }
            Self::Ramp { from, to, start_s, end_s } => {
                let slope = (to - from) / (end_s - start_s);
                let rise = [from_s, to_s].map(|t| slope * (t - start_s));
                let range =
                    Interval::over(rise.map(|x| from + x), rise[0].abs().max(rise[1].abs()).max(from.abs()));
                (range, Majorant([range.size(), slope.abs(), 0.0, 0.0, 0.0]))
            }
            Self::Sum(a, b) => {
                let ((ra, ma), (rb, mb)) = (a.bounds(from_s, to_s), b.bounds(from_s, to_s));
                (ra.sum(rb), ma + mb)
            }
            Self::Product(a, b) => {
                let ((ra, ma), (rb, mb)) = (a.bounds(from_s, to_s), b.bounds(from_s, to_s));
                (ra.product(rb), ma * mb)
            }
            Self::Quotient(a, b) => {
                let ((ra, ma), (rb, mb)) = (a.bounds(from_s, to_s), b.bounds(from_s, to_s));
                let per = reciprocal((rb, mb));
                (ra.product(per.0), ma * per.1)
            }
            Self::Power(x, n) => {
                let raised = power(x.bounds(from_s, to_s), n.unsigned_abs());
                if *n < 0 { reciprocal(raised) } else { raised }
            }
            Self::Ease { x, low, high } => {
                let (r, m) = x.bounds(from_s, to_s);
                let per = 1.0 / (high - low);
                if !(per.is_finite() && r.size().is_finite()) {
                    return (Interval::ALL, Majorant::UNBOUNDED);
                }
                let u = [(r.low - low) * per, (r.high - low) * per];
                let u = Interval::over(u, low.abs().max(r.size()) * per.abs());
                let ends = [smoothstep::smoothstep(u.low)[0], smoothstep::smoothstep(u.high)[0]];
                (Interval::over(ends, 4.0), m.scaled(per).compose(smoothstep::bounds(u.low, u.high)))
            }
            Self::Decibels(x) => exponential(x.bounds(from_s, to_s), NEPER_PER_DECIBEL),
            Self::Exponential(x) => exponential(x.bounds(from_s, to_s), 1.0),
        };
        // The interval is often the sharper bound of the value.
        let [value, rest @ ..] = majorant.widened().0;
        let [b, c, d, e] = rest.map(|x| if x.is_nan() { f64::INFINITY } else { x });
        (range, Majorant([if value < range.size() { value } else { range.size() }, b, c, d, e]))
    }
}

fn reciprocal((range, majorant): (Interval, Majorant)) -> (Interval, Majorant) {
    if range.holds_zero() {
        return (Interval::ALL, Majorant::UNBOUNDED);
    }
    let per = range.reciprocal();
    let f = per.size();
    // The k-th derivative of 1/x is k! / x^(k+1).
    let outer = [f, f * f, 2.0 * f * f * f, 6.0 * f * f * f * f, 24.0 * f * f * f * f * f];
    (per, majorant.compose(outer))
}

fn power((range, majorant): (Interval, Majorant), n: u32) -> (Interval, Majorant) {
    let x = range.size();
    let mut outer = [0.0; 5];
    let mut falling = 1.0;
    for (k, bound) in outer.iter_mut().enumerate() {
        let left = f64::from(n) - k as f64;
        *bound = if left < 0.0 { 0.0 } else { falling * libm::pow(x, left) };
        falling *= left.max(0.0);
    }
    (range.power(n), majorant.compose(outer))
}

fn exponential((range, majorant): (Interval, Majorant), scale: f64) -> (Interval, Majorant) {
    let out = Interval::over([libm::exp(scale * range.low), libm::exp(scale * range.high)], 0.0);
    // The exponent's own rounding grows with its size.
    let slack = 1.0 + 4.0 * f64::EPSILON * (1.0 + range.size() * scale);
    let out = Interval { low: out.low / slack, high: out.high * slack };
    let f = out.high;
    (
        out,
        majorant.compose([
            f,
            scale * f,
            scale * scale * f,
            scale * scale * scale * f,
            scale * scale * scale * scale * f,
        ]),
    )
}
