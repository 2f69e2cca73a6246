//! A rig in a few lines: what it reaches, how fast, and how soon it stands.

mod reach;
mod text;

pub use reach::Reach;
pub use text::text;

use super::kinematics::{jacobian, lengths_m};
use super::{Axis, Interpolation, Rig, gravity_legs_n, stopping};
use serde::Serialize;

/// What `cueloom rig` says of a rig. SI units; heave positive up, as in the rig file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Summary {
    /// The rig's name.
    pub name: String,
    /// SHA-256 of its file, hex.
    pub hash: String,
    /// Height of the pivot above the floor, m, where the file says so.
    pub pivot_height_m: Option<f64>,
    /// Time between set-points, s.
    pub cycle_s: f64,
    /// `linear` or `cubic`.
    pub interpolation: &'static str,
    /// One for each axis, in the rig's order.
    pub axes: Vec<AxisSummary>,
    /// One for each leg.
    pub legs: Vec<LegSummary>,
    /// What a builder should bear in mind, one sentence each.
    pub cautions: Vec<String>,
}

/// One axis. Angles in rad, translations in m.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AxisSummary {
    /// `pitch`
    pub axis: &'static str,
    /// `rad` or `m`: the unit of what follows.
    pub unit: &'static str,
    /// The joint's range.
    pub min: f64,
    /// The joint's range.
    pub max: f64,
    /// How far it goes alone, both ways alike, and what ends it.
    pub alone: Reach,
    /// Largest rate at level, by the legs' speed limits, a second.
    pub rate: f64,
    /// Stop from that rate at level: how far it runs on. `None` when it cannot be braked.
    pub stop: Option<StopSummary>,
}

/// A stop from the largest rate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StopSummary {
    /// How far the axis runs on, rad or m.
    pub distance: f64,
    /// How far the leg that moves most runs on, m.
    pub leg_m: f64,
    /// From the call to rest, s.
    pub time_s: f64,
}

/// One leg.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LegSummary {
    /// `left`
    pub name: String,
    /// Arm of a crank, m: what follows in m is the way of its pin, arm times angle. Absent for a ball screw.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub crank_arm_m: Option<f64>,
    /// Length with the platform level, m.
    pub level_m: f64,
    /// Shortest, m.
    pub min_m: f64,
    /// Longest, m.
    pub max_m: f64,
    /// Kept free before either end, m.
    pub soft_stop_m: f64,
    /// Stroke left from level before the upper soft stop, m.
    pub longer_m: f64,
    /// Stroke left from level before the lower soft stop, m.
    pub shorter_m: f64,
    /// Where it parks, m.
    pub park_m: f64,
    /// Lever arm for each axis at level: m of leg for a rad, or for a m; without sign.
    pub arms: Vec<f64>,
    /// Limit of speed, m/s.
    pub speed_m_s: f64,
    /// Motor speed at that limit, rpm.
    pub motor_rpm: f64,
    /// Motor acceleration at the limit of acceleration, rad/s^2.
    pub motor_rad_s2: f64,
    /// Force that holds the platform level, N; + pushes. `None` at a singular pose.
    pub holding_n: Option<f64>,
    /// Limit of thrust, N, where the file says so.
    pub thrust_n: Option<f64>,
}

/// Sums up a rig.
pub fn summarise(rig: &Rig) -> Summary {
    Summary {
        name: rig.name.clone(),
        hash: rig.hash.clone(),
        pivot_height_m: rig.pivot_height_m,
        cycle_s: f64::from(rig.drive.cycle_us) * 1e-6,
        interpolation: match rig.drive.interpolation {
            Interpolation::Linear => "linear",
            Interpolation::Cubic => "cubic",
        },
        axes: (0..rig.axes.len()).map(|j| axis(rig, j)).collect(),
        legs: legs(rig),
        cautions: cautions(rig),
    }
}

fn axis(rig: &Rig, j: usize) -> AxisSummary {
    let limits = &rig.axes[j];
    let slopes = jacobian(rig, &[]);
    let rates = rig.actuators.iter().enumerate().map(|(i, leg)| leg.speed_m_s / slopes[(i, j)].abs());
    let rate = rates.fold(f64::INFINITY, f64::min);
    let (min, max) = match limits.axis {
        Axis::Heave => (-limits.max, -limits.min),
        _ => (limits.min, limits.max),
    };
    AxisSummary {
        axis: limits.axis.word(),
        unit: if limits.axis.is_rotation() { "rad" } else { "m" },
        min,
        max,
        alone: reach::alone(rig, j),
        rate,
        stop: stop(rig, j, rate),
    }
}

/// A stop from `rate` on axis `j` at level, the worse of both ways.
fn stop(rig: &Rig, j: usize, rate: f64) -> Option<StopSummary> {
    let level = vec![0.0; rig.axes.len()];
    let one_way = |rate: f64| {
        let mut rates = level.clone();
        *rates.get_mut(j)? = rate;
        let stop = stopping::stop_now(rig, &level, &rates, &level)?;
        let (before, after) = (lengths_m(rig, &level), lengths_m(rig, stop.rest()));
        let leg_m = before.iter().zip(&after).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        Some(StopSummary { distance: stop.rest().get(j)?.abs(), leg_m, time_s: stop.time_s })
    };
    let (a, b) = (one_way(rate)?, one_way(-rate)?);
    Some(if a.distance >= b.distance { a } else { b })
}

fn legs(rig: &Rig) -> Vec<LegSummary> {
    let (lengths, slopes, forces) = (lengths_m(rig, &[]), jacobian(rig, &[]), gravity_legs_n(rig, &[]));
    let leg = |(i, actuator): (usize, &super::Actuator)| LegSummary {
        name: actuator.name.clone(),
        crank_arm_m: actuator.crank.map(|part| part.crank.arm_m),
        level_m: lengths[i],
        min_m: actuator.min_m,
        max_m: actuator.max_m,
        soft_stop_m: actuator.soft_stop_m,
        longer_m: actuator.max_m - actuator.soft_stop_m - lengths[i],
        shorter_m: lengths[i] - actuator.min_m - actuator.soft_stop_m,
        park_m: actuator.park_m,
        arms: slopes.row(i).iter().map(|slope| slope.abs()).collect(),
        speed_m_s: actuator.speed_m_s,
        motor_rpm: actuator.motor_hz() * 60.0,
        motor_rad_s2: actuator.motor_rad_s2(),
        holding_n: forces.as_ref().and_then(|forces| forces.get(i).copied()),
        thrust_n: actuator.thrust_n.is_finite().then_some(actuator.thrust_n),
    };
    rig.actuators.iter().enumerate().map(leg).collect()
}

/// Source of the statements on ball screws: common practice.
fn cautions(rig: &Rig) -> Vec<String> {
    let mut out = Vec::new();
    let corners = reach::corners(rig);
    let beyond = corners.iter().filter(|corner| corner.ended_by.is_some()).count();
    if beyond > 0 {
        out.push(format!(
            "{beyond} of the {} corners of the joint's range are beyond the legs: one axis at its end leaves less for \
             the others",
            corners.len()
        ));
    }
    let turns: Vec<String> = rig
        .actuators
        .iter()
        .enumerate()
        .filter(|(i, _)| {
            let forces = || corners.iter().filter_map(|corner| corner.forces_n.as_ref()?.get(*i).copied());
            forces().any(|force| force > 0.0) && forces().any(|force| force < 0.0)
        })
        .map(|(_, leg)| leg.name.clone())
        .collect();
    if !turns.is_empty() {
        out.push(format!(
            "the load on {} turns from push to pull inside the range: backlash will be felt there",
            super::advice::joined(&turns)
        ));
    }
    if rig.actuators.iter().any(|leg| leg.thrust_n == f64::INFINITY) {
        out.push(
            "no thrust is given for some leg: whether the load lets it brake is not checked".to_string(),
        );
    }
    if rig.actuators.iter().any(|leg| leg.crank.is_none()) {
        out.push(
            "a ball screw back-drives: without power the platform sinks unless the drives have brakes"
                .to_string(),
        );
    }
    if rig.has_cranks() {
        out.push(
            "a crank runs back through its gearbox unless that locks itself: without power the platform sinks, and stops \
             only where brakes or the end stops hold it"
                .to_string(),
        );
        out.push(
            "what a crank leg moves, and what pushes it, is told at its pin: a way along the pin's circle and a force \
             along it, which is the torque at the crank over its arm"
                .to_string(),
        );
    }
    out.push(
        "this program is not a safety function: limits in the drives, a watchdog and a hard-wired stop must hold \
         without it"
            .to_string(),
    );
    out
}

#[cfg(test)]
mod tests;
