//! `every`: when it fires, by time and by distance covered.

use super::limit;
use super::resolver::{Place, Resolver, Stop};
use crate::diag::Diagnostic;
use crate::lang::tree::{Expr, Repeat};
use crate::time::to_nanosecond;
use crate::units::{Dimension, show};

impl<'a> Resolver<'a> {
    /// Reviews an `every`: the dimensions of its parts.
    ///
    /// # Errors
    /// All mistakes, told already.
    pub(super) fn review_every(&mut self, repeat: &'a Repeat, at: Place) -> Result<Dimension, Stop> {
        let step = self.step(&repeat.every, at, "`every`", true);
        let after = repeat.after.as_ref().map(|after| self.step(after, at, "`after`", false)).transpose();
        let speed = repeat.at.as_ref().map(|speed| (self.value(speed, at, false), speed));
        let ((dimension, _), after) = (step?, after?);
        if let Some((Dimension::LENGTH, _)) = after
            && dimension == Dimension::TIME
            && let Some(expr) = &repeat.after
        {
            let title = "`after` a length needs `every` a length, and its speed";
            return Err(self.fail(Diagnostic::error("dimension", expr.span, title)));
        }
        match (dimension, speed) {
            (Dimension::LENGTH, None) => {
                let diagnostic = Diagnostic::error(
                    "argument",
                    repeat.every.span,
                    "`every` a length needs the speed at which it is covered",
                )
                .help("add it: `every 5 m at 20 kt`");
                Err(self.fail(diagnostic))
            }
            (Dimension::LENGTH, Some((found, value))) => {
                let found = found?;
                if found.dimension == Dimension::SPEED {
                    return Ok(dimension);
                }
                let title = format!("a length is covered at a speed; this is {}", found.dimension);
                let diagnostic = Diagnostic::error("dimension", value.span, title)
                    .label(found.dimension.to_string())
                    .also(repeat.every.span, "this is a length");
                Err(self.fail(super::advice::value_toward(
                    diagnostic,
                    value,
                    found.dimension,
                    Dimension::SPEED,
                )))
            }
            (_, Some((_, value))) => {
                let diagnostic = Diagnostic::error("argument", value.span, "`every` a time has no speed")
                    .also(repeat.every.span, "this is a time")
                    .help("leave `at` out, or write a length after `every`");
                Err(self.fail(diagnostic))
            }
            (_, None) => Ok(dimension),
        }
    }

    /// A constant time or length; above zero where `above_zero`, else not below.
    fn step(
        &mut self,
        expr: &'a Expr,
        at: Place,
        what: &str,
        above_zero: bool,
    ) -> Result<(Dimension, Option<f64>), Stop> {
        let found = self.constant(expr, at, what)?;
        if found.dimension != Dimension::TIME && found.dimension != Dimension::LENGTH {
            let title = format!("{what} takes a time or a length; this is {}", found.dimension);
            let diagnostic =
                Diagnostic::error("dimension", expr.span, title).label(found.dimension.to_string());
            return Err(self.fail(super::advice::toward(diagnostic, expr, found.dimension, Dimension::TIME)));
        }
        if found.is_instant() {
            let title = format!("{what} takes a length of time, and this is an instant");
            let diagnostic = Diagnostic::error("label", expr.span, title)
                .help("for the stretch between two labels write `during a .. b` before `every`");
            return Err(self.fail(diagnostic));
        }
        if let Some(number) = found.number()
            && (number < 0.0 || (above_zero && number == 0.0))
        {
            let bound = if above_zero { "be above zero" } else { "not be negative" };
            let title = format!("{what} must {bound}; it is {}", show(number, found.dimension));
            return Err(self.fail(Diagnostic::error("range", expr.span, title)));
        }
        Ok((found.dimension, found.number()))
    }

    /// When statement `k` of a body fires, s from the scene's start, whole nanoseconds, rising. The end of its stretch
    /// does not fire.
    ///
    /// # Errors
    /// Told already.
    pub(super) fn firings(&mut self, repeat: &'a Repeat, at: Place, most: usize) -> Result<Vec<f64>, Stop> {
        let k = at.statement.ok_or(Stop::Reported)?;
        let (dimension, step) = self.step(&repeat.every, at, "`every`", true)?;
        let step = step.ok_or(Stop::Reported)?;
        let start_s = self.start(at.frame, k)?;
        let end_s = to_nanosecond(start_s + self.length(at.frame, k)?);
        let (after_dimension, after) = match &repeat.after {
            Some(after) => self.step(after, at, "`after`", false)?,
            None => (dimension, Some(0.0)),
        };
        let after = after.ok_or(Stop::Reported)?;
        if dimension == Dimension::TIME {
            let count = ((end_s - start_s - after) / step).ceil();
            self.countable(count, most, &repeat.every)?;
            let times =
                (0..count.max(0.0) as usize).map(|n| to_nanosecond(start_s + after + n as f64 * step));
            return Ok(times.filter(|time_s| *time_s < end_s).collect());
        }
        let speed = repeat.at.as_ref().ok_or(Stop::Reported)?;
        let curve = self.value(speed, at, false)?.curve.ok_or(Stop::Reported)?;
        let (from_s, first) =
            if after_dimension == Dimension::TIME { (start_s + after, 0.0) } else { (start_s, after) };
        if from_s >= end_s {
            return Ok(Vec::new());
        }
        let Some(polynomial) = curve.polynomial(from_s) else {
            let diagnostic = Diagnostic::error(
                "varying",
                speed.span,
                "a speed may only vary as sums and products of straight ramps",
            )
            .help("then the distance covered is exact; `ease` and quotients of ramps are not that");
            return Err(self.fail(diagnostic));
        };
        let distance = Distance::new(&polynomial.0, end_s - from_s);
        let (slowest, when) = distance.slowest();
        let (fastest, _) = distance.fastest();
        if slowest < -1e-9 * fastest.abs().max(slowest.abs()) {
            let title = format!(
                "this speed falls to {} at {}",
                show(slowest, Dimension::SPEED),
                show(from_s + when, Dimension::TIME)
            );
            let diagnostic = Diagnostic::error("distance", speed.span, title)
                .help("a distance is covered forwards only: end the ramp at zero or above, or end the statement there");
            return Err(self.fail(diagnostic));
        }
        if fastest <= 0.0 {
            let diagnostic = Diagnostic::error(
                "distance",
                speed.span,
                "this speed stays zero, so no distance is ever covered",
            );
            return Err(self.fail(diagnostic));
        }
        let total = distance.covered(end_s - from_s);
        let count = ((total - first) / step).ceil();
        self.countable(count, most, &repeat.every)?;
        let mut times = Vec::with_capacity(count.max(0.0) as usize);
        let mut earliest = 0.0;
        for n in 0..count.max(0.0) as usize {
            earliest = distance.when(first + n as f64 * step, earliest);
            let time_s = to_nanosecond(from_s + earliest);
            if time_s < end_s {
                times.push(time_s);
            }
        }
        Ok(times)
    }

    fn countable(&mut self, count: f64, most: usize, every: &Expr) -> Result<(), Stop> {
        if count <= most as f64 {
            return Ok(());
        }
        self.exhausted = true;
        let title = format!("this repeats {count:.0} times; a scene may play {} layers", limit::LAYERS);
        let diagnostic =
            Diagnostic::error("limit", every.span, title).help("repeat less often, or for a shorter time");
        Err(self.fail(diagnostic))
    }
}

/// Distance covered at a speed that is a polynomial of the time since the start, s and m/s.
struct Distance {
    speed: Vec<f64>,
    distance: Vec<f64>,
    end_s: f64,
    turns_s: Vec<f64>,
}

impl Distance {
    fn new(speed: &[f64], end_s: f64) -> Self {
        let mut distance = vec![0.0];
        distance.extend(speed.iter().enumerate().map(|(k, c)| c / (k as f64 + 1.0)));
        let mut turns_s = roots(&derivative(speed), end_s);
        turns_s.insert(0, 0.0);
        turns_s.push(end_s);
        Self { speed: speed.to_vec(), distance, end_s, turns_s }
    }

    fn covered(&self, time_s: f64) -> f64 {
        at(&self.distance, time_s)
    }

    fn slowest(&self) -> (f64, f64) {
        let speeds = self.turns_s.iter().map(|time_s| (at(&self.speed, *time_s), *time_s));
        speeds.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 0.0))
    }

    fn fastest(&self) -> (f64, f64) {
        let speeds = self.turns_s.iter().map(|time_s| (at(&self.speed, *time_s), *time_s));
        speeds.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 0.0))
    }

    /// The first time at which `distance` is covered, not before `earliest` (at which no more is covered).
    /// Bracketed, Newton's step taken where it stays inside: distance never falls, so the bracket holds the answer.
    fn when(&self, distance: f64, earliest: f64) -> f64 {
        let (mut low, mut high) = (earliest, self.end_s);
        if self.covered(low) >= distance {
            return low;
        }
        let mut time_s = 0.5 * (low + high);
        for _ in 0..200 {
            let excess = self.covered(time_s) - distance;
            if excess < 0.0 {
                low = time_s;
            } else {
                high = time_s;
            }
            let newton = time_s - excess / at(&self.speed, time_s);
            let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
            // Closer than the nanosecond grid needs by a thousand; a bracket of two neighbouring floats ends it too.
            if high - low <= 1e-12 || (next - time_s).abs() <= 1e-13 || next <= low || next >= high {
                return next;
            }
            time_s = next;
        }
        high
    }
}

fn at(polynomial: &[f64], x: f64) -> f64 {
    polynomial.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

fn derivative(polynomial: &[f64]) -> Vec<f64> {
    polynomial.iter().enumerate().skip(1).map(|(k, c)| c * k as f64).collect()
}

/// Where a polynomial changes its sign in `0..end`, rising: between two turns of it there is at most one such place.
fn roots(polynomial: &[f64], end: f64) -> Vec<f64> {
    if polynomial.len() < 2 {
        return Vec::new();
    }
    let mut edges = vec![0.0];
    edges.extend(roots(&derivative(polynomial), end));
    edges.push(end);
    let mut found = Vec::new();
    for pair in edges.windows(2) {
        let &[mut low, mut high] = pair else { continue };
        let rising = at(polynomial, high) > 0.0;
        if (at(polynomial, low) > 0.0) == rising {
            continue;
        }
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            if (at(polynomial, middle) > 0.0) == rising {
                high = middle;
            } else {
                low = middle;
            }
        }
        found.push(0.5 * (low + high));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distance_at_a_steady_and_at_a_rising_speed() {
        let steady = Distance::new(&[10.0], 5.0);
        assert!((steady.when(25.0, 0.0) - 2.5).abs() < 1e-12);
        // v = 2 t: s = t^2.
        let rising = Distance::new(&[0.0, 2.0], 10.0);
        for n in 1..50 {
            let exact = f64::from(n).sqrt();
            assert!((rising.when(f64::from(n), 0.0) - exact).abs() < 1e-12, "{n}");
        }
        assert_eq!(rising.when(0.0, 0.0), 0.0);
    }

    #[test]
    fn slowest_is_found_between_the_ends() {
        // (t - 2)^2 - 1 is -1 at 2.
        let dip = Distance::new(&[3.0, -4.0, 1.0], 5.0);
        let (speed, when) = dip.slowest();
        assert!((speed + 1.0).abs() < 1e-12 && (when - 2.0).abs() < 1e-9);
        assert_eq!(roots(&[3.0, -4.0, 1.0], 5.0).len(), 2);
    }
}
