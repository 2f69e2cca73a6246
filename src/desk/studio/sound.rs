//! What is to be heard: of a rehearsal by its playhead, on the drives by where the run is.

use super::{Mode, Studio};
use crate::desk::understand::Understood;
use crate::link::lag_s;
use crate::scenario::Scenario;
use std::sync::Arc;

/// A start of sound; another one whenever it has to begin anew.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lap {
    /// Of a rehearsal.
    Rehearsed(u64),
    /// Of a run on drives.
    Driven(u64),
}

/// What is to be heard from now on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToHear {
    /// From where, scene seconds.
    pub from_s: f64,
    /// To where, scene seconds.
    pub to_s: f64,
    /// Scene seconds in a second.
    pub tempo: f64,
}

impl Studio {
    /// The scene that sounds or may sound at any moment, and what it was understood from: of a rehearsal while it plays, on
    /// drives while a link is engaged.
    pub fn sounding_scene(&self) -> Option<(Arc<Scenario>, Arc<Understood>)> {
        if self.mode() == Mode::OnDrives {
            let checked = self.checked.as_ref()?;
            return Some((checked.report.plan().scenario().clone(), checked.understood.clone()));
        }
        let motion = self.playing()?;
        Some((motion.plan.scenario().clone(), motion.understood.clone()))
    }

    /// Which start of sound it is now; `None` while nothing is to be heard.
    pub fn sound_lap(&self) -> Option<Lap> {
        match self.mode() {
            Mode::OnDrives => self.drives.sounding().lap().map(Lap::Driven),
            _ => self.playing().map(|_| Lap::Rehearsed(self.lap)),
        }
    }

    /// What is to be heard from now on, at `now_s` of the computer's clock; `None` while nothing is. As late as the rig: what
    /// is heard belongs to where the legs are.
    pub fn to_hear(&self, now_s: f64) -> Option<ToHear> {
        if self.mode() == Mode::OnDrives {
            let to_s = self.checked.as_ref()?.report.plan().length_s();
            let from_s = self.drives.sounding().from_s(now_s, self.driven_lag_s())?;
            return Some(ToHear { from_s, to_s, tempo: 1.0 });
        }
        self.playing()?;
        let transport = &self.transport;
        let (from_s, to_s) = (transport.at_s - self.lag_s(), transport.played_s.1);
        Some(ToHear { from_s, to_s, tempo: transport.tempo })
    }

    /// What is heard now, scene seconds, at `now_s` of the computer's clock: held against where the run is, and told to it
    /// for its record.
    pub fn hears(&mut self, heard_s: Option<f64>, now_s: f64) {
        let lag_s = self.driven_lag_s();
        self.drives.hears(heard_s, now_s, lag_s);
    }

    /// Whether nothing moves on drives, or is about to.
    pub fn stands_still(&self) -> bool {
        self.drives.shown().is_none_or(|shown| !shown.moving)
    }

    /// How late the legs of a run are by their rig file, s.
    fn driven_lag_s(&self) -> f64 {
        let checked = self.checked.as_ref().filter(|_| self.mode() == Mode::OnDrives);
        checked.map_or(0.0, |checked| lag_s(&checked.report.plan().rig().drive))
    }
}
