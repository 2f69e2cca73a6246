//! A record that passes by once, cycle by cycle, whatever its length: MCAP or text, whole or cut off.

use super::container_read::ContainerTape;
use super::read::TextTape;
use std::io::BufRead;

/// One cycle of a record.
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
    /// Speeds as reported, m/s.
    pub speed_m_s: Vec<f64>,
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
    /// The state that the far end said it is in.
    pub far_end: String,
    /// What the far end said is wrong with it; empty where nothing is.
    pub far_fault: String,
    /// Orders that the far end has dropped since it began; `None` where it did not say.
    pub rejected: Option<u64>,
    /// Reports that were dropped here.
    pub dropped: Option<u64>,
}

/// What stands before the cycles.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RunHead {
    /// Keys and values of the header.
    pub entries: Vec<(String, String)>,
    /// Names of the legs.
    pub legs: Vec<String>,
    /// Names of the platform coordinates with their units.
    pub axes: Vec<String>,
}

/// What passes by.
#[derive(Debug, Clone, PartialEq)]
pub enum Told {
    /// A cycle, whole.
    Cycle(Box<LoggedCycle>),
    /// Something that happened.
    Event {
        /// Time since the run began, s.
        time_s: f64,
        /// What.
        words: String,
    },
    /// What the check said before the run, in words.
    Finding(String),
    /// How near the scene comes to a limit, by the check.
    Margin {
        /// What of which leg or axis: `speed of left`.
        what: String,
        /// Part of the way to the limit.
        used: f64,
    },
}

/// A record of either kind.
pub struct Tape<R>(Kind<R>);

enum Kind<R> {
    Container(Box<ContainerTape<R>>),
    Text(Box<TextTape<R>>),
}

impl<R: BufRead> Tape<R> {
    /// Reads the head.
    ///
    /// # Errors
    /// Why it is no record, in words.
    pub fn begin(mut from: R) -> Result<Self, String> {
        let first = from.fill_buf().map_err(|e| e.to_string())?;
        Ok(Self(match super::is_container(first) {
            true => Kind::Container(Box::new(ContainerTape::begin(from)?)),
            false => Kind::Text(Box::new(TextTape::begin(from).map_err(|e| e.to_string())?)),
        }))
    }

    /// The head.
    pub fn head(&self) -> &RunHead {
        match &self.0 {
            Kind::Container(tape) => tape.head(),
            Kind::Text(tape) => tape.head(),
        }
    }

    /// What comes next; `None` at the end.
    ///
    /// # Errors
    /// When the system cannot read on, or a text has something in it that belongs in none: words.
    pub fn told(&mut self) -> Result<Option<Told>, String> {
        match &mut self.0 {
            Kind::Container(tape) => tape.told().map_err(|e| e.to_string()),
            Kind::Text(tape) => tape.told().map_err(|e| e.to_string()),
        }
    }

    /// Whether it was cut off; known at its end.
    pub fn is_cut_off(&self) -> bool {
        match &self.0 {
            Kind::Container(tape) => tape.is_cut_off(),
            Kind::Text(tape) => tape.is_cut_off(),
        }
    }
}
