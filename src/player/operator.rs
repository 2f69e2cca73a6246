//! What an operator wants of a run on drives, turned into commands: an act begins with a word *and* with taking hold
//! of the presence input after it. A presence input that was held before the word counts for nothing: it may be tied.

use super::command::{Command, View};
use super::director::{Directs, Order};
use super::planner::Planner;
use super::ready::Remark;
use super::scene::Scene;
use super::setup::Setup;
use super::thresholds::{DISPLACED_M, largest_m};
use crate::safety::operation::{Cause, Input, Operation, Phase, Request, State};
use crate::safety::{Legs, Refusal};

/// The speed of a jog, m/s (own choice: a hand has time to let go within 5 mm).
pub(super) const JOG_M_S: f64 = 0.01;

/// A jog that lasts while presence is held is said to the cycle this often, microseconds.
const JOG_EVERY_US: u64 = 50_000;

/// What is wanted next.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Wish {
    order: Order,
    /// Whether the presence input was seen let go since.
    armed: bool,
    /// How the run stood when it was looked at last.
    before: Operation,
    /// Where the legs were, m, when it was asked for or, later, when they came to rest.
    at_m: Legs,
}

impl Wish {
    /// Why it is void: what would have ended a motion came up while it waited. Whoever closes a gate again, or clears a
    /// fault, may not be the one who asked.
    fn lapsed(&self, now: &Operation, at_m: &Legs) -> Option<&'static str> {
        const CAUSES: [Cause; 4] = [Cause::Gate, Cause::Mat, Cause::Belt, Cause::StopInput];
        let inputs = |run: &Operation| {
            let inputs = run.seen().inputs;
            [inputs.gate, inputs.mat, inputs.belt, inputs.stop]
        };
        let mut each = inputs(&self.before).into_iter().zip(inputs(now)).zip(CAUSES);
        let opened = each.find(|((before, now), _)| before.is_closed() && !now.is_closed());
        let became = |is: fn(&Operation) -> bool| is(now) && !is(&self.before);
        let latched = became(Operation::is_latched).then(|| now.cause());
        let rested = self.before.phase() == Phase::Rest && now.phase() == Phase::Rest;
        let moved = rested && largest_m(&self.at_m, at_m) > DISPLACED_M;
        let cause = opened.map(|(_, cause)| cause).or(latched).or(moved.then_some(Cause::MovedByHand));
        let unknown = became(|run| run.seen().inputs.presence == Input::Unknown);
        cause.map(Cause::words).or(unknown.then_some("for a while nothing was known of the presence input"))
    }

    /// The run as it is looked at now.
    fn look(&mut self, now: &Operation, at_m: &Legs) {
        if now.phase() != Phase::Rest {
            self.at_m = *at_m;
        }
        self.before = *now;
        // Known to be let go of: what is not known arms nothing.
        self.armed |= now.seen().inputs.presence == Input::Open;
    }
}

/// A jog under way.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Jogging {
    leg: Option<usize>,
    part: f64,
    /// When it is to be said to the cycle next, as a tick.
    due: u64,
    /// When it has gone on for long enough, as a tick; `None` before legs may move.
    ends: Option<u64>,
    longest_s: f64,
}

fn is_jogging(run: &Operation) -> bool {
    run.state() == State::Jogging
        && matches!(run.phase(), Phase::Warning { .. } | Phase::Releasing { .. } | Phase::Moving)
}

/// An operator's side of a run on drives.
pub(super) struct Operator<'a> {
    plans: Planner<'a>,
    first_m: Legs,
    park_at_end: bool,
    /// Nothing is wanted but what was said: neither the start at first nor the way to park after the end.
    by_word: bool,
    wish: Option<Wish>,
    jogging: Option<Jogging>,
    begun: bool,
    ending: bool,
    park_offered: bool,
    /// Remarks before the last order.
    remarked: usize,
}

impl<'a> Operator<'a> {
    /// For a run whose scene begins at the leg lengths `first_m`.
    pub(super) fn new(setup: &'a Setup, scene: &'a dyn Scene, first_m: Legs, park_at_end: bool) -> Self {
        Self {
            plans: Planner::new(setup, scene),
            first_m,
            park_at_end,
            by_word: false,
            wish: None,
            jogging: None,
            begun: false,
            ending: false,
            park_offered: false,
            remarked: 0,
        }
    }

    /// The same, and every act needs a word of its own.
    pub(super) fn by_word(self, by_word: bool) -> Self {
        Self { by_word, ..self }
    }

    /// The command for what is wished, made where the legs stand now.
    fn granted(&mut self, view: &View, order: Order) -> Command {
        match order {
            Order::Start => self.plans.travel(view, self.first_m, Command::Start),
            Order::Park => self.plans.travel(view, self.plans.setup.park_m, Command::Park),
            Order::Resume => Command::Resume,
            Order::Home => Command::Ask(Request::Home),
            Order::Jog { leg, part, longest_s } => {
                let due = view.tick + self.cycles(JOG_EVERY_US);
                self.jogging = Some(Jogging { leg, part, due, ends: None, longest_s });
                self.jog(leg, part, true)
            }
            _ => Command::Refuse(Refusal::Nothing),
        }
    }

    fn jog(&self, leg: Option<usize>, part: f64, begins: bool) -> Command {
        let part = if part.is_finite() { part.clamp(-1.0, 1.0) } else { 0.0 };
        let legs = self.plans.setup.legs.len();
        let speed_m_s = |at| if leg.is_none_or(|leg| leg == at) { part * JOG_M_S } else { 0.0 };
        Command::Jog { speeds_m_s: Legs::from_fn(legs, speed_m_s), begins }
    }

    fn cycles(&self, time_us: u64) -> u64 {
        time_us / self.plans.setup.cycle_us.max(1)
    }

    /// A jog goes on while presence is held, for as long as it was said, and ends for good when either is over.
    fn go_on_jogging(&mut self, view: &View, run: &Operation, send: &mut dyn FnMut(Command) -> bool) {
        let Some(mut now) = self.jogging else { return };
        if !is_jogging(run) || !run.seen().inputs.presence.is_closed() {
            self.jogging = None;
            return;
        }
        if run.phase() == Phase::Moving && now.ends.is_none() {
            // A cast saturates: a jog without an end has one beyond every run's.
            now.ends = Some(view.tick.saturating_add((now.longest_s / self.plans.setup.cycle_s()) as u64));
        }
        if now.ends.is_some_and(|end| view.tick >= end) {
            self.jogging = None;
            self.plans.send(Command::Pause, send);
            return;
        }
        if view.tick >= now.due {
            now.due = view.tick + self.cycles(JOG_EVERY_US);
            let command = self.jog(now.leg, now.part, false);
            self.plans.send(command, send);
        }
        self.jogging = Some(now);
    }

    fn wish(&mut self, order: Order, run: &Operation, view: &View) {
        self.jogging = None;
        let armed = run.seen().inputs.presence == Input::Open;
        self.wish = Some(Wish { order, armed, before: *run, at_m: view.legs_m });
    }
}

impl Directs for Operator<'_> {
    fn order(&mut self, view: &View, order: Order, send: &mut dyn FnMut(Command) -> bool) {
        let Some(run) = view.run else { return };
        self.remarked = self.plans.remarks.len();
        let command = match order {
            Order::Start | Order::Park | Order::Resume | Order::Home | Order::Jog { .. } => {
                return self.wish(order, &run, view);
            }
            Order::Pause => Command::Pause,
            Order::Stop => Command::Stop,
            Order::EmergencyStop => Command::Ask(Request::EmergencyStop),
            Order::Reset => Command::Reset,
            Order::Gain(gain) => self.plans.gain(view, gain),
            Order::Level => Command::Refuse(Refusal::Nothing),
            Order::End => {
                self.ending = true;
                Command::Stop
            }
        };
        // Whatever else was wanted is not any more.
        if !matches!(order, Order::Gain(_)) {
            (self.wish, self.jogging) = (None, None);
        }
        self.plans.send(command, send);
    }

    fn look(&mut self, view: &View, send: &mut dyn FnMut(Command) -> bool) {
        let Some(run) = view.run else { return };
        if !self.plans.is_taken(view) {
            return;
        }
        if run.state() == State::NotConnected && !self.begun && run.seen().link {
            self.begun = true;
            self.plans.send(Command::Ask(Request::Connect), send);
            self.wish = (!self.by_word).then_some(Wish {
                order: Order::Start,
                armed: false,
                before: run,
                at_m: view.legs_m,
            });
            return;
        }
        let rests = run.phase() == Phase::Rest;
        let ended = matches!(run.cause(), Cause::SceneEnded);
        let offers = self.park_at_end && !self.by_word && !self.park_offered;
        if rests && ended && view.played_out && offers {
            self.park_offered = true;
            self.wish(Order::Park, &run, view);
        }
        let parked_after = rests && run.state() == State::Parked && view.played_out && self.park_at_end;
        let gone = rests && run.state() == State::NotConnected && self.begun;
        if (self.ending || parked_after || gone) && run.may_end() {
            self.ending = true;
            self.plans.send(Command::Finish, send);
            return;
        }
        self.go_on_jogging(view, &run, send);
        let presence = run.seen().inputs.presence.is_closed();
        if let Some(wish) = &mut self.wish {
            if let Some(why) = wish.lapsed(&run, &view.legs_m) {
                let word = wish.order.act().map_or("", Request::word);
                self.plans.remarks.push(format!("{word}: not any more: {why}; ask again"));
                self.wish = None;
                return;
            }
            wish.look(&run, &view.legs_m);
            if wish.armed && presence && matches!(run.phase(), Phase::Rest | Phase::Standing) {
                let order = wish.order;
                self.wish = None;
                let command = self.granted(view, order);
                self.plans.send(command, send);
            }
        }
    }

    fn wanted(&self) -> Option<Order> {
        self.wish.map(|wish| wish.order)
    }

    fn remark(&self) -> Option<Remark> {
        let number = self.plans.remarks.len();
        let last = self.plans.remarks.last().filter(|_| number > self.remarked);
        last.map(|words| Remark { number, words: words.as_str().into() })
    }

    fn remarks(self) -> Vec<String> {
        self.plans.remarks
    }
}
