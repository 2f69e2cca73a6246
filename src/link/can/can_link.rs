//! Drives of CiA 402 on a CAN bus behind the trait of all links: one drive a leg. Cranked: no thread, no clock.

use super::fault::CanFault;
use super::judge::Wrong;
use super::load::{Overload, Traffic, Usage};
use super::network::{NmtCommand, cob, heartbeat, sync};
use super::node::Node;
use super::sdo::{self, Value};
use super::setup::Shared;
use super::wire::{CanFrame, CanWire};
use super::{cia402::DriveState, cia402::control, fault::Object, live::Wish};
use crate::commissioning::FarEnd;
use crate::link::frame::{OrderKind, PowerState};
use crate::link::{Asking, DriveLink, DriveOrder, DriveReport, DriveTime, LinkFault};
use crate::rig::Rig;
use crate::rig::can::{CanPart, Terminal};
use crate::safety::Legs;
use crate::safety::operation::WARNING_US;
use crate::safety::operation::{Brakes, Input, Inputs};
use crate::units::{Dimension, show};
use std::collections::VecDeque;

/// Frames that one poll looks at: a flood must not hold the cycle.
const MOST_FRAMES: usize = 256;

/// Synchronisations that may wait to be answered.
const MOST_WAITING: usize = 64;

/// Polls in a row in which drives have answered differently often before a report counts as lost (own choice: one may
/// come a poll later).
const UNEVEN: u8 = 3;

/// Once every drive gives reports, none is asked for one for so long, microseconds: what is still under way arrives, and
/// those after it can be counted, each to its synchronisation. Adapters hold frames back for 16 ms (common practice).
const QUIET_US: u64 = 50_000;

/// So many polls show how late each drive answers by itself (own choice).
const SETTLES: u8 = 16;

/// Drives that stopped because this program was away are given so long to be told to go on, microseconds: before any
/// motion comes the warning (own choice).
const EXCUSED_US: u64 = WARNING_US / 2;

/// Why drives on a CAN bus cannot be played on with this rig file.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CanSetupError {
    /// Nothing is said of them.
    #[error(
        "the rig file has no [can] table: node ids, counts and directions are not guessed; docs/can.md says what to write, and `cueloom rig new` shows it"
    )]
    NoTable,
    /// A cycle that CiA 402 cannot carry.
    #[error(
        "a cycle of {0} us cannot be told to a drive (object 0x60C2): use a whole number of milliseconds or of tenths, up to 25.5 ms"
    )]
    Period(u32),
    /// The bus cannot carry the cycle.
    #[error(transparent)]
    Overload(#[from] Overload),
}

/// Drives on a bus.
pub struct CanLink<W: CanWire> {
    wire: W,
    part: CanPart,
    nodes: Vec<Node>,
    cycle_us: u32,
    silence_us: u64,
    beat_us: u64,
    /// Where each leg may jog, m.
    ends_m: Vec<(f64, f64)>,
    all_on_us: Option<u64>,
    beaten_us: Option<u64>,
    sent_us: Option<u64>,
    polled_us: Option<u64>,
    /// When every drive was set up and gave reports.
    live_us: Option<u64>,
    /// When it listened again after it was away.
    resumed_us: u64,
    excused_us: u64,
    kind: OrderKind,
    waiting: VecDeque<u64>,
    /// How many polls were looked at for what is usual; how many answers some drives are ahead of others then, and how many
    /// synchronisations wait.
    settled: u8,
    usual: (u32, usize),
    /// For how many polls some drives have been further ahead than is usual.
    uneven: u8,
    dropped: u64,
}

impl<W: CanWire> std::fmt::Debug for CanLink<W> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("CanLink")
            .field("part", &self.part)
            .field("nodes", &self.nodes)
            .finish_non_exhaustive()
    }
}

/// How the rig's bus is used at its cycle.
///
/// # Errors
/// When the rig file has no such drives, or its cycle does not fit.
pub fn usage(rig: &Rig) -> Result<Usage, CanSetupError> {
    let part = rig.parts.can.as_ref().ok_or(CanSetupError::NoTable)?;
    let traffic =
        Traffic { bit_rate: part.bit_rate, legs: part.legs.len() as u32, detection_s: rig.drive.detection_s };
    Ok(traffic.usage(rig.drive.cycle_us)?)
}

/// What the rig file does not say, so that it stays unknown and counts as open: in words, for whoever starts a run.
pub fn unknown(rig: &Rig) -> Vec<String> {
    let Some(part) = &rig.parts.can else { return Vec::new() };
    let inputs = &part.inputs;
    let named = [
        ("presence", inputs.presence),
        ("gate", inputs.gate),
        ("mat", inputs.mat),
        ("belt", inputs.belt),
        ("stop", inputs.stop),
    ];
    let mut all: Vec<String> = named
        .into_iter()
        .filter(|(_, terminal)| terminal.is_none())
        .map(|(name, _)| format!("no input tells of `{name}`: it counts as open, and nothing will move"))
        .collect();
    for (leg, actuator) in part.legs.iter().zip(&rig.actuators) {
        let name = &actuator.name;
        match (leg.brake, leg.sag_m) {
            (Some(_), _) => {}
            (None, None) => all.push(format!(
                "no contacts and no `brake_sag` tell of the brake of `{name}`: it is not known to hold, and nothing will move"
            )),
            (None, Some(most_m)) => all.push(format!(
                "no contacts tell of the brake of `{name}`: it counts as on or off by its leg, which may sag by {}",
                show(most_m, Dimension::LENGTH)
            )),
        }
    }
    all
}

impl<W: CanWire> CanLink<W> {
    /// For the drives of a rig.
    ///
    /// # Errors
    /// When the rig file has none, or its cycle does not fit the bus.
    pub fn new(wire: W, rig: &Rig) -> Result<Self, CanSetupError> {
        let part = rig.parts.can.clone().ok_or(CanSetupError::NoTable)?;
        let cycle_us = rig.drive.cycle_us;
        let usage = usage(rig)?;
        let shared = Shared::of(&part, cycle_us, rig.drive.detection_s, usage.every)
            .ok_or(CanSetupError::Period(cycle_us))?;
        let warning = |leg: usize| part.warning.filter(|at| at.leg == leg).map(|at| at.bit);
        let nodes = part.legs.iter().enumerate().map(|(at, leg)| Node::new(at, leg, shared, warning(at)));
        Ok(Self {
            wire,
            nodes: nodes.collect(),
            cycle_us,
            silence_us: u64::from(shared.silence_ms) * 1000,
            beat_us: u64::from(super::load::beat_ms(shared.silence_ms)) * 1000,
            ends_m: rig.actuators.iter().map(crate::rig::Actuator::soft_ends_m).collect(),
            all_on_us: None,
            beaten_us: None,
            sent_us: None,
            polled_us: None,
            live_us: None,
            resumed_us: 0,
            excused_us: 0,
            kind: OrderKind::Off,
            waiting: VecDeque::with_capacity(MOST_WAITING),
            settled: 0,
            usual: (0, 0),
            uneven: 0,
            part,
            dropped: 0,
        })
    }

    fn listen(&mut self, now: DriveTime) -> Result<(), LinkFault> {
        for _ in 0..MOST_FRAMES {
            let Some(frame) = self.wire.receive()? else { break };
            let mut known = frame.id() >= cob::HEARTBEAT;
            for node in &mut self.nodes {
                known |= node.hear(now, &frame, &mut self.wire)?;
            }
            self.dropped += u64::from(!known);
        }
        Ok(())
    }

    fn is_live(&self) -> bool {
        self.nodes.iter().all(Node::is_live)
    }

    fn is_enabled(&self) -> bool {
        self.nodes.iter().all(|node| node.state() == DriveState::OperationEnabled && !node.live.closing)
    }

    /// Whether this program itself was away for so long that drives stop for it.
    fn was_away(&self, now: DriveTime, last_us: Option<u64>) -> bool {
        last_us.is_none_or(|last| now.0.saturating_sub(last) > self.silence_us / 2)
    }

    fn is_excused(&self, now: DriveTime) -> bool {
        self.kind == OrderKind::Off && now.0 < self.excused_us
    }

    fn far_end(&self) -> FarEnd {
        let nodes: Vec<String> = self.nodes.iter().map(|node| node.leg.node.to_string()).collect();
        let fold = |of: &dyn Fn(&Node) -> u64| {
            self.nodes.iter().fold(0_u64, |sum, node| sum.rotate_left(7) ^ of(node))
        };
        let [_, _, revision, serial] = [0, 1, 2, 3];
        let part = |node: &Node, at: usize| node.found.identity.get(at).copied().unwrap_or(0);
        FarEnd {
            name: format!("CiA 402, nodes {}", nodes.join(" ")),
            legs: self.nodes.len(),
            cycle_us: self.cycle_us,
            firmware: fold(&|node| u64::from(part(node, revision))) as u32,
            parameters: fold(&|node| node.found.sum),
            serials: self.nodes.iter().map(|node| u64::from(part(node, serial))).collect(),
        }
    }

    /// What is wrong: the first drive that has something.
    fn wrong(&self, now: DriveTime) -> Option<Wrong> {
        let excused = self.is_excused(now);
        self.nodes.iter().find_map(|node| node.judge(now, excused))
    }

    fn input(&self, now: DriveTime, terminal: Option<Terminal>) -> Input {
        let node = terminal.and_then(|at| Some((self.nodes.get(at.leg)?, at.bit)));
        match node.and_then(|(node, bit)| node.input(now, bit)) {
            None => Input::Unknown,
            Some(false) => Input::Open,
            Some(true) => Input::Closed,
        }
    }

    /// All brakes together.
    fn brakes(&self, now: DriveTime) -> Brakes {
        let of = |node: &Node| node.brake(now);
        let first = self.nodes.first().and_then(of);
        let agree = self.nodes.iter().all(|node| of(node) == first);
        first.filter(|_| agree).unwrap_or(Brakes::Unknown)
    }

    fn power_state(&self, wrong: Option<&Wrong>) -> PowerState {
        let homes = self.nodes.iter().any(|node| node.live.is_moving()) && self.kind == OrderKind::Home;
        match self.kind {
            _ if wrong.is_some() => PowerState::Fault,
            _ if self.nodes.iter().any(|node| node.state() == DriveState::QuickStop) => PowerState::Stop,
            OrderKind::Home if homes => PowerState::Home,
            _ if !self.is_enabled() => PowerState::Off,
            OrderKind::Follow => PowerState::Follow,
            OrderKind::Jog => PowerState::Jog,
            _ => PowerState::Hold,
        }
    }

    fn report(&self, now: DriveTime, round_trip_us: Option<u64>) -> DriveReport {
        let wrong = self.wrong(now);
        let of = |value: &dyn Fn(&Node) -> f64| {
            Legs::from_fn(self.nodes.len(), |leg| self.nodes.get(leg).map_or(f64::NAN, value))
        };
        let inputs = &self.part.inputs;
        DriveReport {
            round_trip_us,
            state: self.power_state(wrong.as_ref()),
            brakes: self.brakes(now),
            inputs: Inputs {
                presence: self.input(now, inputs.presence),
                gate: self.input(now, inputs.gate),
                mat: self.input(now, inputs.mat),
                belt: self.input(now, inputs.belt),
                stop: self.input(now, inputs.stop),
            },
            power: self.is_enabled(),
            homed: self.nodes.iter().all(Node::is_homed),
            // The others must not wait for one that cannot say that it stands.
            moving: self.nodes.iter().any(|node| node.live.is_moving() && !node.is_lost(now)),
            fault: wrong.map(|(fault, cause)| (fault, cause.leg)),
            cause: wrong.map(|(_, cause)| cause),
            lengths_m: of(&|node| node.leg.length_m(node.heard.position)),
            speeds_m_s: of(&|node| {
                if node.is_lost(now) { f64::NAN } else { node.speed_m_s(self.cycle_us) }
            }),
            forces_n: of(&|node| {
                node.heard.second.map_or(f64::NAN, |(torque, _, _)| node.leg.force_n(torque))
            }),
            temperatures_c: Legs::filled(self.nodes.len(), f64::NAN),
            rejected: 0,
        }
    }

    /// Reports that every drive has given since they were counted last; the time since the synchronisation that the
    /// newest of them answers.
    fn answered(&mut self, now: DriveTime) -> Option<u64> {
        let count = self.nodes.iter().map(|node| node.heard.reports).min().unwrap_or(0);
        let mut since = None;
        for _ in 0..count {
            since = self.waiting.pop_front().or(since);
        }
        for node in &mut self.nodes {
            node.heard.reports -= count;
        }
        // A drive that is late from the first stays as late, and that is its round trip. One that falls behind under way
        // for several cycles has lost a report, and whoever counts on would take each for the answer to an older
        // synchronisation: what it did not answer is not waited for. At most a cycle too young then.
        let ahead = self.nodes.iter().map(|node| node.heard.reports).max().unwrap_or(0);
        if self.settled < SETTLES {
            // The later half of them: at first none can have answered that is late. One looked at too early is no rule.
            let is_first = self.settled < SETTLES / 2;
            let (ahead_before, waiting_before) = if is_first { (u32::MAX, usize::MAX) } else { self.usual };
            self.usual = (ahead.min(ahead_before), self.waiting.len().min(waiting_before));
            self.settled += 1;
        }
        let more = ahead.saturating_sub(self.usual.0);
        self.uneven = if more > 0 { self.uneven.saturating_add(1) } else { 0 };
        if self.uneven > UNEVEN {
            self.uneven = 0;
            let over = self.waiting.len().saturating_sub(self.usual.1).min(more as usize);
            self.waiting.drain(..over);
            for node in &mut self.nodes {
                node.heard.reports = node.heard.reports.saturating_sub(more);
            }
        }
        (count > 0).then(|| since.map_or(0, |at| now.0.saturating_sub(at)))
    }

    /// Sends an order to every drive; with the synchronisation, or without.
    fn tell(&mut self, now: DriveTime, order: &DriveOrder, synchronised: bool) -> Result<(), LinkFault> {
        order.is_for(self.nodes.len())?;
        // What did not go out in a whole cycle would go out beside newer orders.
        self.wire.flush()?;
        if self.wire.forget() > 0 {
            // Nobody will answer what may not have gone out.
            self.nodes.iter_mut().for_each(Node::ask_anew);
        }
        if self.was_away(now, self.sent_us) {
            self.excused_us = now.0 + EXCUSED_US;
        }
        (self.sent_us, self.kind) = (Some(now.0), order.kind);
        self.all_on_us = if self.is_enabled() { self.all_on_us.or(Some(now.0)) } else { None };
        let all_home = self.nodes.iter().all(Node::shows_homing);
        let all_homed = self.nodes.iter().all(Node::is_homed);
        let mut may_ask = self.nodes.iter().all(|node| !node.sdo.is_busy());
        for (leg, node) in self.nodes.iter_mut().enumerate() {
            let length_m = order.lengths_m[leg];
            let counts = node.leg.counts(length_m);
            // Only where set-points lead: before the first report no length is known.
            if order.kind == OrderKind::Follow && counts.is_none() {
                return Err(LinkFault::NotANumber);
            }
            let wish = Wish {
                kind: order.kind,
                release: order.release,
                warn: order.warn,
                target: counts.unwrap_or(node.heard.position),
                jog_m_s: order.speeds_m_s[leg],
                limit: node.leg.permille(order.force_limits_n[leg]),
                window: node.window(order.windows_m[leg]),
                all_on_us: self.all_on_us,
                all_home,
                may_ask,
                ends_m: self.ends_m.get(leg).copied().filter(|_| all_homed),
                cycle_us: self.cycle_us,
            };
            node.order(now, &wish, &mut self.wire)?;
            may_ask &= !node.sdo.is_busy();
        }
        if self.beaten_us.is_none_or(|at| now.0.saturating_sub(at) >= self.beat_us) {
            self.beaten_us = Some(now.0);
            self.wire.send(&heartbeat(self.part.host))?;
        }
        if !synchronised {
            return self.wire.flush();
        }
        // Last: with it the drives take their set-points on, and tell where they are.
        self.wire.send(&sync())?;
        if self.waiting.len() >= MOST_WAITING {
            self.waiting.clear();
            self.settled = 0;
            self.nodes.iter_mut().for_each(|node| node.heard.reports = 0);
        }
        self.waiting.push_back(now.0);
        self.wire.flush()
    }
}

impl<W: CanWire> DriveLink for CanLink<W> {
    fn asking(&self) -> Asking {
        // About 120 objects a drive, written and read back, each in a few calls.
        Asking { every_us: 1_000, most_us: 20_000_000 }
    }

    fn identify(&mut self, now: DriveTime) -> Result<Option<FarEnd>, LinkFault> {
        self.listen(now)?;
        // Reports come with SYNC, and that only once every drive is set up: one that is does not wait for the others.
        let waits = self.nodes.iter().all(|node| node.is_live() || node.is_starting());
        for node in &mut self.nodes {
            if !waits {
                node.start_later(now);
            }
            node.set_up(now, &mut self.wire)?;
        }
        let live_us = self.is_live().then(|| *self.live_us.get_or_insert(now.0));
        if live_us.is_some_and(|since| now.0.saturating_sub(since) > QUIET_US) {
            return Ok(Some(self.far_end()));
        }
        let due = self.sent_us.is_none_or(|at| now.0.saturating_sub(at) >= u64::from(self.cycle_us));
        if waits && due {
            let off = DriveOrder::off(now, self.nodes.len());
            self.tell(now, &off, live_us.is_none())?;
        }
        self.wire.flush()?;
        Ok(None)
    }

    fn poll(&mut self, now: DriveTime) -> Result<Option<DriveReport>, LinkFault> {
        self.listen(now)?;
        if self.was_away(now, self.polled_us) {
            // What came meanwhile is not the drives' silence but this program's.
            for node in &mut self.nodes {
                (node.heard.report_us, node.heard.alive_us, node.heard.reports) = (now.0, now.0, 0);
                node.heard.second = None;
            }
            self.waiting.clear();
            (self.settled, self.resumed_us) = (0, now.0);
        }
        self.polled_us = Some(now.0);
        for node in &mut self.nodes {
            node.watch(now);
            node.feel(now);
        }
        let round_trip_us = self.answered(now);
        let lost = self.nodes.iter().filter(|node| node.is_lost(now)).count();
        // Forces and inputs come after positions: without them a report would say that nothing is known.
        let begins = now.0.saturating_sub(self.resumed_us) <= self.silence_us;
        if begins && self.nodes.iter().any(|node| node.heard.second.is_none()) {
            return Ok(None);
        }
        // One that is lost is a fault of its own, and the others must not wait for it; all lost are a lost link.
        let some_lost = lost > 0 && lost < self.nodes.len();
        Ok((round_trip_us.is_some() || some_lost).then(|| self.report(now, round_trip_us)))
    }

    fn send(&mut self, now: DriveTime, order: &DriveOrder) -> Result<(), LinkFault> {
        self.tell(now, order, true)
    }

    /// With the synchronisation, so by no date of ours.
    fn is_dated(&self) -> bool {
        false
    }

    fn leave(&mut self) -> Result<(), LinkFault> {
        // Otherwise the drives' own time-outs have the word.
        if !self.is_live() || !self.nodes.iter().all(|node| node.live.is_off()) {
            return Ok(());
        }
        for node in &self.nodes {
            let [low, high] = control::DISABLE_VOLTAGE.to_le_bytes();
            self.wire.send(&CanFrame::of(cob::RPDO1, node.leg.node, &[low, high, 0, 0, 0, 0]))?;
        }
        self.wire.send(&sync())?;
        for node in &self.nodes {
            let id = node.leg.node;
            self.wire.send(&sdo::write(id, Object::at(0x1016, 1), Value::u32(0)))?;
            self.wire.send(&NmtCommand::PreOperational.to(id))?;
        }
        self.wire.flush()
    }

    fn dropped(&self) -> u64 {
        self.dropped + self.wire.dropped()
    }
}

impl From<CanFault> for LinkFault {
    fn from(fault: CanFault) -> Self {
        LinkFault::Can(fault)
    }
}
