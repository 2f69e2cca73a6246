//! Tree to meaning: names and units resolved, everything dated, waveforms built.
//!
//! Cannot: know the rig, sample, touch a file (a [`World`] hands it texts).

mod advice;
mod arguments;
mod evaluate;
mod expectation;
mod explain;
mod functions;
mod layer;
mod library;
mod limit;
mod names;
mod no_files;
mod place;
mod recording;
mod repeat;
mod resolve;
mod resolver;
mod review;
mod schedule;
mod seed;
mod value;
mod waveform;

pub use explain::RULES;
pub use no_files::NoFiles;
pub use resolve::{Resolved, resolve};

use crate::diag::Span;
use crate::lang::tree::{Group, Line};
use crate::signal::{Curve, Signal};

/// Where libraries, recordings and sounds come from. Names are as written in the profile.
pub trait World {
    /// The text of `use "name"`, written in the file called `from`. Gives the name to show and to tell files apart.
    ///
    /// # Errors
    /// Words for the author: `there is no file ...`.
    fn library(&self, from: &str, name: &str) -> Result<(String, String), String>;

    /// The bytes of a recording named in the file called `from`.
    ///
    /// # Errors
    /// Words for the author.
    fn recording(&self, from: &str, name: &str) -> Result<Vec<u8>, String>;

    /// The length in seconds of a sound file named in the file called `from`.
    ///
    /// # Errors
    /// Words for the author.
    fn sound_length_s(&self, from: &str, name: &str) -> Result<f64, String>;
}

/// A scene, dated and with units resolved. Layers are in the order of the text, repetitions in order of time.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// The scene's title.
    pub title: String,
    /// The scene's title in the text.
    pub title_span: Span,
    /// When the last layer has played out, s.
    pub length_s: f64,
    /// Everything that sounds or moves.
    pub layers: Vec<Layer>,
    /// Every placed statement of the scene, repetitions one by one.
    pub placements: Vec<Placement>,
    /// What must hold.
    pub expectations: Vec<Expectation>,
}

/// One waveform on one channel.
#[derive(Debug, Clone, PartialEq)]
pub struct Layer {
    /// Whose motion. Always `Platform` until tunes and seats are understood.
    pub group: Group,
    /// Which channel.
    pub line: Line,
    /// What it does: rad or m on an axis (heave positive up, as in the language); a part of full scale on sound and shaker.
    pub content: Content,
    /// Labels (or cue names) from the scene down to the layer: `turn / joint / pitch ring`.
    pub label: String,
    /// The layer's statement.
    pub span: Span,
    /// The expression of its amplitude, for advice and fixes.
    pub amplitude_span: Span,
    /// Index into [`Scenario::placements`] of the scene-level statement that it came from.
    pub placement: usize,
}

/// What a layer holds.
#[derive(Debug, Clone, PartialEq)]
pub enum Content {
    /// A waveform.
    Signal(Signal),
    /// A sound file, played from `start_s`.
    SoundFile {
        /// Name as written.
        name: String,
        /// Played round and round.
        looped: bool,
        /// Scenario time of the start, s.
        start_s: f64,
        /// Length in the scene, s.
        length_s: f64,
        /// Part of full scale over scenario time.
        level: Curve,
    },
}

/// A placed statement of the scene.
#[derive(Debug, Clone, PartialEq)]
pub struct Placement {
    /// Its label, or the cue's or channel's name.
    pub name: String,
    /// Start, s.
    pub start_s: f64,
    /// Length, s.
    pub length_s: f64,
    /// The statement.
    pub span: Span,
}

/// What an expectation measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// The largest absolute value.
    Peak,
    /// The root of the mean square.
    Rms,
    /// The smallest distance to a limit of the rig, as a part of the limit.
    Margin,
}

/// `expect peak roll <= 10 deg over …`
#[derive(Debug, Clone, PartialEq)]
pub struct Expectation {
    /// What is measured.
    pub measure: Measure,
    /// On which axis; `None` for `Margin`.
    pub line: Option<Line>,
    /// Which derivative, by the unit of the bound.
    pub order: crate::signal::Order,
    /// `<=` (else `>=`).
    pub at_most: bool,
    /// The bound, SI.
    pub bound: f64,
    /// The stretch, s; the whole scene where none is written.
    pub over_s: (f64, f64),
    /// The statement.
    pub span: Span,
}
