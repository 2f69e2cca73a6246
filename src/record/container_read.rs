//! A run read from its container, whole or cut off.

use super::container::Records;
use super::tape::{LoggedCycle, RunHead, Told};
use mcap::records::Record;
use serde_json::Value;
use std::collections::{BTreeMap, VecDeque};
use std::io::{self, Read};

/// A container in memory: for short ones.
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

fn whole(value: &Value, key: &str) -> Option<u64> {
    value.get(key).and_then(Value::as_u64)
}

/// Whether bytes begin like a container.
pub fn is_container(bytes: &[u8]) -> bool {
    bytes.starts_with(mcap::MAGIC)
}

/// Reads a container that is in memory.
///
/// # Errors
/// Why the bytes are none, in words.
pub fn read_container(bytes: &[u8]) -> Result<Logged, String> {
    let mut tape = ContainerTape::begin(bytes)?;
    let mut logged = Logged::default();
    while let Some(told) = tape.told().map_err(|e| e.to_string())? {
        match told {
            Told::Cycle(cycle) => logged.cycles.push(*cycle),
            Told::Event { time_s, words } => logged.events.push((time_s, words)),
            Told::Finding(_) | Told::Margin { .. } => {}
        }
    }
    let RunHead { entries, legs, axes } = tape.head().clone();
    Ok(Logged { entries, legs, axes, cut_off: tape.is_cut_off(), ..logged })
}

/// A container that passes by once.
pub(super) struct ContainerTape<R> {
    records: Records<R>,
    head: RunHead,
    topics: BTreeMap<u16, String>,
    now: LoggedCycle,
    /// The cycle told last: what changed in it comes after it.
    last: Option<LoggedCycle>,
    ready: VecDeque<Told>,
}

impl<R: Read> ContainerTape<R> {
    /// Reads up to the head.
    ///
    /// # Errors
    /// Why it is no record of a run, in words.
    pub(super) fn begin(from: R) -> Result<Self, String> {
        let mut tape = Self {
            records: Records::of(from),
            head: RunHead::default(),
            topics: BTreeMap::new(),
            now: LoggedCycle::default(),
            last: None,
            ready: VecDeque::new(),
        };
        while let Some(record) = tape.records.next().map_err(|e| e.to_string())? {
            // It stands before all messages: who looks further reads all of somebody else's file.
            if matches!(record, Record::Message { .. }) {
                break;
            }
            if tape.take(record)? {
                return Ok(tape);
            }
        }
        Err(tape.records.cut_off().unwrap_or("it holds no header of a run").to_string())
    }

    pub(super) fn head(&self) -> &RunHead {
        &self.head
    }

    pub(super) fn is_cut_off(&self) -> bool {
        self.records.cut_off().is_some()
    }

    /// What comes next.
    ///
    /// # Errors
    /// When the system cannot read on.
    pub(super) fn told(&mut self) -> io::Result<Option<Told>> {
        loop {
            if let Some(told) = self.ready.pop_front() {
                return Ok(Some(told));
            }
            match self.records.next()? {
                Some(record) => {
                    if let Err(words) = self.take(record) {
                        self.records.ends::<Told>(&words)?;
                    }
                }
                None => return Ok(self.last.take().map(|cycle| Told::Cycle(Box::new(cycle)))),
            }
        }
    }

    /// Whether it is the run's head.
    fn take(&mut self, record: Record<'_>) -> Result<bool, String> {
        match record {
            // One more of them is not the run's.
            Record::Metadata(metadata) if metadata.name == "run" && self.head.entries.is_empty() => {
                for (key, value) in metadata.metadata {
                    let names = || serde_json::from_str(&value).unwrap_or_default();
                    match key.as_str() {
                        "legs" => self.head.legs = names(),
                        "axes" => self.head.axes = names(),
                        _ => self.head.entries.push((key, value)),
                    }
                }
                return Ok(true);
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
        Ok(false)
    }

    fn message(&mut self, topic: &str, time_s: f64, value: &Value) {
        let now = &mut self.now;
        // Of every cycle what is told on change stands after it.
        let mut last = self.last.as_mut().filter(|last| last.time_s == time_s);
        now.time_s = time_s;
        match topic {
            "commanded" => {
                now.path_s = value.get("path_s").and_then(Value::as_f64).unwrap_or(0.0);
                now.platform = list(value, "platform");
                now.commanded_m = list(value, "lengths_m");
            }
            "sent" => now.sent_m = list(value, "lengths_m"),
            "measured" => {
                now.measured_m = list(value, "lengths_m");
                now.speed_m_s = list(value, "speeds_m_s");
            }
            "force" => {
                now.force_n = list(value, "reported_n");
                now.predicted_n = list(value, "predicted_n");
                now.temperature_c = list(value, "temperatures_c");
            }
            "audio" => now.heard_s = value.get("heard_s").and_then(Value::as_f64),
            "state" => {
                let state = |cycle: &mut LoggedCycle| {
                    (cycle.path, cycle.run) = (word(value, "path"), word(value, "run"));
                };
                last.iter_mut().for_each(|last| state(last));
                state(now);
            }
            "far_end" => {
                let far_end = |cycle: &mut LoggedCycle| {
                    (cycle.far_end, cycle.far_fault) = (word(value, "state"), word(value, "fault"));
                    (cycle.rejected, cycle.dropped) = (whole(value, "rejected"), whole(value, "dropped"));
                };
                last.iter_mut().for_each(|last| far_end(last));
                far_end(now);
            }
            "timing" => {
                now.tick = whole(value, "tick").unwrap_or(0);
                now.late_us =
                    whole(value, "late_us").and_then(|us| u32::try_from(us).ok()).unwrap_or(u32::MAX);
                now.round_trip_us = whole(value, "round_trip_us");
                let before = self.last.replace(now.clone());
                now.heard_s = None;
                self.ready.extend(before.map(|cycle| Told::Cycle(Box::new(cycle))));
            }
            "findings" => {
                let words = ["severity", "rule", "words"].map(|key| word(value, key));
                self.ready.push_back(Told::Finding(format!("{}[{}] {}", words[0], words[1], words[2])));
            }
            "margins" => {
                let what = format!("{} of {}", word(value, "quantity"), word(value, "part"));
                let used = value.get("used").and_then(Value::as_f64).unwrap_or(f64::NAN);
                self.ready.push_back(Told::Margin { what, used });
            }
            "events" => self.ready.push_back(Told::Event { time_s, words: word(value, "words") }),
            _ => {}
        }
    }
}

#[cfg(test)]
pub(super) mod tests;
