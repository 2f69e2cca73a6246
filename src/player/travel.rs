//! Moves from rest to rest: to the first pose, to park, to level. Straight in leg lengths, all legs together.
//!
//! A straight line of leg lengths keeps every leg's ratio, so one number travels from 0 to the longest leg's way and
//! is timed by rsruckig (time-optimal and jerk-limited). Straight in leg lengths is inside the strokes when both ends
//! are; the joints are looked at along the way, and a line that would pass one is refused.

use super::scene::{Mechanism, PastJoint};
use crate::safety::{Legs, Limits};
use rsruckig::prelude::{InputParameter, Ruckig, RuckigResult, ThrowErrorHandler, Trajectory};

/// How fast a leg may move from rest to rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pace {
    /// m/s
    pub(super) speed_m_s: f64,
    /// m/s^2
    pub(super) acceleration_m_s2: f64,
    /// m/s^3
    pub(super) jerk_m_s3: f64,
}

impl Pace {
    /// A part (0..1) of all three.
    pub(super) fn part(self, part: f64) -> Self {
        Self {
            speed_m_s: part * self.speed_m_s,
            acceleration_m_s2: part * self.acceleration_m_s2,
            jerk_m_s3: part * self.jerk_m_s3,
        }
    }

    fn smaller(self, other: Self) -> Self {
        Self {
            speed_m_s: self.speed_m_s.min(other.speed_m_s),
            acceleration_m_s2: self.acceleration_m_s2.min(other.acceleration_m_s2),
            jerk_m_s3: self.jerk_m_s3.min(other.jerk_m_s3),
        }
    }
}

/// Why there is no such move.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MoveError {
    /// An end is outside the strokes.
    #[error("leg {} would be at {at_m} m, expected {low_m} m to {high_m} m", leg + 1)]
    Outside {
        /// The leg, from 0.
        leg: usize,
        /// Where, m.
        at_m: f64,
        /// Shortest, m.
        low_m: f64,
        /// Longest, m.
        high_m: f64,
    },
    /// A joint would be past its range on the way.
    #[error("platform coordinate {} would come to {value} (rad or m), past its range", axis + 1)]
    Joint {
        /// Which, from 0.
        axis: usize,
        /// How far, rad or m.
        value: f64,
    },
    /// No pose of the platform has these leg lengths.
    #[error("no pose of the platform fits the legs at {share} of the way")]
    NoPose {
        /// 0..1
        share: f64,
    },
    /// The timing came out wrong.
    #[error("the move could not be timed: {0}")]
    Timing(String),
}

/// A move, ready to be played. Plain numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Move {
    from: Legs,
    to: Legs,
    /// The longest leg's way, m.
    way_m: f64,
    /// Way, speed, acceleration at the begin of each of seven phases, with its length and jerk.
    phases: [Phase; 7],
    duration_s: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Phase {
    length_s: f64,
    start: [f64; 4],
}

impl Phase {
    fn at(&self, t_s: f64) -> [f64; 3] {
        let [p, v, a, j] = self.start;
        [p + t_s * (v + t_s * (a / 2.0 + t_s * j / 6.0)), v + t_s * (a + t_s * j / 2.0), a + t_s * j]
    }
}

impl Move {
    /// The quickest move from rest at `from` to rest at `to`, each leg within its pace.
    ///
    /// # Errors
    /// When the timing fails or does not keep the paces.
    pub(super) fn timed(paces: &[Pace], from: Legs, to: Legs) -> Result<Self, MoveError> {
        let way_m = from.iter().zip(to.iter()).map(|(a, b)| (b - a).abs()).fold(0.0, f64::max);
        let still = Self { from, to, way_m: 0.0, phases: [Phase::default(); 7], duration_s: 0.0 };
        // A picometre is no way to go.
        if way_m < 1e-12 {
            return Ok(still);
        }
        let widest =
            Pace { speed_m_s: f64::INFINITY, acceleration_m_s2: f64::INFINITY, jerk_m_s3: f64::INFINITY };
        let pace = paces.iter().enumerate().fold(widest, |pace, (leg, own)| {
            let share = (to[leg] - from[leg]).abs() / way_m;
            if share > 0.0 { pace.smaller(own.part(1.0 / share)) } else { pace }
        });
        // rsruckig 3.0.1 finds nothing just where two of its forms meet (d = 2 a^3 / j^2, for one); a little less jerk
        // is no longer there.
        const TRIES: u32 = 4;
        let mut failed = MoveError::Timing(String::new());
        for attempt in 0..TRIES {
            let jerk_m_s3 = pace.jerk_m_s3 * (1.0 - 1e-7 * f64::from(attempt));
            match still.profile(way_m, Pace { jerk_m_s3, ..pace }) {
                Ok(made) => {
                    let made = Self { way_m, ..made };
                    made.verify(pace)?;
                    return Ok(made);
                }
                Err(e) => failed = e,
            }
        }
        Err(failed)
    }

    /// The same, its way looked at: strokes at both ends, joints all along it.
    ///
    /// # Errors
    /// When an end is outside, a joint would be passed, or the timing fails.
    pub(super) fn plan(
        limits: &Limits,
        paces: &[Pace],
        mechanism: &dyn Mechanism,
        from: Legs,
        to: Legs,
    ) -> Result<Self, MoveError> {
        for (leg, l) in limits.legs().iter().enumerate() {
            for at_m in [from[leg], to[leg]] {
                if !(at_m >= l.low_m - 1e-9 && at_m <= l.high_m + 1e-9) {
                    return Err(MoveError::Outside { leg, at_m, low_m: l.low_m, high_m: l.high_m });
                }
            }
        }
        let made = Self::timed(paces, from, to)?;
        made.look_at_joints(mechanism)?;
        Ok(made)
    }

    fn look_at_joints(&self, mechanism: &dyn Mechanism) -> Result<(), MoveError> {
        const STEPS: u32 = 100;
        let mut near = vec![0.0; mechanism.axes()];
        for step in 0..=STEPS {
            let share = f64::from(step) / f64::from(STEPS);
            let lengths = self.between(share);
            near = mechanism.pose(&lengths, &near).ok_or(MoveError::NoPose { share })?;
            if let Err(PastJoint { axis, value }) = mechanism.joints(&near) {
                return Err(MoveError::Joint { axis, value });
            }
        }
        Ok(())
    }

    fn profile(self, way_m: f64, pace: Pace) -> Result<Self, MoveError> {
        let failed = |e: &dyn std::fmt::Display| MoveError::Timing(e.to_string());
        let mut input = InputParameter::<1>::new(None);
        input.target_position[0] = way_m;
        input.max_velocity[0] = pace.speed_m_s;
        input.max_acceleration[0] = pace.acceleration_m_s2;
        input.max_jerk[0] = pace.jerk_m_s3;
        let mut trajectory = Trajectory::<1>::new(None);
        // The cycle given here only matters for rsruckig's own stepping, which is not used.
        let mut ruckig = Ruckig::<1, ThrowErrorHandler>::new(None, 0.001);
        let result = ruckig.calculate(&input, &mut trajectory).map_err(|e| failed(&e))?;
        if !matches!(result, RuckigResult::Working | RuckigResult::Finished) {
            return Err(MoveError::Timing(format!("{result:?}")));
        }
        let profile = trajectory
            .get_profiles()
            .first()
            .map(|dofs| dofs[0])
            .ok_or_else(|| failed(&"it has no phases"))?;
        let mut phases = [Phase::default(); 7];
        for (k, phase) in phases.iter_mut().enumerate() {
            phase.length_s = profile.t[k];
            phase.start = [profile.p[k], profile.v[k], profile.a[k], profile.j[k]];
        }
        Ok(Self { phases, duration_s: trajectory.get_duration(), ..self })
    }

    /// Looks at what came back, at the phases' ends and between, before it is trusted.
    fn verify(&self, pace: Pace) -> Result<(), MoveError> {
        let wrong = |what: &str| Err(MoveError::Timing(what.to_string()));
        let sum: f64 = self.phases.iter().map(|p| p.length_s).sum();
        if !(self.duration_s > 0.0 && (sum - self.duration_s).abs() <= 1e-9 * (1.0 + sum)) {
            return wrong("its phases do not add up to its duration");
        }
        let room = 1.0 + 1e-9;
        let mut before = [0.0, 0.0, 0.0];
        for phase in &self.phases {
            let jump = [0, 1, 2].map(|k| (phase.start[k] - before[k]).abs());
            let near = [self.way_m, pace.speed_m_s, pace.acceleration_m_s2];
            if !jump.iter().zip(near).all(|(jump, near)| *jump <= 1e-8 * (near + self.way_m)) {
                return wrong("it jumps");
            }
            for step in 0..=16 {
                let [_, v, a] = phase.at(phase.length_s * f64::from(step) / 16.0);
                let inside = v.abs() <= pace.speed_m_s * room
                    && a.abs() <= pace.acceleration_m_s2 * room
                    && phase.start[3].abs() <= pace.jerk_m_s3 * room;
                if !inside {
                    return wrong("it is faster than the pace");
                }
            }
            before = phase.at(phase.length_s);
        }
        let ends = (before[0] - self.way_m).abs() <= 1e-9 * (1.0 + self.way_m)
            && before[1].abs() <= 1e-8 * pace.speed_m_s
            && before[2].abs() <= 1e-6 * pace.acceleration_m_s2;
        if ends { Ok(()) } else { wrong("it does not end at rest where it should") }
    }

    /// Leg lengths at `t_s` from its start, m.
    pub(super) fn at_m(&self, t_s: f64) -> Legs {
        if t_s >= self.duration_s || self.way_m == 0.0 {
            return self.to;
        }
        let mut left_s = t_s.max(0.0);
        for phase in &self.phases {
            if left_s <= phase.length_s {
                return self.between((phase.at(left_s)[0] / self.way_m).clamp(0.0, 1.0));
            }
            left_s -= phase.length_s;
        }
        self.to
    }

    fn between(&self, share: f64) -> Legs {
        Legs::from_fn(self.from.len(), |leg| self.from[leg] + share * (self.to[leg] - self.from[leg]))
    }

    /// Where it begins, m.
    pub(super) fn start_m(&self) -> &Legs {
        &self.from
    }

    /// How long it takes, s.
    pub(super) fn duration_s(&self) -> f64 {
        self.duration_s
    }
}

#[cfg(test)]
mod tests;
