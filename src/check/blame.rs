//! Which layers are to blame, and by what share.
//!
//! At the worst instant a leg's value is, to first order, the Jacobian times the platform's; each layer's part of the
//! platform's motion then has its share of the whole. A layer that pulls back has a negative share; all make 1.

use super::Blame;
use super::Quantity;
use super::gauge::{Gauge, Part};
use crate::motion::Plan;
use crate::rig::kinematics;
use crate::signal::Jet;
use std::collections::BTreeMap;

/// Most layers that are named in one finding.
const NAMED: usize = 8;

/// Shares of the layers in a gauge's value at `at_s`, largest first; those below 1 % are left out.
pub(super) fn blame(plan: &Plan, gauge: &Gauge, at_s: f64) -> Vec<Blame> {
    let weights = weights(plan, gauge, at_s);
    let order = gauge.quantity.order();
    // A stop runs on for as long as it takes: most of what it adds is speed.
    let run_on_s = if gauge.quantity == Quantity::Stopping { run_on_s(plan, at_s) } else { 0.0 };
    shares(plan, at_s, &mut |coordinate, jet| weights[coordinate] * (jet.0[order] + run_on_s * jet.0[1]))
}

/// Shares of whatever `part` makes of a layer's contribution to a coordinate.
pub(super) fn shares(plan: &Plan, at_s: f64, part: &mut impl FnMut(usize, Jet) -> f64) -> Vec<Blame> {
    let mut parts = BTreeMap::new();
    parts_at(plan, at_s, &mut parts, part);
    named(plan, parts)
}

/// Adds what `part` makes of each layer's contribution at `at_s`, by layer.
pub(super) fn parts_at(
    plan: &Plan,
    at_s: f64,
    parts: &mut BTreeMap<usize, f64>,
    part: &mut impl FnMut(usize, Jet) -> f64,
) {
    plan.each_layer_at(at_s, &mut |layer, coordinate, jet| {
        *parts.entry(layer).or_default() += part(coordinate, jet);
    });
}

/// Parts of layers as shares of the whole, largest first; those below 1 % are left out.
pub(super) fn named(plan: &Plan, parts: BTreeMap<usize, f64>) -> Vec<Blame> {
    let whole: f64 = parts.values().sum();
    if whole == 0.0 || !whole.is_finite() {
        return Vec::new();
    }
    let scenario = plan.scenario();
    let mut blames: Vec<Blame> = parts
        .into_iter()
        .map(|(layer, part)| Blame {
            layer,
            label: scenario.layers[layer].label.clone(),
            span: scenario.layers[layer].span,
            share: part / whole,
        })
        .filter(|blame| blame.share.abs() >= 0.01)
        .collect();
    blames.sort_by(|a, b| b.share.total_cmp(&a.share).then(a.layer.cmp(&b.layer)));
    blames.truncate(NAMED);
    blames
}

/// How much a gauge's value changes with each coordinate, at the pose that matters.
fn weights(plan: &Plan, gauge: &Gauge, at_s: f64) -> Vec<f64> {
    let count = plan.rig().axes.len();
    match gauge.part {
        Part::Axis(axis) => (0..count).map(|k| if k == axis { 1.0 } else { 0.0 }).collect(),
        Part::Leg(leg) => {
            let mut platform = vec![Jet::default(); count];
            plan.platform_at(at_s, &mut platform);
            // For a length, the slope half way from level stands for the whole way (midpoint rule).
            let part =
                if matches!(gauge.quantity, Quantity::Stroke | Quantity::Stopping) { 0.5 } else { 1.0 };
            let q: Vec<f64> = platform.iter().map(|jet| part * jet.0[0]).collect();
            kinematics::jacobian(plan.rig(), &q).row(leg).iter().copied().collect()
        }
    }
}

fn run_on_s(plan: &Plan, at_s: f64) -> f64 {
    let mut platform = vec![Jet::default(); plan.rig().axes.len()];
    plan.platform_at(at_s, &mut platform);
    let part = |k: usize| platform.iter().map(|jet| jet.0[k]).collect::<Vec<_>>();
    let (q, rate) = (part(0), part(1));
    let Some(stop) = crate::rig::stopping::stop(plan.rig(), &q, &rate, &part(2)) else { return 0.0 };
    let (way, speed) =
        stop.rest.iter().zip(&q).zip(&rate).fold((0.0, 0.0), |(way, speed), ((rest, q), rate)| {
            (way + (rest - q) * rate, speed + rate * rate)
        });
    if speed > 0.0 { way / speed } else { 0.0 }
}
