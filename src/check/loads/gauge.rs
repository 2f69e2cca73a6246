//! Load gauges: one limit of one part under one load each.

use super::Setup;
use super::emergency::{self, Controlled};
use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::rules::LOAD_RULES;
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::rig::demand::Moment;
use crate::rig::mechanics::stop_loads::WorstStops;
use crate::units::Dimension;
use std::cell::OnceCell;

/// One limit.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::check) struct LoadGauge {
    /// Index into the rules.
    pub(in crate::check) rule: usize,
    /// Which leg, where it is about one.
    pub(in crate::check) leg: Option<usize>,
    /// Which load case, where it depends on one.
    pub(in crate::check) case: Option<usize>,
    /// What else tells it from its neighbours: a joint's end, a point and an obstacle.
    pub(in crate::check) item: usize,
    /// The limit, SI.
    pub(in crate::check) limit: f64,
}

impl LoadGauge {
    /// A gauge of a leg under a case.
    pub(in crate::check) fn of(leg: usize, case: usize, limit: f64) -> Self {
        Self { rule: 0, leg: Some(leg), case: Some(case), item: 0, limit }
    }
}

/// A value and the part of its limit that it uses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::check) struct Reading {
    pub(in crate::check) value: f64,
    pub(in crate::check) used: f64,
}

impl Reading {
    /// A value without sign against its limit.
    pub(in crate::check) fn plain(value: f64, limit: f64) -> Self {
        Self { value, used: value.abs() / limit }
    }
}

/// What a measure sees.
pub(in crate::check) struct Sight<'a> {
    pub(in crate::check) setup: &'a Setup<'a>,
    pub(in crate::check) moment: &'a Moment,
    /// Stops without power from here, one a pair of leg and case: several rules ask for each, where any asks at all.
    stops: OnceCell<Vec<OnceCell<Option<WorstStops>>>>,
    /// Stops under control from here, one a case.
    controlled: OnceCell<Vec<Option<Controlled>>>,
}

impl<'a> Sight<'a> {
    pub(super) fn new(setup: &'a Setup<'a>, moment: &'a Moment) -> Self {
        Self { setup, moment, stops: OnceCell::new(), controlled: OnceCell::new() }
    }

    /// How a gauge's leg would stop without power under its load. `None` without screw, motor or brake.
    pub(in crate::check) fn stops(&self, gauge: &LoadGauge) -> Option<&WorstStops> {
        let (leg, case) = (gauge.leg?, gauge.case?);
        let unasked = || self.setup.pairs().map(|_| OnceCell::new()).collect();
        let of_pair = self.stops.get_or_init(unasked).get(leg * self.setup.demands.cases().len() + case)?;
        of_pair.get_or_init(|| self.setup.stops(self.moment, leg, case)).as_ref()
    }

    /// How the platform would be stopped under control under a gauge's load. `None` where some leg has nothing left to
    /// brake with.
    pub(in crate::check) fn controlled(&self, gauge: &LoadGauge) -> Option<&Controlled> {
        let all = || emergency::stops(self.setup, self.moment);
        self.controlled.get_or_init(all).get(gauge.case?)?.as_ref()
    }
}

/// Which sum over time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::check) enum Window {
    DriveCurrent,
    MotorTorque,
    Heat,
    Returned,
    Life,
}

/// How a rule reads its gauges.
pub(in crate::check) enum Measure {
    /// At every so many samples.
    Sampled { every: usize, read: fn(&Sight<'_>, &LoadGauge) -> Reading },
    /// Over time.
    Summed(Window),
}

/// A rule about loads.
pub(crate) struct LoadRule {
    pub(in crate::check) quantity: Quantity,
    pub(in crate::check) rule: Rule,
    pub(in crate::check) severity: Severity,
    pub(in crate::check) dimension: Dimension,
    /// What the rig file lacks for it: `[motor]`.
    pub(in crate::check) missing: fn(&Rig) -> Option<&'static str>,
    pub(in crate::check) gauges: fn(&Setup<'_>) -> Vec<LoadGauge>,
    pub(in crate::check) measure: Measure,
    pub(in crate::check) title: fn(&Setup<'_>, &LoadGauge, &Extreme) -> String,
    pub(in crate::check) limit_span: fn(&Rig, &LoadGauge) -> Option<Span>,
    /// Lines of help that hold for each of its findings.
    pub(in crate::check) help: &'static [&'static str],
}

/// Every gauge that the rig file has data for.
pub(super) fn all(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let mut gauges = Vec::new();
    for (rule, of_rule) in LOAD_RULES.iter().enumerate() {
        gauges.extend((of_rule.gauges)(setup).into_iter().map(|gauge| LoadGauge { rule, ..gauge }));
    }
    gauges
}

/// Nothing seen.
pub(super) fn none() -> Extreme {
    Extreme { used: 0.0, peak: 0.0, bound: 0.0, at_s: 0.0 }
}

/// Takes a reading with what may be added between samples, if it goes further than all before it.
pub(super) fn take(extreme: &mut Extreme, reading: Reading, extra: f64, at_s: f64) {
    let used = if reading.used.is_nan() { f64::INFINITY } else { reading.used + extra };
    if used > extreme.used {
        let grown = if reading.used > 0.0 && used.is_finite() { used / reading.used } else { 1.0 };
        *extreme = Extreme { used, peak: reading.value, bound: reading.value * grown, at_s };
    }
}
