//! The header row: which column holds the time, in what unit, and which the values.

use super::TraceError;
use crate::diag::nearest;

/// Where to read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Columns {
    pub(super) time: usize,
    /// What turns a number of the time column into seconds.
    pub(super) second: f64,
    pub(super) value: usize,
}

/// Finds the time column and the one called `wanted`.
pub(super) fn columns(names: &[&str], wanted: &str) -> Result<Columns, TraceError> {
    if names.iter().all(|name| name.parse::<f64>().is_ok()) {
        return Err(TraceError::new(1, "found numbers, expected the names of the columns: add a header row"));
    }
    if let [only] = names {
        for (mark, word) in [(';', "`;`"), ('\t', "tabs")] {
            if only.contains(mark) {
                return Err(TraceError::new(
                    1,
                    format!(
                        "the columns are set apart by {word}, expected commas: save as CSV with commas and decimal points"
                    ),
                ));
            }
        }
    }
    let lower: Vec<String> = names.iter().map(|name| name.to_ascii_lowercase()).collect();
    let time = ["time_s", "time", "t"]
        .iter()
        .find_map(|known| lower.iter().position(|name| name == known))
        .or_else(|| lower.iter().position(|name| name.starts_with("time")))
        .ok_or_else(|| {
            TraceError::new(1, format!("there is no time column among {}: call one `time_s`", listed(names)))
        })?;
    let second = lower.get(time).and_then(|name| second_of(name)).ok_or_else(|| {
        let name = names.get(time).copied().unwrap_or_default();
        TraceError::new(
            1,
            format!("the time column `{name}` is in no known unit: count in seconds and call it `time_s`, or in milliseconds, `time_ms`"),
        )
    })?;
    let mut found = names.iter().enumerate().filter(|(_, name)| **name == wanted);
    let Some((value, _)) = found.next() else {
        let advice = match nearest(wanted, names.iter().copied()) {
            Some(name) => format!("did you mean `{name}`?"),
            None => format!("it has {}", listed(names)),
        };
        return Err(TraceError::new(1, format!("there is no column `{wanted}`; {advice}")));
    };
    if found.next().is_some() {
        return Err(TraceError::new(1, format!("there are two columns `{wanted}`: give each its own name")));
    }
    Ok(Columns { time, second, value })
}

/// What one of a time column's units is in seconds, by the ending of its (lower-case) name; without one, a second.
fn second_of(name: &str) -> Option<f64> {
    let unit = name.strip_prefix("time").or_else(|| name.strip_prefix('t')).unwrap_or(name);
    match unit.trim_matches(|c: char| "_ -.[](){}/".contains(c)) {
        "" | "s" | "sec" | "secs" | "second" | "seconds" => Some(1.0),
        "ms" | "msec" | "millis" | "millisecond" | "milliseconds" => Some(1e-3),
        _ => None,
    }
}

/// Up to a dozen names for a message.
fn listed(names: &[&str]) -> String {
    let mut out: Vec<String> = names.iter().take(12).map(|name| format!("`{}`", shown(name))).collect();
    if names.len() > out.len() {
        out.push(format!("{} more", names.len() - out.len()));
    }
    out.join(", ")
}

/// At most 40 characters of a text.
pub(super) fn shown(text: &str) -> String {
    let mut out: String = text.chars().take(40).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.chars().nth(40).is_some() {
        out.push_str("...");
    }
    out
}
