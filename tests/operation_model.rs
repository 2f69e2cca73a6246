//! Every state of a run on drives that can be reached with up to two things going wrong, one after the other or at
//! once, in any order with anything that an operator can ask for: what must never be, is looked for in all of them.

#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

mod operation {
    mod words;
}

use cueloom::drives::Standing;
use cueloom::player::{Progress, Ready, Refused};
use cueloom::safety::operation::*;
use cueloom::safety::{Legs, step};
use stateright::{Checker, Model, Property};

const TIMING: Timing = Timing { warning: 1, releasing: 1, stopping: 1, creeping: 0, setting: 1 };

/// How many things may go wrong on a way.
const BUDGET: u8 = 2;

/// Cycles from a stop that was asked for, or from the end of "going", to drives that rest or hold what no brake does: two
/// kinds of stop after each other, and the brakes.
const REST_WITHIN: u8 = 2 * (TIMING.stopping as u8 + 1) + TIMING.setting as u8 + 2;

/// The far end, as plain as it can be: power and brakes follow what is demanded a cycle later, unless stuck.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct World {
    run: Operation,
    seen: Seen,
    brakes_stick: bool,
    drives_dead: bool,
    budget: u8,
    /// An act was asked for and accepted since drives last rested or stood.
    asked: bool,
    /// At least one cycle of warning since then.
    warned: bool,
    /// 2 after a fault or an emergency stop, 1 once acknowledged, 0 once an act was asked for after that.
    locked: u8,
    /// A stop was asked for, whatever was answered, and has not come to its end.
    stopped: bool,
    /// A stop that was asked for came to an end where the run is not over.
    stopped_in_vain: bool,
    /// Cycles since a stop was asked for or set-points ceased to go, while not at rest.
    ending: u8,
    /// Whether the last event was a cycle, and set-points did not go before it.
    cycle: bool,
    went: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Act {
    Cycle(Change),
    Ask(Request),
    Permit(Permit),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Change {
    Nothing,
    ComesToRest,
    Arrives,
    Presence,
    Link,
    Gate,
    Stop,
    Wrong(Trouble),
    BrakesStick,
    DrivesDie,
    MovedByHand,
    ReferenceLost,
}

fn flip(input: Input) -> Input {
    if input.is_closed() { Input::Unknown } else { Input::Closed }
}

impl World {
    fn cycle(mut self, change: Change) -> Option<World> {
        let demand = self.run.demand();
        let seen = &mut self.seen;
        match change {
            Change::Nothing | Change::ComesToRest | Change::Arrives => {}
            Change::Presence => seen.inputs.presence = flip(seen.inputs.presence),
            // What can go wrong can also come right again: both count.
            _ => self.budget = self.budget.checked_sub(1)?,
        }
        match change {
            Change::Link => seen.link = !seen.link,
            Change::Gate => seen.inputs.gate = flip(seen.inputs.gate),
            Change::Stop => seen.inputs.stop = flip(seen.inputs.stop),
            Change::Wrong(trouble) => {
                seen.trouble = if seen.trouble.is_none() { Some(trouble) } else { None };
            }
            Change::BrakesStick => self.brakes_stick = !self.brakes_stick,
            Change::DrivesDie => self.drives_dead = !self.drives_dead,
            Change::ReferenceLost => seen.homed = false,
            _ => {}
        }
        seen.power = demand.power && !self.drives_dead;
        seen.brakes = match (self.brakes_stick, demand.release) {
            (true, _) => Brakes::Unknown,
            (_, true) => Brakes::Released,
            (_, false) => Brakes::Set,
        };
        let goes = demand.motion.goes();
        seen.arrived = goes && (seen.arrived || change == Change::Arrives);
        seen.moving = match demand.motion {
            Motion::Stand => false,
            Motion::Path | Motion::Home | Motion::Jog => change != Change::Arrives && !seen.arrived,
            Motion::Slow | Motion::Brake => seen.moving && change != Change::ComesToRest,
        };
        if seen.moving && goes {
            seen.at_park = false;
        }
        if seen.arrived && demand.motion == Motion::Home {
            seen.homed = true;
        }
        if seen.arrived && self.run.state() == State::Parking {
            seen.at_park = true;
        }
        seen.displaced = change == Change::MovedByHand && !demand.power;
        if seen.displaced {
            seen.at_park = false;
        }
        let seen = *seen;
        Some(self.after(Event::Cycle(seen)))
    }

    fn after(mut self, event: Event) -> World {
        let before = self.run;
        let (run, answer) = step(before, event);
        self.run = run;
        self.cycle = matches!(event, Event::Cycle(_));
        self.went = before.demand().motion.goes();
        if matches!(run.phase(), Phase::Rest | Phase::Standing) {
            (self.asked, self.warned) = (false, false);
        }
        if let (Event::Ask(request), None) = (event, answer.refused) {
            match request {
                Request::Acknowledge => self.locked = self.locked.min(1),
                Request::Home | Request::Start | Request::Resume | Request::Park | Request::Jog => {
                    self.asked = true;
                    if self.locked == 1 {
                        self.locked = 0;
                    }
                }
                _ => {}
            }
        }
        if self.cycle && answer.demand.warn {
            self.warned = true;
        }
        // What the machine finds by itself (brakes, legs that do not stop) counts by its own word, the rest by what came.
        if locks(&before, event) || run.state() == State::Faulted {
            self.locked = 2;
        }
        self.count(run, event);
        self
    }

    /// Counts towards the end of a stop.
    fn count(&mut self, run: Operation, event: Event) {
        self.stopped |= matches!(event, Event::Ask(Request::Stop | Request::EmergencyStop));
        let propped = run.state() == State::Faulted && run.phase() == Phase::Standing;
        let ended = run.phase() == Phase::Rest || propped;
        let over = matches!(run.state(), State::Stopped | State::Faulted | State::NotConnected);
        self.stopped_in_vain = self.stopped && ended && !over;
        self.stopped &= !ended;
        let ending = self.stopped || matches!(run.phase(), Phase::Stopping { .. } | Phase::Setting { .. });
        // One more than may be shows enough, and keeps the states few.
        let next = (self.ending + u8::from(self.cycle)).min(REST_WITHIN + 1);
        self.ending = if ending { next } else { 0 };
    }
}

/// Whether this is an emergency stop or a fault, by what came and by nothing that the machine says of it: with nobody
/// connected there is nothing to stop.
fn locks(before: &Operation, event: Event) -> bool {
    let connected = before.state() != State::NotConnected;
    connected
        && match event {
            Event::Ask(request) => request == Request::EmergencyStop,
            // At rest a far end that falls silent is one that is not connected any more.
            Event::Cycle(seen) if !seen.link => before.phase() != Phase::Rest,
            Event::Cycle(seen) => seen.trouble.is_some() || !seen.inputs.stop.is_closed(),
            Event::Permit(_) => false,
        }
}

/// What both shells show of a run.
fn standing(run: Operation) -> Standing {
    let progress = Progress {
        state: cueloom::safety::State::Parked,
        time_s: 0.0,
        path_s: 0.0,
        rate: 0.0,
        scene_s: 1.0,
        on_scene: false,
        gain: 1.0,
        run: Some(run),
        cause: None,
        wanted: None,
        ready: Ready { fresh: true, placed: true, interrupted: true },
        refused: Refused::default(),
        remark: None,
        legs_m: Legs::filled(2, 0.6),
    };
    Standing::of(&progress).unwrap()
}

struct Rig;

impl Model for Rig {
    type State = World;
    type Action = Act;

    fn init_states(&self) -> Vec<World> {
        let seen = Seen {
            link: true,
            inputs: Inputs::CLOSED,
            brakes: Brakes::Set,
            homed: true,
            at_park: true,
            ..Seen::default()
        };
        let world = |seen: Seen| World {
            run: Operation::new(TIMING),
            seen,
            brakes_stick: false,
            drives_dead: false,
            budget: BUDGET,
            asked: false,
            warned: false,
            locked: 0,
            stopped: false,
            stopped_in_vain: false,
            ending: 0,
            cycle: false,
            went: false,
        };
        vec![world(seen), world(Seen { homed: false, at_park: false, ..seen })]
    }

    fn actions(&self, world: &World, actions: &mut Vec<Act>) {
        use Change::*;
        actions.extend([Nothing, ComesToRest, Arrives, Presence, Link, Gate, Stop].map(Act::Cycle));
        actions.extend([BrakesStick, DrivesDie, MovedByHand, ReferenceLost].map(Act::Cycle));
        actions.extend(
            [cueloom::safety::operation::Trouble::Drive, cueloom::safety::operation::Trouble::RecordLost]
                .map(|trouble| Act::Cycle(Wrong(trouble))),
        );
        actions.extend(Request::ALL.map(Act::Ask));
        let permit = world.run.permit();
        let fitness = !(permit.commissioned && permit.audition);
        actions.push(Act::Permit(Permit { commissioned: fitness, audition: fitness, ..permit }));
        actions.push(Act::Permit(Permit { vacant: !permit.vacant, ..permit }));
    }

    fn next_state(&self, world: &World, act: Act) -> Option<World> {
        let next = match act {
            Act::Cycle(change) => world.cycle(change)?,
            Act::Ask(request) => world.after(Event::Ask(request)),
            Act::Permit(permit) => world.after(Event::Permit(permit)),
        };
        Some(World { run: next.run.without_words(), ..next })
    }

    fn properties(&self) -> Vec<Property<Self>> {
        vec![
            Property::always("moves only with link, presence, inputs and brakes", |_, w: &World| {
                let goes = w.run.demand().motion.goes();
                let s = w.run.seen();
                let fit = s.link
                    && s.trouble.is_none()
                    && s.inputs == Inputs::CLOSED
                    && s.brakes == Brakes::Released
                    && s.power;
                !goes || fit
            }),
            Property::always("a scene only commissioned, auditioned and homed", |_, w: &World| {
                let scene = matches!(w.run.state(), State::Engaging | State::Following)
                    && w.run.demand().motion.goes()
                    && w.cycle;
                let permit = w.run.permit();
                !scene || (permit.commissioned && permit.audition && w.run.seen().homed)
            }),
            Property::always("a motion begins by a request and after a warning", |_, w: &World| {
                let begins = w.run.demand().motion.goes() && !w.went;
                !begins || (w.asked && w.warned && w.cycle)
            }),
            Property::always(
                "nothing moves after a latched stop that nobody acknowledged",
                |_, w: &World| !w.run.demand().motion.goes() || w.locked == 0,
            ),
            Property::always("every stop comes to an end", |_, w: &World| w.ending <= REST_WITHIN),
            Property::always("after a stop that was asked for the run is over", |_, w: &World| {
                !w.stopped_in_vain
            }),
            Property::always("brakes are never off without torque", |_, w: &World| {
                let demand = w.run.demand();
                !demand.release || demand.power
            }),
            Property::always("a fault opens no brake", |_, w: &World| {
                let ended = matches!(w.run.phase(), Phase::Rest | Phase::Standing);
                !(w.run.state() == State::Faulted && ended && w.run.demand().release)
            }),
            Property::always("at rest nothing is on", |_, w: &World| {
                let demand = w.run.demand();
                w.run.phase() != Phase::Rest || (!demand.power && !demand.release && !demand.warn)
            }),
            Property::always("a latched state is one that must be acknowledged", |_, w: &World| {
                let rests = w.run.phase() == Phase::Rest && w.run.is_latched();
                !rests || matches!(w.run.state(), State::Stopped | State::Faulted | State::NotConnected)
            }),
            // As shells see it, which look after a cycle. Once more to stop what stands is nothing that one would do next.
            Property::always("there is always something to do, or a reason why not", |_, w: &World| {
                let told = standing(w.run);
                let stops = |request: &Request| matches!(request, Request::Stop | Request::EmergencyStop);
                let rests = matches!(w.run.phase(), Phase::Rest | Phase::Standing);
                let next = told.next.iter().any(|request| !rests || !stops(request));
                let why_not = told.not_now.is_some_and(|(_, why)| !why.words().is_empty());
                !w.cycle || next || why_not || !told.instead.is_empty()
            }),
            Property::always("where it is and how far stands in words", |_, w: &World| {
                let told = standing(w.run);
                !told.state.is_empty() && !told.phase.is_empty()
            }),
            Property::sometimes("plays", |_, w: &World| w.run.state() == State::Following && w.went),
            Property::sometimes("parks after playing", |_, w: &World| {
                w.run.state() == State::Parking && w.run.demand().motion.goes()
            }),
            Property::sometimes("homes", |_, w: &World| w.run.state() == State::Homing && w.run.seen().homed),
            Property::sometimes("jogs without a reference", |_, w: &World| {
                w.run.demand().motion == Motion::Jog && !w.run.seen().homed
            }),
            Property::sometimes("goes on after a fault", |_, w: &World| {
                w.run.demand().motion.goes() && w.budget == 0
            }),
            Property::sometimes("holds with torque what its brakes do not", |_, w: &World| {
                w.run.state() == State::Faulted && w.run.phase() == Phase::Standing
            }),
            Property::sometimes("removes power from what does not stop", |_, w: &World| {
                matches!(w.run.phase(), Phase::Setting { power: false, .. })
            }),
        ]
    }
}

#[test]
fn every_reachable_state_keeps_the_promises() {
    let checker = Rig.checker().threads(2).spawn_bfs().join();
    println!("{} states, {} of them unique", checker.state_count(), checker.unique_state_count());
    checker.assert_properties();
    assert!(checker.unique_state_count() > 50_000, "{}", checker.unique_state_count());
}
