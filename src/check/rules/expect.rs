//! What the profile itself says must hold.

use crate::check::blame::shares;
use crate::check::expectation::{Sum, coordinate};
use crate::check::{Finding, Margin};
use crate::diag::{Diagnostic, Rule};
use crate::motion::Plan;
use crate::scenario::{Expectation, Measure};
use crate::signal::Order;
use crate::units::{Dimension, show};

pub(crate) const RULE: Rule = Rule { slug: "unmet-expectation", text: TEXT };

const TEXT: &str = "\
What it checks: every `expect` of the scene: the peak or r.m.s. of an axis over a stretch, or the smallest margin to
any limit of the rig.

Why it matters: it is how a profile says what it is for, so that a change elsewhere that spoils it is seen.

Example: `expect peak roll <= 10 deg over turn`.

Write instead: a cue that keeps it, or an expectation that says what you now want.
";

pub(in crate::check) fn findings(plan: &Plan, sums: &[Sum], margins: &[Margin]) -> Vec<Finding> {
    plan.scenario()
        .expectations
        .iter()
        .zip(sums)
        .filter_map(|(e, sum)| finding(plan, e, sum, margins))
        .collect()
}

fn finding(plan: &Plan, expectation: &Expectation, sum: &Sum, margins: &[Margin]) -> Option<Finding> {
    let (found, at_s, dimension) = match expectation.measure {
        Measure::Margin => {
            let worst = margins.iter().max_by(|a, b| a.used.total_cmp(&b.used))?;
            (1.0 - worst.used, Some(worst.at_s), Dimension::NUMBER)
        }
        Measure::Peak if expectation.at_most => (sum.bound, Some(sum.at_s), dimension(expectation)),
        Measure::Peak => (sum.peak, Some(sum.at_s), dimension(expectation)),
        Measure::Rms => (sum.rms(plan, expectation), None, dimension(expectation)),
    };
    // A hair of rounding must not fail what is written as its own value.
    let slack = 1e-9 * expectation.bound.abs();
    let holds = if expectation.at_most {
        found <= expectation.bound + slack
    } else {
        found >= expectation.bound - slack
    };
    if holds {
        return None;
    }
    let measure = match expectation.measure {
        Measure::Peak => "peak",
        Measure::Rms => "r.m.s.",
        Measure::Margin => "smallest margin",
    };
    let axis = coordinate(plan, expectation).map(|at| plan.rig().axes[at].axis.word());
    let what = axis.map_or(measure.to_string(), |axis| format!("{measure} of {axis}"));
    let percent = |value: f64| format!("{:.1} %", value * 100.0);
    let write =
        |value: f64| if dimension == Dimension::NUMBER { percent(value) } else { show(value, dimension) };
    let (word, found_text, bound) =
        (if expectation.at_most { "at most" } else { "at least" }, write(found), write(expectation.bound));
    let title = format!("the {what} is {found_text}; the profile expects {word} {bound}");
    // On the platform's own axes peak and r.m.s. are in proportion to the gain.
    let gain = plan.gain() * expectation.bound / found;
    let scales = expectation.measure != Measure::Margin && gain.is_finite();
    let fits_gain = (scales && expectation.at_most && gain > 0.0).then(|| (gain * 1000.0).floor() / 1000.0);
    let mut diagnostic = Diagnostic::error("unmet-expectation", expectation.span, title);
    if let Some(at_s) = at_s {
        diagnostic = diagnostic.label(format!("at {at_s:.3} s"));
    }
    if scales && !expectation.at_most {
        diagnostic = diagnostic.help(format!("it would hold at gain {:.3}", (gain * 1000.0).ceil() / 1000.0));
    }
    let order = match expectation.order {
        Order::Value => 0,
        Order::Rate => 1,
        Order::Acceleration => 2,
    };
    let blame = match (at_s, coordinate(plan, expectation)) {
        (Some(at_s), Some(at)) => shares(plan, at_s, &mut |k, jet| if k == at { jet.0[order] } else { 0.0 }),
        _ => Vec::new(),
    };
    Some(Finding {
        diagnostic,
        part: axis.map(str::to_string),
        at_s,
        value: Some(found),
        limit: Some(expectation.bound),
        dimension,
        blame,
        fits_gain,
    })
}

fn dimension(expectation: &Expectation) -> Dimension {
    let rotation = expectation.line.and_then(crate::motion::axis).is_none_or(crate::rig::Axis::is_rotation);
    let base = if rotation { Dimension::ANGLE } else { Dimension::LENGTH };
    let time = match expectation.order {
        Order::Value => 0,
        Order::Rate => -1,
        Order::Acceleration => -2,
    };
    Dimension { time, ..base }
}
