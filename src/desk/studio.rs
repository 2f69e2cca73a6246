//! Everything the window shows and what its buttons do, without the window.

mod compare;
mod drive;
mod edit;
mod files;
mod look;
mod overlay;
mod rehearse;
mod sound;
mod verdict;

use super::axis::TimeAxis;
use super::compiler::{Checked, Compiler, Motion, News, Request};
use super::document::Document;
use super::drives::Drives;
use super::findings::{self, Row};
use super::kept::Kept;
use super::lanes::{self, Block};
use super::margins::{self, MarginRow};
use super::rehearsal::Rehearsal;
use super::transport::Transport;
use super::understand::Understood;
use super::variant::Variant;
use super::world::OpenFiles;
use crate::drives::Carrier;
use std::path::PathBuf;
use std::sync::Arc;

pub use look::{Mode, Standing};
pub use overlay::Overlaid;
pub use rehearse::{MOST_GAIN, TEMPOS};
pub use sound::{Lap, ToHear};
pub use verdict::Verdict;

/// What the background has to do with the text that is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fresh {
    /// It belongs to the text and variant as they are.
    Current,
    /// It is of an earlier one.
    Old,
}

/// The state of the desktop program.
pub struct Studio {
    /// Open texts; never empty.
    documents: Vec<Document>,
    /// Which is in front.
    front: usize,
    compiler: Option<Compiler>,
    /// The text as saved, to compare with.
    comparing: compare::Comparing,
    /// The record of a run that is laid over the scene.
    overlay: overlay::Overlay,
    wake: Arc<dyn Fn() + Send + Sync>,
    /// Says how the writing of a report went.
    page: Option<std::sync::mpsc::Receiver<String>>,
    /// Things kept between runs.
    pub kept: Kept,
    /// Where they are kept.
    folder: Option<PathBuf>,
    /// The drives, connected or not.
    pub drives: Drives,
    /// How the scene is rehearsed.
    variant: Variant,
    /// Which scene, by title.
    scene: Option<String>,
    /// Counts changes of settings and rig file.
    files: u64,
    understood: Option<Arc<Understood>>,
    understood_is: Fresh,
    /// The text cannot be planned on the rig.
    refused: bool,
    motion: Option<Arc<Motion>>,
    motion_is: Fresh,
    checked: Option<Checked>,
    checked_is: Fresh,
    rows: Vec<Row>,
    margins: Vec<MarginRow>,
    margins_are: Fresh,
    blocks: Vec<Block>,
    /// The time axis.
    pub axis: TimeAxis,
    /// Whether the axis was set by hand since the scene was opened.
    axis_set: bool,
    /// The playhead.
    transport: Transport,
    /// The simulated rig under it while it plays, and the lap that it was set down for.
    rehearsal: Option<(u64, Rehearsal)>,
    /// Play as soon as the motion of the present variant is there.
    play_when_ready: bool,
    /// The stretch was made by playing from the middle, and goes when that stops.
    stretch_is_from_playhead: bool,
    rehearsing: bool,
    /// Index of the finding that is selected.
    selected: Option<usize>,
    /// Where the editor should put its cursor, as bytes of the text in front; taken by the editor.
    jump: Option<std::ops::Range<usize>>,
    /// Byte of the cursor in the text in front.
    cursor: usize,
    /// One line of what happened last, for people.
    said: Option<String>,
    /// Texts found from a run that crashed, until they are decided upon.
    unsaved: Vec<super::recovery::Unsaved>,
    /// How often the sound has to start anew: counts starts of playing, laps and changes of what sounds.
    lap: u64,
}

impl Studio {
    /// With one text open. `wake` is called when the background has news; `folder` is where things are kept.
    pub fn new(
        document: Document,
        kept: Kept,
        folder: Option<PathBuf>,
        wake: impl Fn() + Send + Sync + 'static,
    ) -> Self {
        let wake: Arc<dyn Fn() + Send + Sync> = Arc::new(wake);
        let for_compiler = wake.clone();
        let (compiler, said) = match Compiler::start(move || for_compiler()) {
            Ok(compiler) => (Some(compiler), None),
            Err(error) => {
                (None, Some(format!("nothing can be compiled: the system gives no thread ({error})")))
            }
        };
        let carrier = Carrier::ALL.into_iter().find(|carrier| carrier.word() == kept.carrier);
        let drives = Drives::of(document.path(), carrier.unwrap_or(Carrier::Sim), &kept.far_end);
        let unsaved = folder.as_deref().map(super::recovery::found).unwrap_or_default();
        let mut studio = Self {
            documents: vec![document],
            front: 0,
            compiler,
            comparing: compare::Comparing::default(),
            overlay: overlay::Overlay::default(),
            wake,
            page: None,
            kept,
            folder,
            drives,
            variant: Variant::default(),
            scene: None,
            files: 0,
            understood: None,
            understood_is: Fresh::Old,
            refused: false,
            motion: None,
            motion_is: Fresh::Old,
            checked: None,
            checked_is: Fresh::Old,
            rows: Vec::new(),
            margins: Vec::new(),
            margins_are: Fresh::Old,
            blocks: Vec::new(),
            axis: TimeAxis::whole(60.0),
            axis_set: false,
            transport: Transport::default(),
            rehearsal: None,
            play_when_ready: false,
            stretch_is_from_playhead: false,
            rehearsing: false,
            selected: None,
            jump: None,
            cursor: 0,
            said,
            unsaved,
            lap: 0,
        };
        studio.compile();
        studio
    }

    /// Asks the background for the text and variant as they are now.
    fn compile(&mut self) {
        self.understood_is = Fresh::Old;
        self.refused = false;
        self.motion_is = Fresh::Old;
        self.checked_is = Fresh::Old;
        self.margins_are = Fresh::Old;
        let request = self.request(|document| document.text.as_str().into());
        if let (Some(compiler), Some(request)) = (&mut self.compiler, request) {
            compiler.ask(request);
        }
        self.look_back();
    }

    /// What is asked of the background; `text` is which text of a document counts.
    fn request(&self, text: impl Fn(&Document) -> Arc<str>) -> Option<Request> {
        let document = self.documents.get(self.front)?;
        let others = self.documents.iter().enumerate().filter(|(at, _)| *at != self.front);
        let open = OpenFiles {
            texts: others.map(|(_, other)| (other.path().display().to_string(), text(other))).collect(),
        };
        let tempo = self.variant.tempo;
        Some(Request {
            path: document.path().to_path_buf(),
            text: text(document),
            open,
            files: self.files,
            scene: self.scene.clone(),
            variant: self.variant.clone(),
            records: self.drives.records_of_steel(),
            in_view_s: (self.axis.from_s / tempo, self.axis.to_s / tempo),
        })
    }

    /// Takes the news of the background; `true` when there was any.
    pub fn hear(&mut self) -> bool {
        let mut any = self.hear_of_saved() | self.hear_of_drives();
        if let Some(words) = self.page.as_ref().and_then(|page| page.try_recv().ok()) {
            self.page = None;
            self.say(words);
            any = true;
        }
        while let Some(news) = self.compiler.as_ref().and_then(Compiler::news) {
            any = true;
            match news {
                News::Understood(understood) => self.take_understood(understood),
                News::Refused(refusals) => {
                    self.refused = true;
                    if let Some(understood) = &self.understood {
                        self.rows = findings::of_mistakes(&understood.mistakes, &understood.sources);
                        self.rows.extend(findings::of_mistakes(&refusals, &understood.sources));
                    }
                    self.no_play("this scene cannot be planned on the rig");
                }
                News::Motion(motion) => self.take_motion(motion),
                News::Margins(margins) => {
                    self.margins = margins::rows(&margins, self.variant.tempo);
                    self.margins_are = Fresh::Current;
                }
                News::Checked(checked) => self.take_checked(checked),
            }
        }
        any | self.hear_of_records()
    }

    fn take_understood(&mut self, understood: Arc<Understood>) {
        let measured = self.rows.iter().any(|row| row.at_s.is_some());
        let has_errors = understood.has_errors();
        // Findings of the last check stay until the next one, as the motion does, unless a mistake comes before them.
        if has_errors || !measured || !understood.mistakes.is_empty() {
            self.rows = findings::of_mistakes(&understood.mistakes, &understood.sources);
            self.selected = self.selected.filter(|at| *at < self.rows.len());
        }
        if let Some(text) = understood.broken() {
            self.no_play(&format!("{text} has errors"));
        } else if understood.rig.is_none() {
            self.no_play("there is no rig to rehearse on");
        }
        self.say_of_rig(&understood);
        self.understood = Some(understood);
        self.understood_is = Fresh::Current;
    }

    fn take_motion(&mut self, motion: Arc<Motion>) {
        let scenario = motion.understood.scenario.clone();
        if let Some(scenario) = &scenario {
            self.blocks = lanes::blocks(scenario);
            if !self.axis_set {
                self.axis = TimeAxis::whole(scenario.length_s);
            }
            self.transport.played_s = motion.variant.played_s(scenario);
            self.transport.tempo = motion.variant.tempo;
        }
        self.motion = Some(motion);
        self.motion_is = Fresh::Current;
        if self.play_when_ready {
            self.play_when_ready = false;
            self.begin();
        } else if self.transport.playing {
            // What sounds has changed.
            self.lap += 1;
        }
    }

    fn take_checked(&mut self, checked: Checked) {
        let tempo = checked.report.plan().tempo();
        self.margins = margins::rows(&checked.report.margins, tempo);
        self.rows = findings::of_mistakes(&checked.understood.mistakes, &checked.understood.sources);
        let (found, fits) = (&checked.report.findings, checked.report.fits_gain);
        self.rows.extend(findings::of_check(found, fits, &checked.understood, tempo));
        self.rows.sort_by_key(|row| std::cmp::Reverse(row.severity));
        self.selected = self.selected.filter(|at| *at < self.rows.len());
        self.margins_are = Fresh::Current;
        if let Some(why) = &checked.not_narrowed {
            self.say(format!("what legs strayed in runs before is not taken off the margins: {why}"));
        }
        self.checked = Some(checked);
        self.checked_is = Fresh::Current;
        self.warn();
    }

    /// Says something to the user.
    pub fn say(&mut self, words: impl Into<String>) {
        self.said = Some(words.into());
    }

    fn length_s(&self) -> f64 {
        self.scenario().map_or(0.0, |scenario| scenario.length_s)
    }
}

impl std::fmt::Debug for Studio {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.debug_struct("Studio").field("title", &self.title()).finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests;
