//! What is wrong in a cycle on drives, by what the far end says and by what this computer knows of itself.

use super::super::session::Session;
use super::super::thresholds::*;
use super::DriveCycle;
use crate::link::frame::FrameFault;
use crate::link::{DriveLink, DriveReport};
use crate::safety::operation::{Brakes, Trouble};

impl<L: DriveLink> DriveCycle<L> {
    /// Legs come to rest later than their set-points: by the link, and by the lag of their loops.
    pub(super) fn follows(&mut self, path_moves: bool, report: &DriveReport) -> bool {
        self.still_us = if path_moves { 0 } else { self.still_us.saturating_add(self.setup.cycle_us) };
        let heard = self.age <= self.patience;
        // A leg that is not heard has no speed, and brakes must not wait for it while the others hold by torque.
        let fast = heard && report.speeds_m_s.iter().any(|v| v.abs() > SLOW_M_S);
        path_moves || fast || self.still_us < self.forces.lead_us + LAG_US
    }

    pub(super) fn trouble(&mut self, report: &DriveReport, late_us: u32) -> Option<Trouble> {
        if self.is_stranger {
            return Some(Trouble::WrongRig);
        }
        // A far end that heard nothing because nothing was sent in time is not to blame, nor is the link.
        let own_lag = self.lag_us >= self.latest_us / 2;
        let far = report.fault.map(|(fault, _)| match fault {
            FrameFault::Silence if own_lag => Some(Trouble::HostLate),
            FrameFault::Silence => Some(Trouble::Silence),
            FrameFault::Drive | FrameFault::Brake | FrameFault::Homing => Some(Trouble::Drive),
            FrameFault::Following => Some(Trouble::Following),
            FrameFault::EndSwitch => Some(Trouble::EndSwitch),
            FrameFault::Hot => Some(Trouble::Hot),
            // That is the stop input's, and not a fault of the drives.
            FrameFault::Stop => None,
        });
        let moving = self.run.is_moving();
        // What is wrong with a path counts only while it leads: the way out of it by hand does not.
        let leads = self.session.as_ref().filter(|_| self.following);
        let starved = moving && leads.is_some_and(|session| session.view().starved);
        let tripped = leads.is_some_and(Session::is_tripped);
        let slips = self.is_braked()
            && report.brakes == Brakes::Set
            && report.speeds_m_s.iter().any(|v| v.abs() > SLIP_M_S);
        let found = [
            (tripped, Trouble::Following),
            (moving && u64::from(late_us) > self.latest_us, Trouble::HostLate),
            (starved, Trouble::FramesLow),
            (self.forces.are_off(), Trouble::Force),
            (slips, Trouble::BrakeSlips),
            // Not while it moves only: nothing begins without a record.
            (self.record_lost, Trouble::RecordLost),
        ];
        far.flatten().or_else(|| found.into_iter().find(|(there, _)| *there).map(|(_, trouble)| trouble))
    }
}
