//! A run as MCAP, an open container of time-stamped messages (<https://mcap.dev/spec>): channels with JSON messages and
//! JSON schemas, so that any reader of the container can open it. Bytes go to whoever calls; off the cycle thread.
//!
//! Written in chunks that are complete in themselves: a file that was cut off is good up to its last whole chunk.

mod records;
mod sink;
mod topics;

pub(super) use records::Records;

use super::check_notes::{FindingNote, MarginNote};
use super::csv::{Header, governor_word};
use super::histogram::Histogram;
use super::row::{DriveRow, FarSide, Note, Row, What};
use mcap::records::MessageHeader;
use sink::Sink;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::{self, Write};
pub(super) use topics::Topic;

/// Writes a run.
pub struct Container {
    sink: Sink,
    sequence: u32,
    text: String,
    legs: Vec<String>,
    /// What was said last of what is said on change.
    state: String,
    operator: String,
    far_end: Option<FarSide>,
}

impl std::fmt::Debug for Container {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Container").finish_non_exhaustive()
    }
}

pub(super) fn other(error: mcap::McapError) -> io::Error {
    match error {
        mcap::McapError::Io(e) => e,
        e => io::Error::other(e.to_string()),
    }
}

/// Numbers in brackets; what is no number is null.
fn numbers(text: &mut String, values: &[f64]) {
    text.push('[');
    for (at, value) in values.iter().enumerate() {
        if at > 0 {
            text.push(',');
        }
        number(text, *value);
    }
    text.push(']');
}

fn number(text: &mut String, value: f64) {
    let _ = if value.is_finite() { write!(text, "{value:.9}") } else { write!(text, "null") };
}

impl Container {
    /// Begins a container with what a run's header says.
    ///
    /// # Errors
    /// Those of `to`.
    pub fn start(to: Box<dyn Write + Send>, header: &Header) -> io::Result<Self> {
        let mut run: BTreeMap<String, String> = header.entries.iter().cloned().collect();
        run.insert("legs".into(), serde_json::to_string(&header.legs).unwrap_or_default());
        run.insert("axes".into(), serde_json::to_string(&header.axes).unwrap_or_default());
        run.insert("layout".into(), "1".into());
        let mut container = Self {
            sink: Sink::start(to, run)?,
            sequence: 0,
            text: String::new(),
            legs: header.legs.clone(),
            state: String::new(),
            operator: String::new(),
            far_end: None,
        };
        for finding in &header.check.findings {
            container.text = found(finding).to_string();
            container.message(Topic::Finding, 0)?;
        }
        for margin in &header.check.margins {
            container.text = used(margin).to_string();
            container.message(Topic::Margin, 0)?;
        }
        container.sink.flush()?;
        Ok(container)
    }

    fn message(&mut self, topic: Topic, time_us: u64) -> io::Result<()> {
        self.sequence = self.sequence.wrapping_add(1);
        let time_ns = time_us.saturating_mul(1000);
        let header = MessageHeader {
            channel_id: 0,
            sequence: self.sequence,
            log_time: time_ns,
            publish_time: time_ns,
        };
        self.sink.message(topic, header, &self.text)
    }

    /// For tests: its writer is made anew after so many chunks.
    #[cfg(test)]
    pub(super) fn renewed_after(self, chunks: u32) -> Self {
        Self { sink: self.sink.renewed_after(chunks), ..self }
    }

    /// Writes one cycle.
    ///
    /// # Errors
    /// Those of the writer.
    pub fn row(&mut self, row: &Row, axes: usize) -> io::Result<()> {
        let none = crate::safety::Legs::filled(row.sent_m.len(), f64::NAN);
        let drive = row.drive.as_ref();
        self.text.clear();
        let _ = write!(self.text, "{{\"path_s\":{:.6},\"gain\":{:.6},", row.path_s, row.gain);
        let _ = write!(self.text, "\"clock_rate\":{:.6},\"platform\":", row.rate);
        numbers(&mut self.text, row.platform.get(..axes).unwrap_or(&[]));
        self.text.push_str(",\"lengths_m\":");
        numbers(&mut self.text, &row.planned_m);
        let _ = write!(self.text, ",\"governor\":\"{}\"}}", governor_word(&row.outcome));
        self.message(Topic::Commanded, row.time_us)?;

        self.text.clear();
        self.text.push_str("{\"lengths_m\":");
        numbers(&mut self.text, &row.sent_m);
        self.text.push_str(",\"force_limits_n\":");
        numbers(&mut self.text, drive.map_or(&none, |drive| &drive.limit_n));
        self.text.push('}');
        self.message(Topic::Sent, row.time_us)?;

        self.text.clear();
        self.text.push_str("{\"lengths_m\":");
        numbers(&mut self.text, row.measured_m.as_ref().unwrap_or(&none));
        let _ = write!(self.text, ",\"report_age\":{},", drive.map_or(0, |drive| drive.report_age));
        self.text.push_str("\"speeds_m_s\":");
        numbers(&mut self.text, drive.map_or(&none, |drive| &drive.speed_m_s));
        self.text.push('}');
        self.message(Topic::Measured, row.time_us)?;

        if let Some(drive) = drive {
            self.text.clear();
            self.text.push_str("{\"predicted_n\":");
            numbers(&mut self.text, &drive.predicted_n);
            self.text.push_str(",\"reported_n\":");
            numbers(&mut self.text, &drive.force_n);
            self.text.push_str(",\"temperatures_c\":");
            numbers(&mut self.text, &drive.temperature_c);
            self.text.push('}');
            self.message(Topic::Force, row.time_us)?;
            if drive.heard_s.is_finite() {
                self.text.clear();
                let _ = write!(self.text, "{{\"heard_s\":{:.6}}}", drive.heard_s);
                self.message(Topic::Audio, row.time_us)?;
            }
        }

        self.text.clear();
        let _ = write!(self.text, "{{\"tick\":{},\"late_us\":{},\"round_trip_us\":", row.tick, row.late_us);
        let _ = match drive.and_then(|drive| drive.round_trip_us) {
            Some(us) => write!(self.text, "{us}}}"),
            None => write!(self.text, "null}}"),
        };
        self.message(Topic::Timing, row.time_us)?;
        self.on_change(row)
    }

    fn on_change(&mut self, row: &Row) -> io::Result<()> {
        self.text.clear();
        let _ = write!(self.text, "{{\"path\":\"{}\"", row.state.word());
        if let Some(drive) = &row.drive {
            drive_state(&mut self.text, drive);
        }
        self.text.push('}');
        if self.text != self.state {
            self.state.clone_from(&self.text);
            self.message(Topic::State, row.time_us)?;
        }
        let Some(drive) = &row.drive else { return Ok(()) };
        let inputs = &drive.seen.inputs;
        let all = [
            ("presence", inputs.presence),
            ("gate", inputs.gate),
            ("mat", inputs.mat),
            ("belt", inputs.belt),
            ("stop", inputs.stop),
        ];
        self.text.clear();
        for (at, (name, value)) in all.iter().enumerate() {
            let before = if at == 0 { '{' } else { ',' };
            let _ = write!(self.text, "{before}\"{name}\":\"{}\"", value.word());
        }
        self.text.push('}');
        if self.text != self.operator {
            self.operator.clone_from(&self.text);
            self.message(Topic::Operator, row.time_us)?;
        }
        if self.far_end != Some(drive.far) {
            self.far_end = Some(drive.far);
            self.text = self.far_end(&drive.far);
            self.message(Topic::FarEnd, row.time_us)?;
        }
        Ok(())
    }

    /// What the far end says of itself, and what was dropped on the way.
    fn far_end(&self, far: &FarSide) -> String {
        let leg = far.fault.and_then(|(_, leg)| leg).and_then(|leg| self.legs.get(leg));
        serde_json::json!({
            "state": far.state,
            "moving": far.moving,
            "fault": far.fault.map(|(word, _)| word),
            "leg": leg,
            "cause": far.cause.map(|cause| cause.words(&self.legs)),
            "rejected": far.rejected,
            "dropped": far.dropped,
        })
        .to_string()
    }

    /// Writes one note.
    ///
    /// # Errors
    /// Those of the writer.
    pub fn note(&mut self, note: &Note, leg_names: &[String]) -> io::Result<()> {
        let mut event = serde_json::json!({ "kind": note.what.kind(), "words": note.what.words(leg_names) });
        if let What::Dropped { rows } = note.what {
            event["rows_lost"] = rows.into();
        }
        self.text = event.to_string();
        self.message(Topic::Events, note.time_us)
    }

    /// Writes how many cycles were late by at most how much.
    ///
    /// # Errors
    /// Those of the writer.
    pub fn lateness(&mut self, time_us: u64, late: &Histogram) -> io::Result<()> {
        let mut words = format!("lateness of {} cycles", late.total());
        for (edge, count) in late.classes() {
            let _ = match edge {
                Some(edge) => write!(words, "; {count} late by at most {edge} us"),
                None => write!(words, "; {count} later, the latest by {} us", late.max_us()),
            };
        }
        self.text = serde_json::json!({ "kind": "lateness", "words": words }).to_string();
        self.message(Topic::Events, time_us)
    }

    /// Closes the chunk under way: what was written before can be read whatever comes after.
    ///
    /// # Errors
    /// Those of the writer.
    pub fn flush(&mut self) -> io::Result<()> {
        self.sink.flush()
    }

    /// Writes what stands at the end of a whole container.
    ///
    /// # Errors
    /// Those of the writer.
    pub fn finish(&mut self) -> io::Result<()> {
        self.sink.finish()
    }
}

fn found(finding: &FindingNote) -> serde_json::Value {
    let place = finding.place.as_ref();
    serde_json::json!({
        "severity": finding.severity,
        "rule": finding.rule,
        "words": finding.words,
        "file": place.map(|(file, _)| file),
        "line": place.map(|(_, line)| line),
        "part": finding.part,
        "at_s": finding.at_s,
        "value": finding.value,
        "limit": finding.limit,
        "unit": finding.unit,
    })
}

fn used(margin: &MarginNote) -> serde_json::Value {
    serde_json::json!({
        "part": margin.part,
        "quantity": margin.quantity,
        "peak": margin.peak,
        "bound": margin.bound,
        "limit": margin.limit,
        "used": margin.used,
        "unit": margin.unit,
        "at_s": margin.at_s,
    })
}

fn drive_state(text: &mut String, drive: &DriveRow) {
    let (demand, seen) = (&drive.demand, &drive.seen);
    let (motion, brakes) = (demand.motion.word(), seen.brakes.word());
    let _ = write!(
        text,
        ",\"run\":\"{}\",\"cause\":\"{}\",\"power\":{},\"brakes_released\":{},\"warning\":{},\"motion\":\"{motion}\"",
        drive.state.word(),
        drive.cause.words(),
        demand.power,
        demand.release,
        demand.warn,
    );
    let _ = write!(
        text,
        ",\"link\":{},\"homed\":{},\"drives_on\":{},\"brakes\":\"{brakes}\"",
        seen.link, seen.homed, seen.power
    );
    let _ = match drive.category {
        Some(category) => write!(text, ",\"category\":{}", category.number()),
        None => write!(text, ",\"category\":null"),
    };
}
