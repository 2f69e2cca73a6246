//! Distance between platform and obstacles.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::rig::kinematics::Pose;
use crate::rig::parts::{ClearancePoint, Obstacle};
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::Clearance,
    rule: Rule { slug: "clearance", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::LENGTH,
    missing,
    gauges,
    measure: Measure::Sampled { every: 4, read },
    title,
    limit_span,
    help: &[],
};

const TEXT: &str = "\
What it checks: at every pose that the profile goes through, each `[[clearance]]` point of the platform stays as far from
every `[[obstacle]]` as its `distance` says. A point at level that is too near already is a finding whatever is played.

Why it matters: the corner that meets the desk does so at an extreme that nobody drove to before.

Example: a footrest 1.2 m before the joint, nose down by 10 deg, 60 mm above the floor.

Write instead: a smaller angle, or the gain that the finding names; in the rig, a higher joint or a shorter platform.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    match (rig.parts.points.is_empty(), rig.parts.obstacles.is_empty()) {
        (true, _) => Some("[[clearance]]"),
        (_, true) => Some("[[obstacle]]"),
        _ => None,
    }
}

fn pair(rig: &Rig, item: usize) -> Option<(&ClearancePoint, &Obstacle)> {
    let count = rig.parts.obstacles.len().max(1);
    Some((rig.parts.points.get(item / count)?, rig.parts.obstacles.get(item % count)?))
}

/// `right armrest to desk`
pub(in crate::check) fn pair_name(rig: &Rig, item: usize) -> String {
    pair(rig, item).map_or(String::new(), |(point, obstacle)| format!("{} to {}", point.name, obstacle.name))
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let items = 0..setup.rig.parts.points.len() * setup.rig.parts.obstacles.len();
    items
        .filter_map(|item| {
            let limit = pair(setup.rig, item)?.0.distance_m;
            Some(LoadGauge { rule: 0, leg: None, case: None, item, limit })
        })
        .collect()
}

/// The part of the way from the distance at level to the one that must be kept.
fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    let Some((point, obstacle)) = pair(sight.setup.rig, gauge.item) else { return Reading::plain(0.0, 1.0) };
    let distance_m = |pose: &Pose| obstacle.shape.distance_m(pose.point_r_m(point.point_p_m));
    let (level, now) = (distance_m(&sight.setup.rest.pose), distance_m(&sight.moment.pose));
    let room = level - gauge.limit;
    // Too near at level already: no motion mends it.
    let used = if room > 0.0 { (level - now) / room } else { f64::INFINITY };
    Reading { value: now, used: used.max(0.0) }
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    let Some((point, obstacle)) = pair(setup.rig, gauge.item) else { return String::new() };
    let distance = if extreme.peak < 0.0 {
        format!("goes {} into", show(-extreme.peak, Dimension::LENGTH))
    } else {
        format!("comes within {} of", show(extreme.peak, Dimension::LENGTH))
    };
    format!(
        "`{}` {distance} `{}` at {:.2} s; it must stay {} away",
        point.name,
        obstacle.name,
        extreme.at_s,
        show(gauge.limit, Dimension::LENGTH)
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    Some(pair(rig, gauge.item)?.0.span)
}
