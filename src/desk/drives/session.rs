//! One run on drives on a thread of its own: checked at its level, connected, vouched for, played, written down.
//!
//! The window is at the far end of two channels and never waits for the link. When the window is gone, in whatever way,
//! nobody holds and nobody gives orders: the run stops on its path and ends.

use crate::audition::{Rung, motion_hash};
use crate::check;
use crate::desk::compiler::Checked;
use crate::desk::workers::{Interruptible, unless_given_up};
use crate::diag::Severity;
use crate::drives::{
    Asked, Carrier, DriveError, Head, Kept, Left, Records, Vouched, begin, keep, level_of, levels,
    never_begun, open, vouch,
};
use crate::files;
use crate::link::{FarEnd, SimAct, SimInput};
use crate::player::{self, Hand, LinkMeasure, Options, Order, Played, Progress, Record, Shell, today};
use crate::record::CheckNotes;
use crate::safety::operation::Input;
use crate::threads::Threads;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};

/// What is to be played, and where.
#[derive(Debug, Clone)]
pub struct Job {
    /// The check of the scene at full gain.
    pub checked: Checked,
    /// The profile's path.
    pub profile: PathBuf,
    /// What carries set-points.
    pub carrier: Carrier,
    /// Where the far end is.
    pub to: String,
    /// Where the records are.
    pub records: Records,
    /// Which rung.
    pub rung: Rung,
    /// Why the ladder is overridden.
    pub reason: Option<String>,
}

/// What answered, and what is vouched for.
#[derive(Debug, Clone)]
pub struct Answered {
    /// Who.
    pub far: FarEnd,
    /// What the link was measured to do.
    pub measure: LinkMeasure,
    /// What is vouched for.
    pub vouched: Vouched,
    /// What should be known of the link.
    pub notes: Vec<String>,
}

/// How it ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Over {
    /// What is to be said of it, the gravest first.
    pub words: Vec<String>,
    /// What is kept of it.
    pub kept: Kept,
    /// The record of the run, where there was one.
    pub log: Option<PathBuf>,
}

/// What the thread has to say, in this order.
#[derive(Debug, Clone)]
pub enum News {
    /// What it is at, before anything answers.
    At(&'static str),
    /// The far end answered.
    Answered(Box<Answered>),
    /// How the run stands, about ten times a second.
    Now(Box<Progress>),
    /// It is over, and nothing more will be said.
    Over(Over),
}

/// A handle on the thread. Dropped, it lets go, gives no orders any more, and waits until the run has come to rest.
#[derive(Debug)]
pub struct Session {
    orders: Option<Sender<Order>>,
    hand: Hand,
    news: Receiver<News>,
    given_up: Arc<AtomicBool>,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Session {
    /// Starts the thread; `wake` is called when there is news.
    ///
    /// # Errors
    /// When the system has no thread to give.
    pub fn start(job: Job, wake: Arc<dyn Fn() + Send + Sync>) -> std::io::Result<Self> {
        let (orders, heard) = channel();
        let (outbox, news) = channel();
        let (hand, given_up) = (Hand::default(), Arc::new(AtomicBool::new(false)));
        let (own_hand, stale) = (hand.clone(), given_up.clone());
        let thread = std::thread::Builder::new().name("drives".to_string()).spawn(move || {
            let mut say = |news| {
                // Nobody to hear it: the run ends by its orders, not by its news.
                let _ = outbox.send(news);
                wake();
            };
            let over = run(&job, &heard, &own_hand, &stale, &mut say);
            say(News::Over(over));
        })?;
        Ok(Self { orders: Some(orders), hand, news, given_up, thread: Some(thread) })
    }

    /// Asks for something. It moves nothing without presence taken hold of after it.
    pub fn order(&self, order: Order) {
        if matches!(order, Order::End | Order::Stop | Order::EmergencyStop) {
            self.given_up.store(true, Ordering::SeqCst);
        }
        if let Some(orders) = &self.orders {
            // A thread that has ended has said so.
            let _ = orders.send(order);
        }
    }

    /// Whether presence is held here; to be said at every look.
    pub fn hold(&self, holds: bool) {
        if holds { self.hand.hold() } else { self.hand.let_go() }
    }

    /// What is heard here now, scene seconds, for the record.
    pub fn hears(&self, scene_s: Option<f64>) {
        self.hand.hears(scene_s);
    }

    /// Whether presence is not taken to be held although it was said to be: the window fell silent in between.
    pub fn was_missed(&self) -> bool {
        self.hand.was_missed()
    }

    /// What it had to say since.
    pub fn news(&self) -> Option<News> {
        match self.news.try_recv() {
            Ok(news) => Some(news),
            Err(std::sync::mpsc::TryRecvError::Empty) => None,
            // It ended without a word, which only a panic does.
            Err(std::sync::mpsc::TryRecvError::Disconnected) => Some(News::Over(Over {
                words: vec![
                    "the thread of the drives failed; the far end hears nothing and stops by itself: look at the rig"
                        .to_string(),
                ],
                kept: Kept::Nothing,
                log: None,
            })),
        }
    }
}

impl Session {
    /// Lets go, orders the end, and does not wait for it: the program ends with the run under way. The far end then hears
    /// nothing, and stops by itself.
    pub fn forsake(mut self) {
        self.hand.let_go();
        self.given_up.store(true, Ordering::SeqCst);
        self.thread = None;
    }
}

impl Drop for Session {
    fn drop(&mut self) {
        self.hand.let_go();
        self.given_up.store(true, Ordering::SeqCst);
        self.orders = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn run(
    job: &Job,
    orders: &Receiver<Order>,
    hand: &Hand,
    given_up: &AtomicBool,
    say: &mut dyn FnMut(News),
) -> Over {
    let nothing = |words: String| Over { words: vec![words], kept: Kept::Nothing, log: None };
    match try_run(job, orders, hand, given_up, say) {
        Ok(Some(over)) => over,
        Ok(None) => nothing("given up before anything was engaged".to_string()),
        Err(error) => nothing(error.to_string()),
    }
}

/// `None` when it was given up before the run began.
fn try_run(
    job: &Job,
    orders: &Receiver<Order>,
    hand: &Hand,
    given_up: &AtomicBool,
    say: &mut dyn FnMut(News),
) -> Result<Option<Over>, DriveError> {
    let gone = || given_up.load(Ordering::SeqCst);
    // As the settings have them now, whatever the window showed.
    let levels = levels(&job.profile)?;
    level_of(&levels, job.rung.level_db)?;
    say(News::At("checking the scene at this level"));
    let full = job.checked.report.plan();
    let plan = job.records.straying(&full.at_part(job.rung.part()), today().0)?;
    let sources = &job.checked.understood.sources;
    let workers = Interruptible { threads: Threads::all(), stale: given_up };
    let Some(report) = unless_given_up(|| check::run(&plan, sources, &workers, &|_| {})) else {
        return Ok(None);
    };
    let Some(cleared) = report.clear() else {
        let error = report.findings.iter().find(|finding| finding.diagnostic.severity == Severity::Error);
        let why = error.map_or("", |finding| finding.diagnostic.title.as_str());
        let less = if plan.stray_m().is_empty() { "" } else { ", less what its legs strayed in runs before" };
        return Err(DriveError::Link(format!(
            "not connected: at {} dB the scene does not fit the rig file{less}: {why}",
            job.rung.level_db
        )));
    };
    let motion = motion_hash(full);
    if gone() {
        return Ok(None);
    }
    // What takes long comes first: a far end is not kept waiting for it.
    let drive_plan = player::DrivePlan::of(&cleared)?;
    say(News::At("opening the link, and measuring it"));
    let rig = plan.rig();
    let mut opened = open(job.carrier, &job.to, rig)?;
    if let Some(hand) = &mut opened.hand {
        // Simulated drives have no pedal of their own: what is held is held in the window.
        hand.act(SimAct::Input(SimInput::Presence, Input::Closed));
    }
    let connected = player::connect(opened.link, rig, false)?;
    let (far, measure, (day, _)) = (connected.far.clone(), connected.measure, today());
    let reason = job.reason.as_deref();
    let (rung, motion) = (job.rung, motion.as_str());
    let asked = Asked { rung, levels: &levels, motion, rig, far: &far, day, reason };
    let under_way = job.records.under_way()?;
    let vouched = vouch(&under_way, &asked)?;
    let stem = job.profile.file_stem().map_or_else(|| "profile".into(), |stem| stem.to_string_lossy());
    let (log, record) = files::create_numbered(&job.records.folder().join("runs"), &stem, "mcap")?;
    let record = Record::Mcap(record);
    let (profile, scene) = (job.profile.display().to_string(), &plan.scenario().title);
    let head = Head { profile: &profile, scene, gain: plan.gain(), sources };
    let entries = head.on_drives(job.carrier, &vouched, &measure);
    if gone() {
        connected.leave();
        return Ok(None);
    }
    // First: whoever hears of the answer takes the last run that was begun for this one.
    begin(&job.records, &vouched, day, &log)?;
    let answered = Answered { far, measure, vouched: vouched.clone(), notes: opened.notes };
    say(News::Answered(Box::new(answered)));
    let check = CheckNotes::of(&report, sources);
    let options = Options { fast: false, park_at_end: true, entries, check };
    let shell = Shell { permit: vouched.permit, orders, hand: Some(hand.clone()), by_word: true };
    let mut progress = |now: &Progress| say(News::Now(Box::new(now.clone())));
    Ok(Some(match player::drive(&drive_plan, connected, &options, &shell, record, &mut progress) {
        Ok(played) => {
            let left = keep(&job.records, &played, &vouched, (day, plan.gain()), &log);
            Over { words: words(&played, &left), kept: left.kept, log: Some(log) }
        }
        Err(error) => {
            let mut words = vec![error.to_string()];
            let not_closed = never_begun(&job.records, &vouched, day, &error).err();
            words.extend(not_closed.map(|error| error.to_string()));
            Over { words, kept: Kept::Nothing, log: Some(log) }
        }
    }))
}

/// How it ended, and what of it could not be kept: one does not take the place of the other.
fn words(played: &Played, left: &Left) -> Vec<String> {
    let mut words = left.failed();
    if let Some(cause) = played.tripped {
        words.push(format!("the run was tripped: {}", cause.words()));
    }
    let kept = left.kept.words();
    if !kept.is_empty() {
        words.push(kept);
    }
    if let Some(run) = &played.run {
        let out = if played.played_out {
            "the scene was played to its end"
        } else {
            "the scene was not played to its end"
        };
        words.push(format!("{out}; it ended {}: {}", run.state().word(), run.cause().words()));
    }
    if played.interventions > 0 {
        words.push(format!("the governor held back in {} cycles", played.interventions));
    }
    if let Some(error) = &played.log_error {
        words.push(format!("the record is not whole: {error}"));
    }
    if played.dropped > 0 {
        words.push(format!("{} rows of the record were lost: it was written too slowly", played.dropped));
    }
    words.extend(played.remarks.iter().cloned());
    words
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::player::sample;
    use crate::safety::operation::Cause;

    #[test]
    fn how_it_ended_is_said_though_the_ladder_could_not_be_written() {
        let played = Played {
            tripped: Some(Cause::LinkSilent),
            remarks: vec!["a remark".to_string()],
            ..sample::played_out()
        };
        let left =
            Left { kept: Kept::Tripped, not_kept: Some(DriveError::NotCommissioned), not_counted: None };
        let words = words(&played, &left);
        assert!(words[0].contains("counts as a trip") && words[0].contains("commission first"), "{words:?}");
        let rest = [
            "the run was tripped: the link fell silent",
            "this run was tripped: the ladder begins at its lowest level, seat vacant, again",
            "a remark",
        ];
        assert_eq!(words[1..], rest);
    }
}
