//! Laying a record of a run over the scene shown: which runs there are, one read in the background, what is said of it.

use super::Studio;
use crate::audition::motion_hash;
use crate::desk::compiler::RATE_HZ;
use crate::desk::overlay::head::gain_words;
use crate::desk::overlay::made::{Made, Open, is_of_these_texts, made};
use crate::desk::overlay::reading::{Errand, News, Told, lay};
use crate::desk::overlay::runs::{self, Run};
use crate::desk::overlay::{Laid, Worst};
use crate::desk::understand::Understood;
use crate::desk::variant::Variant;
use crate::diag::sha256;
use crate::time::SampleRate;
use crate::time::clock;
use crate::units::{Dimension, show};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// How a record stands that was chosen.
#[derive(Debug, Clone, PartialEq)]
pub enum Overlaid {
    /// None was chosen.
    Nothing,
    /// It is read; so much of it, 0 to 1.
    Reading(f32),
    /// It cannot be laid over: why, and what to do.
    Failed(String),
    /// It is there.
    There,
}

/// The record that is laid over, and what is under way for it.
#[derive(Default)]
pub(super) struct Overlay {
    path: Option<PathBuf>,
    laid: Option<Arc<Laid>>,
    failed: Option<String>,
    part: f32,
    reading: Option<Errand<News>>,
    runs: Vec<Run>,
    listing: Option<Errand<(PathBuf, String)>>,
    /// What is open, as the record is held against it, and of which texts that is.
    open: Option<(Arc<Understood>, Open)>,
    hashing: Option<(Arc<Understood>, Errand<String>)>,
}

impl Overlay {
    pub(super) fn put_away(&mut self) {
        let (runs, listing) = (std::mem::take(&mut self.runs), self.listing.take());
        *self = Self { runs, listing, ..Self::default() };
    }

    pub(super) fn is_working(&self) -> bool {
        self.reading.is_some() || self.listing.is_some() || self.hashing.is_some()
    }

    /// Nothing of this is worked at while legs may move: the computer has its cycles to serve.
    pub(super) fn rest(&mut self) {
        self.listing = None;
        if self.reading.is_some() {
            self.put_away();
        }
    }

    fn hear_of_reading(&mut self) -> bool {
        let mut any = false;
        while let Some(reading) = &self.reading {
            match reading.news() {
                Told::NotYet => return any,
                Told::Word(News::Part(part)) => self.part = part,
                Told::Word(News::Read(Ok(laid))) => self.laid = Some(laid),
                Told::Word(News::Read(Err(why))) => self.failed = Some(why),
                Told::All => {
                    self.reading = None;
                    if self.laid.is_none() && self.failed.is_none() {
                        self.failed = Some("the record was not read to its end: choose it again".to_string());
                    }
                }
            }
            any = true;
        }
        any
    }

    fn hear_of_runs(&mut self) -> bool {
        let mut any = false;
        while let Some(listing) = &self.listing {
            match listing.news() {
                Told::NotYet => return any,
                Told::Word((path, said)) => {
                    let run = self.runs.iter_mut().find(|run| run.path == path);
                    run.into_iter().for_each(|run| run.said = Some(said.clone()));
                }
                Told::All => self.listing = None,
            }
            any = true;
        }
        any
    }
}

/// What is open, its motion not yet worked out.
fn open(understood: &Understood) -> Option<Open> {
    let (rig, scenario) = (understood.rig.as_ref()?, understood.scenario.as_ref()?);
    Some(Open {
        texts: understood.sources.iter().map(|(_, text)| sha256(text.text())).collect(),
        rig: rig.hash.clone(),
        scene: scenario.title.clone(),
        legs: rig.actuators.iter().map(|leg| leg.name.clone()).collect(),
        motion: None,
    })
}

/// The hash of the scene as it is written, at full gain; as runs on drives have it.
fn hash(understood: &Understood) -> Option<String> {
    let (rig, scenario) = (understood.rig.as_ref()?, understood.scenario.as_ref()?);
    let plan = Variant::default().plan(scenario, rig, SampleRate::new(RATE_HZ)?).ok()?;
    Some(motion_hash(&plan))
}

impl Studio {
    /// Looks for runs of the profile in front, newest first; what each says of itself comes one by one.
    pub fn look_for_runs(&mut self) {
        self.face_drives();
        let (profile, folder) = (self.document().path(), self.drives.records_of_steel());
        let runs = runs::of(profile, folder.folder());
        let paths: Vec<PathBuf> = runs.iter().map(|run| run.path.clone()).collect();
        self.overlay.runs = runs;
        let look = move |say: &mut dyn FnMut((PathBuf, String)) -> bool| {
            paths.into_iter().all(|path| {
                let said = runs::said(&path);
                say((path, said))
            });
        };
        match Errand::begin("runs", self.wake.clone(), look) {
            Ok(errand) => self.overlay.listing = Some(errand),
            Err(error) => self.say(format!("runs are not looked into: the system gives no thread ({error})")),
        }
    }

    /// Runs of the profile in front, as they were looked for last.
    pub fn runs(&self) -> &[Run] {
        &self.overlay.runs
    }

    /// Lays a record over the scene shown, in place of the one before.
    pub fn lay_over(&mut self, path: &Path) {
        self.overlay.put_away();
        let own = path.to_path_buf();
        match Errand::begin("record", self.wake.clone(), move |say| lay(&own, say)) {
            Ok(errand) => self.overlay.reading = Some(errand),
            Err(error) => {
                self.overlay.failed = Some(format!("not read: the system gives no thread ({error})"));
            }
        }
        self.overlay.path = Some(path.to_path_buf());
    }

    /// Puts the record away.
    pub fn put_record_away(&mut self) {
        self.overlay.put_away();
    }

    /// How the record stands.
    pub fn overlaid(&self) -> Overlaid {
        let overlay = &self.overlay;
        match (&overlay.path, &overlay.failed, &overlay.laid) {
            (None, ..) => Overlaid::Nothing,
            (_, Some(why), _) => Overlaid::Failed(why.clone()),
            (_, None, Some(_)) => Overlaid::There,
            (_, None, None) => Overlaid::Reading(overlay.part),
        }
    }

    /// The record's name, where one was chosen.
    pub fn record_name(&self) -> Option<String> {
        let path = self.overlay.path.as_ref()?;
        path.file_stem().map(|stem| stem.to_string_lossy().into_owned())
    }

    /// The record, where it can be drawn over the motion shown.
    pub fn laid(&self) -> Option<&Arc<Laid>> {
        let laid = self.overlay.laid.as_ref()?;
        let legs = self.motion.as_ref()?.plan.rig().actuators.len();
        (laid.legs.len() == legs && self.made().is_some_and(|made| made.is_shown())).then_some(laid)
    }

    /// Whether the record was made of what is shown.
    pub fn made(&self) -> Option<Made> {
        Some(made(self.overlay.laid.as_ref()?, &self.overlay.open.as_ref()?.1))
    }

    /// What is to be said of the record, the gravest first, one line each.
    pub fn of_record(&self) -> Vec<String> {
        let Some(laid) = &self.overlay.laid else { return Vec::new() };
        let mut words: Vec<String> = self.made().map(|made| made.words()).into_iter().collect();
        if self.laid().is_some() {
            let shown = self.motion.as_ref().map_or(1.0, |motion| motion.variant.gain);
            let against = laid.head.held_against();
            if !against.is_empty() && self.gain_of_record().is_some() {
                words.push(format!("{against}; the scene is drawn at {}", gain_words(shown)));
            } else {
                words.push(against);
            }
            if laid.cut_off {
                words.push("the record is cut off: what came after is not known".to_string());
            }
            if laid.more_marks > 0 {
                words.push(format!("{} more marks find no room", laid.more_marks));
            }
            words.extend(self.worst());
        }
        words.retain(|words| !words.is_empty());
        words
    }

    /// The largest tracking error of all legs.
    fn worst(&self) -> Option<String> {
        let laid = self.overlay.laid.as_ref()?;
        let all = laid.legs.iter().zip(&laid.worst);
        let (leg, Worst { error_m, at_s }) = all.max_by(|a, b| a.1.error_m.total_cmp(&b.1.error_m))?;
        let size = show(*error_m, Dimension::LENGTH);
        Some(format!("largest error {size}: {leg} at {}", clock(*at_s)))
    }

    /// The record's gain, where the scene is drawn at another one.
    pub fn gain_of_record(&self) -> Option<f64> {
        let shown = self.motion.as_ref()?.variant.gain;
        // As finely as the gain can be set.
        self.overlay.laid.as_ref()?.head.gain.filter(|gain| (gain - shown).abs() > 6e-4)
    }

    /// Goes where a mark of the record stands.
    pub fn go_to_mark(&mut self, at: usize) {
        let Some(at_s) = self.laid().and_then(|laid| Some(laid.marks.get(at)?.at_s)) else { return };
        self.put_playhead(at_s);
        self.axis = self.axis.showing(at_s, self.length_s());
    }

    /// Takes what is new of records, and holds one against what is shown now; `true` when there was anything.
    pub(super) fn hear_of_records(&mut self) -> bool {
        let any = self.overlay.hear_of_reading() | self.overlay.hear_of_runs();
        any | self.hold_against()
    }

    fn hold_against(&mut self) -> bool {
        let (Some(laid), Some(motion)) = (self.overlay.laid.clone(), &self.motion) else { return false };
        let understood = motion.understood.clone();
        let known = |of: &Arc<Understood>| Arc::ptr_eq(of, &understood);
        let overlay = &mut self.overlay;
        let mut any = false;
        if !overlay.open.as_ref().is_some_and(|(of, _)| known(of)) {
            overlay.open = open(&understood).map(|open| (understood.clone(), open));
            any = true;
        }
        if let Some((of, errand)) = &overlay.hashing {
            match errand.news() {
                Told::NotYet => return any,
                Told::Word(hash) => {
                    let own = overlay.open.as_mut().filter(|(open_of, _)| Arc::ptr_eq(open_of, of));
                    own.into_iter().for_each(|(_, open)| open.motion = Some(hash.clone()));
                }
                Told::All => overlay.hashing = None,
            }
            return true;
        }
        // A newer text waits until the one before is worked out: one at a time is enough of the computer.
        if let Some((_, open)) = &overlay.open
            && open.motion.is_none()
            && laid.head.motion.is_some()
            && !is_of_these_texts(&laid, open)
            && made(&laid, open) == Made::Working
        {
            let of = understood.clone();
            let work = move |say: &mut dyn FnMut(String) -> bool| {
                say(hash(&of).unwrap_or_else(|| "none".to_string()));
            };
            if let Ok(errand) = Errand::begin("motion hash", self.wake.clone(), work) {
                overlay.hashing = Some((understood, errand));
            }
            return true;
        }
        any
    }
}
