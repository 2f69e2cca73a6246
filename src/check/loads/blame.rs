//! Which layers are to blame for a load: the reading's slope with each coordinate, its rate and its acceleration, times
//! what each layer adds to them.

use super::gauge::{LoadGauge, Measure, Sight, Window};
use super::pass::Pass;
use crate::check::Blame;
use crate::check::blame::{named, parts_at};
use crate::check::rules::LOAD_RULES;
use crate::signal::Jet;
use std::collections::BTreeMap;

/// Instants that stand for a sum over time.
const INSTANTS: u32 = 24;
/// Steps of the difference quotients for a coordinate, its rate and its acceleration: rad or m, a second, a second
/// squared. Readings are smooth but for friction, so the size hardly matters.
const STEPS: [f64; 3] = [1e-5, 1e-4, 1e-3];

/// Shares of the layers in a gauge's reading, largest first.
pub(super) fn blame(pass: &Pass<'_>, gauge: &LoadGauge, at_s: f64) -> Vec<Blame> {
    let mut parts: BTreeMap<usize, f64> = BTreeMap::new();
    match &LOAD_RULES[gauge.rule].measure {
        Measure::Sampled { read, .. } => add(pass, at_s, &|sight| read(sight, gauge).used, 1.0, &mut parts),
        Measure::Summed(window) => {
            let torque = |sight: &Sight<'_>| torque_nm(sight, gauge, *window);
            let (from_s, to_s) = stretch(pass, gauge, *window, at_s);
            for k in 0..INSTANTS {
                let t_s = from_s + (to_s - from_s) * (f64::from(k) + 0.5) / f64::from(INSTANTS);
                // A mean square is shared out as torque times each layer's part of it.
                let now = value_at(pass, t_s, &torque).unwrap_or(0.0);
                add(pass, t_s, &torque, now, &mut parts);
            }
        }
    }
    named(pass.plan, parts)
}

/// What a sum over time is made of at one instant.
fn torque_nm(sight: &Sight<'_>, gauge: &LoadGauge, window: Window) -> f64 {
    let (leg, case) = (gauge.leg, gauge.case.unwrap_or(0));
    let of = |table: &[Vec<f64>]| match leg {
        Some(leg) => table.get(case).and_then(|legs| legs.get(leg)).copied().unwrap_or(0.0),
        None => table.get(case).map_or(0.0, |legs| legs.iter().sum()),
    };
    match window {
        Window::Life => of(&sight.moment.forces_n),
        _ => of(&sight.moment.torques_nm),
    }
}

fn stretch(pass: &Pass<'_>, gauge: &LoadGauge, window: Window, at_s: f64) -> (f64, f64) {
    let length_s = pass.plan.length_s();
    let motor = gauge.leg.and_then(|leg| pass.setup.rig.actuators.get(leg)?.parts.motor.as_ref());
    let back_s = match window {
        Window::DriveCurrent => pass.setup.rig.parts.currents.map(|currents| currents.window_s),
        Window::MotorTorque => motor.map(|part| part.window_s),
        Window::Heat => motor.map(|part| part.motor.time_constant_s),
        Window::Returned | Window::Life => None,
    };
    back_s.map_or((0.0, length_s), |back_s| ((at_s - back_s).max(0.0), at_s.max(1e-3)))
}

fn value_at(pass: &Pass<'_>, at_s: f64, value: &dyn Fn(&Sight<'_>) -> f64) -> Option<f64> {
    let mut platform = vec![Jet::default(); pass.setup.rig.axes.len()];
    pass.plan.platform_at(at_s, &mut platform);
    evaluate(pass, &platform, value)
}

fn evaluate(pass: &Pass<'_>, platform: &[Jet], value: &dyn Fn(&Sight<'_>) -> f64) -> Option<f64> {
    let part = |k: usize| platform.iter().map(|jet| jet.0[k]).collect::<Vec<f64>>();
    let (q, mut moment) = (part(0), pass.setup.demands.moment());
    let held = pass.setup.demands.at(&q, &part(1), &part(2), &mut moment);
    held.then(|| value(&Sight::new(pass.setup, &moment))).filter(|value| value.is_finite())
}

fn add(
    pass: &Pass<'_>,
    at_s: f64,
    value: &dyn Fn(&Sight<'_>) -> f64,
    weight: f64,
    parts: &mut BTreeMap<usize, f64>,
) {
    let mut platform = vec![Jet::default(); pass.setup.rig.axes.len()];
    pass.plan.platform_at(at_s, &mut platform);
    let mut slopes = vec![[0.0; 3]; platform.len()];
    for j in 0..platform.len() {
        for (order, step) in STEPS.iter().enumerate() {
            let mut beside = |by: f64| {
                platform[j].0[order] += by;
                let found = evaluate(pass, &platform, value);
                platform[j].0[order] -= by;
                found
            };
            if let (Some(more), Some(less)) = (beside(*step), beside(-*step)) {
                slopes[j][order] = (more - less) / (2.0 * step);
            }
        }
    }
    parts_at(pass.plan, at_s, parts, &mut |coordinate, jet| {
        let slope = slopes.get(coordinate).copied().unwrap_or_default();
        weight * slope.iter().zip(jet.0).map(|(slope, part)| slope * part).sum::<f64>()
    });
}
