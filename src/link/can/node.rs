//! One drive on the bus: how it is set up, and what it has said. What it is told stands in `live.rs`, what is wrong with
//! it in `judge.rs`.

use super::cia402::DriveState;
use super::fault::CanFault;
use super::live::Live;
use super::network::{NmtCommand, NmtState, cob};
use super::sag::Sag;
use super::sdo::{Sdo, Value};
use super::setup::{Found, Shared, Step, settings, who, window};
use super::wire::{CanFrame, CanWire};
use crate::link::{DriveTime, LinkFault};
use crate::rig::can::CanLeg;

/// How often a node is asked who it is before nobody is there: it may have only just got its supply.
const ASKED: u8 = 5;

/// A node that was started reports within this, microseconds (own choice).
const STARTS_US: u64 = 1_000_000;

/// Positions kept to tell speeds by.
const HISTORY: usize = 16;

/// How far its setting up has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stage {
    /// The step of those that ask who it is, and how often that was tried.
    Who(usize, u8),
    /// The step of its settings.
    Settings(usize),
    /// Told to begin with reports, when.
    Starting(u64),
    /// Reports.
    Live,
}

/// What a drive has said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Heard {
    /// Its statusword; none before the first report.
    pub(super) status: Option<u16>,
    pub(super) position: i32,
    /// The mode that it shows.
    pub(super) mode: i8,
    /// Torque in thousandths, and inputs; when they came.
    pub(super) second: Option<(i16, u32, u64)>,
    /// When its last report came, microseconds.
    pub(super) report_us: u64,
    /// When its last sign of life came.
    pub(super) alive_us: u64,
    pub(super) nmt: Option<NmtState>,
    /// Its last emergency; 0 when that is over.
    pub(super) emergency: u16,
    /// It has begun anew since it was set up.
    pub(super) booted: bool,
    /// Reports since they were last counted.
    pub(super) reports: u32,
}

/// A drive.
#[derive(Debug)]
pub(super) struct Node {
    pub(super) leg: CanLeg,
    pub(super) shared: Shared,
    /// Which leg, from 0.
    pub(super) index: usize,
    /// The output bit that sounds the warning, where it is on this drive.
    pub(super) warning: Option<u8>,
    who: Vec<Step>,
    settings: Vec<Step>,
    stage: Stage,
    pub(super) sdo: Sdo,
    pub(super) found: Found,
    pub(super) heard: Heard,
    pub(super) live: Live,
    /// How its leg sags, where the rig file says how far it may.
    pub(super) sag: Option<Sag>,
    past: [i32; HISTORY],
    /// How many of them there are.
    known: usize,
}

impl Node {
    pub(super) fn new(index: usize, leg: &CanLeg, shared: Shared, warning: Option<u8>) -> Self {
        Self {
            leg: leg.clone(),
            shared,
            index,
            warning,
            who: who(),
            settings: settings(leg, &shared, warning),
            stage: Stage::Who(0, 0),
            sdo: Sdo::of(leg.node),
            found: Found::default(),
            heard: Heard {
                status: None,
                position: 0,
                mode: 0,
                second: None,
                report_us: 0,
                alive_us: 0,
                nmt: None,
                emergency: 0,
                booted: false,
                reports: 0,
            },
            live: Live::new(shared.mode.number(), window(leg, shared.following_m), warning.is_some()),
            sag: leg.sag_m.map(|most_m| Sag::new(window(leg, most_m), leg.brake.is_some())),
            past: [0; HISTORY],
            known: 0,
        }
    }

    pub(super) fn is_live(&self) -> bool {
        self.stage == Stage::Live
    }

    /// Whether it waits for its first report.
    pub(super) fn is_starting(&self) -> bool {
        matches!(self.stage, Stage::Starting(_))
    }

    /// Its time to give a first report begins now.
    pub(super) fn start_later(&mut self, now: DriveTime) {
        if self.is_starting() {
            self.stage = Stage::Starting(now.0);
        }
    }

    pub(super) fn state(&self) -> DriveState {
        self.heard.status.map_or(DriveState::Unknown, DriveState::of)
    }

    /// One step of its setting up.
    ///
    /// # Errors
    /// When the drive is not what it must be, or the wire fails.
    pub(super) fn set_up(&mut self, now: DriveTime, wire: &mut dyn CanWire) -> Result<(), LinkFault> {
        if let Some(fault) = self.sdo.late(now) {
            match self.stage {
                // Nobody yet: asked again.
                Stage::Who(0, tried) if tried + 1 < ASKED => self.stage = Stage::Who(0, tried + 1),
                _ => return Err(fault.into()),
            }
        }
        match self.stage {
            Stage::Starting(_) if self.heard.status.is_some() => {
                self.stage = Stage::Live;
                (self.heard.alive_us, self.heard.report_us) = (now.0, now.0);
            }
            Stage::Starting(since) if now.0.saturating_sub(since) > STARTS_US => {
                return Err(CanFault::NoReport { node: self.leg.node }.into());
            }
            _ => {}
        }
        let step = match self.stage {
            Stage::Who(at, _) => self.who.get(at),
            Stage::Settings(at) => self.settings.get(at),
            _ => None,
        };
        if let Some(step) = step
            && let Some(frame) = self.sdo.begin(now, step.task)
        {
            wire.send(&frame)?;
        }
        Ok(())
    }

    /// What came of the step under way, while it is set up.
    fn stepped(
        &mut self,
        now: DriveTime,
        result: Result<Value, CanFault>,
        wire: &mut dyn CanWire,
    ) -> Result<(), LinkFault> {
        let (at, steps) = match self.stage {
            Stage::Who(at, _) => (at, &self.who),
            Stage::Settings(at) => (at, &self.settings),
            _ => return Ok(()),
        };
        let Some(step) = steps.get(at).copied() else { return Ok(()) };
        self.found.take(step, result, &self.leg, &self.shared)?;
        let ended = at + 1 >= steps.len();
        self.stage = match (self.stage, ended) {
            (Stage::Who(..), true) => {
                // Only now: it is known who it is, and that nobody else runs it.
                wire.send(&NmtCommand::PreOperational.to(self.leg.node))?;
                Stage::Settings(0)
            }
            (Stage::Who(..), false) => Stage::Who(at + 1, 0),
            (_, true) if !self.found.stops_in_silence() => {
                return Err(CanFault::NoWatchdog { node: self.leg.node }.into());
            }
            (_, true) => {
                wire.send(&NmtCommand::Start.to(self.leg.node))?;
                (self.heard.booted, self.heard.nmt) = (false, None);
                Stage::Starting(now.0)
            }
            (_, false) => Stage::Settings(at + 1),
        };
        Ok(())
    }

    /// Takes a frame; whether it was this node's.
    ///
    /// # Errors
    /// When what it says while it is set up must not be so, or the wire fails.
    pub(super) fn hear(
        &mut self,
        now: DriveTime,
        frame: &CanFrame,
        wire: &mut dyn CanWire,
    ) -> Result<bool, LinkFault> {
        let Some(base) = frame.id().checked_sub(u16::from(self.leg.node)) else { return Ok(false) };
        let data = frame.data();
        match (base, data) {
            (cob::TPDO1, &[s0, s1, p0, p1, p2, p3, mode]) => {
                let heard = &mut self.heard;
                heard.status = Some(u16::from_le_bytes([s0, s1]));
                heard.position = i32::from_le_bytes([p0, p1, p2, p3]);
                heard.mode = mode as i8;
                heard.report_us = now.0;
                heard.reports = heard.reports.saturating_add(1);
                self.keep(self.heard.position);
            }
            (cob::TPDO2, &[t0, t1, i0, i1, i2, i3]) => {
                let inputs = u32::from_le_bytes([i0, i1, i2, i3]);
                self.heard.second = Some((i16::from_le_bytes([t0, t1]), inputs, now.0));
            }
            (cob::EMERGENCY, &[low, high, ..]) => self.heard.emergency = u16::from_le_bytes([low, high]),
            (cob::HEARTBEAT, &[state]) => {
                let state = NmtState::of(state);
                self.heard.alive_us = now.0;
                self.heard.nmt = Some(state);
                self.heard.booted |= state == NmtState::BootUp && (self.is_live() || self.is_starting());
            }
            (cob::SDO_ANSWER, data) => {
                let (result, next) = self.sdo.take(now, data);
                if let Some(next) = next {
                    wire.send(&next)?;
                }
                match result {
                    Some(result) if self.is_live() || self.is_starting() => self.live.done(result),
                    Some(result) => self.stepped(now, result, wire)?,
                    None => {}
                }
            }
            _ => return Ok(false),
        }
        Ok(true)
    }

    fn keep(&mut self, position: i32) {
        self.past.rotate_right(1);
        if let Some(first) = self.past.first_mut() {
            *first = position;
        }
        self.known = (self.known + 1).min(HISTORY);
    }

    /// Positions before now tell nothing any more: the drive counts from elsewhere.
    pub(super) fn forget(&mut self) {
        self.known = self.known.min(1);
    }

    /// Speed over the last 30 ms or so (own choice: one count more or less is then nothing), m/s.
    pub(super) fn speed_m_s(&self, cycle_us: u32) -> f64 {
        let wanted = (30_000 / cycle_us.max(1)).clamp(1, HISTORY as u32 - 1) as usize;
        let back = wanted.min(self.known.saturating_sub(1));
        match (self.past.first(), self.past.get(back)) {
            (Some(last), Some(first)) if back > 0 => {
                let counts = f64::from(*last) - f64::from(*first);
                counts / self.leg.counts_per_m() / (back as f64 * f64::from(cycle_us) * 1e-6)
            }
            _ => 0.0,
        }
    }

    /// Whether a bit of its inputs is on; `None` when that is not known, or was said too long ago.
    pub(super) fn input(&self, now: DriveTime, bit: u8) -> Option<bool> {
        let (_, inputs, at_us) = self.heard.second?;
        let fresh = now.0.saturating_sub(at_us) <= self.patience_us();
        (fresh && bit < 32).then_some(inputs >> bit & 1 == 1)
    }

    /// A following error window in counts, no more than the rig file's.
    pub(super) fn window(&self, window_m: f64) -> u32 {
        window(&self.leg, window_m.min(self.shared.following_m))
    }

    /// Silence of the drive that is not borne, microseconds.
    pub(super) fn patience_us(&self) -> u64 {
        u64::from(self.shared.silence_ms) * 1000
    }
}
