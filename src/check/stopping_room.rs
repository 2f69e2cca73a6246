//! Where the platform would come to rest if it were told to stop now: the rest pose as gauge values.

use super::Quantity;
use super::between::Between;
use super::gauge::{Extreme, Gauge, Part};
use crate::motion::Frames;
use crate::rig::{Rig, kinematics, stopping};
use crate::signal::{Jet, JetBlock};
use std::ops::Range;

/// A leg length or coordinate at rest after a stop, and what the estimate hangs on.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Rest {
    /// One a leg, m: the furthest that its length gets from level on the way, the rest pose included.
    pub(super) legs_m: Vec<(f64, f64)>,
    /// One a coordinate, rad or m.
    pub(super) axes: Vec<f64>,
    /// Time to rest, s.
    pub(super) time_s: f64,
    /// Deceleration that the leg which sets the pace has left, m/s^2.
    pub(super) left_m_s2: f64,
}

/// The stop from a state; `None` when some leg has nothing left to brake with.
pub(super) fn rest(rig: &Rig, platform: &[Jet]) -> Option<Rest> {
    let part = |k: usize| platform.iter().map(|jet| jet.0[k]).collect::<Vec<_>>();
    let q = part(0);
    let stop = stopping::stop(rig, &q, &part(1), &part(2))?;
    // On the straight way to rest a leg's length bends by at most an eighth of its second derivative along it.
    let way: Vec<[f64; 5]> = stop
        .rest
        .iter()
        .zip(&q)
        .map(|(rest, q)| [q.abs().max(rest.abs()), (rest - q).abs(), 0.0, 0.0, 0.0])
        .collect();
    let (now, then) = (kinematics::lengths_m(rig, &q), kinematics::lengths_m(rig, &stop.rest));
    let legs_m = (0..rig.actuators.len())
        .map(|leg| {
            let shortest = rig.actuators[leg].min_m.min(now[leg]).min(then[leg]);
            let bend = kinematics::leg_bound(rig, leg, &way, shortest)[2] / 8.0;
            (now[leg].min(then[leg]) - bend, now[leg].max(then[leg]) + bend)
        })
        .collect();
    Some(Rest { legs_m, axes: stop.rest, time_s: stop.time_s, left_m_s2: stop.left_m_s2 })
}

/// What rest poses of neighbouring samples may exceed the one looked at by: first order in time.
pub(super) struct Allowances {
    half_s: f64,
    /// Largest |speed| and |acceleration| over the samples and the steps around them, one a leg, then one a coordinate.
    legs: Vec<(f64, f64)>,
    axes: Vec<(f64, f64)>,
    time_s: f64,
    /// Change of speed over the deceleration that is left, at most, for each second.
    drift: f64,
}

impl Allowances {
    /// From some samples, `step_s` apart, that hold for `half_s` to either side of the one looked at.
    pub(super) fn new(
        frames: &Frames,
        between: &Between,
        samples: Range<usize>,
        step_s: f64,
        half_s: f64,
        rest: Option<&Rest>,
    ) -> Self {
        let fastest = |block: &JetBlock, part: Part| {
            let most = |order: usize| {
                let row = block.0[order][samples.clone()].iter();
                row.fold(0.0_f64, |most, value| most.max(value.abs()))
                    + between.allowance_over(part, order, step_s)
            };
            (most(1), most(2))
        };
        let legs: Vec<_> =
            frames.legs.iter().enumerate().map(|(k, block)| fastest(block, Part::Leg(k))).collect();
        let axes =
            frames.platform.iter().enumerate().map(|(k, block)| fastest(block, Part::Axis(k))).collect();
        let (time_s, left_m_s2) = rest.map_or((0.0, 1.0), |rest| (rest.time_s, rest.left_m_s2));
        let drift = legs.iter().fold(0.0_f64, |most, (_, acceleration)| most.max(acceleration / left_m_s2));
        Self { half_s, legs, axes, time_s, drift }
    }

    /// The rest pose moves with the pose, with the speed times the stopping time, and with the stopping time's own
    /// change, which is at most the change of speed over the deceleration that is left.
    fn of(&self, part: Part) -> f64 {
        let (speed, acceleration) = match part {
            Part::Leg(leg) => self.legs[leg],
            Part::Axis(axis) => self.axes[axis],
        };
        self.half_s * (speed * (1.0 + self.drift) + acceleration * self.time_s)
    }

    /// Holds a rest pose against every stopping gauge.
    pub(super) fn take(&self, rest: Option<&Rest>, at_s: f64, gauges: &[Gauge], extremes: &mut [Extreme]) {
        for (extreme, gauge) in extremes.iter_mut().zip(gauges) {
            if gauge.quantity != Quantity::Stopping {
                continue;
            }
            let (low, high) = match (gauge.part, rest) {
                (Part::Leg(leg), Some(rest)) => rest.legs_m[leg],
                (Part::Axis(axis), Some(rest)) => (rest.axes[axis], rest.axes[axis]),
                // Nothing left to brake with: it would run to the end.
                (_, None) => (gauge.rest, gauge.rest + 2.0 * (gauge.high - gauge.rest)),
            };
            let allowance = self.of(gauge.part);
            extreme.take(gauge, low, allowance, at_s);
            extreme.take(gauge, high, allowance, at_s);
        }
    }
}
