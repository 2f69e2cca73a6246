//! Uneven rows to an even grid.

use super::{LEAST_ROWS, TraceError};

/// Values at even distances.
pub(super) struct Even {
    pub(super) start_s: f64,
    pub(super) step_s: f64,
    pub(super) value: Vec<f64>,
}

/// Rows this near to the grid (in steps) are taken as on it.
const ON_GRID: f64 = 1e-6;
/// Mean and median steps this near to each other (as a part) are those of an even recording.
const EVEN: f64 = 0.02;
/// A distance of more steps than this is bridged by a straight line: a cubic across it could swing far out.
const WIDE: f64 = 4.0;

/// The median distance of two neighbours, s. `None` with fewer than two.
pub(super) fn median_step_s(time_s: &[f64]) -> Option<f64> {
    let mut steps: Vec<f64> = time_s.iter().zip(time_s.iter().skip(1)).map(|(a, b)| b - a).collect();
    let middle = steps.len() / 2;
    if steps.is_empty() {
        return None;
    }
    Some(*steps.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// The step of the even grid: the mean step where rows are about even (times are often written in few digits, and the
/// median then is one of two rounded steps), else the median step fitted into the length a whole number of times.
pub(super) fn even_step_s(time_s: &[f64]) -> Option<f64> {
    let length_s = time_s.last()? - time_s.first()?;
    let (median, mean) = (median_step_s(time_s)?, length_s / (time_s.len().checked_sub(1)? as f64));
    let even = (mean - median).abs() <= EVEN * median;
    let count = if even { (time_s.len() - 1) as f64 } else { (length_s / median).round() };
    let step_s = length_s / count;
    (count >= 1.0 && step_s > 0.0 && step_s.is_finite()).then_some(step_s)
}

/// Puts `value` at `time_s` (strictly rising) on an even grid from the first to the last time.
pub(super) fn even(time_s: &[f64], value: &[f64]) -> Result<Even, TraceError> {
    let rows = time_s.len().min(value.len());
    let too_short =
        || TraceError::new(1, format!("the recording has {rows} rows; at least {LEAST_ROWS} are needed"));
    if rows < LEAST_ROWS {
        return Err(too_short());
    }
    let start_s = time_s.first().copied().ok_or_else(too_short)?;
    let last_s = time_s.last().copied().ok_or_else(too_short)?;
    let step_s = even_step_s(time_s).ok_or_else(|| TraceError::new(1, "the times do not rise"))?;
    let count = ((last_s - start_s) / step_s).round();
    if !(LEAST_ROWS as f64 - 2.0..=4.0 * rows as f64 + 1000.0).contains(&count) {
        return Err(TraceError::new(
            1,
            format!(
                "the times are too uneven: {rows} rows over {:.3} s, but half of them are at most {step_s:e} s apart; \
                 record at an even rate",
                last_s - start_s
            ),
        ));
    }
    let mut out = Vec::with_capacity(count as usize + 1);
    // The row at or before the grid point.
    let mut row = 0;
    for k in 0..=count as usize {
        let t = start_s + k as f64 * step_s;
        while row + 2 < rows && time_s.get(row + 1).is_some_and(|next| *next <= t) {
            row += 1;
        }
        out.push(between(time_s, value, row, t, step_s));
    }
    Ok(Even { start_s, step_s, value: out })
}

/// The value at `t`, which lies between `row` and the next.
fn between(time_s: &[f64], value: &[f64], row: usize, t: f64, step_s: f64) -> f64 {
    let first = row.saturating_sub(1).min(time_s.len().saturating_sub(4));
    let (Some(times), Some(values)) = (time_s.get(first..first + 4), value.get(first..first + 4)) else {
        return value.get(row).copied().unwrap_or(0.0);
    };
    for (time, value) in times.iter().zip(values) {
        if (t - time).abs() <= ON_GRID * step_s {
            return *value;
        }
    }
    let at = row - first;
    let (Some([a, b]), Some([x, y])) = (times.get(at..at + 2), values.get(at..at + 2)) else {
        return value.get(row).copied().unwrap_or(0.0);
    };
    if times.iter().zip(times.iter().skip(1)).any(|(a, b)| b - a > WIDE * step_s) {
        return x + (y - x) * ((t - a) / (b - a)).clamp(0.0, 1.0);
    }
    // Lagrange's cubic through the four.
    let mut sum = 0.0;
    for (i, (ti, vi)) in times.iter().zip(values).enumerate() {
        let mut weight = 1.0;
        for (j, tj) in times.iter().enumerate() {
            if i != j {
                weight *= (t - tj) / (ti - tj);
            }
        }
        sum += weight * vi;
    }
    sum
}
