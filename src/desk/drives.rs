//! The drives as the desktop program has them: what is chosen before, the session while there is one, what is left after.
//!
//! Cannot: move anything by itself. It passes on what an operator chooses and whether presence is held; whether legs move
//! is decided in `safety::operation`, cycle by cycle.

pub mod commissioning;
pub mod holding;
pub mod ladder;
pub mod session;
pub mod setup;
pub mod shown;
pub mod sounding;

use crate::audition::{Key, without_run_under_way};
use crate::drives::{Carrier, Records};
use crate::player::{Order, Progress, today};
use crate::rig::Rig;
use commissioning::Steps;
use holding::Holding;
use ladder::Ladder;
use session::{Answered, Job, News, Over, Session};
use setup::Setup;
use shown::Shown;
use sounding::Sounding;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The name of the key that holds presence; the same as in the list of keys.
pub const HOLD: &str = "F2";

/// The drives, connected or not.
#[derive(Debug)]
pub struct Drives {
    /// What is chosen before a link is opened.
    pub setup: Setup,
    /// What was noticed of the run that waits to be signed off, as far as it is typed.
    pub remark: String,
    /// The guided steps of a commissioning.
    pub steps: Steps,
    profile: PathBuf,
    session: Option<Session>,
    /// What the thread is at before anything answers.
    at: &'static str,
    answered: Option<Answered>,
    now: Option<Progress>,
    /// `now` came since it was last listened to.
    is_new: bool,
    sounding: Sounding,
    over: Option<Over>,
    /// The rig of the session, or of the last one.
    rig: Option<Arc<Rig>>,
    holding: Holding,
    /// STOP was asked for and the legs are not known to rest since.
    stopping: bool,
    focused: bool,
    ladder: Ladder,
    /// Of the last far end that answered: the ladder is shown for it.
    key: Option<Key>,
    said: Option<String>,
}

impl Drives {
    /// Not connected; for a profile at `profile`, with the link that was used last.
    pub fn of(profile: &Path, carrier: Carrier, to: &str) -> Self {
        let mut drives = Self {
            setup: Setup::of(profile, carrier, to),
            remark: String::new(),
            steps: Steps::default(),
            profile: profile.to_path_buf(),
            session: None,
            at: "",
            answered: None,
            now: None,
            is_new: false,
            sounding: Sounding::default(),
            over: None,
            rig: None,
            holding: Holding::default(),
            stopping: false,
            focused: true,
            ladder: Ladder::default(),
            key: None,
            said: None,
        };
        drives.read_ladder();
        drives
    }

    /// Turns to another profile: its records are beside it, and what is known of the ladder is another's.
    pub fn face(&mut self, profile: &Path) {
        if self.is_engaged() || self.profile == profile {
            return;
        }
        *self = Self::of(profile, self.setup.carrier, &self.setup.to);
    }

    /// Whether the chosen drives are simulated ones. While a session is under way that cannot be chosen anew.
    pub fn are_simulated(&self) -> bool {
        self.setup.carrier == Carrier::Sim
    }

    /// The records of what the chosen link carries.
    pub fn records(&self) -> Records {
        Records::of(Path::new(self.setup.records.trim()), self.setup.carrier)
    }

    /// The records of real drives, whatever link is chosen: what legs strayed there counts in every check.
    pub fn records_of_steel(&self) -> Records {
        Records::at(Path::new(self.setup.records.trim()))
    }

    /// Reads the ladder anew, and its levels.
    pub fn read_ladder(&mut self) {
        self.setup.read_levels(&self.profile);
        match self.records().entries() {
            Ok(entries) => {
                let key = self.key.as_ref();
                let entries = match key.filter(|_| self.is_engaged()) {
                    Some(key) => without_run_under_way(entries, &key.drives),
                    None => entries,
                };
                self.ladder = Ladder::of(&self.setup.levels, &entries, key, today().0);
            }
            Err(error) => {
                self.ladder = Ladder::default();
                self.said = Some(error.to_string());
            }
        }
    }

    /// Whether a session is under way, from opening the link to its last word.
    pub fn is_engaged(&self) -> bool {
        self.session.is_some()
    }

    /// Begins a session. Nothing moves by it.
    pub fn connect(&mut self, job: Job, wake: Arc<dyn Fn() + Send + Sync>) {
        if self.session.is_some() {
            return;
        }
        self.rig = Some(job.checked.report.plan().rig().clone());
        (self.answered, self.now, self.over, self.said) = (None, None, None, None);
        self.at = "";
        self.stopping = false;
        self.holding.spend();
        match Session::start(job, wake) {
            Ok(session) => self.session = Some(session),
            Err(error) => self.said = Some(format!("not connected: the system gives no thread ({error})")),
        }
    }

    /// Takes what the session has said; `true` when there was anything.
    pub fn hear(&mut self) -> bool {
        let mut any = false;
        while let Some(news) = self.session.as_ref().and_then(Session::news) {
            any = true;
            match news {
                News::At(words) => self.at = words,
                News::Answered(answered) => {
                    self.key = Some(answered.vouched.key.clone());
                    self.steps.meet(&answered.vouched.key.rig, &answered.far);
                    self.answered = Some(*answered);
                    self.read_ladder();
                }
                News::Now(progress) => {
                    self.now = Some(*progress);
                    self.is_new = true;
                    self.stopping &= self.shown().is_some_and(|shown| shown.moving);
                }
                News::Over(mut over) => {
                    self.session = None;
                    if self.steps.question().is_some() {
                        over.words
                            .push("the steps of the commissioning wait: connect again to go on".to_string());
                    }
                    // A reason is for one run, and so is a look at the seat.
                    self.setup.reason.clear();
                    self.setup.seat = None;
                    self.over = Some(over);
                    self.read_ladder();
                }
            }
        }
        any
    }

    /// One look at what is held: `down` a key or button, `focused` whether the window has the keys. To be called at every
    /// frame: presence that is not said again is gone.
    pub fn tend(&mut self, down: bool, focused: bool) {
        if self.session.as_ref().is_some_and(Session::was_missed) {
            self.holding.spend();
        }
        let holds = self.holding.look(down, focused);
        let lost = self.focused && !focused;
        self.focused = focused;
        let Some(session) = &self.session else { return };
        session.hold(holds);
        if lost {
            // What was chosen and not begun is not wanted any more either.
            session.order(Order::Pause);
        }
    }

    /// How the sound of the run stands.
    pub fn sounding(&self) -> &Sounding {
        &self.sounding
    }

    /// One look at what is heard, scene seconds, at `now_s` of the computer's clock, where legs follow the path `lag_s` late:
    /// held against where the run is, and told to it for its record.
    pub fn hears(&mut self, heard_s: Option<f64>, now_s: f64, lag_s: f64) {
        if std::mem::take(&mut self.is_new) || self.session.is_none() {
            self.sounding.hear(self.now.as_ref().filter(|_| self.session.is_some()), now_s);
        }
        self.sounding.compare(heard_s, now_s, lag_s);
        if let Some(session) = &self.session {
            session.hears(heard_s.filter(|_| self.sounding.lap().is_some()));
        }
    }

    /// Whether presence is held here.
    pub fn holds(&self) -> bool {
        self.holding.holds()
    }

    /// Whether something is down here that does not count any more until it was let go.
    pub fn is_spent(&self) -> bool {
        self.holding.is_spent()
    }

    /// Stops: in place along the path, brakes on. In two ways that do not wait for each other. Asked for again before the
    /// legs rest, it brakes them all together at once, off the path, and wants to be acknowledged: who presses twice wants
    /// more.
    pub fn stop(&mut self) {
        self.holding.spend();
        if let Some(session) = &self.session {
            session.hold(false);
            let again = self.stopping && self.shown().is_some_and(|shown| shown.moving);
            session.order(if again { Order::EmergencyStop } else { Order::Stop });
            self.stopping = true;
        }
    }

    /// Asks for something. It moves nothing without presence taken hold of after it.
    pub fn ask(&self, order: Order) {
        if let Some(session) = &self.session {
            session.order(order);
        }
    }

    /// Ends the session, once it rests.
    pub fn leave(&self) {
        self.ask(Order::End);
    }

    /// The program ends at once, whatever the run is at.
    pub fn forsake(&mut self) {
        if let Some(session) = self.session.take() {
            session.forsake();
        }
    }

    /// The program ends: waits until the run has come to rest.
    pub fn end(&mut self) {
        self.session = None;
    }

    /// What answered, and what is vouched for; of the last session when there is none.
    pub fn answered(&self) -> Option<&Answered> {
        self.answered.as_ref()
    }

    /// The newest of how the run stands, while there is one.
    pub fn progress(&self) -> Option<&Progress> {
        self.now.as_ref().filter(|_| self.session.is_some())
    }

    /// How the last session ended, while there is no other.
    pub fn over(&self) -> Option<&Over> {
        self.over.as_ref().filter(|_| self.session.is_none())
    }

    /// The ladder.
    pub fn ladder(&self) -> &Ladder {
        &self.ladder
    }

    /// The legs by name.
    pub fn legs(&self) -> Vec<String> {
        let names = |rig: &Arc<Rig>| rig.actuators.iter().map(|leg| leg.name.clone()).collect();
        self.rig.as_ref().map(names).unwrap_or_default()
    }

    /// Begins the steps of a commissioning; only with a far end that answers.
    pub fn begin_steps(&mut self) {
        if let (Some(rig), Some(answered), true) = (&self.rig, &self.answered, self.progress().is_some()) {
            self.steps.begin(rig, &answered.far);
        }
    }

    /// Answers the step that is asked.
    pub fn answer(&mut self, text: &str) {
        let records = self.records();
        if let (Some(rig), Some(answered)) = (&self.rig, &self.answered) {
            self.steps.answer(text, &records, rig, &answered.far, today().0);
        }
    }

    /// Begins the daily test of the brakes; only with a far end that answers.
    pub fn begin_brakes(&mut self) {
        let records = self.records();
        if let (Some(rig), Some(answered), true) = (&self.rig, &self.answered, self.progress().is_some()) {
            self.steps.begin_brakes(&records, rig, &answered.far, today().0);
        }
    }

    /// What could not be done, in words.
    pub fn said(&self) -> Option<&str> {
        self.said.as_deref()
    }

    /// Where the run stands, while one is under way.
    pub fn shown(&self) -> Option<Shown> {
        let progress = self.progress()?;
        let run = progress.run.as_ref()?;
        Shown::of(run, progress, &self.legs(), self.holds(), HOLD)
    }

    /// One line of where the session stands, for title and strip; `None` without one.
    pub fn state(&self) -> Option<String> {
        self.session.as_ref()?;
        Some(self.shown().map_or_else(|| format!("connecting: {}", self.at), |shown| shown.state))
    }

    /// Signs the last run off with what was noticed.
    pub fn sign(&mut self) {
        let remark = self.remark.trim().to_string();
        if remark.is_empty() || self.is_engaged() {
            return;
        }
        let shown = self.ladder().to_sign.clone();
        match self.records().sign(&remark, today().0, shown.as_ref()) {
            Ok(run) => {
                self.said = Some(format!("signed off: {}", run.words()));
                self.remark.clear();
            }
            Err(error) => self.said = Some(error.to_string()),
        }
        self.read_ladder();
    }
}
