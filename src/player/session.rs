//! One run, cycle by cycle: feedback and commands in, set-points and a row for the record out.
//!
//! Pure: no clock, no thread, no file. A cycle does not allocate. Whatever the path asks for goes through the governor.

use super::command::{Command, View};
use super::gain::{GainRamp, scaled_legs};
use super::ready::{Ready, Refused};
use super::setup::Setup;
use super::tempo::{Goal, Tempo};
use super::travel::Move;
use super::window::{Frames, Window};
use crate::link::{DriveTime, Feedback, LinkFault, SetPoints};
use crate::record::{Cause, Note, Row, What};
use crate::safety::{
    Action, Event, Governor, Legs, MAX_AXES, Machine, Outcome, Refusal, StartError, State, Task,
};

/// The clock must have stopped after this long, s; else the path is left. Four times what it takes with room to spare.
const LONGEST_SLOWING_S: f64 = 2.0;

/// With fewer frames than this many seconds ready the clock slows: it takes about a quarter of a second of scene.
const FEW_FRAMES_S: f64 = 0.4;

/// Set-points go on for this long after the run is over, s, so that the record shows where the drives come to rest.
const SETTLE_S: f64 = 0.5;

/// Notes that one cycle can leave.
const NOTES: usize = 12;

/// What a cycle gives.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cycle {
    pub(super) set_points: SetPoints,
    pub(super) row: Row,
    /// The set-points before, m.
    before_m: Legs,
    notes: [Option<Note>; NOTES],
}

impl Cycle {
    /// Of a run without a path.
    pub(super) fn plain(set_points: SetPoints, row: Row) -> Self {
        Self { set_points, row, before_m: row.sent_m, notes: [None; NOTES] }
    }

    /// Rates of the set-points, m/s.
    pub(super) fn rates_m_s(&self, cycle_s: f64) -> Legs {
        let now = &self.set_points.lengths_m;
        Legs::from_fn(now.len(), |leg| (now[leg] - self.before_m[leg]) / cycle_s)
    }

    /// Adds a note, if there is room.
    pub(super) fn push(&mut self, note: Note) {
        if let Some(place) = self.notes.iter_mut().find(|place| place.is_none()) {
            *place = Some(note);
        }
    }

    pub(super) fn notes(&self) -> impl Iterator<Item = &Note> {
        self.notes.iter().flatten()
    }
}

/// A stop of the far end's own, in silence, ends so much past a clearance at most, m: some 8 mm from 0.25 m/s (own choice).
const PAST_M: f64 = 0.010;

/// Over legs that stand at `at_m`, from where there is a way back to park.
fn governor(setup: &Setup, at_m: &[f64]) -> Result<Governor, StartError> {
    Governor::start(setup.limits.clone().let_back(at_m, PAST_M), at_m)
}

/// A run.
pub(super) struct Session {
    setup: Setup,
    governor: Governor,
    machine: Machine,
    tempo: Tempo,
    travel: Option<Move>,
    window: Window,
    gain: GainRamp,
    gain_now: f64,
    tick: u64,
    taken: u64,
    starved: bool,
    played_out: bool,
    slowing_since: u64,
    ends_at: Option<u64>,
    held: bool,
    watched: bool,
    notes: [Option<Note>; NOTES],
}

impl Session {
    /// A run of a scene of `frames` frames on a rig that stands at `at_m`.
    ///
    /// # Errors
    /// When the rig does not stand inside its limits.
    pub(super) fn start(setup: &Setup, at_m: &[f64], frames: u64) -> Result<Self, StartError> {
        Ok(Self {
            governor: governor(setup, at_m)?,
            setup: setup.clone(),
            machine: Machine::default(),
            tempo: Tempo::START,
            travel: None,
            window: Window::new(frames),
            gain: GainRamp::constant(1.0),
            gain_now: 1.0,
            tick: 0,
            taken: 0,
            starved: false,
            played_out: false,
            slowing_since: 0,
            ends_at: None,
            held: false,
            watched: true,
            notes: [None; NOTES],
        })
    }

    /// How it stands, for whoever directs it.
    pub(super) fn view(&self) -> View {
        let task = self.machine.task();
        View {
            tick: self.tick,
            state: self.machine.state(),
            task,
            set_points_m: *self.governor.set_points_m(),
            legs_m: *self.governor.set_points_m(),
            at_rest: self.governor.is_at_rest(),
            path_s: self.tempo.path_s(self.setup.cycle_s()),
            rate: if self.machine.state().is_moving() { self.tempo.rate } else { 0.0 },
            scene_frame: if task == Some(Task::Scene) { self.tempo.frame } else { 0 },
            played_out: self.played_out,
            gain: self.gain_now,
            gain_after: self.gain.to,
            taken: self.taken,
            starved: self.starved,
            run: None,
            cause: None,
            ready: Ready { fresh: self.is_fresh(), placed: true, interrupted: task.is_some() },
            refused: Refused::default(),
        }
    }

    /// Stands where the legs were measured, whatever was before: only while drives are off.
    ///
    /// # Errors
    /// When that is outside the limits; nothing is changed then.
    pub(super) fn stand_at(&mut self, at_m: &[f64]) -> Result<(), StartError> {
        self.governor = governor(&self.setup, at_m)?;
        self.machine = Machine::default();
        self.travel = None;
        (self.held, self.starved) = (false, false);
        Ok(())
    }

    /// Whether measured lengths are held against set-points; not while drives are off.
    pub(super) fn watch(&mut self, watched: bool) {
        self.watched = watched;
    }

    /// Whether the scene has not begun.
    pub(super) fn is_fresh(&self) -> bool {
        self.window.is_fresh()
    }

    /// Whether a measured length tripped the governor.
    pub(super) fn is_tripped(&self) -> bool {
        self.governor.trip().is_some()
    }

    /// Whether it is over and settled.
    pub(super) fn is_done(&self) -> bool {
        self.ends_at.is_some_and(|end| self.tick >= end)
    }

    /// One cycle. `feedback` is what the link measured at its begin.
    pub(super) fn step(
        &mut self,
        feedback: Result<Feedback, LinkFault>,
        commands: &mut dyn FnMut() -> Option<Command>,
        frames: &mut dyn Frames,
        late_us: u32,
    ) -> Cycle {
        self.notes = [None; NOTES];
        let state = self.machine.state();
        if !matches!(feedback, Ok(Feedback { fault: None, .. })) && state != State::Faulted {
            if state != State::Braking {
                self.note(What::Stopping(Cause::Link));
            }
            self.event(Event::Tripped);
        }
        // A bounded number, so that a cycle stays short.
        for _ in 0..5 {
            let Some(command) = commands() else { break };
            self.taken += 1;
            self.command(command);
        }
        let measured_m = feedback.ok().map(|f| f.measured_m);
        let before_m = *self.governor.set_points_m();
        let planned_m = self.advance(frames);
        let watched_m = measured_m.as_deref().filter(|_| self.watched);
        let (sent_m, outcome) = self.governor.step(&planned_m, watched_m);
        self.look_at(outcome);
        if self.machine.state() != state {
            self.note(What::State { from: state, to: self.machine.state() });
        }
        let row = self.row(planned_m, sent_m, measured_m, late_us, outcome);
        let apply_at = DriveTime((self.tick + 1) * self.setup.cycle_us);
        let set_points = SetPoints { sequence: self.tick, apply_at, lengths_m: sent_m };
        self.tick += 1;
        Cycle { set_points, row, before_m, notes: self.notes }
    }

    /// On drives cycles are counted from the link's begin, not from the path's.
    pub(super) fn set_tick(&mut self, tick: u64) {
        self.slowing_since = self.slowing_since.saturating_add(tick.saturating_sub(self.tick));
        self.tick = tick;
    }

    fn row(
        &self,
        planned_m: Legs,
        sent_m: Legs,
        measured_m: Option<Legs>,
        late_us: u32,
        outcome: Outcome,
    ) -> Row {
        let cycle_s = self.setup.cycle_s();
        let on_scene = self.machine.task() == Some(Task::Scene);
        let frame =
            on_scene.then(|| self.window.between(self.tempo.frame, self.tempo.part, cycle_s)).flatten();
        let gain = self.gain_now;
        let platform = frame.map_or([f64::NAN; MAX_AXES], |f| f.platform.map(|axis| gain * axis[0]));
        Row {
            tick: self.tick,
            time_us: self.tick * self.setup.cycle_us,
            path_s: self.tempo.path_s(cycle_s),
            rate: if self.machine.state().is_moving() { self.tempo.rate } else { 0.0 },
            gain,
            state: self.machine.state(),
            platform,
            planned_m,
            sent_m,
            measured_m,
            late_us,
            outcome,
            drive: None,
        }
    }

    fn note(&mut self, what: What) {
        let note = Note { time_us: self.tick * self.setup.cycle_us, what };
        if let Some(place) = self.notes.iter_mut().find(|place| place.is_none()) {
            *place = Some(note);
        }
    }

    fn command(&mut self, command: Command) {
        match command {
            Command::Start(_) if !self.window.is_fresh() => self.note(What::Refused(Refusal::Over)),
            Command::Start(travel) => self.begin(Event::Start, travel),
            Command::Park(travel) => self.begin(Event::Park, travel),
            Command::Level(travel) => self.begin(Event::Level, travel),
            Command::Pause => self.let_go(Event::Pause),
            Command::Stop => self.let_go(Event::Stop),
            Command::Resume => self.event(Event::Resume),
            Command::Reset => self.event(Event::Reset),
            Command::Refuse(why) => self.note(What::Refused(why)),
            Command::Leave => self.event(Event::LeavePath),
            // Only a run on drives hears these, before they come here.
            Command::Ask(_) | Command::Jog { .. } => {}
            Command::Gain(ramp) => {
                let playing = self.machine.task() == Some(Task::Scene);
                let now = if playing { self.tempo.frame + 1 } else { 0 };
                let over = self.gain.from != self.gain.to && now < self.gain.start + self.gain.length;
                if ramp.start < now || over || ramp.from != self.gain.to {
                    self.note(What::Refused(Refusal::Late));
                } else {
                    self.gain = ramp;
                    let cycle_s = self.setup.cycle_s();
                    self.note(What::Gain {
                        from: ramp.from,
                        to: ramp.to,
                        start_s: ramp.start as f64 * cycle_s,
                        length_s: ramp.length as f64 * cycle_s,
                    });
                }
            }
            Command::Finish => {
                if !self.machine.state().is_moving() && self.ends_at.is_none() {
                    let settle = (SETTLE_S / self.setup.cycle_s()).ceil() as u64;
                    self.ends_at = Some(self.tick + settle);
                }
            }
        }
    }

    fn let_go(&mut self, event: Event) {
        if self.machine.state().is_moving() {
            self.note(What::Stopping(Cause::Asked));
        }
        self.event(event);
    }

    fn begin(&mut self, event: Event, travel: Move) {
        // A move planned elsewhere would be a jump; the machine has its say first.
        if matches!(self.machine.step(event).1, Action::Begin(_)) {
            let here = travel.start_m() == self.governor.set_points_m() && self.governor.is_at_rest();
            if !here {
                return self.note(What::Refused(Refusal::Elsewhere));
            }
            self.travel = Some(travel);
            (self.ends_at, self.starved) = (None, false);
        }
        self.event(event);
    }

    fn event(&mut self, event: Event) {
        let (machine, action) = self.machine.step(event);
        self.machine = machine;
        match action {
            Action::Nothing | Action::Run => {}
            Action::Begin(task) => {
                self.tempo = Tempo::START;
                if task == Task::Scene {
                    self.travel = None;
                }
            }
            Action::Slow => self.slowing_since = self.tick,
            Action::Brake => self.governor.brake(),
            Action::Release => {
                self.governor.reset();
            }
            Action::Refuse(why) => self.note(What::Refused(why)),
        }
    }

    /// Moves the clock of the path under way, and gives what the path asks for now.
    fn advance(&mut self, frames: &mut dyn Frames) -> Legs {
        let state = self.machine.state();
        if !state.is_moving() || state == State::Braking {
            return *self.governor.set_points_m();
        }
        let scene = self.machine.task() == Some(Task::Scene);
        if scene && !self.window.reach(self.tempo.frame, frames) {
            self.note(What::Stopping(Cause::FramesLow));
            self.starved = true;
            self.event(Event::LeavePath);
            return *self.governor.set_points_m();
        }
        let few = (FEW_FRAMES_S / self.setup.cycle_s()) as u64;
        if scene && state == State::Following && frames.waiting() < few.min(self.window.left()) {
            self.note(What::Stopping(Cause::FramesLow));
            self.starved = true;
            self.event(Event::Pause);
        }
        let slowing = self.machine.state() == State::Slowing;
        let goal = if slowing { Goal::Rest } else { Goal::Run };
        let next = self.next_tempo(goal);
        let Some(planned) = self.path_m(&next) else {
            self.event(Event::LeavePath);
            return *self.governor.set_points_m();
        };
        self.tempo = next;
        if scene {
            self.gain_now = self.gain.at(next.frame, next.part);
            self.played_out |= self.is_at_end();
        }
        if self.is_at_end() {
            self.event(Event::Finished);
        } else if slowing && self.tempo.is_at_rest() {
            self.event(Event::ClockStopped);
        } else if slowing {
            let longest = (LONGEST_SLOWING_S / self.setup.cycle_s()) as u64;
            if self.tick - self.slowing_since > longest {
                self.note(What::Stopping(Cause::SlowingTooLong));
                self.event(Event::LeavePath);
            }
        }
        planned
    }

    /// The clock one cycle on: as it would like, or as near to that as every leg's limits allow.
    fn next_tempo(&self, goal: Goal) -> Tempo {
        let cycle_s = self.setup.cycle_s();
        let tempo = &self.tempo;
        let wish = tempo.wish(goal, &self.setup.tempo, cycle_s);
        let wished = tempo.after(wish, cycle_s);
        let steady = tempo.rate == 1.0 && wished.rate == 1.0;
        let fits = |change: f64| {
            let next = self.path_m(&tempo.after(change, cycle_s));
            next.is_some_and(|legs| self.governor.would_hold(&legs).is_none())
        };
        // At full rate the path is the checked one, and the governor's word on it belongs in the record.
        if steady || fits(wish) {
            return wished;
        }
        const STEPS: i32 = 32;
        let most = self.setup.tempo.change_per_s;
        let nearest = (0..=STEPS)
            .map(|k| most * (2.0 * f64::from(k) / f64::from(STEPS) - 1.0))
            .filter(|change| fits(*change))
            .min_by(|a, b| (a - wish).abs().total_cmp(&(b - wish).abs()));
        nearest.map_or(wished, |change| tempo.after(change, cycle_s))
    }

    /// What the path under way asks for at a position of its clock, m.
    fn path_m(&self, tempo: &Tempo) -> Option<Legs> {
        let cycle_s = self.setup.cycle_s();
        if let Some(travel) = &self.travel {
            return Some(travel.at_m(tempo.path_s(cycle_s)));
        }
        let frame = self.window.between(tempo.frame, tempo.part, cycle_s)?;
        let gain = self.gain.at(tempo.frame, tempo.part);
        // On a cycle and at the checked gain the plan's own lengths go out, bit for bit.
        let last = tempo.frame + 1 >= self.window.count();
        if gain == 1.0 && (tempo.part == 0.0 || last) {
            return Some(frame.legs_m);
        }
        Some(scaled_legs(&*self.setup.mechanism, &frame, self.setup.legs.len(), gain))
    }

    fn is_at_end(&self) -> bool {
        match &self.travel {
            Some(travel) => self.tempo.path_s(self.setup.cycle_s()) >= travel.duration_s(),
            None => self.tempo.frame + 1 >= self.window.count(),
        }
    }

    fn look_at(&mut self, outcome: Outcome) {
        match outcome {
            Outcome::Followed => {
                if self.held {
                    self.note(What::Follows);
                }
                self.held = false;
            }
            Outcome::Held(hold) => {
                if !self.held {
                    self.note(What::Held(hold));
                }
                self.held = true;
            }
            Outcome::Tripped(trip) => {
                if !matches!(self.machine.state(), State::Braking | State::Faulted) {
                    self.note(What::Tripped(trip));
                    self.event(Event::Tripped);
                }
            }
        }
        if self.machine.state() == State::Braking && self.governor.is_at_rest() {
            self.event(Event::AtRest);
        }
    }
}
