//! Forces on drives: what they may use in an act, and when what they report is not what the motion explains.
//!
//! A smaller gain is not a smaller force: a snagged cable or somebody under the frame meets whatever the drive can
//! give. So the drives are told how much the act needs, and a margin.

mod need;

use crate::check::Cleared;
use crate::rig::{Carried, NutForce, Rig};
use crate::safety::Legs;
use need::Need;
use std::sync::Arc;

/// What a drive may use above the largest force that is needed: a third of it, and a tenth of its thrust for friction (own
/// choice; friction of a preloaded screw is commonly some percent of its rated load).
const MARGIN: f64 = 1.0 / 3.0;
const FRICTION: f64 = 0.1;

/// How long a force may be off what is predicted, microseconds (own choice: some periods of the position loop).
const LONGEST_US: u64 = 60_000;

/// What drives may use, how far they may be off, and how fast legs go.
#[derive(Debug, Clone)]
pub(super) struct Forces {
    rig: Arc<Rig>,
    carried: Carried,
    /// On the path, N.
    pub(super) act_n: Legs,
    /// In jog and homing, N.
    pub(super) creep_n: Legs,
    /// How far a reported force may be from the predicted one, N.
    pub(super) residual_n: Legs,
    /// By how much set-points are sent ahead besides a cycle, microseconds.
    pub(super) lead_us: u64,
    /// What was predicted last, one a leg.
    predicted: [NutForce; crate::safety::MAX_LEGS],
    /// For how long a force has been off, microseconds.
    off_us: u64,
}

/// A thrust that the rig file does not give is not limited; four meganewtons is what a frame can carry.
const UNLIMITED_N: f64 = 4.0e6;

impl Forces {
    /// For a cleared plan, and the fastest that each leg goes in it, m/s.
    pub(super) fn of(cleared: &Cleared) -> (Self, Legs) {
        let plan = cleared.plan();
        let rest = Need::at_rest(plan.rig());
        let mut act = rest.clone();
        act.moves(plan.rig());
        act.scene(plan);
        (Self::with(plan.rig(), &act.most_n, &rest.most_n, &act.scene_n), act.fastest_m_s)
    }

    /// For forces (N, one a leg) that the path with its stops needs at most, such that hold the platform at rest, and those
    /// of the scene itself, in which a prediction may err.
    pub(super) fn with(rig: &Arc<Rig>, act_n: &Legs, rest_n: &Legs, scene_n: &Legs) -> Self {
        let legs = rig.actuators.len();
        let thrust = |leg: usize| rig.actuators.get(leg).map_or(0.0, |a| a.thrust_n).min(UNLIMITED_N);
        let bounded =
            |leg: usize, needs: f64| (needs * (1.0 + MARGIN) + FRICTION * thrust(leg)).min(thrust(leg));
        Self {
            rig: rig.clone(),
            carried: Carried::default(),
            act_n: Legs::from_fn(legs, |leg| bounded(leg, act_n[leg])),
            creep_n: Legs::from_fn(legs, |leg| bounded(leg, rest_n[leg])),
            residual_n: Legs::from_fn(legs, |leg| MARGIN * scene_n[leg] + FRICTION * thrust(leg)),
            lead_us: (rig.drive.link_s * 1e6).round() as u64,
            predicted: [NutForce::UNKNOWN; crate::safety::MAX_LEGS],
            off_us: 0,
        }
    }

    /// Predicts forces for legs of these lengths, speeds and accelerations (m, seconds; one a leg), where their lengths are
    /// known; half way between what the load cases need, N.
    pub(super) fn predict(&mut self, motion: Option<[Legs; 3]>) -> Legs {
        let found = motion.and_then(|[at_m, speed_m_s, up_m_s2]| {
            self.carried.cases_n(&self.rig, &at_m, &speed_m_s, &up_m_s2)
        });
        self.predicted = found.unwrap_or([NutForce::UNKNOWN; crate::safety::MAX_LEGS]);
        Legs::from_fn(self.act_n.len(), |leg| self.predicted[leg].middle_n())
    }

    /// One cycle's reported forces, N; what is no number on either side tells nothing. `loaded` while drives alone carry
    /// the platform: with a brake on, its torque is its own.
    pub(super) fn look(&mut self, reported_n: &Legs, cycle_us: u64, loaded: bool) {
        let each = self.predicted.iter().zip(reported_n.iter()).zip(self.residual_n.iter());
        let off = each.into_iter().any(|((predicted, reported), most)| predicted.off_n(*reported) > *most);
        self.off_us = if off && loaded { self.off_us.saturating_add(cycle_us) } else { 0 };
    }

    /// Whether a force was off for too long.
    pub(super) fn are_off(&self) -> bool {
        self.off_us > LONGEST_US
    }
}
