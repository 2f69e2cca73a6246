//! What a cycle leaves behind: one row, and now and then a note.

use super::DriveCause;
use crate::safety::operation;
use crate::safety::{Hold, Legs, MAX_AXES, Outcome, Refusal, State, Trip};

/// One cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// Cycle, from 0.
    pub tick: u64,
    /// Time since the run began, microseconds: the cycle's own, not when it came to be served.
    pub time_us: u64,
    /// How far the path under way has been played, s; the scene's own time while it plays.
    pub path_s: f64,
    /// The rate of the path's clock, 0..1.
    pub rate: f64,
    /// The factor on the gain that the plan was cleared at, 0..1.
    pub gain: f64,
    /// Where the run is.
    pub state: State,
    /// Platform coordinates that the scene asks for, rad or m; no number while no scene plays.
    pub platform: [f64; MAX_AXES],
    /// What the path asks for, m.
    pub planned_m: Legs,
    /// What the governor let out, m.
    pub sent_m: Legs,
    /// What the link measured at the cycle's begin, m.
    pub measured_m: Option<Legs>,
    /// How late the cycle was served, microseconds; 0 where nothing waits.
    pub late_us: u32,
    /// What became of the planned step.
    pub outcome: Outcome,
    /// On drives: what was demanded and what came back.
    pub drive: Option<DriveRow>,
}

/// What a cycle on drives leaves behind besides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DriveRow {
    /// Where the run is.
    pub state: operation::State,
    /// Why.
    pub cause: operation::Cause,
    /// Of the stop under way, or of the last.
    pub category: Option<operation::Category>,
    /// What was demanded.
    pub demand: operation::Demand,
    /// What was seen.
    pub seen: operation::Seen,
    /// Force that the plan predicts at the nut, N; no number where it predicts none.
    pub predicted_n: Legs,
    /// Largest force that drives were allowed, N.
    pub limit_n: Legs,
    /// At the nut, N, as reported.
    pub force_n: Legs,
    /// Of motor or drive, degrees Celsius, as reported.
    pub temperature_c: Legs,
    /// Measured, m/s, as reported.
    pub speed_m_s: Legs,
    /// What the far end says of itself.
    pub far: FarSide,
    /// From sending an order to its answer, microseconds.
    pub round_trip_us: Option<u64>,
    /// Cycles since the last report.
    pub report_age: u32,
    /// What is heard of the scene at this computer, s of it; no number where nothing is.
    pub heard_s: f64,
}

/// What the far end says of itself, and what was dropped on the way to it and back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FarSide {
    /// Its own state: a word.
    pub state: &'static str,
    /// Whether it moves legs by itself.
    pub moving: bool,
    /// What it says is wrong, and on which leg.
    pub fault: Option<(&'static str, Option<usize>)>,
    /// The same more exactly, where the link knows.
    pub cause: Option<DriveCause>,
    /// Orders that it dropped since it began.
    pub rejected: u32,
    /// Reports that were dropped here.
    pub dropped: u64,
}

/// Why a run slows or leaves its path.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// Somebody asked.
    Asked,
    /// The scene's frames came too slowly: a starved host.
    FramesLow,
    /// The clock could not be slowed inside the limits in the time allowed.
    SlowingTooLong,
    /// The link is gone or reports a fault.
    Link,
}

/// Something worth a line of its own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Note {
    /// Time since the run began, microseconds.
    pub time_us: u64,
    /// What happened.
    pub what: What,
}

/// What a note says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum What {
    /// The run went from one state to another.
    State {
        /// From.
        from: State,
        /// To.
        to: State,
    },
    /// Something slowed or stopped the run.
    Stopping(Cause),
    /// What was asked for was refused.
    Refused(Refusal),
    /// The governor began to hold back.
    Held(Hold),
    /// The governor follows again.
    Follows,
    /// A measured length tripped the governor.
    Tripped(Trip),
    /// A gain ramp was taken on.
    Gain {
        /// Factor on the cleared gain at its start.
        from: f64,
        /// At its end.
        to: f64,
        /// Scene time of its start, s.
        start_s: f64,
        /// Its length in scene time, s.
        length_s: f64,
    },
    /// The host was so late that the cycle's deadlines were set anew.
    Late {
        /// By how much, microseconds.
        by_us: u64,
    },
    /// On drives: the run went from one state to another, or is where it was for another reason.
    Run {
        /// From.
        from: operation::State,
        /// To.
        to: operation::State,
        /// Why.
        cause: operation::Cause,
    },
    /// On drives: what was asked for does not begin.
    NotNow {
        /// What.
        request: operation::Request,
        /// Why.
        why: operation::Refusal,
    },
    /// On drives: what was asked for begins.
    Asked(operation::Request),
    /// On drives: what exactly is wrong with one of them.
    Drives(DriveCause),
    /// What the system granted the cycle thread.
    Granted {
        /// A real-time priority (`SCHED_FIFO`).
        priority: bool,
        /// Memory that stays in memory.
        locked: bool,
    },
    /// Rows that did not fit between the cycle and the log.
    Dropped {
        /// How many.
        rows: u64,
    },
}

impl What {
    /// Of what kind: a word for programs.
    pub fn kind(&self) -> &'static str {
        match self {
            What::State { .. } => "path",
            What::Stopping(_) => "stopping",
            What::Refused(_) | What::NotNow { .. } => "refused",
            What::Held(_) | What::Follows => "governor",
            What::Tripped(_) => "tripped",
            What::Gain { .. } => "gain",
            What::Late { .. } => "late",
            What::Run { .. } => "run",
            What::Asked(_) => "asked",
            What::Drives(_) => "drives",
            What::Granted { .. } => "granted",
            What::Dropped { .. } => "rows lost",
        }
    }

    /// The words in logs.
    pub fn words(&self, leg_names: &[String]) -> String {
        let leg_name =
            |leg: usize| leg_names.get(leg).map_or_else(|| format!("leg {}", leg + 1), String::clone);
        match self {
            What::State { from, to } => format!("{} to {}", from.word(), to.word()),
            What::Stopping(Cause::Asked) => "asked to let go".to_string(),
            What::Stopping(Cause::FramesLow) => "slowing: the host renders too slowly".to_string(),
            What::Stopping(Cause::SlowingTooLong) => {
                "leaving the path: the clock could not be slowed inside the limits in time".to_string()
            }
            What::Stopping(Cause::Link) => "braking: the link failed or reports a fault".to_string(),
            What::Refused(why) => format!("refused: {}", why.word()),
            What::Held(hold) => match hold.leg() {
                Some(leg) => format!("governor holds back: {} of {}", hold.word(), leg_name(leg)),
                None => format!("governor holds back: {}", hold.word()),
            },
            What::Follows => "governor follows".to_string(),
            What::Tripped(t) => format!(
                "tripped: {} measured at {:.6} m, set-point {:.6} m, expected within {:.6} m",
                leg_name(t.leg),
                t.measured_m,
                t.set_point_m,
                t.window_m
            ),
            What::Gain { from, to, start_s, length_s } => {
                format!("gain from {from:.4} to {to:.4} over {length_s:.3} s from scene time {start_s:.3} s")
            }
            What::Late { by_us } => format!("late by {by_us} us: deadlines set anew"),
            What::Run { from, to, cause } if from == to => format!("run: {}: {}", to.word(), cause.words()),
            What::Run { from, to, cause } => {
                format!("run: {} to {}: {}", from.word(), to.word(), cause.words())
            }
            What::NotNow { request, why } => format!("refused: {}: {}", request.word(), why.words()),
            What::Asked(request) => format!("asked: {}", request.word()),
            What::Drives(cause) => cause.words(leg_names),
            What::Granted { priority, locked } => {
                let word = |granted: &bool| if *granted { "granted" } else { "refused" };
                let all = if *priority || *locked { "" } else { " (but on Linux nothing is asked for)" };
                format!(
                    "cycle thread: real-time priority {}, memory lock {}{all}",
                    word(priority),
                    word(locked)
                )
            }
            What::Dropped { rows } => format!("{rows} rows lost: the log was written too slowly"),
        }
    }
}
