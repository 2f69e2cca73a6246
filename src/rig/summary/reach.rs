//! How far an axis goes, and what ends it.

use crate::rig::kinematics::lengths_m;
use crate::rig::{Rig, gravity_legs_n};
use serde::Serialize;

/// How far an axis goes both ways alike.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reach {
    /// rad or m.
    pub value: f64,
    /// `joint`, or the name of the leg that comes to its soft stop first.
    pub limited_by: String,
}

/// The first leg that is beyond its soft stops at `q`.
fn ended_by(rig: &Rig, q: &[f64]) -> Option<usize> {
    rig.actuators.iter().zip(lengths_m(rig, q)).position(|(leg, length)| {
        let (low, high) = leg.soft_ends_m();
        let inside = low..=high;
        !inside.contains(&length)
    })
}

/// How far axis `j` goes alone from level, both ways alike, before the joint or a leg ends it.
pub(super) fn alone(rig: &Rig, j: usize) -> Reach {
    const STEPS: usize = 400;
    const HALVINGS: usize = 40;
    let Some(limits) = rig.axes.get(j) else { return Reach { value: 0.0, limited_by: "joint".to_string() } };
    let most = limits.max.min(-limits.min);
    let ended = |value: f64| {
        let at = |value: f64| {
            let mut q = vec![0.0; rig.axes.len()];
            q[j] = value;
            ended_by(rig, &q)
        };
        at(value).or_else(|| at(-value))
    };
    let step = |k: usize| most * k as f64 / STEPS as f64;
    let Some(first) = (1..=STEPS).find(|k| ended(step(*k)).is_some()) else {
        return Reach { value: most, limited_by: "joint".to_string() };
    };
    let (mut inside, mut outside) = (step(first - 1), step(first));
    for _ in 0..HALVINGS {
        let middle = 0.5 * (inside + outside);
        if ended(middle).is_some() { outside = middle } else { inside = middle }
    }
    let leg = ended(outside).and_then(|leg| rig.actuators.get(leg));
    Reach { value: inside, limited_by: leg.map_or("joint".to_string(), |leg| leg.name.clone()) }
}

/// A corner of the joint's ranges.
pub(super) struct Corner {
    /// The leg that does not reach it.
    pub(super) ended_by: Option<usize>,
    /// What holds the platform on the way there, as far as the legs reach.
    pub(super) forces_n: Option<Vec<f64>>,
}

/// All corners, or none for a rig of more than six axes.
pub(super) fn corners(rig: &Rig) -> Vec<Corner> {
    let axes = rig.axes.len().min(6);
    let corner = |bits: usize| {
        let q: Vec<f64> = rig
            .axes
            .iter()
            .enumerate()
            .map(|(j, limits)| if bits >> j & 1 == 0 { limits.min } else { limits.max })
            .collect();
        // The last of ten steps towards the corner that all legs reach.
        let on_the_way =
            (0..=10).rev().map(|k| q.iter().map(|value| value * f64::from(k) / 10.0).collect::<Vec<_>>());
        let reached = on_the_way.into_iter().find(|q| ended_by(rig, q).is_none());
        Corner { ended_by: ended_by(rig, &q), forces_n: reached.and_then(|q| gravity_legs_n(rig, &q)) }
    };
    (0..1 << axes).map(corner).collect()
}
