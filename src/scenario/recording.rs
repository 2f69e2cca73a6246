//! Recordings and sound files, each read once.

use super::World;
use super::resolver::{Resolver, Stop};
use crate::diag::Diagnostic;
use crate::lang::tree::Text;
use crate::signal::trace::{Recording, Spline, Table, TraceError};
use std::collections::BTreeMap;
use std::sync::Arc;

/// File it is named in, its name, its column.
type Key = (String, String, String);

/// A file, or why there is none.
type File = Result<Table<Vec<u8>>, String>;

/// What was read so far.
pub(super) struct Recordings<'a> {
    world: &'a dyn World,
    columns: BTreeMap<Key, Option<Arc<Recording>>>,
    splines: BTreeMap<(Key, u64), Option<Arc<Spline>>>,
    files: BTreeMap<(String, String), File>,
}

impl<'a> Recordings<'a> {
    /// Nothing read yet.
    pub(super) fn new(world: &'a dyn World) -> Self {
        Self { world, columns: BTreeMap::new(), splines: BTreeMap::new(), files: BTreeMap::new() }
    }
}

impl Resolver<'_> {
    fn named_in(&self, text: &Text) -> String {
        self.sources.get(text.span.source).name().to_string()
    }

    /// A column of a recording, and its key.
    ///
    /// # Errors
    /// When it cannot be read; told already.
    pub(super) fn recording(&mut self, file: &Text, column: &Text) -> Result<(Key, Arc<Recording>), Stop> {
        let from = self.named_in(file);
        let key = (from.clone(), file.text.to_string(), column.text.to_string());
        if let Some(known) = self.recordings.columns.get(&key) {
            return known.clone().map(|known| (key, known)).ok_or(Stop::Reported);
        }
        let world = self.recordings.world;
        let table = self
            .recordings
            .files
            .entry((from.clone(), file.text.to_string()))
            .or_insert_with(|| world.recording(&from, &file.text).map(Table::new));
        let read = match table {
            Err(words) => {
                let title = format!("`{}` cannot be read: {words}", file.text);
                Err(Diagnostic::error("file", file.span, title))
            }
            Ok(table) => table
                .column(&column.text)
                .map_err(|error| trace_error(file, &error).also(column.span, "this column")),
        };
        let read = read.map_err(|diagnostic| self.fail(diagnostic)).ok().map(Arc::new);
        if let Some(recording) = &read {
            for remark in &recording.remarks {
                let title = format!("`{}`, row {}: {}", file.text, remark.row, remark.what);
                self.diagnostics.push(Diagnostic::warning("trace", file.span, title));
            }
        }
        self.recordings.columns.insert(key.clone(), read.clone());
        read.map(|read| (key, read)).ok_or(Stop::Reported)
    }

    /// A column of a recording below `below_hz`, splined.
    ///
    /// # Errors
    /// When it cannot be read; told already.
    pub(super) fn spline(&mut self, file: &Text, column: &Text, below_hz: f64) -> Result<Arc<Spline>, Stop> {
        let (key, recording) = self.recording(file, column)?;
        let key = (key, below_hz.to_bits());
        if let Some(known) = self.recordings.splines.get(&key) {
            return known.clone().ok_or(Stop::Reported);
        }
        let spline = recording.spline(below_hz).map_err(|error| {
            let diagnostic = trace_error(file, &error);
            self.fail(diagnostic)
        });
        let spline = spline.ok().map(Arc::new);
        self.recordings.splines.insert(key, spline.clone());
        spline.ok_or(Stop::Reported)
    }

    /// The length of a sound file, s.
    ///
    /// # Errors
    /// When it cannot be read; told already.
    pub(super) fn sound_length(&mut self, file: &Text) -> Result<f64, Stop> {
        let from = self.named_in(file);
        let words = match self.recordings.world.sound_length_s(&from, &file.text) {
            Ok(length_s) if length_s > 0.0 && length_s.is_finite() => return Ok(length_s),
            Ok(_) => "it holds no sound".to_string(),
            Err(words) => words,
        };
        let title = format!("`{}` cannot be played: {words}", file.text);
        Err(self.fail(Diagnostic::error("file", file.span, title)))
    }
}

fn trace_error(file: &Text, error: &TraceError) -> Diagnostic {
    Diagnostic::error("trace", file.span, format!("`{}`, row {}: {}", file.text, error.row, error.what))
}
