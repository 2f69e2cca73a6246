//! The rules, one a file. A gauge rule speaks of one limit of each leg or axis; the others look at layers or sums.

pub(super) mod acceleration;
pub(super) mod avoid;
pub(super) mod axis;
pub(super) mod bandwidth;
pub(super) mod brake_holding;
pub(super) mod brake_work;
pub(super) mod buckling;
pub(super) mod clearance;
pub(super) mod cycle;
pub(super) mod drive_current;
pub(super) mod emergency_deceleration;
pub(super) mod emergency_jolt;
pub(super) mod emergency_time;
pub(super) mod emergency_travel;
pub(super) mod end_stop;
pub(super) mod expect;
pub(super) mod jerk;
pub(super) mod joint;
pub(super) mod lost_motion;
pub(super) mod motor_heat;
pub(super) mod motor_rms;
pub(super) mod motor_torque;
pub(super) mod power_off_jolt;
pub(super) mod power_off_travel;
pub(super) mod resonance;
pub(super) mod rest;
pub(super) mod returned_energy;
pub(super) mod reversal;
pub(super) mod rod_end;
pub(super) mod sample_band;
pub(super) mod screw_life;
pub(super) mod screw_speed;
pub(super) mod speed;
pub(super) mod stopping;
pub(super) mod stroke;
pub(super) mod supply_power;
pub(super) mod thrust;
pub(super) mod torque_speed;
pub(super) mod tracking;

use super::gauge::{Extreme, Gauge, Part};
use super::loads::{LoadGauge, LoadRule, Reading, Setup, Sight};
use super::{Quantity, Unchecked};
use crate::diag::{Rule, Span};
use crate::rig::parts::{MotorPart, ScrewPart};
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

/// Every load rule, in the order in which findings are looked for.
pub(super) const LOAD_RULES: &[LoadRule] = &[
    thrust::RULE,
    motor_torque::RULE,
    torque_speed::RULE,
    drive_current::RULE,
    motor_rms::RULE,
    motor_heat::RULE,
    supply_power::RULE,
    returned_energy::RULE,
    screw_speed::RULE,
    buckling::RULE,
    screw_life::RULE,
    brake_holding::RULE,
    rod_end::RULE,
    clearance::RULE,
    power_off_travel::RULE,
    power_off_jolt::RULE,
    brake_work::RULE,
    end_stop::RULE,
    emergency_travel::RULE,
    emergency_time::RULE,
    emergency_deceleration::RULE,
    emergency_jolt::RULE,
];

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
    tracking::RULE,
    expect::RULE,
    rest::RULE,
    sample_band::RULE,
    thrust::RULE.rule,
    motor_torque::RULE.rule,
    torque_speed::RULE.rule,
    drive_current::RULE.rule,
    motor_rms::RULE.rule,
    motor_heat::RULE.rule,
    supply_power::RULE.rule,
    returned_energy::RULE.rule,
    screw_speed::RULE.rule,
    buckling::RULE.rule,
    screw_life::RULE.rule,
    brake_holding::RULE.rule,
    rod_end::RULE.rule,
    clearance::RULE.rule,
    power_off_travel::RULE.rule,
    power_off_jolt::RULE.rule,
    brake_work::RULE.rule,
    end_stop::RULE.rule,
    emergency_travel::RULE.rule,
    emergency_time::RULE.rule,
    emergency_deceleration::RULE.rule,
    emergency_jolt::RULE.rule,
    bandwidth::RULE,
    lost_motion::RULE,
    resonance::RULE,
    reversal::RULE,
];

/// Rules besides the load rules for which the rig file has no data.
pub(super) fn unchecked(rig: &Rig) -> Vec<Unchecked> {
    let parts = &rig.parts;
    let lacks = |leg: &Actuator| rig.lost_motion_m(leg).is_none();
    let backlash = match rig.actuators.iter().find(|leg| lacks(leg)) {
        Some(leg) if leg.crank.is_some() => "`gearbox` for every crank",
        _ => "`backlash` in [measured]",
    };
    let no_backlash = rig.actuators.iter().any(lacks);
    [
        (reversal::RULE.slug, backlash, no_backlash),
        (lost_motion::RULE.slug, backlash, no_backlash),
        (bandwidth::RULE.slug, "`bandwidth` in [measured]", parts.bandwidth_hz.is_none()),
        (resonance::RULE.slug, "[stiffness]", parts.stiffness.is_none()),
    ]
    .into_iter()
    .filter(|(_, _, absent)| *absent)
    .map(|(rule, missing, _)| Unchecked { rule, missing })
    .collect()
}

/// The entry of a gauge's case and leg.
fn of_pair(table: &[Vec<f64>], gauge: &LoadGauge) -> f64 {
    let entry = gauge.case.and_then(|case| table.get(case)).zip(gauge.leg);
    entry.and_then(|(legs, leg)| legs.get(leg)).copied().unwrap_or(0.0)
}

/// The motor of a gauge's leg.
fn motor<'r>(rig: &'r Rig, gauge: &LoadGauge) -> Option<&'r MotorPart> {
    rig.actuators.get(gauge.leg?)?.parts.motor.as_ref()
}

/// Turning rate of the motor of a gauge's leg, rad/s.
fn motor_rad_s(sight: &Sight<'_>, gauge: &LoadGauge) -> f64 {
    let rate = gauge.leg.and_then(|leg| {
        let drivetrain = (*sight.setup.demands.drivetrains().get(leg)?)?;
        Some(sight.moment.legs.get(leg)?.speed_m_s * drivetrain.screw.turn_rad_m())
    });
    rate.unwrap_or(0.0)
}

/// Legs with a screw and a motor, with every case.
fn driven_pairs(setup: &Setup<'_>) -> impl Iterator<Item = (usize, usize)> {
    setup.pairs().filter(|(leg, _)| setup.demands.drivetrains().get(*leg).is_some_and(Option::is_some))
}

/// What torque cannot be worked out without.
fn lacks_motor(rig: &Rig) -> Option<&'static str> {
    let lacks = |lack: fn(&Actuator) -> bool| rig.actuators.iter().any(lack);
    if lacks(|leg| leg.parts.motor.is_none()) {
        Some("[motor] for every actuator")
    } else if lacks(|leg| leg.crank.is_some() && leg.reduction().is_none()) {
        Some("`gearbox` for every crank")
    } else if lacks(|leg| leg.reduction().is_none()) {
        Some("[screw] for every actuator")
    } else {
        None
    }
}

/// What stops without power cannot be worked out without.
fn lacks_brake(rig: &Rig) -> Option<&'static str> {
    let lacks = rig.actuators.iter().any(|leg| leg.parts.brake.is_none());
    if lacks { Some("[brake] for every actuator") } else { lacks_motor(rig) }
}

/// How much of the way from level to its mechanical ends a leg takes that gets so short and so long, m.
fn between_ends(sight: &Sight<'_>, gauge: &LoadGauge, (short, long): (f64, f64)) -> Option<Reading> {
    let actuator = sight.setup.rig.actuators.get(gauge.leg?)?;
    let level = sight.setup.rest.legs.get(gauge.leg?)?.length_m;
    let used_short = (level - short) / (level - actuator.min_m);
    let used_long = (long - level) / (actuator.max_m - level);
    Some(if used_short > used_long {
        Reading { value: short, used: used_short.max(0.0) }
    } else {
        Reading { value: long, used: used_long.max(0.0) }
    })
}

/// One gauge a load, where the rig file has this limit.
fn one_a_case(setup: &Setup<'_>, limit: Option<f64>) -> Vec<LoadGauge> {
    let gauge = |case| Some(LoadGauge { rule: 0, leg: None, case: Some(case), item: 0, limit: limit? });
    (0..setup.demands.cases().len()).filter_map(gauge).collect()
}

/// Where a stop under control is felt: `head` or `seat`.
pub(super) fn emergency_point(rig: &Rig) -> &'static str {
    match rig.parts.emergency.and_then(|part| part.head_p_m) {
        Some(_) => "head",
        None => "seat",
    }
}

/// `what` where some screw lacks it; on a rig of cranks alone, that there is no screw.
fn screws_lack(rig: &Rig, what: &'static str, has: fn(&ScrewPart) -> bool) -> Option<&'static str> {
    let lacks = |leg: &Actuator| !leg.parts.screw.as_ref().is_some_and(has);
    let mut screws = rig.actuators.iter().filter(|leg| leg.crank.is_none()).peekable();
    if screws.peek().is_none() {
        return Some("ball screw");
    }
    screws.any(lacks).then_some(what)
}

fn legs_up_to(rig: &Rig, quantity: Quantity, limit: fn(&Actuator) -> f64) -> Vec<Gauge> {
    let gauge = |(leg, actuator)| Gauge::symmetric(Part::Leg(leg), quantity, limit(actuator));
    rig.actuators.iter().enumerate().map(gauge).collect()
}

fn leg_asks_more(rig: &Rig, gauge: &Gauge, extreme: &Extreme) -> String {
    let dimension = gauge.dimension(rig);
    let shown = |value| show(gauge.signed(rig, value), dimension);
    let (found, allowed) = (shown(extreme.bound.abs()), shown(gauge.high));
    let name = gauge.part_name(rig);
    if !extreme.bound.is_finite() {
        return format!(
            "`{name}` comes to a dead point of its crank at {:.3} s, where no {} is enough; the rig allows {allowed}",
            extreme.at_s,
            gauge.quantity.word()
        );
    }
    format!("actuator `{name}` needs {found} at {:.3} s; the rig allows {allowed}", extreme.at_s)
}

fn legs_between_soft_stops(rig: &Rig, quantity: Quantity) -> Vec<Gauge> {
    let level = vec![0.0; rig.axes.len()];
    let rest = crate::rig::kinematics::lengths_m(rig, &level);
    let gauge = |(leg, actuator): (usize, &Actuator)| Gauge {
        part: Part::Leg(leg),
        quantity,
        rest: rest[leg],
        low: actuator.soft_ends_m().0,
        high: actuator.soft_ends_m().1,
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
