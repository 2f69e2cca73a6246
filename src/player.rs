//! The player: one run of a cleared plan on a link, by hand as fast as it goes, or in real time.
//!
//! Takes cleared plans only. The cycle thread locks and logs nothing, and allocates nothing while legs may move; frames come to it, and rows leave it,
//! through rings of fixed size.

mod clock;
mod command;
mod director;
mod drive;
mod drive_cycle;
mod fast;
mod forces;
mod gain;
mod hand;
mod operator;
mod planner;
mod priority;
mod ready;
mod real_time;
mod recorder;
mod rig_cycle;
mod scene;
mod session;
mod setup;
mod tempo;
mod thresholds;
mod travel;
mod window;

#[cfg(test)]
mod drive_tests;
#[cfg(test)]
pub(crate) mod sample;
#[cfg(test)]
mod tests;

pub use clock::{run_number, stopwatch, today, wait};
pub use director::Order;
pub use drive::{Connected, DrivePlan, LinkMeasure, Shell, connect, drive};
pub use gain::GainError;
pub use hand::Hand;
pub use ready::{Ready, Refused, Remark};
pub use setup::SetupError;
pub use travel::MoveError;

use crate::check::Cleared;
use crate::link::{DriveTime, Identity, Link, LinkFault};
use crate::record::{CheckNotes, Header, Histogram, LegTracking, Wear};
use crate::safety::{Legs, StartError, State, operation};
use director::Director;
use recorder::Recorder;
use scene::{ClearedScene, Scene};
use session::Session;
use setup::Setup;
use std::io::Write;
use std::sync::mpsc::Receiver;

/// How to play.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Options {
    /// As fast as it goes, on the calling thread, the same bytes every time; else in real time.
    pub fast: bool,
    /// Go to park when the scene was played to its end. After a stop or a fault it never goes by itself.
    pub park_at_end: bool,
    /// Keys and values for the head of the log: hashes of profile and rig, name of the link.
    pub entries: Vec<(String, String)>,
    /// What the check said of the scene, for the record.
    pub check: CheckNotes,
}

/// Where the record of a run goes.
pub enum Record {
    /// As text.
    Text(Box<dyn Write + Send>),
    /// As MCAP, an open container.
    Mcap(Box<dyn Write + Send>),
}

impl std::fmt::Debug for Record {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(if matches!(self, Record::Text(_)) { "Text" } else { "Mcap" })
    }
}

/// How far a run is.
#[derive(Debug, Clone, PartialEq)]
pub struct Progress {
    /// Where the run is.
    pub state: State,
    /// Time since the run began, s.
    pub time_s: f64,
    /// How far the path under way has been played, s.
    pub path_s: f64,
    /// The rate of its clock, 0..1: below 1 while it sets out and comes to rest.
    pub rate: f64,
    /// The scene's length, s.
    pub scene_s: f64,
    /// Whether the path under way is the scene.
    pub on_scene: bool,
    /// The factor on the checked gain.
    pub gain: f64,
    /// On drives: where the run is, why, what it sees, and what could be asked for.
    pub run: Option<operation::Operation>,
    /// On drives: what exactly is wrong with one of them.
    pub cause: Option<crate::record::DriveCause>,
    /// On drives: what was asked for and waits until presence is taken hold of.
    pub wanted: Option<Order>,
    /// On drives: what the path says to acts.
    pub ready: Ready,
    /// On drives: what was asked for last and does not begin.
    pub refused: Refused,
    /// On drives: why what was ordered last cannot be done.
    pub remark: Option<Remark>,
    /// Where the legs are, m: on drives as measured, else as set.
    pub legs_m: Legs,
}

/// How a run ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Played {
    /// Where the run was when it ended: at rest, always.
    pub state: State,
    /// Whether the scene was played to its end.
    pub played_out: bool,
    /// On drives: where the run ended, and why.
    pub run: Option<operation::Operation>,
    /// On drives: why a fault or an emergency stop came up, the first of them.
    pub tripped: Option<operation::Cause>,
    /// Cycles served.
    pub cycles: u64,
    /// The same as time, s.
    pub time_s: f64,
    /// The least factor on the checked gain in any cycle of the scene; 1 where nobody lowered it.
    pub least_gain: f64,
    /// How each leg followed while the scene played, with its name.
    pub legs: Vec<(String, LegTracking)>,
    /// How far each leg strayed from its path while the scene played, m, all taken to be equally late: see
    /// [`Tracking::strayed_m`](crate::record::Tracking::strayed_m).
    pub strayed_m: Option<Vec<f64>>,
    /// On drives: what legs and brakes have done.
    pub wear: Wear,
    /// In how many cycles the governor sent something else than the path asked for; 0 for a cleared plan.
    pub interventions: u64,
    /// How late cycles were served.
    pub late: Histogram,
    /// Rows that the log lost because it was written too slowly.
    pub dropped: u64,
    /// Leg lengths at the end as they were sent, m.
    pub end_m: Vec<f64>,
    /// What could not be done, in words.
    pub remarks: Vec<String>,
    /// Why the log is not whole, if it is not.
    pub log_error: Option<String>,
}

/// Why nothing was played.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlayError {
    /// The rig cannot be played on.
    #[error(transparent)]
    Setup(#[from] SetupError),
    /// The plan's samples do not meet the drive's cycle.
    #[error("a plan at {rate_hz} Hz has no whole number of samples in a drive cycle of {cycle_us} us")]
    Cycle {
        /// The plan's rate, Hz.
        rate_hz: u32,
        /// The drive's cycle, microseconds.
        cycle_us: u32,
    },
    /// Somebody else answers.
    #[error("the link answers as `{}` with {} legs at {} us, expected {legs} legs at {cycle_us} us", found.name, found.legs, found.cycle_us)]
    WrongRig {
        /// Who answers.
        found: Identity,
        /// Legs of the rig file.
        legs: usize,
        /// Cycle of the rig file, microseconds.
        cycle_us: u64,
    },
    /// The link does not hold the cycle.
    #[error("the link does not hold a cycle of {cycle_us} us: {}", measure.why_not(*cycle_us))]
    Slow {
        /// What it was measured to do.
        measure: LinkMeasure,
        /// The cycle of the rig file, microseconds.
        cycle_us: u64,
    },
    /// The link failed before anything was sent.
    #[error(transparent)]
    Link(#[from] LinkFault),
    /// The rig stands where it must not start from.
    #[error("start refused: {0}; bring the rig inside its limits first")]
    Start(StartError),
    /// There is no way to the first pose.
    #[error("there is no move to the scene's first pose: {0}")]
    Move(#[from] MoveError),
    /// The scene has no samples.
    #[error("the scene is empty")]
    Empty,
    /// A thread of the player ended by itself, or could not be started.
    #[error("the player's {0} thread failed")]
    Thread(&'static str),
}

/// Plays a cleared plan on a link.
///
/// The run begins where the rig stands: it goes to the scene's first pose, plays, and holds (or parks, as the options
/// say). `orders` is heard all the while; `log` gets the record; `progress` hears about ten times a second.
///
/// # Errors
/// When the run cannot begin; once begun, how it ended is in [`Played`].
pub fn play<L: Link>(
    cleared: &Cleared,
    link: L,
    options: &Options,
    orders: &Receiver<Order>,
    log: Box<dyn Write + Send>,
    progress: &mut dyn FnMut(&Progress),
) -> Result<Played, PlayError>
where
    L::Engaged: Send,
{
    let rig = cleared.plan().rig();
    let setup = Setup::of(rig)?;
    let scene = ClearedScene::new(cleared)
        .ok_or(PlayError::Cycle { rate_hz: cleared.plan().rate().hz(), cycle_us: rig.drive.cycle_us })?;
    let run = Run { setup: &setup, scene: &scene, options, clock: None };
    run.play(link, &mut || orders.try_recv().ok(), log, progress)
}

/// One run, with what it is made of put in from outside.
struct Run<'a> {
    setup: &'a Setup,
    scene: &'a dyn Scene,
    options: &'a Options,
    /// The clock to use in real time; the machine's own where there is none.
    clock: Option<&'a dyn clock::Clock>,
}

impl Run<'_> {
    fn play<L: Link>(
        &self,
        mut link: L,
        orders: &mut dyn FnMut() -> Option<Order>,
        log: Box<dyn Write + Send>,
        progress: &mut dyn FnMut(&Progress),
    ) -> Result<Played, PlayError>
    where
        L::Engaged: Send,
    {
        let setup = self.setup;
        let found = link.identify()?;
        if found.legs != setup.legs.len() || u64::from(found.cycle_us) != setup.cycle_us {
            return Err(PlayError::WrongRig { found, legs: setup.legs.len(), cycle_us: setup.cycle_us });
        }
        let at_m = link.poll(DriveTime(0))?.measured_m;
        let session = Session::start(setup, &at_m, self.scene.frames()).map_err(PlayError::Start)?;
        let director = Director::new(setup, self.scene, self.first_m()?, self.options.park_at_end);
        director.first_move(at_m)?;
        let link = link.engage(DriveTime(0)).map_err(|(_, fault)| fault)?;
        let recorder = Recorder::start(Record::Text(log), self.header(&found), setup.cycle_s());
        let cycle = rig_cycle::RigCycle::new(session, link, setup.cycle_us);
        if self.options.fast {
            Ok(self.fast(cycle, director, recorder, orders, progress))
        } else {
            self.real_time(cycle, director, recorder, orders, progress)
        }
    }

    fn first_m(&self) -> Result<Legs, PlayError> {
        let mut frames = Vec::new();
        self.scene.source().fill(0, &mut frames);
        frames.first().map(|frame| frame.legs_m).ok_or(PlayError::Empty)
    }

    fn header(&self, found: &Identity) -> Header {
        let mut entries = vec![
            ("program".to_string(), format!("cueloom {}", env!("CARGO_PKG_VERSION"))),
            ("answers".to_string(), found.name.clone()),
            ("cycle_us".to_string(), self.setup.cycle_us.to_string()),
            ("clock".to_string(), if self.options.fast { "cranked" } else { "real time" }.to_string()),
        ];
        entries.extend(self.options.entries.iter().cloned());
        Header {
            entries,
            legs: self.setup.legs.clone(),
            axes: self.setup.axes.clone(),
            check: self.options.check.clone(),
        }
    }

    fn progress(&self, view: &command::View) -> Progress {
        let cycle_s = self.setup.cycle_s();
        Progress {
            state: view.state,
            time_s: view.tick as f64 * cycle_s,
            path_s: view.path_s,
            rate: view.rate,
            scene_s: self.scene.frames().saturating_sub(1) as f64 * cycle_s,
            on_scene: view.task == Some(crate::safety::Task::Scene),
            gain: view.gain,
            run: view.run,
            cause: view.cause,
            wanted: None,
            ready: view.ready,
            refused: view.refused,
            remark: None,
            legs_m: view.legs_m,
        }
    }

    fn played(&self, view: &command::View, recorder: Recorder, remarks: Vec<String>) -> Played {
        let legs = self.setup.legs.iter().cloned().zip(recorder.tracking.legs()).collect();
        // A note of it can be among those that found no room: what waits to be acknowledged is known without.
        let latched = view.run.filter(operation::Operation::is_latched).map(|run| run.cause());
        Played {
            state: view.state,
            played_out: view.played_out,
            run: view.run,
            tripped: recorder.tripped.or(latched),
            cycles: view.tick,
            time_s: view.tick as f64 * self.setup.cycle_s(),
            least_gain: recorder.least_gain,
            legs,
            strayed_m: recorder.tracking.strayed_m(),
            wear: recorder.wear.wear().clone(),
            interventions: recorder.tracking.interventions(),
            late: recorder.late,
            dropped: recorder.dropped,
            end_m: view.set_points_m.to_vec(),
            remarks,
            log_error: recorder.error.map(|e| e.to_string()),
        }
    }
}
