//! `log`: what a record says, in a few lines, or every cycle of it as CSV. It passes by once, whatever its length.

use super::output::{Failure, Outcome, say};
use super::reading::Reading;
use super::report::table;
use super::written_over::may_write;
use crate::files;
use crate::record::{LegTracking, LoggedCycle, RunHead, Summary, Told};
use crate::units::{Dimension, show};
use std::fmt::Write as _;
use std::io::Write;
use std::path::Path;

/// Summarises a record, and writes it as CSV where that is asked for.
///
/// # Errors
/// When the file cannot be read, is no record, or the CSV cannot be written.
pub(super) fn run(file: &Path, csv: Option<&Path>) -> Result<Outcome, Failure> {
    if let Some(path) = csv {
        may_write(path, [file])?;
    }
    let mut reading = Reading::begin(file)?;
    let mut summary = Summary::new(reading.head().legs.len());
    match csv {
        None => pass(&mut reading, &mut summary, &mut |_, _| Ok(()))??,
        Some(path) => {
            let mut passed = Ok(());
            files::save(path, |out| {
                writeln!(out, "{}", columns(reading.head()).join(","))?;
                match pass(&mut reading, &mut summary, &mut |cycle, head| {
                    writeln!(out, "{}", line(cycle, head))
                }) {
                    Ok(written) => written,
                    Err(failure) => {
                        passed = Err(failure);
                        Err(std::io::ErrorKind::InvalidData.into())
                    }
                }
            })
            .map_err(|error| passed.err().unwrap_or_else(|| error.into()))?;
        }
    }
    say(&words(reading.head(), reading.is_cut_off(), &summary))?;
    Ok(Outcome::Clean)
}

/// Adds all of it up; what became of `each` cycle stands inside.
fn pass(
    reading: &mut Reading,
    summary: &mut Summary,
    each: &mut dyn FnMut(&LoggedCycle, &RunHead) -> std::io::Result<()>,
) -> Result<std::io::Result<()>, Failure> {
    while let Some(told) = reading.told()? {
        summary.add(&told);
        if let Told::Cycle(cycle) = &told
            && let Err(error) = each(cycle, reading.head())
        {
            return Ok(Err(error));
        }
    }
    Ok(Ok(()))
}

fn columns(head: &RunHead) -> Vec<String> {
    let mut columns =
        ["time_s", "path", "run", "path_s", "late_us", "round_trip_us"].map(String::from).to_vec();
    columns.extend(head.axes.iter().map(|axis| format!("\"planned {axis}\"")));
    for leg in &head.legs {
        let leg = leg.replace('"', "\"\"");
        let kinds =
            ["commanded_m", "sent_m", "measured_m", "force_n", "predicted_n", "temperature_c", "speed_m_s"];
        columns.extend(kinds.map(|kind| format!("\"{leg} {kind}\"")));
    }
    columns.extend(["far_end", "far_fault", "rejected", "dropped"].map(String::from));
    columns
}

fn line(cycle: &LoggedCycle, head: &RunHead) -> String {
    let mut line =
        format!("{:.6},{},{},{:.6},{},", cycle.time_s, cycle.path, cycle.run, cycle.path_s, cycle.late_us);
    let whole = |value: Option<u64>| value.map_or_else(String::new, |value| value.to_string());
    line.push_str(&whole(cycle.round_trip_us));
    let mut put = |value: Option<&f64>| {
        let _ = match value {
            Some(value) if value.is_finite() => write!(line, ",{value:.9}"),
            _ => write!(line, ","),
        };
    };
    (0..head.axes.len()).for_each(|axis| put(cycle.platform.get(axis)));
    for leg in 0..head.legs.len() {
        put(cycle.commanded_m.get(leg));
        put(cycle.sent_m.get(leg));
        put(cycle.measured_m.get(leg));
        put(cycle.force_n.get(leg));
        put(cycle.predicted_n.get(leg));
        put(cycle.temperature_c.get(leg));
        put(cycle.speed_m_s.get(leg));
    }
    let (rejected, dropped) = (whole(cycle.rejected), whole(cycle.dropped));
    let _ = write!(line, ",{},{},{rejected},{dropped}", cycle.far_end, cycle.far_fault);
    line
}

fn words(head: &RunHead, is_cut_off: bool, summary: &Summary) -> String {
    let mut text = String::new();
    for (key, value) in head.entries.iter().filter(|(_, value)| !value.is_empty()) {
        let _ = writeln!(text, "{key:<14} {value}");
    }
    let _ = writeln!(text, "\n{} cycles over {:.3} s", summary.cycles, summary.length_s);
    if is_cut_off {
        let _ = writeln!(text, "cut off: what follows is what came before");
    }
    if summary.missing > 0 {
        let _ = writeln!(text, "{} cycles between them are missing", summary.missing);
    }
    text.push_str(&checked(summary));
    text.push_str(&legs_table(head, summary));
    let _ = writeln!(text, "\nlateness of cycles");
    for (edge, count) in summary.late.classes() {
        let _ = match edge {
            Some(edge) => writeln!(text, "  up to {edge:>7} us  {count}"),
            None => writeln!(text, "  more              {count}"),
        };
    }
    let trips = &summary.trips;
    if let (Some(half), Some(p99), Some(last)) = (trips.at_us(0.5), trips.at_us(0.99), trips.longest_us()) {
        let _ =
            writeln!(text, "round trips: half within {half} us, 99 % within {p99} us, the longest {last} us");
    }
    if let (Some(rejected), Some(dropped)) = (summary.rejected(), summary.dropped()) {
        let _ =
            writeln!(text, "dropped on the way: {rejected} orders by the far end, {dropped} reports here");
    }
    let _ = writeln!(text, "\nevents");
    let events = &summary.events;
    let event = |(time_s, words): &(f64, String)| format!("  {time_s:>10.3} s  {words}\n");
    text.extend(events.first.iter().map(event));
    if events.left_out > 0 {
        let _ = writeln!(text, "  ... {} more; they are in the record ...", events.left_out);
    }
    text.extend(events.last.iter().map(event));
    text
}

/// What the check said before; nothing where the record does not say.
fn checked(summary: &Summary) -> String {
    let mut text = String::new();
    if summary.findings.is_empty() && summary.margins.is_empty() {
        return text;
    }
    let _ = writeln!(text, "\nwhat the check said before");
    for words in &summary.findings {
        let _ = writeln!(text, "  {words}");
    }
    let used: Vec<String> =
        summary.margins.iter().map(|(what, used)| format!("{what} {:.0} %", used * 100.0)).collect();
    let _ = writeln!(text, "  nearest to its limit: {}", used.join(", "));
    text
}

fn legs_table(head: &RunHead, summary: &Summary) -> String {
    let titles = ["leg", "largest error", "r.m.s.", "lag", "fastest", "largest force", "hottest"];
    let mut rows = vec![titles.map(String::from)];
    let finite = |value: f64, words: String| if value.is_finite() { words } else { "-".to_string() };
    for ((name, tracked), peaks) in head.legs.iter().zip(summary.legs()).zip(&summary.peaks) {
        let LegTracking { peak_m, rms_m, lag_s, .. } = tracked;
        let lag = lag_s.map_or("-".to_string(), |lag| format!("{:.1} ms", lag * 1e3));
        let length = |value| show(value, Dimension::LENGTH);
        let fastest = format!("{:.1} mm/s", peaks.speed_m_s * 1e3);
        let force = finite(peaks.force_n, format!("{:.0} N", peaks.force_n));
        let hot = finite(peaks.temperature_c, format!("{:.1} degC", peaks.temperature_c));
        rows.push([name.clone(), length(peak_m), length(rms_m), lag, fastest, force, hot]);
    }
    format!("\nhow the legs followed while the scene played\n{}", table(&rows, "lrrrrrr"))
}
