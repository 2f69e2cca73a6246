//! The rules, one a file. A gauge rule speaks of one limit of each leg or axis; the others look at layers or sums.

pub(super) mod acceleration;
pub(super) mod avoid;
pub(super) mod axis;
pub(super) mod cycle;
pub(super) mod expect;
pub(super) mod jerk;
pub(super) mod joint;
pub(super) mod rest;
pub(super) mod sample_band;
pub(super) mod speed;
pub(super) mod stopping;
pub(super) mod stroke;

use super::Quantity;
use super::gauge::{Extreme, Gauge, Part};
use crate::diag::{Rule, Span};
use crate::rig::{Actuator, Rig};
use crate::units::show;

/// A rule about one quantity of each leg or axis.
pub(crate) struct GaugeRule {
    pub(super) quantity: Quantity,
    pub(super) rule: Rule,
    pub(super) gauges: fn(&Rig) -> Vec<Gauge>,
    pub(super) title: fn(&Rig, &Gauge, &Extreme) -> String,
    pub(super) limit_span: fn(&Rig, &Gauge) -> Option<Span>,
}

/// Every gauge rule, the gravest first.
pub(super) const GAUGE_RULES: &[GaugeRule] =
    &[stroke::STROKE, joint::JOINT, stopping::STOPPING, speed::SPEED, acceleration::ACCELERATION, jerk::JERK];

/// The long texts of all rules of this module.
pub const RULES: &[Rule] = &[
    stroke::STROKE.rule,
    joint::JOINT.rule,
    stopping::STOPPING.rule,
    speed::SPEED.rule,
    acceleration::ACCELERATION.rule,
    jerk::JERK.rule,
    axis::RULE,
    avoid::RULE,
    cycle::RULE,
    expect::RULE,
    rest::RULE,
    sample_band::RULE,
];

fn legs_up_to(rig: &Rig, quantity: Quantity, limit: fn(&Actuator) -> f64) -> Vec<Gauge> {
    let gauge = |(leg, actuator)| Gauge::symmetric(Part::Leg(leg), quantity, limit(actuator));
    rig.actuators.iter().enumerate().map(gauge).collect()
}

fn leg_asks_more(rig: &Rig, gauge: &Gauge, extreme: &Extreme) -> String {
    let dimension = gauge.dimension(rig);
    let (found, allowed) = (show(extreme.bound.abs(), dimension), show(gauge.high, dimension));
    let name = gauge.part_name(rig);
    format!("actuator `{name}` needs {found} at {:.3} s; the rig allows {allowed}", extreme.at_s)
}

fn legs_between_soft_stops(rig: &Rig, quantity: Quantity) -> Vec<Gauge> {
    let level = vec![0.0; rig.axes.len()];
    let rest = crate::rig::kinematics::lengths_m(rig, &level);
    let gauge = |(leg, actuator): (usize, &Actuator)| Gauge {
        part: Part::Leg(leg),
        quantity,
        rest: rest[leg],
        low: actuator.min_m + actuator.soft_stop_m,
        high: actuator.max_m - actuator.soft_stop_m,
    };
    rig.actuators.iter().enumerate().map(gauge).collect()
}

fn axes_in_range(rig: &Rig, quantity: Quantity) -> Vec<Gauge> {
    let gauge = |(at, limits): (usize, &crate::rig::AxisLimits)| Gauge {
        part: Part::Axis(at),
        quantity,
        rest: 0.0,
        low: limits.min,
        high: limits.max,
    };
    rig.axes.iter().enumerate().map(gauge).collect()
}
