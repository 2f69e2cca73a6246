//! A rig, made ready for a run: limits for the governor, paces for moves, park and level lengths.

use super::scene::{Mechanism, RigMechanism};
use super::tempo::TempoLimits;
use super::travel::Pace;
use crate::rig::Rig;
use crate::safety::{Legs, Limits, LimitsError, MAX_AXES, MAX_LEGS, within_clearances, within_joints};
use std::sync::Arc;

/// Moves to the start, to park and to level use this part of the rig's speed, acceleration and jerk: they are made
/// with somebody climbing in or out in mind, not against the clock (our own choice).
pub(super) const MOVE_PART: f64 = 0.3;

/// The path's clock stops in about 0.45 s where the rig allows it (our own choice: short enough to let go by, long
/// enough not to jerk).
const TEMPO: TempoLimits = TempoLimits { change_per_s: 3.0, bend_per_s2: 30.0 };

/// Everything that a session needs to know of a rig.
#[derive(Clone)]
pub(super) struct Setup {
    pub(super) legs: Vec<String>,
    /// `pitch_rad`
    pub(super) axes: Vec<String>,
    pub(super) limits: Limits,
    pub(super) paces: Vec<Pace>,
    pub(super) park_m: Legs,
    pub(super) cycle_us: u64,
    pub(super) tempo: TempoLimits,
    pub(super) mechanism: Arc<dyn Mechanism>,
}

/// Why a rig cannot be played on.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SetupError {
    /// More legs or coordinates than a cycle carries.
    #[error(
        "the rig has {legs} legs and {axes} degrees of freedom, expected at most {MAX_LEGS} and {MAX_AXES}"
    )]
    TooMany {
        /// Legs.
        legs: usize,
        /// Coordinates.
        axes: usize,
    },
    /// Limits that cannot be held.
    #[error("the rig's limits cannot be held: {0}")]
    Limits(#[from] LimitsError),
}

impl Setup {
    /// From a rig file.
    ///
    /// # Errors
    /// When the rig has too many legs, or limits that leave no room.
    pub(super) fn of(rig: &Arc<Rig>) -> Result<Self, SetupError> {
        let limits = within_clearances(rig, within_joints(rig, Limits::of(rig)?)?)?;
        Self::with(rig, limits, Arc::new(RigMechanism(Arc::clone(rig))))
    }

    /// With limits and mechanics of the caller's.
    ///
    /// # Errors
    /// When the rig has too many legs.
    pub(super) fn with(rig: &Rig, limits: Limits, mechanism: Arc<dyn Mechanism>) -> Result<Self, SetupError> {
        let (legs, axes) = (rig.actuators.len(), rig.axes.len());
        if legs > MAX_LEGS || axes > MAX_AXES {
            return Err(SetupError::TooMany { legs, axes });
        }
        let unit = |axis: crate::rig::Axis| if axis.is_rotation() { "rad" } else { "m" };
        let paces: Vec<Pace> = rig
            .actuators
            .iter()
            .map(|a| Pace {
                speed_m_s: a.speed_m_s,
                acceleration_m_s2: a.acceleration_m_s2,
                jerk_m_s3: a.jerk_m_s3,
            })
            .collect();
        // Half of a leg's acceleration at its full speed, and half of its jerk, are left to the clock at most.
        let tempo = paces.iter().fold(TEMPO, |t, p| TempoLimits {
            change_per_s: t.change_per_s.min(0.5 * p.acceleration_m_s2 / p.speed_m_s),
            bend_per_s2: t.bend_per_s2.min(0.5 * p.jerk_m_s3 / p.speed_m_s),
        });
        Ok(Self {
            legs: rig.actuators.iter().map(|a| a.name.clone()).collect(),
            axes: rig.axes.iter().map(|a| format!("{}_{}", a.axis.word(), unit(a.axis))).collect(),
            limits,
            paces: paces.iter().map(|p| p.part(MOVE_PART)).collect(),
            park_m: Legs::from_fn(legs, |leg| rig.actuators[leg].park_m),
            cycle_us: u64::from(rig.drive.cycle_us),
            tempo,
            mechanism,
        })
    }

    /// For acts in which legs go no faster than this, m/s.
    pub(super) fn no_faster_than(self, fastest_m_s: &Legs) -> Self {
        Self { limits: self.limits.no_faster_than(fastest_m_s), ..self }
    }

    /// The level pose's leg lengths, m.
    pub(super) fn level_m(&self) -> Legs {
        let level = [0.0; MAX_AXES];
        let axes = level.get(..self.mechanism.axes()).unwrap_or(&[]);
        Legs::from_fn(self.legs.len(), |leg| self.mechanism.length_m(leg, axes))
    }

    /// The cycle, s.
    pub(super) fn cycle_s(&self) -> f64 {
        self.limits.period_s()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::sample::two_legs;
    use crate::player::session::Session;
    use crate::safety::{Governor, Keeps, Legs, StartError};

    /// The demo rig over a floor that its front edge comes too near to, nose down.
    #[test]
    fn its_limits_keep_clearances_too() {
        let text = include_str!("../../profiles/rigs/club-two-axis.toml");
        let text = text.replace("[\"0 m\", \"0 m\", \"0.62 m\"]", "[\"0 m\", \"0 m\", \"0.17 m\"]");
        let rig = Arc::new(crate::rig::load(crate::diag::SourceId(0), &text).rig.unwrap());
        let low_m = crate::rig::kinematics::lengths_m(&rig, &[-0.17, 0.0]);
        let refused = Governor::start(Setup::of(&rig).unwrap().limits, &low_m).unwrap_err();
        assert!(matches!(refused, StartError::Bound { keeps: Keeps::Clearance, .. }), "{refused:?}");
        // Where a stop ended a little past it, there is a way back, and none further in.
        let setup = Setup::of(&rig).unwrap();
        let nose_down =
            |milli_rad: i32| crate::rig::kinematics::lengths_m(&rig, &[-1e-3 * f64::from(milli_rad), 0.0]);
        let past_m = |lengths_m: &[f64]| match Governor::start(setup.limits.clone(), lengths_m) {
            Err(StartError::Bound { by_m, .. }) => by_m,
            _ => 0.0,
        };
        let past: Vec<_> = (0..170).map(nose_down).filter(|lengths_m| past_m(lengths_m) > 0.0).collect();
        let (a_little, far): (Vec<_>, Vec<_>) = past.into_iter().partition(|at_m| past_m(at_m) <= 0.010);
        assert!(a_little.len() > 3 && far.len() > 3, "{} {}", a_little.len(), far.len());
        assert!(far.iter().all(|at_m| Session::start(&setup, at_m, 0).is_err()));
        let last = a_little.len() - 1;
        for (at, wanted, goes) in [(2, 0, true), (2, 1, true), (1, 2, false), (1, last, false)] {
            let limits = setup.limits.clone().let_back(&a_little[at], 0.010);
            assert!(Session::start(&setup, &a_little[at], 0).is_ok());
            let mut governor = Governor::start(limits, &a_little[at]).unwrap();
            let mut stands_m = Legs::from_slice(&a_little[at]).unwrap();
            for _ in 0..2000 {
                (stands_m, _) = governor.step(&a_little[wanted], None);
            }
            let went_m = (stands_m[0] - a_little[at][0]).abs();
            assert_eq!(went_m > 1e-6, goes, "from {at} to {wanted}: {went_m} m");
        }
    }

    #[test]
    fn the_clock_is_gentler_on_a_rig_that_is_weaker() {
        let mut rig = two_legs();
        rig.actuators[1].jerk_m_s3 = 6.0;
        rig.actuators[0].acceleration_m_s2 = 0.6;
        let setup = Setup::of(&Arc::new(rig)).unwrap();
        assert_eq!((setup.tempo.change_per_s, setup.tempo.bend_per_s2), (1.0, 10.0));
        assert_eq!(setup.axes, ["pitch_rad", "roll_rad"]);
        assert!((setup.level_m()[0] - 0.75).abs() < 1e-12);
    }
}
