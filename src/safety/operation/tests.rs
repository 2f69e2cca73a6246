use super::*;
use proptest::prelude::*;

const TIMING: Timing = Timing { warning: 3, releasing: 3, stopping: 5, creeping: 2, setting: 3 };
const PERMIT: Permit = Permit { commissioned: true, audition: true, vacant: true };

fn parked() -> Seen {
    let seen = Seen { link: true, inputs: Inputs::CLOSED, brakes: Brakes::Set, ..Seen::default() };
    Seen { homed: true, at_park: true, ..seen }
}

/// A run and a far end that does at once what is demanded.
struct Bench {
    run: Operation,
    seen: Seen,
}

impl Bench {
    fn new() -> Self {
        let mut bench = Self { run: Operation::new(TIMING), seen: parked() };
        bench.run = step(bench.run, Event::Permit(PERMIT)).0;
        bench.cycle();
        assert_eq!(bench.ask(Request::Connect), None);
        bench
    }

    fn cycle(&mut self) -> Demand {
        let demand = self.run.demand();
        self.seen.power = demand.power;
        self.seen.brakes = if demand.release { Brakes::Released } else { Brakes::Set };
        let (run, answer) = step(self.run, Event::Cycle(self.seen));
        self.run = run;
        answer.demand
    }

    fn ask(&mut self, request: Request) -> Option<Refusal> {
        let (run, answer) = step(self.run, Event::Ask(request));
        self.run = run;
        answer.refused
    }

    fn cycles(&mut self, count: usize) {
        (0..count).for_each(|_| _ = self.cycle());
    }

    /// Playing the scene.
    fn following() -> Self {
        let mut bench = Self::new();
        assert_eq!(bench.ask(Request::Start), None);
        bench.cycles(12);
        assert_eq!(bench.run.demand().motion, Motion::Path);
        (bench.seen.moving, bench.seen.arrived, bench.seen.at_park) = (true, true, false);
        bench.cycle();
        bench.seen.arrived = false;
        assert_eq!(bench.run.state(), State::Following);
        bench
    }

    fn comes_to_rest(&mut self) {
        self.cycle();
        self.seen.moving = false;
        self.cycles(5);
        assert_eq!(self.run.phase(), Phase::Rest);
    }
}

/// The contact of a brake that was just being let go still says that it is on: torque does not go by that.
#[test]
fn a_brake_that_was_being_let_go_is_not_believed_at_once() {
    let mut run = step(Operation::new(Timing { setting: 20, ..TIMING }), Event::Permit(PERMIT)).0;
    let seen = parked();
    let cycle = |run: &mut Operation, seen| *run = step(*run, Event::Cycle(seen)).0;
    cycle(&mut run, seen);
    run = step(run, Event::Ask(Request::Connect)).0;
    run = step(run, Event::Ask(Request::Start)).0;
    let powered = Seen { power: true, ..seen };
    while !run.demand().release {
        let now = if run.demand().power { powered } else { seen };
        cycle(&mut run, now);
    }
    let let_go = Seen { inputs: Inputs { presence: Input::Open, ..Inputs::CLOSED }, ..powered };
    cycle(&mut run, let_go);
    cycle(&mut run, let_go);
    assert!(run.demand().power && matches!(run.phase(), Phase::Setting { .. }), "{run:?}");
    cycle(&mut run, let_go);
    cycle(&mut run, let_go);
    assert_eq!((run.phase(), run.demand().power), (Phase::Rest, false));
}

#[test]
fn a_motion_begins_with_a_warning_then_torque_then_brakes() {
    let mut bench = Bench::new();
    assert_eq!((bench.run.state(), bench.ask(Request::Start)), (State::Parked, None));
    let mut seen = Vec::new();
    for _ in 0..10 {
        let demand = bench.cycle();
        seen.push((demand.warn, demand.power, demand.release, demand.motion.goes()));
    }
    seen.dedup();
    let expected = [
        (true, false, false, false),
        (true, true, false, false),
        (true, true, true, false),
        (false, true, true, true),
    ];
    assert_eq!(seen, expected);
}

#[test]
fn letting_go_slows_along_the_path_and_taking_hold_again_begins_nothing() {
    let mut bench = Bench::following();
    bench.seen.inputs.presence = Input::Open;
    assert_eq!(bench.cycle().motion, Motion::Slow);
    assert_eq!((bench.run.category(), bench.run.cause()), (Some(Category::One), Cause::LetGo));
    // Taking hold while it slows changes nothing.
    bench.seen.inputs.presence = Input::Closed;
    assert_eq!(bench.cycle().motion, Motion::Slow);
    bench.comes_to_rest();
    assert_eq!((bench.run.state(), bench.run.task()), (State::Holding, Some(State::Following)));
    bench.cycles(100);
    assert_eq!(
        bench.run.demand(),
        Demand { power: false, release: false, warn: false, motion: Motion::Stand }
    );
    assert_eq!(bench.ask(Request::Resume), None);
    bench.cycles(12);
    assert_eq!((bench.run.state(), bench.run.demand().motion), (State::Following, Motion::Path));
}

#[test]
fn each_reason_to_stop_ends_where_it_should() {
    type Change = fn(&mut Seen);
    let open: [(Change, Cause, Motion, State); 8] = [
        (|s| s.inputs.gate = Input::Unknown, Cause::Gate, Motion::Slow, State::Holding),
        (|s| s.inputs.mat = Input::Open, Cause::Mat, Motion::Slow, State::Holding),
        (|s| s.inputs.belt = Input::Open, Cause::Belt, Motion::Slow, State::Holding),
        (|s| s.inputs.stop = Input::Open, Cause::StopInput, Motion::Brake, State::Stopped),
        (|s| s.link = false, Cause::LinkSilent, Motion::Brake, State::Faulted),
        (
            |s| s.trouble = Some(Trouble::Following),
            Cause::Trouble(Trouble::Following),
            Motion::Brake,
            State::Faulted,
        ),
        (
            |s| s.trouble = Some(Trouble::RecordLost),
            Cause::Trouble(Trouble::RecordLost),
            Motion::Slow,
            State::Faulted,
        ),
        (|s| s.homed = false, Cause::ReferenceLost, Motion::Brake, State::Faulted),
    ];
    for (change, cause, motion, state) in open {
        let mut bench = Bench::following();
        change(&mut bench.seen);
        assert_eq!((bench.cycle().motion, bench.run.cause()), (motion, cause));
        bench.comes_to_rest();
        assert_eq!(bench.run.state(), state, "{cause:?}");
        assert!(!cause.words().is_empty() && !cause.look_at().is_empty());
    }
}

#[test]
fn a_pause_stands_with_drives_on_and_goes_on_only_when_asked() {
    let mut bench = Bench::following();
    assert_eq!(bench.ask(Request::Pause), None);
    assert_eq!((bench.cycle().motion, bench.run.category()), (Motion::Slow, Some(Category::Two)));
    bench.seen.moving = false;
    bench.cycle();
    assert_eq!((bench.run.state(), bench.run.phase()), (State::Holding, Phase::Standing));
    bench.cycles(50);
    assert!(bench.run.demand().power && bench.run.demand().motion == Motion::Stand);
    // Letting go sets the brakes.
    bench.seen.inputs.presence = Input::Open;
    bench.cycles(4);
    assert_eq!((bench.run.phase(), bench.run.task()), (Phase::Rest, Some(State::Following)));
}

#[test]
fn an_emergency_stop_and_a_fault_want_to_be_acknowledged() {
    let mut bench = Bench::following();
    assert_eq!(bench.ask(Request::EmergencyStop), None);
    assert_eq!(bench.run.demand().motion, Motion::Brake);
    bench.comes_to_rest();
    assert_eq!((bench.run.state(), bench.run.is_latched()), (State::Stopped, true));
    for request in [Request::Start, Request::Park, Request::Jog, Request::Home, Request::Resume] {
        assert_eq!(bench.ask(request), Some(Refusal::Acknowledge));
    }
    bench.seen.inputs.stop = Input::Open;
    bench.cycle();
    assert_eq!(bench.ask(Request::Acknowledge), Some(Refusal::CauseStays));
    bench.seen.inputs.stop = Input::Closed;
    bench.cycle();
    assert_eq!(bench.ask(Request::Acknowledge), None);
    bench.cycles(20);
    assert_eq!((bench.run.state(), bench.run.demand().power), (State::Holding, false));
    assert_eq!(bench.ask(Request::Park), None);
}

#[test]
fn what_does_not_stop_loses_its_power_and_what_has_no_brakes_keeps_it() {
    let mut bench = Bench::following();
    bench.ask(Request::Stop);
    bench.cycles(8);
    assert_eq!((bench.run.cause(), bench.run.category()), (Cause::NotStopped, Some(Category::Zero)));
    assert!(!bench.run.demand().power);

    let mut bench = Bench::following();
    bench.ask(Request::Stop);
    bench.seen.moving = false;
    for _ in 0..20 {
        let seen = Seen { brakes: Brakes::Unknown, power: true, ..bench.seen };
        bench.run = step(bench.run, Event::Cycle(seen)).0;
    }
    assert_eq!((bench.run.state(), bench.run.cause()), (State::Faulted, Cause::BrakesNotSet));
    assert!(bench.run.demand().power && !bench.run.demand().release);
    assert_eq!(bench.ask(Request::Acknowledge), Some(Refusal::CauseStays));
}

#[test]
fn a_far_end_that_falls_silent_while_it_creeps_soon_loses_power_and_brakes_are_set() {
    let mut bench = Bench::new();
    (bench.seen.homed, bench.seen.at_park) = (false, false);
    bench.cycle();
    assert_eq!(bench.ask(Request::Home), None);
    bench.cycles(12);
    bench.seen.moving = true;
    assert_eq!(bench.cycle().motion, Motion::Home);
    // Nothing is heard that would say that it stands.
    bench.seen.link = false;
    let stop: Vec<Demand> = (0..=TIMING.creeping + 1).map(|_| bench.cycle()).collect();
    let (last, braked) = stop.split_last().expect("some cycles");
    assert!(braked.iter().all(|demand| demand.motion == Motion::Brake && demand.power));
    assert_eq!((last.motion, last.power, last.release), (Motion::Stand, false, false));
    assert_eq!((bench.run.cause(), bench.run.category()), (Cause::LinkSilent, Some(Category::Zero)));
}

#[test]
fn without_a_reference_only_homing_and_jog_are_left_and_homing_only_vacant() {
    let mut bench = Bench::new();
    (bench.seen.homed, bench.seen.at_park) = (false, false);
    bench.cycle();
    assert_eq!((bench.run.state(), bench.run.cause()), (State::Connected, Cause::ReferenceLost));
    let options: Vec<Request> = bench.run.options().collect();
    assert!(options.contains(&Request::Home) && options.contains(&Request::Jog));
    assert!(!options.contains(&Request::Start) && !options.contains(&Request::Park));
    bench.run = step(bench.run, Event::Permit(Permit { vacant: false, ..PERMIT })).0;
    assert_eq!(bench.ask(Request::Home), Some(Refusal::NotVacant));
    assert_eq!(
        (bench.run.refusal_of_one_leg(), bench.run.refusal(Request::Jog)),
        (Some(Refusal::OneLeg), None)
    );
}

#[test]
fn legs_moved_by_hand_are_noticed_and_the_path_is_forgotten() {
    let mut bench = Bench::new();
    (bench.seen.displaced, bench.seen.at_park) = (true, false);
    bench.cycle();
    assert_eq!((bench.run.state(), bench.run.cause()), (State::Holding, Cause::MovedByHand));
    assert_eq!(bench.ask(Request::Start), Some(Refusal::NotParked));
}

fn input() -> impl Strategy<Value = Input> {
    prop_oneof![6 => Just(Input::Closed), 1 => Just(Input::Open), 1 => Just(Input::Unknown)]
}

prop_compose! {
    fn any_seen()(
        inputs in (input(), input(), input(), input(), input()),
        brakes in prop_oneof![Just(Brakes::Set), Just(Brakes::Released), Just(Brakes::Unknown)],
        bits in proptest::collection::vec(proptest::bool::weighted(0.8), 4),
        more in proptest::collection::vec(any::<bool>(), 3),
        trouble in proptest::option::weighted(0.1, 0..Trouble::ALL.len()),
    ) -> Seen {
        let (presence, gate, mat, belt, stop) = inputs;
        Seen {
            link: bits[0],
            inputs: Inputs { presence, gate, mat, belt, stop },
            brakes,
            power: bits[1],
            homed: bits[2],
            at_park: more[0],
            moving: more[1],
            arrived: more[2],
            displaced: !bits[3],
            trouble: trouble.map(|at| Trouble::ALL[at]),
        }
    }
}

fn event() -> impl Strategy<Value = Event> {
    prop_oneof![
        6 => any_seen().prop_map(Event::Cycle),
        2 => (0..Request::ALL.len()).prop_map(|at| Event::Ask(Request::ALL[at])),
        1 => any::<(bool, bool, bool)>().prop_map(|(commissioned, audition, vacant)| {
            Event::Permit(Permit { commissioned, audition, vacant })
        }),
    ]
}

proptest! {
    /// Also for far ends that contradict themselves from cycle to cycle.
    #[test]
    fn whatever_comes_nothing_moves_without_leave(events in proptest::collection::vec(event(), 1..300)) {
        let mut run = Operation::new(TIMING);
        let mut unrest = 0;
        for event in events {
            let before = run.demand().motion.goes();
            let (next, answer) = step(run, event);
            let goes = answer.demand.motion.goes();
            prop_assert_eq!(answer.demand, next.demand());
            if goes {
                let seen = next.seen();
                prop_assert!(seen.link && seen.inputs == Inputs::CLOSED && seen.trouble.is_none());
                let released = matches!(run.phase(), Phase::Releasing { .. });
                prop_assert!(before || released);
            }
            if !before && goes {
                prop_assert!(matches!(event, Event::Cycle(_)), "no request moves anything at once");
            }
            let ends = matches!(next.phase(), Phase::Stopping { .. } | Phase::Setting { .. });
            unrest = if ends { unrest + u16::from(matches!(event, Event::Cycle(_))) } else { 0 };
            prop_assert!(unrest <= 2 * (TIMING.stopping + 1) + TIMING.setting + 2);
            run = next;
        }
    }
}
