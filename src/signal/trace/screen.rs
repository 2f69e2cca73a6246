//! A look over a whole recording: what cannot be played, and what its owner should know.

use super::TraceError;
use super::grid::median_step_s;
use super::header::shown;

/// A gap is refused when it is longer than this ...
const GAP_S: f64 = 0.5;
/// ... and than this many usual steps.
const GAP_STEPS: f64 = 4.0;
/// Steps that differ by more than half of the usual one are remarked on.
const UNEVEN: f64 = 0.5;
/// A channel that keeps one exact value for this long, and ...
const STUCK_S: f64 = 3.0;
/// ... over this many rows is remarked on.
const STUCK_ROWS: usize = 20;
/// A jump from one row to the next beyond this many times the range of 98 % of all values is remarked on.
const JUMP: f64 = 20.0;

/// Errors and remarks about a column; `rows` are the rows of the file.
pub(super) fn screen(
    time_s: &[f64],
    value: &[f64],
    rows: &[u32],
    column: &str,
) -> Result<Vec<TraceError>, TraceError> {
    let row = |k: usize| u64::from(rows.get(k).copied().unwrap_or(1));
    let mut remarks: Vec<TraceError> = gaps(time_s, row)?.into_iter().collect();
    remarks.extend(stuck(time_s, value, row, column)?);
    remarks.extend(jumps(value, row, column));
    Ok(remarks)
}

fn gaps(time_s: &[f64], row: impl Fn(usize) -> u64) -> Result<Option<TraceError>, TraceError> {
    let usual = median_step_s(time_s).unwrap_or(0.0);
    let (mut first, mut count, mut longest) = (None, 0_u64, 0.0_f64);
    for (k, (a, b)) in time_s.iter().zip(time_s.iter().skip(1)).enumerate() {
        let step = b - a;
        if step > GAP_S && step > GAP_STEPS * usual {
            return Err(TraceError::new(
                row(k + 1),
                format!(
                    "a gap of {step:.3} s before this row, where rows are usually {usual:.4} s apart: fill it, or cut the \
                     recording in two"
                ),
            ));
        }
        if (step - usual).abs() > UNEVEN * usual {
            first = first.or(Some(k + 1));
            count += 1;
            longest = longest.max(step);
        }
    }
    Ok(first.map(|k| {
        TraceError::new(
            row(k),
            format!(
                "the steps of time are uneven here and in {} more rows (usually {usual:.4} s, at most {longest:.4} s); values \
                 between rows are interpolated",
                count - 1
            ),
        )
    }))
}

fn stuck(
    time_s: &[f64],
    value: &[f64],
    row: impl Fn(usize) -> u64,
    column: &str,
) -> Result<Option<TraceError>, TraceError> {
    let name = shown(column);
    let mut longest: Option<(usize, usize, f64)> = None;
    let mut count = 0_u64;
    let mut from = 0;
    while let Some(held) = value.get(from) {
        let length = value.iter().skip(from).take_while(|x| *x == held).count();
        let last = from + length - 1;
        if from == 0 && length == value.len() {
            return Err(TraceError::new(
                row(0),
                format!("`{name}` is {held} in every row: nothing was recorded (for a constant, use `hold`)"),
            ));
        }
        let lasted = time_s.get(last).copied().unwrap_or(0.0) - time_s.get(from).copied().unwrap_or(0.0);
        if lasted > STUCK_S && length >= STUCK_ROWS {
            count += 1;
            if longest.is_none_or(|(_, _, most)| lasted > most) {
                longest = Some((from, last, lasted));
            }
        }
        from += length;
    }
    Ok(longest.map(|(from, last, lasted)| {
        let more = if count > 1 { format!(" (and {} shorter stretches)", count - 1) } else { String::new() };
        TraceError::new(
            row(from),
            format!(
                "`{name}` does not move at all for {lasted:.3} s, up to row {}{more}: was the sensor stuck?",
                row(last)
            ),
        )
    }))
}

fn jumps(value: &[f64], row: impl Fn(usize) -> u64, column: &str) -> Option<TraceError> {
    let mut sorted = value.to_vec();
    let edge = sorted.len() / 100;
    let high = sorted.len().saturating_sub(1 + edge);
    let low = *sorted.select_nth_unstable_by(edge, f64::total_cmp).1;
    let high = *sorted.select_nth_unstable_by(high, f64::total_cmp).1;
    let range = high - low;
    let mut first = None;
    let mut count = 0_u64;
    for (k, (a, b)) in value.iter().zip(value.iter().skip(1)).enumerate() {
        if range > 0.0 && (b - a).abs() > JUMP * range {
            count += 1;
            first = first.or(Some((k + 1, b - a)));
        }
    }
    first.map(|(k, jump)| {
        TraceError::new(
            row(k),
            format!(
                "`{}` jumps by {jump:.4} here (and in {} more rows), where 98 % of its values lie within {range:.4}: a \
                 glitch? cut or mend it",
                shown(column),
                count - 1
            ),
        )
    })
}
