//! `log`: what a record says, in a few lines, or every cycle of it as CSV.

use super::output::{Failure, Outcome, say};
use super::report::table;
use crate::files::{self, MAX_RECORDING_BYTES};
use crate::record::{
    Histogram, LegTracking, Logged, LoggedCycle, Row, Tracking, is_container, read, read_container,
};
use crate::safety::{Legs, MAX_AXES, Outcome as Governed, State};
use crate::units::{Dimension, show};
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;

/// Summarises a record, or writes it as CSV.
///
/// # Errors
/// When the file cannot be read, is no record, or the CSV cannot be written.
pub(super) fn run(file: &Path, csv: Option<&Path>) -> Result<Outcome, Failure> {
    let logged = logged(file)?;
    if let Some(path) = csv {
        files::save(path, |out| {
            writeln!(out, "{}", columns(&logged).join(","))?;
            logged.cycles.iter().try_for_each(|cycle| writeln!(out, "{}", line(cycle, &logged)))
        })?;
    }
    say(&summary(&logged))?;
    Ok(Outcome::Clean)
}

/// Reads a record, of either kind.
///
/// # Errors
/// When the file cannot be read, or is no record.
pub(super) fn logged(file: &Path) -> Result<Logged, Failure> {
    let bytes = files::read_bytes(file, MAX_RECORDING_BYTES)?;
    let failed = |words: String| Failure(format!("`{}` is no record of a run: {words}", file.display()));
    if is_container(&bytes) {
        return read_container(&bytes).map_err(failed);
    }
    Ok(from_text(&read(&bytes).map_err(|e| failed(e.to_string()))?))
}

/// The text log of a simulated run holds the same, fewer things.
fn from_text(log: &crate::record::Log) -> Logged {
    let legs: Vec<String> =
        log.columns.iter().filter_map(|column| column.strip_suffix(" sent_m")).map(String::from).collect();
    let axes: Vec<String> =
        log.columns.iter().filter_map(|column| column.strip_prefix("planned ")).map(String::from).collect();
    let all = |suffix: &str| -> Vec<Vec<f64>> {
        legs.iter().map(|leg| log.numbers(&format!("{leg} {suffix}")).unwrap_or_default()).collect()
    };
    let (planned, sent, measured) = (all("planned_m"), all("sent_m"), all("measured_m"));
    let platform: Vec<Vec<f64>> =
        axes.iter().map(|axis| log.numbers(&format!("planned {axis}")).unwrap_or_default()).collect();
    let single = |name: &str| log.numbers(name).unwrap_or_default();
    let (time, path_s, late) = (single("time_s"), single("path_s"), single("late_us"));
    let states = log.words("state").unwrap_or_default();
    let at = |columns: &[Vec<f64>], row: usize| -> Vec<f64> {
        columns.iter().map(|column| column.get(row).copied().unwrap_or(f64::NAN)).collect()
    };
    let one = |column: &[f64], row: usize| column.get(row).copied().unwrap_or(f64::NAN);
    let cycles = (0..log.rows.len()).map(|row| LoggedCycle {
        tick: row as u64,
        time_s: one(&time, row),
        path: states.get(row).map_or(String::new(), |word| (*word).to_string()),
        path_s: one(&path_s, row),
        platform: at(&platform, row),
        commanded_m: at(&planned, row),
        sent_m: at(&sent, row),
        measured_m: at(&measured, row),
        late_us: one(&late, row) as u32,
        ..LoggedCycle::default()
    });
    let cycles = cycles.collect();
    Logged {
        entries: log.entries.clone(),
        legs,
        axes,
        cycles,
        events: log.events.clone(),
        cut_off: log.cut_off,
    }
}

fn columns(logged: &Logged) -> Vec<String> {
    let mut columns =
        ["time_s", "path", "run", "path_s", "late_us", "round_trip_us"].map(String::from).to_vec();
    columns.extend(logged.axes.iter().map(|axis| format!("\"planned {axis}\"")));
    for leg in &logged.legs {
        let leg = leg.replace('"', "\"\"");
        let kinds = ["commanded_m", "sent_m", "measured_m", "force_n", "predicted_n", "temperature_c"];
        columns.extend(kinds.map(|kind| format!("\"{leg} {kind}\"")));
    }
    columns
}

fn line(cycle: &LoggedCycle, logged: &Logged) -> String {
    let mut line =
        format!("{:.6},{},{},{:.6},{},", cycle.time_s, cycle.path, cycle.run, cycle.path_s, cycle.late_us);
    if let Some(us) = cycle.round_trip_us {
        let _ = write!(line, "{us}");
    }
    let mut put = |value: Option<&f64>| {
        let _ = match value {
            Some(value) if value.is_finite() => write!(line, ",{value:.9}"),
            _ => write!(line, ","),
        };
    };
    (0..logged.axes.len()).for_each(|axis| put(cycle.platform.get(axis)));
    for leg in 0..logged.legs.len() {
        put(cycle.commanded_m.get(leg));
        put(cycle.sent_m.get(leg));
        put(cycle.measured_m.get(leg));
        put(cycle.force_n.get(leg));
        put(cycle.predicted_n.get(leg));
        put(cycle.temperature_c.get(leg));
    }
    line
}

fn state(word: &str) -> State {
    State::ALL.into_iter().find(|state| state.word() == word).unwrap_or(State::Parked)
}

/// How each leg followed while the scene played.
fn tracking(logged: &Logged) -> Tracking {
    let cycle_s =
        logged.cycles.windows(2).map(|pair| pair[1].time_s - pair[0].time_s).next().unwrap_or(0.001);
    let mut tracking = Tracking::new(logged.legs.len().min(crate::safety::MAX_LEGS), cycle_s);
    for cycle in &logged.cycles {
        let legs = |values: &[f64]| {
            Legs::from_fn(logged.legs.len(), |leg| values.get(leg).copied().unwrap_or(f64::NAN))
        };
        let measured = legs(&cycle.measured_m);
        tracking.add(&Row {
            tick: cycle.tick,
            time_us: (cycle.time_s * 1e6) as u64,
            path_s: cycle.path_s,
            rate: 1.0,
            gain: 1.0,
            state: state(&cycle.path),
            platform: [f64::NAN; MAX_AXES],
            planned_m: legs(&cycle.commanded_m),
            sent_m: legs(&cycle.sent_m),
            measured_m: measured.iter().all(|m| m.is_finite()).then_some(measured),
            late_us: cycle.late_us,
            outcome: Governed::Followed,
            drive: None,
        });
    }
    tracking
}

fn summary(logged: &Logged) -> String {
    let mut text = String::new();
    for (key, value) in logged.entries.iter().filter(|(_, value)| !value.is_empty()) {
        let _ = writeln!(text, "{key:<14} {value}");
    }
    let length_s = logged.cycles.last().map_or(0.0, |cycle| cycle.time_s);
    let _ = writeln!(text, "\n{} cycles over {length_s:.3} s", logged.cycles.len());
    if logged.cut_off {
        let _ = writeln!(text, "cut off: what follows is what came before");
    }
    text.push_str(&legs_table(logged));
    let mut late = Histogram::default();
    logged.cycles.iter().for_each(|cycle| late.count(cycle.late_us));
    let _ = writeln!(text, "\nlateness of cycles");
    for (edge, count) in late.classes() {
        let _ = match edge {
            Some(edge) => writeln!(text, "  up to {edge:>7} us  {count}"),
            None => writeln!(text, "  more              {count}"),
        };
    }
    let mut trips: Vec<u64> = logged.cycles.iter().filter_map(|cycle| cycle.round_trip_us).collect();
    trips.sort_unstable();
    if let (Some(half), Some(last)) = (trips.get(trips.len() / 2), trips.last()) {
        let p99 = trips.get(trips.len() * 99 / 100).unwrap_or(last);
        let _ =
            writeln!(text, "round trips: half within {half} us, 99 % within {p99} us, the longest {last} us");
    }
    let _ = writeln!(text, "\nevents");
    for (time_s, words) in &logged.events {
        let _ = writeln!(text, "  {time_s:>10.3} s  {words}");
    }
    text
}

fn legs_table(logged: &Logged) -> String {
    let head = ["leg", "largest error", "r.m.s.", "lag", "fastest", "largest force", "hottest"];
    let mut rows = vec![head.map(String::from)];
    let tracked = tracking(logged).legs();
    for (leg, name) in logged.legs.iter().enumerate() {
        let most = |values: &dyn Fn(&LoggedCycle) -> Option<f64>| {
            logged
                .cycles
                .iter()
                .filter_map(values)
                .filter(|v| v.is_finite())
                .fold(f64::NEG_INFINITY, f64::max)
        };
        let speed = logged.cycles.windows(2).filter_map(|pair| {
            let (a, b) = (pair[0].measured_m.get(leg)?, pair[1].measured_m.get(leg)?);
            Some((b - a).abs() / (pair[1].time_s - pair[0].time_s))
        });
        let speed = speed.filter(|v| v.is_finite()).fold(0.0, f64::max);
        let force = most(&|cycle| cycle.force_n.get(leg).map(|force| force.abs()));
        let hot = most(&|cycle| cycle.temperature_c.get(leg).copied());
        let finite = |value: f64, words: String| if value.is_finite() { words } else { "-".to_string() };
        let (peak, rms, lag) = match tracked.get(leg) {
            Some(LegTracking { peak_m, rms_m, lag_s, .. }) => {
                let lag = lag_s.map_or("-".to_string(), |lag| format!("{:.1} ms", lag * 1e3));
                (show(*peak_m, Dimension::LENGTH), show(*rms_m, Dimension::LENGTH), lag)
            }
            None => ("-".to_string(), "-".to_string(), "-".to_string()),
        };
        let fastest = format!("{:.1} mm/s", speed * 1e3);
        let (force, hot) = (finite(force, format!("{force:.0} N")), finite(hot, format!("{hot:.1} degC")));
        rows.push([name.clone(), peak, rms, lag, fastest, force, hot]);
    }
    format!("\nhow the legs followed while the scene played\n{}", table(&rows, "lrrrrrr"))
}
