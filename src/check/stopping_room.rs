//! Where the platform would come to rest if it were told to stop now: the rest pose as gauge values.

use crate::rig::{Rig, kinematics, stopping};
use crate::signal::Jet;

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
