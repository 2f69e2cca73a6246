//! The states of a run: what may begin, and what each event leads to. Pure and total.
//!
//! Letting go (pause, stop, an interrupt, a fault) never starts a motion: it slows the clock of the path under way, or
//! brakes. Going to park or to level is an act of its own. Of a path alone: connecting, homing, jogging and brakes are in
//! `operation.rs`.

/// What a path under way leads to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Task {
    /// To the scene's first pose.
    ToStart,
    /// The scene.
    Scene,
    /// To the park lengths.
    ToPark,
    /// To the level pose.
    ToLevel,
}

/// Where a run is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum State {
    /// At rest where it was when the run began, or at its park lengths.
    Parked,
    /// On the way to the scene's first pose.
    Engaging,
    /// Playing the scene.
    Following,
    /// The clock of the path under way is slowing to a stop.
    Slowing,
    /// At rest, set-points held.
    Holding,
    /// On the way to park.
    Parking,
    /// On the way to level.
    Levelling,
    /// Stopping off the path, all legs together.
    Braking,
    /// At rest after a stop; only going to park is left.
    Stopped,
    /// At rest after a fault, until reset.
    Faulted,
}

impl State {
    /// Every state.
    pub const ALL: [State; 10] = [
        State::Parked,
        State::Engaging,
        State::Following,
        State::Slowing,
        State::Holding,
        State::Parking,
        State::Levelling,
        State::Braking,
        State::Stopped,
        State::Faulted,
    ];

    /// The word in logs.
    pub fn word(self) -> &'static str {
        match self {
            State::Parked => "parked",
            State::Engaging => "engaging",
            State::Following => "following",
            State::Slowing => "slowing",
            State::Holding => "holding",
            State::Parking => "parking",
            State::Levelling => "levelling",
            State::Braking => "braking",
            State::Stopped => "stopped",
            State::Faulted => "faulted",
        }
    }

    /// Whether set-points may move.
    pub fn is_moving(self) -> bool {
        !matches!(self, State::Parked | State::Holding | State::Stopped | State::Faulted)
    }
}

/// What happened, or what somebody asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Event {
    /// Asked: go to the scene's first pose and play.
    Start,
    /// Asked: slow to a stop on the path, and hold.
    Pause,
    /// Asked: go on along the path.
    Resume,
    /// Asked (or interrupted): slow to a stop on the path; the run is over.
    Stop,
    /// Asked: go to park.
    Park,
    /// Asked: go to level.
    Level,
    /// Asked: leave a fault behind.
    Reset,
    /// The path's clock has come to a stop.
    ClockStopped,
    /// The path is at its end, at rest.
    Finished,
    /// The clock cannot be slowed inside the limits, or frames ran out: leave the path, brake.
    LeavePath,
    /// A fault: brake.
    Tripped,
    /// The brake has come to rest.
    AtRest,
}

impl Event {
    /// Every event.
    pub const ALL: [Event; 12] = [
        Event::Start,
        Event::Pause,
        Event::Resume,
        Event::Stop,
        Event::Park,
        Event::Level,
        Event::Reset,
        Event::ClockStopped,
        Event::Finished,
        Event::LeavePath,
        Event::Tripped,
        Event::AtRest,
    ];
}

/// Why an asked-for event does nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Refusal {
    /// Something is moving: pause first.
    Moving,
    /// There is a fault: reset first.
    Faulted,
    /// The run is over.
    Over,
    /// It stands off the checked path: it can go to park, to level or to the start.
    OffPath,
    /// Nothing is interrupted.
    Nothing,
    /// The move was planned from somewhere else than where the set-points stand.
    Elsewhere,
    /// The gain ramp starts in the past, or over another.
    Late,
    /// There is no move within strokes and joints.
    NoMove,
    /// There is no gain ramp within the limits.
    NoRamp,
}

impl Refusal {
    /// The words in logs.
    pub fn word(self) -> &'static str {
        match self {
            Refusal::Moving => "moving: pause first",
            Refusal::Faulted => "faulted: reset first",
            Refusal::Over => "the run is over: only going to park is left",
            Refusal::OffPath => "off the checked path: go to park, to level or to the start",
            Refusal::Nothing => "nothing is interrupted",
            Refusal::Elsewhere => "planned from where the set-points do not stand",
            Refusal::NoMove => "no move keeps strokes and joints",
            Refusal::NoRamp => "no gain ramp keeps the limits",
            Refusal::Late => "the gain ramp would start in the past or over another",
        }
    }
}

/// What to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Action {
    /// Nothing.
    Nothing,
    /// Begin a path from rest, its clock at full rate from its start.
    Begin(Task),
    /// Let the clock of the interrupted path run again.
    Run,
    /// Slow the clock to a stop.
    Slow,
    /// Leave the path: coordinated stop.
    Brake,
    /// Release the governor's stop or trip.
    Release,
    /// Nothing, and say why.
    Refuse(Refusal),
}

/// A run's state with what it needs to remember.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Machine {
    state: State,
    task: Option<Task>,
    over: bool,
    fault: bool,
}

impl Default for Machine {
    fn default() -> Self {
        Self { state: State::Parked, task: None, over: false, fault: false }
    }
}

impl Machine {
    /// Where the run is.
    pub fn state(&self) -> State {
        self.state
    }

    /// The path under way or interrupted.
    pub fn task(&self) -> Option<Task> {
        self.task
    }

    /// What an event leads to.
    #[must_use]
    pub fn step(self, event: Event) -> (Self, Action) {
        match event {
            Event::Start => self.begin(Task::ToStart),
            Event::Park => self.begin(Task::ToPark),
            Event::Level => self.begin(Task::ToLevel),
            Event::Pause => self.let_go(),
            Event::Stop => Self { over: true, ..self }.let_go(),
            Event::Resume => self.resume(),
            Event::Reset => match self.state {
                State::Faulted => {
                    (Self { state: self.resting(), fault: false, task: None, ..self }, Action::Release)
                }
                _ => (self, Action::Refuse(Refusal::Nothing)),
            },
            Event::ClockStopped => match self.state {
                State::Slowing => (Self { state: self.resting(), ..self }, Action::Nothing),
                _ => (self, Action::Nothing),
            },
            Event::Finished => self.finished(),
            Event::LeavePath if self.is_on_path() => {
                (Self { state: State::Braking, task: None, ..self }, Action::Brake)
            }
            Event::LeavePath => (self, Action::Nothing),
            Event::Tripped if self.state == State::Faulted => (self, Action::Nothing),
            Event::Tripped => {
                (Self { state: State::Braking, task: None, fault: true, ..self }, Action::Brake)
            }
            Event::AtRest => match self.state {
                State::Braking if self.fault => (Self { state: State::Faulted, ..self }, Action::Nothing),
                State::Braking => (Self { state: self.resting(), ..self }, Action::Release),
                _ => (self, Action::Nothing),
            },
        }
    }

    /// The state at rest, without a fault.
    fn resting(&self) -> State {
        if self.over { State::Stopped } else { State::Holding }
    }

    fn is_on_path(&self) -> bool {
        self.state.is_moving() && self.state != State::Braking
    }

    fn begin(self, task: Task) -> (Self, Action) {
        let refuse = |refusal| (self, Action::Refuse(refusal));
        match (self.state, task) {
            (State::Faulted, _) => refuse(Refusal::Faulted),
            (State::Stopped, Task::ToStart | Task::ToLevel | Task::Scene) => refuse(Refusal::Over),
            (State::Parked | State::Holding | State::Stopped, _) => {
                (Self { state: moving(task), task: Some(task), ..self }, Action::Begin(task))
            }
            _ => refuse(Refusal::Moving),
        }
    }

    fn let_go(self) -> (Self, Action) {
        match self.state {
            State::Engaging | State::Following | State::Parking | State::Levelling => {
                (Self { state: State::Slowing, ..self }, Action::Slow)
            }
            State::Parked | State::Holding if self.over => {
                (Self { state: State::Stopped, task: None, ..self }, Action::Nothing)
            }
            _ => (self, Action::Nothing),
        }
    }

    fn resume(self) -> (Self, Action) {
        let refuse = |refusal| (self, Action::Refuse(refusal));
        match (self.state, self.task) {
            (State::Faulted, _) => refuse(Refusal::Faulted),
            _ if self.over => refuse(Refusal::Over),
            (State::Holding | State::Slowing, Some(task)) => {
                (Self { state: moving(task), ..self }, Action::Run)
            }
            (State::Holding, None) => refuse(Refusal::OffPath),
            (State::Parked, _) => refuse(Refusal::Nothing),
            _ => refuse(Refusal::Moving),
        }
    }

    fn finished(self) -> (Self, Action) {
        match (self.state, self.task) {
            (State::Engaging, _) => (
                Self { state: State::Following, task: Some(Task::Scene), ..self },
                Action::Begin(Task::Scene),
            ),
            (State::Parking, _) if !self.over => {
                (Self { state: State::Parked, task: None, ..self }, Action::Nothing)
            }
            // Slowed on the last stretch: it has arrived, but nothing goes on from there by itself.
            (State::Slowing, Some(Task::ToStart)) => {
                (Self { state: self.resting(), ..self }, Action::Nothing)
            }
            (State::Slowing | State::Following | State::Levelling | State::Parking, _) => {
                (Self { state: self.resting(), task: None, ..self }, Action::Nothing)
            }
            _ => (self, Action::Nothing),
        }
    }
}

fn moving(task: Task) -> State {
    match task {
        Task::ToStart => State::Engaging,
        Task::Scene => State::Following,
        Task::ToPark => State::Parking,
        Task::ToLevel => State::Levelling,
    }
}

#[cfg(test)]
mod tests;
