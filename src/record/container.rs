//! A run as MCAP, an open container of time-stamped messages (<https://mcap.dev/spec>): channels with JSON messages and
//! JSON schemas, so that any reader of the container can open it. Bytes go to whoever calls; off the cycle thread.
//!
//! Written in chunks that are complete in themselves: a file that was cut off is good up to its last whole chunk.

mod sink;

use super::csv::{Header, governor_word};
use super::row::{DriveRow, Note, Row};
use crate::safety::operation::Input;
use mcap::records::MessageHeader;
use sink::Sink;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::{self, Write};

/// Topics, and what their fields mean; the schemas say the same in JSON Schema.
pub(super) const TOPICS: [(&str, &str); 8] = [
    (
        "commanded",
        "what the path asks for: path_s (s), gain (1), clock_rate (1), platform (rad or m), lengths_m (m), governor",
    ),
    ("sent", "what went out: lengths_m (m), force_limits_n (N)"),
    ("measured", "what came back: lengths_m (m), report_age (cycles)"),
    ("force", "at the nuts: predicted_n (N), reported_n (N), temperatures_c (degC)"),
    ("timing", "tick (1), late_us (us), round_trip_us (us)"),
    (
        "state",
        "on change: path, run, cause, power, brakes_released, warning, motion; link, homed, drives_on, brakes",
    ),
    ("operator", "on change: presence, gate, mat, belt, stop, each unknown, open or closed"),
    ("audio", "while something is heard: heard_s (s of the scene), what is heard at this computer"),
];

/// The topic of notes in words.
pub(super) const EVENTS: &str = "events";

/// Writes a run.
pub struct Container {
    sink: Sink,
    sequence: u32,
    text: String,
    state: String,
    operator: String,
}

impl std::fmt::Debug for Container {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Container").finish_non_exhaustive()
    }
}

fn other(error: mcap::McapError) -> io::Error {
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

fn input(input: Input) -> &'static str {
    match input {
        Input::Unknown => "unknown",
        Input::Open => "open",
        Input::Closed => "closed",
    }
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
        let (state, operator) = (String::new(), String::new());
        Ok(Self { sink: Sink::start(to, run)?, sequence: 0, text: String::new(), state, operator })
    }

    fn message(&mut self, topic: Option<usize>, time_us: u64) -> io::Result<()> {
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

    fn topic(&mut self, topic: usize, time_us: u64) -> io::Result<()> {
        self.message(Some(topic), time_us)
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
        self.topic(0, row.time_us)?;

        self.text.clear();
        self.text.push_str("{\"lengths_m\":");
        numbers(&mut self.text, &row.sent_m);
        self.text.push_str(",\"force_limits_n\":");
        numbers(&mut self.text, drive.map_or(&none, |drive| &drive.limit_n));
        self.text.push('}');
        self.topic(1, row.time_us)?;

        self.text.clear();
        self.text.push_str("{\"lengths_m\":");
        numbers(&mut self.text, row.measured_m.as_ref().unwrap_or(&none));
        let _ = write!(self.text, ",\"report_age\":{}}}", drive.map_or(0, |drive| drive.report_age));
        self.topic(2, row.time_us)?;

        if let Some(drive) = drive {
            self.text.clear();
            self.text.push_str("{\"predicted_n\":");
            numbers(&mut self.text, &drive.predicted_n);
            self.text.push_str(",\"reported_n\":");
            numbers(&mut self.text, &drive.force_n);
            self.text.push_str(",\"temperatures_c\":");
            numbers(&mut self.text, &drive.temperature_c);
            self.text.push('}');
            self.topic(3, row.time_us)?;
            if drive.heard_s.is_finite() {
                self.text.clear();
                let _ = write!(self.text, "{{\"heard_s\":{:.6}}}", drive.heard_s);
                self.topic(7, row.time_us)?;
            }
        }

        self.text.clear();
        let _ = write!(self.text, "{{\"tick\":{},\"late_us\":{},\"round_trip_us\":", row.tick, row.late_us);
        let _ = match drive.and_then(|drive| drive.round_trip_us) {
            Some(us) => write!(self.text, "{us}}}"),
            None => write!(self.text, "null}}"),
        };
        self.topic(4, row.time_us)?;
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
            self.topic(5, row.time_us)?;
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
            let _ = write!(self.text, "{before}\"{name}\":\"{}\"", input(*value));
        }
        self.text.push('}');
        if self.text != self.operator {
            self.operator.clone_from(&self.text);
            self.topic(6, row.time_us)?;
        }
        Ok(())
    }

    /// Writes one note.
    ///
    /// # Errors
    /// Those of the writer.
    pub fn note(&mut self, note: &Note, leg_names: &[String]) -> io::Result<()> {
        self.text = serde_json::json!({ "words": note.what.words(leg_names) }).to_string();
        self.message(None, note.time_us)
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

fn drive_state(text: &mut String, drive: &DriveRow) {
    let (demand, seen) = (&drive.demand, &drive.seen);
    let motion = format!("{:?}", demand.motion).to_lowercase();
    let brakes = format!("{:?}", seen.brakes).to_lowercase();
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
}
