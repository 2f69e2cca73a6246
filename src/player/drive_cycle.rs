//! One cycle on drives: what the far end reports goes into the run's state machine, what that demands goes to the path
//! and to the drives. Whatever comes, the machine of `safety::operation` has the last word on whether anything moves.
//!
//! Does not wait or log, nor allocate but once, at rest, when the reference is first known. While drives are off, set-points are where the legs are.

mod demanded;
mod far_side;
mod heard;
mod jogging;
mod rested;
mod trouble;

use super::command::{Command, View};
use super::forces::Forces;
use super::hand::{Hand, Held};
use super::ready::Refused;
use super::rig_cycle::{Directed, Instant, Served};
use super::session::{Cycle, Session};
use super::setup::Setup;
use super::thresholds::*;
use super::window::Frames;
use crate::link::frame::{FrameFault, OrderKind, PowerState};
use crate::link::{DriveLink, DriveOrder, DriveReport, DriveTime, Feedback, LinkFault, SetPoints};
use crate::record::{DriveCause, DriveRow, Note, Row, What};
use crate::safety::operation::{
    Brakes, Event, Input, Inputs, Operation, Permit, Phase, Refusal, Request, Seen, State, Timing,
};
use crate::safety::{Legs, MAX_AXES, Outcome, Task, step};
use far_side::far_side;
use jogging::Jog;

/// A run on drives.
pub(super) struct DriveCycle<L> {
    setup: Setup,
    link: L,
    run: Operation,
    session: Option<Session>,
    scene_frames: u64,
    forces: Forces,
    /// How far legs may be from their set-points, m.
    windows_m: Legs,
    /// What the session does once brakes are off.
    pending: Option<Command>,
    held: Held,
    report: Option<DriveReport>,
    /// What exactly is wrong, as the drives say now, and what of it came first and waits to be acknowledged.
    cause: [Option<DriveCause>; 2],
    /// Somebody else answers than at first.
    is_stranger: bool,
    /// For how long no report came, and the same as cycles.
    silent_us: u64,
    age: u32,
    /// Cycles after which a link without a report is silent.
    patience: u32,
    /// Later than this is the host's own fault, microseconds: the far end's patience.
    latest_us: u64,
    /// The latest of the last cycles, microseconds: what it was, less by a cycle with every one since.
    lag_us: u64,
    /// When the last cycle was served, microseconds.
    served_us: Option<u64>,
    /// Since then, as far as this computer did not stand still itself, microseconds.
    elapsed_us: u64,
    /// Whether set-points lead, and not the far end by itself.
    following: bool,
    homing: bool,
    jog: Jog,
    /// Rates of the set-points before, m/s.
    rates_m_s: Legs,
    directed: Directed,
    idle_us: u64,
    still_us: u64,
    /// Where legs stood at rest when they were looked at first, or were found moved, m.
    rested_m: Option<Legs>,
    record_lost: bool,
    tick: u64,
    taken: u64,
    ends_at: Option<u64>,
    notes: [Option<What>; 6],
    refused: Refused,
}

impl<L: DriveLink> DriveCycle<L> {
    /// A run that begins with what `report` says; `permit` is what the caller vouches for.
    pub(super) fn new(
        setup: &Setup,
        link: L,
        scene_frames: u64,
        forces: Forces,
        permit: Permit,
        report: DriveReport,
        patience_us: u64,
    ) -> Self {
        let run = step(Operation::new(Timing::of(setup.cycle_us)), Event::Permit(permit)).0;
        let legs = setup.legs.len();
        Self {
            setup: setup.clone(),
            link,
            run,
            session: None,
            scene_frames,
            forces,
            windows_m: Legs::from_fn(legs, |leg| setup.limits.legs().get(leg).map_or(0.0, |l| l.window_m)),
            pending: None,
            held: Held::default(),
            report: Some(report),
            cause: [None; 2],
            is_stranger: false,
            silent_us: 0,
            age: 0,
            latest_us: patience_us,
            lag_us: 0,
            served_us: None,
            elapsed_us: 0,
            patience: u32::try_from(patience_us / setup.cycle_us.max(1)).unwrap_or(u32::MAX),
            following: false,
            homing: false,
            jog: Jog::none(legs),
            rates_m_s: Legs::filled(legs, 0.0),
            directed: Directed::Yes,
            idle_us: 0,
            still_us: 0,
            rested_m: None,
            record_lost: false,
            tick: 0,
            taken: 0,
            ends_at: None,
            notes: [None; 6],
            refused: Refused::default(),
        }
    }

    /// The same with presence held at this computer too, where there is such a hand.
    pub(super) fn with_hand(self, hand: Option<Hand>) -> Self {
        Self { held: Held::of(hand), ..self }
    }

    fn measured_m(&self) -> Legs {
        self.report.map_or(Legs::filled(self.setup.legs.len(), f64::NAN), |report| report.lengths_m)
    }

    fn note(&mut self, what: What) {
        if let Some(place) = self.notes.iter_mut().find(|place| place.is_none()) {
            *place = Some(what);
        }
    }

    fn event(&mut self, event: Event) -> bool {
        let before = self.run;
        let (run, answer) = step(before, event);
        self.run = run;
        if let (Event::Ask(request), why) = (event, answer.refused) {
            self.note(why.map_or(What::Asked(request), |why| What::NotNow { request, why }));
        }
        // A pause in place that ends with brakes on is holding before and after: its reason counts too.
        if (run.state(), run.cause()) != (before.state(), before.cause()) {
            let (from, to, cause) = (before.state(), run.state(), run.cause());
            self.note(What::Run { from, to, cause });
        }
        answer.refused.is_none()
    }

    fn rests(&self) -> bool {
        self.run.phase() == Phase::Rest
    }

    /// Presence counts only while somebody directs the run who could stop it.
    fn inputs(&mut self, report: &DriveReport) -> Inputs {
        let mut inputs = self.held.joined(report.inputs, self.elapsed_us);
        if matches!(report.fault, Some((FrameFault::Stop, _))) && !self.run.is_propped() {
            // The far end has seen more than its reports show. It keeps that fault for as long as drives hold; where they
            // hold legs whose brakes are not known to be on, only a stop that is seen now may take their torque.
            inputs.stop = Input::Open;
        }
        match self.directed {
            Directed::Yes => inputs,
            Directed::Silent | Directed::Gone => Inputs { presence: Input::Unknown, ..inputs },
        }
    }

    fn seen(&mut self, late_us: u32) -> Seen {
        let Some(report) = self.report else { return Seen::default() };
        let displaced =
            if self.rests() { self.stand(&report) } else { self.is_braked() && self.is_moved(&report) };
        self.rested_m = self.rested_m.filter(|_| self.is_braked());
        let link = self.age <= self.patience;
        // A leg that is not heard has no speed, and a fault of its own: the others do not wait for it.
        let own = report.moving || report.speeds_m_s.iter().any(|v| v.abs() > STILL_M_S);
        let (mut path_moves, mut arrived) = (false, false);
        if let Some(session) = &self.session {
            let view = session.view();
            path_moves = view.state.is_moving() || !view.at_rest;
            arrived = match self.run.state() {
                State::Engaging => view.task == Some(Task::Scene),
                State::Following => view.played_out && !path_moves,
                State::Parking => view.state == crate::safety::State::Parked && view.task.is_none(),
                _ => false,
            } && self.pending.is_none();
        }
        if self.run.state() == State::Homing {
            self.homing |= report.state == PowerState::Home || !report.homed;
            arrived = self.homing && report.homed && report.state != PowerState::Home && !own;
        } else {
            self.homing = false;
        }
        Seen {
            link,
            inputs: self.inputs(&report),
            // What was heard of them last may be over.
            brakes: if link { report.brakes } else { Brakes::Unknown },
            power: report.power,
            homed: report.homed,
            at_park: largest_m(&report.lengths_m, &self.setup.park_m) <= AT_PARK_M,
            moving: if self.following { self.follows(path_moves, &report) } else { own },
            arrived,
            displaced,
            trouble: self.trouble(&report, late_us),
        }
    }

    /// What somebody asks for; what it does to the path waits until brakes are off.
    fn command(&mut self, command: Command) -> Option<Command> {
        match command {
            Command::Start(travel) | Command::Park(travel) => {
                let starts = matches!(command, Command::Start(_));
                let request = if starts { Request::Start } else { Request::Park };
                let moved = |session: &Session| *travel.start_m() != session.view().set_points_m;
                let why = self.session.as_ref().is_some_and(moved).then_some(Refusal::Busy);
                self.begin(request, why, command);
            }
            Command::Resume => self.begin(Request::Resume, None, command),
            Command::Pause => _ = self.event(Event::Ask(Request::Pause)),
            Command::Stop => _ = self.event(Event::Ask(Request::Stop)),
            Command::Reset => _ = self.event(Event::Ask(Request::Acknowledge)),
            Command::Ask(request) => _ = self.event(Event::Ask(request)),
            Command::Jog { speeds_m_s, begins } => self.jogs(speeds_m_s, begins),
            Command::Finish => {
                if self.run.may_end() && self.ends_at.is_none() {
                    self.ends_at = Some(self.tick + SETTLE_US / self.setup.cycle_us.max(1));
                }
            }
            Command::Gain(_) | Command::Refuse(_) => return Some(command),
            Command::Level(_) | Command::Leave => {}
        }
        None
    }

    fn begin(&mut self, request: Request, why: Option<Refusal>, command: Command) {
        match self.ready().refusal(&self.run, request).or(why) {
            Some(why) => self.note(What::NotNow { request, why }),
            None => {
                if self.event(Event::Ask(request)) {
                    self.pending = Some(command);
                    self.ends_at = None;
                }
            }
        }
    }

    fn plain_row(&self, late_us: u32) -> Row {
        let at_m = self.measured_m();
        Row {
            tick: self.tick,
            time_us: self.tick * self.setup.cycle_us,
            path_s: 0.0,
            rate: 0.0,
            gain: 1.0,
            state: crate::safety::State::Parked,
            platform: [f64::NAN; MAX_AXES],
            planned_m: at_m,
            sent_m: at_m,
            measured_m: Some(at_m),
            late_us,
            outcome: Outcome::Followed,
            drive: None,
        }
    }
}

impl<L: DriveLink> Served for DriveCycle<L> {
    fn view(&self) -> View {
        let blank = View {
            tick: 0,
            state: crate::safety::State::Parked,
            task: None,
            set_points_m: self.measured_m(),
            legs_m: self.measured_m(),
            at_rest: true,
            path_s: 0.0,
            rate: 0.0,
            scene_frame: 0,
            played_out: false,
            gain: 1.0,
            gain_after: 1.0,
            taken: 0,
            starved: false,
            run: None,
            cause: None,
            ready: self.ready(),
            refused: self.refused,
        };
        let view = self.session.as_ref().map_or(blank, Session::view);
        let (legs_m, run) = (self.measured_m(), Some(self.run));
        let (cause, ready, refused) = (self.cause[1], self.ready(), self.refused);
        View { tick: self.tick, taken: self.taken, legs_m, run, cause, ready, refused, ..view }
    }

    fn is_done(&self) -> bool {
        let over = self.directed == Directed::Gone || self.ends_at.is_some_and(|end| self.tick >= end);
        self.run.may_end() && over
    }

    fn directed(&mut self, how: Directed) {
        self.directed = how;
    }

    fn serve(
        &mut self,
        at: Instant,
        commands: &mut dyn FnMut() -> Option<Command>,
        frames: &mut dyn Frames,
    ) -> Cycle {
        self.notes = [None; 6];
        self.elapsed_us = self.since(at).min((self.latest_us / 2).max(self.setup.cycle_us));
        self.hear(at);
        self.served_us = Some(at.now_us);
        self.lag_us = self.lag_us.saturating_sub(self.setup.cycle_us).max(u64::from(at.late_us()));
        let seen = self.seen(at.late_us());
        self.event(Event::Cycle(seen));
        let mut to_path = [None; 4];
        for place in &mut to_path {
            let Some(command) = commands() else { break };
            self.taken += 1;
            *place = self.command(command);
        }
        let demand = self.run.demand();
        self.end_what_stands_idle(demand);
        self.pending = self.pending.filter(|_| self.run.state().is_act());
        let own = self.path_command(demand);
        let kind = self.order_kind(demand);
        let report = self.report;
        let cycle = self.path(at.late_us(), own, to_path, frames);
        let rates = cycle.rates_m_s(self.setup.cycle_s());
        let before = std::mem::replace(&mut self.rates_m_s, rates);
        let jogs = kind == OrderKind::Jog;
        let limits = if self.following { self.forces.act_n } else { self.forces.creep_n };
        let order = DriveOrder {
            apply_at: DriveTime(at.due_us + self.setup.cycle_us + self.forces.lead_us),
            kind,
            warn: demand.warn,
            release: demand.release,
            lengths_m: if self.following { cycle.set_points.lengths_m } else { self.measured_m() },
            speeds_m_s: if jogs { self.jog.speeds_m_s() } else { rates },
            force_limits_n: limits,
            windows_m: self.windows_m,
        };
        // What did not go out is missed by the far end, which stops by itself, and says so.
        let _ = self.link.send(DriveTime(at.now_us), &order);
        let ups = Legs::from_fn(limits.len(), |leg| (rates[leg] - before[leg]) / self.setup.cycle_s());
        let path = self.following.then_some([cycle.set_points.lengths_m, rates, ups]);
        let predicted_n = self.forces.predict(path);
        let none = Legs::filled(limits.len(), f64::NAN);
        let force_n = report.map_or(none, |report| report.forces_n);
        let loaded = report.is_some_and(|report| report.power && report.brakes == Brakes::Released);
        self.forces.look(&force_n, self.setup.cycle_us, loaded);
        self.tick += 1;
        let drive = DriveRow {
            state: self.run.state(),
            cause: self.run.cause(),
            category: self.run.category(),
            demand,
            seen: *self.run.seen(),
            predicted_n,
            limit_n: limits,
            force_n,
            temperature_c: report.map_or(none, |report| report.temperatures_c),
            speed_m_s: report.map_or(none, |report| report.speeds_m_s),
            far: far_side(report.as_ref(), self.link.dropped()),
            round_trip_us: report.and_then(|report| report.round_trip_us).filter(|_| self.age == 0),
            report_age: self.age,
            heard_s: self.held.heard_s(),
        };
        let time_us = cycle.row.time_us;
        let mut cycle = cycle;
        cycle.row.drive = Some(drive);
        self.notes.iter().flatten().for_each(|what| cycle.push(Note { time_us, what: *what }));
        self.refused = cycle.notes().fold(self.refused, |refused, note| refused.after(note.what));
        cycle
    }

    fn is_urgent(&self) -> bool {
        true
    }

    fn record_lost(&mut self) {
        self.record_lost = true;
    }

    /// Where set-points are dated, a far end goes on beyond the last one for as long as it waits: what came late is caught
    /// up with, or they would jump back to where they were. Where they are taken as they come there is one a cycle whatever
    /// was missed: deadlines are set anew.
    fn catches_up_us(&self) -> u64 {
        if self.link.is_dated() { self.latest_us } else { most_early_us(self.setup.cycle_us) }
    }

    fn end(mut self) {
        if !self.rests() {
            return;
        }
        let now_us = self.served_us.unwrap_or(0);
        let apply_at = DriveTime(now_us + self.setup.cycle_us);
        let order =
            DriveOrder { lengths_m: self.measured_m(), ..DriveOrder::off(apply_at, self.setup.legs.len()) };
        let _ = self.link.send(DriveTime(now_us), &order);
        // Until now it was spoken to.
        let _ = self.link.leave();
    }
}

impl<L: DriveLink> DriveCycle<L> {
    /// One step of the path, where there is one.
    fn path(
        &mut self,
        late_us: u32,
        own: Option<Command>,
        to_path: [Option<Command>; 4],
        frames: &mut dyn Frames,
    ) -> Cycle {
        let tick = self.tick;
        let measured_m = self.measured_m();
        let gone = self.following && self.age > self.patience;
        let plain = self.plain_row(late_us);
        let Some(session) = &mut self.session else {
            let set_points = SetPoints { sequence: tick, apply_at: DriveTime(0), lengths_m: plain.sent_m };
            return Cycle::plain(set_points, plain);
        };
        // Old lengths tell of old set-points only; silence has a limit of its own.
        session.watch(self.following && self.silent_us == 0);
        let feedback = Feedback { at: DriveTime(0), sequence: None, measured_m, fault: None };
        let feedback = if gone { Err(LinkFault::Silent) } else { Ok(feedback) };
        let mut queue = [own, to_path[0], to_path[1], to_path[2], to_path[3]].into_iter().flatten();
        session.set_tick(tick);
        session.step(feedback, &mut || queue.next(), frames, late_us)
    }
}
