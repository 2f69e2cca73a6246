//! Forces on drives: what they may use in an act, and when what they report is not what the plan explains.
//!
//! A smaller gain is not a smaller force: a snagged cable or somebody under the frame meets whatever the drive can
//! give. So the drives are told how much the plan needs, and a margin.

use crate::check::Cleared;
use crate::rig::{Rig, gravity_legs_n, legs_n};
use crate::safety::Legs;

/// What a drive may use above the plan's largest force: a third of it, and a tenth of its thrust for friction (own
/// choice; friction of a preloaded screw is commonly some percent of its rated load).
const MARGIN: f64 = 1.0 / 3.0;
const FRICTION: f64 = 0.1;

/// How often a plan's forces are looked at, Hz (own choice).
const LOOKS_HZ: u32 = 200;

/// How long a force may be off what is predicted, microseconds (own choice: some periods of the position loop).
const LONGEST_US: u64 = 60_000;

/// What drives may use, and how far they may be off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Forces {
    /// On the path, N.
    pub(super) act_n: Legs,
    /// In jog and homing, N.
    pub(super) creep_n: Legs,
    /// How far a reported force may be from the predicted one, N.
    pub(super) residual_n: Legs,
    /// By how much set-points are sent ahead besides a cycle, microseconds.
    pub(super) lead_us: u64,
}

/// A thrust that the rig file does not give is not limited; four meganewtons is what a frame can carry.
const UNLIMITED_N: f64 = 4.0e6;

impl Forces {
    /// For a cleared plan, looked at [`LOOKS_HZ`] times a second: a knock of some hundredths of a second is not passed over.
    pub(super) fn of(cleared: &Cleared) -> Self {
        let plan = cleared.plan();
        let rig = plan.rig();
        let legs = rig.actuators.len();
        let mut peak = resting_n(rig, legs);
        let stride = (plan.rate().hz() / LOOKS_HZ).max(1) as usize;
        let mut frames = plan.frames();
        for block in 0..plan.blocks() {
            plan.render_platform(block, &mut frames);
            for sample in (0..frames.count).step_by(stride) {
                let jets: Vec<[f64; 3]> = frames
                    .platform
                    .iter()
                    .map(|axis| axis.at(sample).0)
                    .map(|j| [j[0], j[1], j[2]])
                    .collect();
                let at = |k: usize| jets.iter().map(|jet| jet[k]).collect::<Vec<f64>>();
                let Some(forces) = legs_n(rig, &at(0), &at(1), &at(2)) else { continue };
                for (peak, force) in peak.iter_mut().zip(forces) {
                    *peak = peak.max(force.abs());
                }
            }
        }
        Self::with(rig, &peak)
    }

    /// For forces (N, one a leg) that the plan needs at most.
    pub(super) fn with(rig: &Rig, peak_n: &Legs) -> Self {
        let legs = rig.actuators.len();
        let thrust = |leg: usize| rig.actuators.get(leg).map_or(0.0, |a| a.thrust_n).min(UNLIMITED_N);
        let rest = resting_n(rig, legs);
        let bounded =
            |leg: usize, needs: f64| (needs * (1.0 + MARGIN) + FRICTION * thrust(leg)).min(thrust(leg));
        Self {
            act_n: Legs::from_fn(legs, |leg| bounded(leg, peak_n[leg])),
            creep_n: Legs::from_fn(legs, |leg| bounded(leg, rest[leg])),
            residual_n: Legs::from_fn(legs, |leg| MARGIN * peak_n[leg] + FRICTION * thrust(leg)),
            lead_us: (rig.drive.link_s * 1e6).round() as u64,
        }
    }
}

/// Forces that hold the platform at the ends of its joint's ranges and level, the largest of each leg, N.
fn resting_n(rig: &Rig, legs: usize) -> Legs {
    let mut most = Legs::filled(legs, 0.0);
    let axes = rig.axes.len();
    for corner in 0..3usize.pow(axes.min(6) as u32) {
        let mut index = corner;
        let pose: Vec<f64> = rig
            .axes
            .iter()
            .map(|axis| {
                let at = index % 3;
                index /= 3;
                [0.0, axis.min, axis.max].get(at).copied().unwrap_or(0.0)
            })
            .collect();
        let Some(forces) = gravity_legs_n(rig, &pose) else { continue };
        most.iter_mut().zip(forces).for_each(|(most, force)| *most = most.max(force.abs()));
    }
    most
}

/// Looks at reported forces cycle by cycle.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Watchdog {
    off_us: u64,
}

impl Watchdog {
    /// One cycle's forces; what is no number on either side tells nothing.
    pub(super) fn look(
        &mut self,
        forces: &Forces,
        predicted_n: &Legs,
        reported_n: &Legs,
        cycle_us: u64,
        moving: bool,
    ) {
        let off = predicted_n
            .iter()
            .zip(reported_n.iter())
            .zip(forces.residual_n.iter())
            .any(|((predicted, reported), most)| (predicted - reported).abs() > *most);
        self.off_us = if off && moving { self.off_us.saturating_add(cycle_us) } else { 0 };
    }

    /// Whether a force was off for too long.
    pub(super) fn is_tripped(&self) -> bool {
        self.off_us > LONGEST_US
    }
}
