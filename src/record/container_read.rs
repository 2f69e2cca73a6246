//! A run read from its container, whole or cut off.

use super::container::EVENTS;
use mcap::records::Record;
use mcap::sans_io::{LinearReadEvent, LinearReader, LinearReaderOptions};
use serde_json::Value;
use std::collections::BTreeMap;

/// One cycle of a container.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LoggedCycle {
    /// Cycle, from 0.
    pub tick: u64,
    /// Time since the run began, s.
    pub time_s: f64,
    /// State of the path.
    pub path: String,
    /// State of the run on drives; empty where there was none.
    pub run: String,
    /// How far the path had been played, s.
    pub path_s: f64,
    /// Platform coordinates asked for, rad or m.
    pub platform: Vec<f64>,
    /// What the path asked for, m.
    pub commanded_m: Vec<f64>,
    /// What went out, m.
    pub sent_m: Vec<f64>,
    /// What came back, m.
    pub measured_m: Vec<f64>,
    /// At the nuts as reported, N.
    pub force_n: Vec<f64>,
    /// As the plan predicts, N.
    pub predicted_n: Vec<f64>,
    /// Of motor or drive, degrees Celsius.
    pub temperature_c: Vec<f64>,
    /// How late the cycle was served, microseconds.
    pub late_us: u32,
    /// From an order to its answer, microseconds.
    pub round_trip_us: Option<u64>,
    /// What was heard at the computer, scene seconds; `None` where nothing was.
    pub heard_s: Option<f64>,
}

/// A container in memory.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Logged {
    /// Keys and values of the header.
    pub entries: Vec<(String, String)>,
    /// Names of the legs.
    pub legs: Vec<String>,
    /// Names of the platform coordinates with their units.
    pub axes: Vec<String>,
    /// One a cycle.
    pub cycles: Vec<LoggedCycle>,
    /// Time (s) and words.
    pub events: Vec<(f64, String)>,
    /// Whether the container was cut off; what stands here is what came before.
    pub cut_off: bool,
}

fn list(value: &Value, key: &str) -> Vec<f64> {
    let number = |value: &Value| value.as_f64().unwrap_or(f64::NAN);
    value.get(key).and_then(Value::as_array).map(|list| list.iter().map(number).collect()).unwrap_or_default()
}

fn word(value: &Value, key: &str) -> String {
    value.get(key).and_then(Value::as_str).unwrap_or_default().to_string()
}

/// Whether bytes begin like a container.
pub fn is_container(bytes: &[u8]) -> bool {
    bytes.starts_with(mcap::MAGIC)
}

/// The longest record that is taken: chunks are of a mebibyte, and a damaged length must not ask for all memory.
const LONGEST: usize = 64 << 20;

/// Reads a container.
///
/// # Errors
/// Why the bytes are none, in words.
pub fn read_container(bytes: &[u8]) -> Result<Logged, String> {
    let options = LinearReaderOptions::default()
        .with_skip_end_magic(true)
        .with_validate_chunk_crcs(true)
        .with_record_length_limit(LONGEST);
    let mut reader = LinearReader::new_with_options(options);
    let mut rest = bytes;
    let mut page = Page::default();
    while let Some(event) = reader.next_event() {
        let taken = match event {
            Ok(LinearReadEvent::ReadRequest(wanted)) => {
                let (now, later) = rest.split_at(wanted.min(rest.len()));
                reader.insert(now.len()).copy_from_slice(now);
                reader.notify_read(now.len());
                rest = later;
                Ok(())
            }
            Ok(LinearReadEvent::Record { data, opcode }) => mcap::parse_record(opcode, data)
                .map_err(|e| e.to_string())
                .and_then(|record| page.take(record)),
            Err(e) => Err(e.to_string()),
        };
        if let Err(words) = taken {
            // What comes after the first thing that cannot be read is not looked for.
            if !page.begun {
                return Err(words);
            }
            page.logged.cut_off = true;
            break;
        }
    }
    if !page.begun {
        return Err("it holds no header of a run".to_string());
    }
    page.logged.cut_off |= !bytes.ends_with(mcap::MAGIC);
    Ok(page.logged)
}

/// What was read so far.
#[derive(Default)]
struct Page {
    logged: Logged,
    now: LoggedCycle,
    topics: BTreeMap<u16, String>,
    begun: bool,
}

impl Page {
    fn take(&mut self, record: Record<'_>) -> Result<(), String> {
        match record {
            Record::Metadata(metadata) if metadata.name == "run" => {
                self.begun = true;
                for (key, value) in metadata.metadata {
                    let names = || serde_json::from_str(&value).unwrap_or_default();
                    match key.as_str() {
                        "legs" => self.logged.legs = names(),
                        "axes" => self.logged.axes = names(),
                        _ => self.logged.entries.push((key, value)),
                    }
                }
            }
            Record::Channel(channel) => _ = self.topics.insert(channel.id, channel.topic),
            Record::Message { header, data } => {
                let topic = self.topics.get(&header.channel_id).cloned().unwrap_or_default();
                let value = serde_json::from_slice(&data)
                    .map_err(|e| format!("a message of `{topic}` is no JSON: {e}"))?;
                self.message(&topic, header.log_time as f64 / 1e9, &value);
            }
            _ => {}
        }
        Ok(())
    }

    fn message(&mut self, topic: &str, time_s: f64, value: &Value) {
        let now = &mut self.now;
        now.time_s = time_s;
        match topic {
            "commanded" => {
                now.path_s = value.get("path_s").and_then(Value::as_f64).unwrap_or(0.0);
                now.platform = list(value, "platform");
                now.commanded_m = list(value, "lengths_m");
            }
            "sent" => now.sent_m = list(value, "lengths_m"),
            "measured" => now.measured_m = list(value, "lengths_m"),
            "force" => {
                now.force_n = list(value, "reported_n");
                now.predicted_n = list(value, "predicted_n");
                now.temperature_c = list(value, "temperatures_c");
            }
            "audio" => now.heard_s = value.get("heard_s").and_then(Value::as_f64),
            "state" => {
                (now.path, now.run) = (word(value, "path"), word(value, "run"));
                // It stands after the cycle that it belongs to.
                if let Some(last) = self.logged.cycles.last_mut().filter(|last| last.time_s == time_s) {
                    (last.path, last.run) = (now.path.clone(), now.run.clone());
                }
            }
            "timing" => {
                let whole = |key: &str| value.get(key).and_then(Value::as_u64);
                now.tick = whole("tick").unwrap_or(0);
                now.late_us = whole("late_us").and_then(|us| u32::try_from(us).ok()).unwrap_or(u32::MAX);
                now.round_trip_us = whole("round_trip_us");
                self.logged.cycles.push(now.clone());
                now.heard_s = None;
            }
            EVENTS => self.logged.events.push((time_s, word(value, "words"))),
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests;
