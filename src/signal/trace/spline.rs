//! A quintic spline over an even grid.

use super::super::{Jet, Majorant};

/// A quintic B-spline over a uniform grid: smooth to the fourth derivative, bounded by its control points.
///
/// Grid point i lies at `start_s + i * step_s`, for i from 0 to the number of control points less 5. Made by
/// [`super::Recording::spline`].
#[derive(Debug, Clone, PartialEq)]
pub struct Spline {
    /// Time of the first grid point in the recording, s.
    pub start_s: f64,
    /// Grid step, s.
    pub step_s: f64,
    /// Control points.
    pub control: Vec<f64>,
    /// The band limit that was applied, Hz.
    pub below_hz: f64,
}

/// Control points that shape one grid cell.
const REACH: usize = 6;
/// Rounding of times is forgiven up to this part of a step beyond the ends.
const HAIR: f64 = 1e-6;

impl Spline {
    /// The spline through `value` (at least 5 points) with its third and fourth derivatives zero at both ends (the
    /// natural quintic spline; `scipy.interpolate.make_interp_spline` with k = 5 and those conditions gives the same).
    ///
    /// At a grid point the spline is (1, 26, 66, 26, 1) / 120 of the control points about it. The end conditions say that
    /// third differences of the first and last five control points vanish, which removes the two beyond either end; the
    /// five-diagonal rest is dominated by its diagonal and solved without pivoting.
    pub(super) fn through(start_s: f64, step_s: f64, value: &[f64], below_hz: f64) -> Self {
        let count = value.len();
        if count < 5 {
            return Self {
                start_s,
                step_s,
                control: vec![value.first().copied().unwrap_or(0.0); REACH],
                below_hz,
            };
        }
        // Rows of the system: the coefficients of c[i-2] .. c[i+2].
        let row = |i: usize| -> [f64; 5] {
            match (i, count - 1 - i) {
                (0, _) => [0.0, 0.0, 150.0, -60.0, 30.0],
                (1, _) => [0.0, 29.0, 63.0, 27.0, 1.0],
                (_, 0) => [30.0, -60.0, 150.0, 0.0, 0.0],
                (_, 1) => [1.0, 27.0, 63.0, 29.0, 0.0],
                _ => [1.0, 26.0, 66.0, 26.0, 1.0],
            }
        };
        // Elimination leaves c[i] + up1[i] c[i+1] + up2[i] c[i+2] = right[i].
        let mut up = Vec::with_capacity(count);
        let mut right: Vec<f64> = Vec::with_capacity(count);
        let back = |list: &[(f64, f64)], i: usize, by: usize| {
            i.checked_sub(by).and_then(|k| list.get(k)).copied().unwrap_or((0.0, 0.0))
        };
        for (i, y) in value.iter().enumerate() {
            let [a, b, c, d, e] = row(i);
            let (one, two) = (back(&up, i, 1), back(&up, i, 2));
            let right_one = i.checked_sub(1).and_then(|k| right.get(k)).copied().unwrap_or(0.0);
            let right_two = i.checked_sub(2).and_then(|k| right.get(k)).copied().unwrap_or(0.0);
            let left = b - a * two.0;
            let pivot = c - a * two.1 - left * one.0;
            up.push(((d - left * one.1) / pivot, e / pivot));
            right.push((120.0 * y - a * right_two - left * right_one) / pivot);
        }
        let mut inner = right;
        for i in (0..count).rev() {
            let (one, two) = up[i];
            let next = inner.get(i + 1).copied().unwrap_or(0.0);
            let after = inner.get(i + 2).copied().unwrap_or(0.0);
            inner[i] -= one * next + two * after;
        }
        let beyond = |a: f64, b: f64, c: f64| (3.0 * a - 3.0 * b + c, 6.0 * a - 8.0 * b + 3.0 * c);
        let (before, first) = beyond(inner[0], inner[1], inner[2]);
        let (last, after) = beyond(inner[count - 1], inner[count - 2], inner[count - 3]);
        let mut control = Vec::with_capacity(count + 4);
        control.extend([first, before]);
        control.extend(inner);
        control.extend([last, after]);
        Self { start_s, step_s, control, below_hz }
    }

    /// Number of grid cells.
    fn cells(&self) -> usize {
        self.control.len().saturating_sub(REACH - 1)
    }

    /// The cell that holds `t_s`, the first or last one beyond the ends, and how far in it (0..1) the instant lies.
    fn place(&self, t_s: f64) -> usize {
        let x = (t_s - self.start_s) / self.step_s;
        // A float beyond the integers or not a number turns to an end, as the cast saturates.
        (x.floor().max(0.0) as usize).min(self.cells().saturating_sub(1))
    }

    /// Value and derivatives at a time of the recording. Beyond its ends the value rests.
    pub fn jet(&self, t_s: f64) -> Jet {
        self.cell(t_s).jet(t_s)
    }

    /// The polynomial about `t_s`.
    pub(in crate::signal) fn cell(&self, t_s: f64) -> Cell {
        let index = self.place(t_s);
        let per_s = 1.0 / self.step_s;
        let Some(&[a, b, c, d, e, f]) = self.control.get(index..index + REACH) else {
            return Cell {
                start_s: self.start_s,
                per_s,
                index: 0.0,
                last: false,
                first: false,
                power: [0.0; 6],
            };
        };
        // The uniform quintic B-spline in powers of u (de Boor, "A practical guide to splines", for even knots).
        let power = [
            (a + 26.0 * b + 66.0 * c + 26.0 * d + e) / 120.0,
            ((e - a) + 10.0 * (d - b)) / 24.0,
            (a + 2.0 * b - 6.0 * c + 2.0 * d + e) / 12.0,
            ((e - a) + 2.0 * (b - d)) / 12.0,
            (a - 4.0 * b + 6.0 * c - 4.0 * d + e) / 24.0,
            ((f - a) + 5.0 * (b - e) + 10.0 * (d - c)) / 120.0,
        ];
        let (first, last) = (index == 0, index + 1 == self.cells());
        Cell { start_s: self.start_s, per_s, index: index as f64, first, last, power }
    }

    /// Bounds over `from_s..=to_s` of the recording's time: a B-spline stays within its control points, and its derivatives
    /// within their differences. Takes time in proportion to the grid points in the stretch.
    pub fn majorant(&self, from_s: f64, to_s: f64) -> Majorant {
        let from = self.place(from_s);
        let to = self.place(to_s).max(from);
        let mut out = [0.0_f64; 5];
        let mut above = [0.0; 4];
        for (k, point) in self.control.get(from..to + REACH).unwrap_or_default().iter().enumerate() {
            let mut difference = *point;
            for (order, bound) in out.iter_mut().enumerate() {
                if order > k {
                    break;
                }
                *bound = bound.max(difference.abs());
                if let Some(slot) = above.get_mut(order) {
                    let next = difference - *slot;
                    *slot = difference;
                    difference = next;
                }
            }
        }
        Majorant(out).stretched(self.step_s)
    }
}

/// One piece of the spline: a polynomial in u, the part of the cell passed.
pub(in crate::signal) struct Cell {
    start_s: f64,
    per_s: f64,
    index: f64,
    first: bool,
    last: bool,
    power: [f64; 6],
}

impl Cell {
    /// How far in the cell an instant lies; beyond 0..1 it is not in it.
    #[inline(always)]
    fn part(&self, t_s: f64) -> f64 {
        (t_s - self.start_s) * self.per_s - self.index
    }

    /// Whether this is the piece for `t_s`.
    #[inline(always)]
    pub(in crate::signal) fn holds(&self, t_s: f64) -> bool {
        (0.0..1.0).contains(&self.part(t_s))
    }

    /// Value and derivatives.
    #[inline(always)]
    pub(in crate::signal) fn jet(&self, t_s: f64) -> Jet {
        let mut u = self.part(t_s);
        let mut rests = false;
        if u < 0.0 && self.first {
            rests = u < -HAIR;
            u = 0.0;
        } else if u > 1.0 && self.last {
            rests = u > 1.0 + HAIR;
            u = 1.0;
        }
        let [a, b, c, d, e, f] = self.power;
        let value = a + u * (b + u * (c + u * (d + u * (e + u * f))));
        if rests {
            return Jet::constant(value);
        }
        let h = self.per_s;
        let rate = b + u * (2.0 * c + u * (3.0 * d + u * (4.0 * e + u * (5.0 * f))));
        let acceleration = 2.0 * c + u * (6.0 * d + u * (12.0 * e + u * (20.0 * f)));
        let jerk = 6.0 * d + u * (24.0 * e + u * (60.0 * f));
        Jet([value, rate * h, acceleration * (h * h), jerk * (h * h * h)])
    }
}
