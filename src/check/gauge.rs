//! Gauges: one limit of one part each, and how far a motion goes towards it.

use super::Quantity;
use crate::motion::{Frames, sign};
use crate::rig::Rig;
use crate::units::Dimension;

/// What a gauge stands on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    /// The leg with this index.
    Leg(usize),
    /// The platform coordinate with this index.
    Axis(usize),
}

impl Part {
    /// The samples of a derivative of this part.
    pub(super) fn row(self, frames: &Frames, order: usize) -> &[f64] {
        let block = match self {
            Self::Leg(leg) => &frames.legs[leg],
            Self::Axis(axis) => &frames.platform[axis],
        };
        &block.0[order][..frames.count]
    }
}

/// One quantity of one part between two limits.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Gauge {
    pub(super) part: Part,
    pub(super) quantity: Quantity,
    /// Where it stands with the platform level and at rest.
    pub(super) rest: f64,
    pub(super) low: f64,
    pub(super) high: f64,
}

impl Gauge {
    /// A gauge whose limits lie `limit` to either side of zero.
    pub(super) fn symmetric(part: Part, quantity: Quantity, limit: f64) -> Self {
        Self { part, quantity, rest: 0.0, low: -limit, high: limit }
    }

    /// The limit on the side of `value`.
    pub(super) fn limit(&self, value: f64) -> f64 {
        if value < self.rest { self.low } else { self.high }
    }

    /// The part of the way from rest to the limit that `value` goes: 0 at rest, 1 at the limit.
    /// What is no number uses up everything.
    pub(super) fn used(&self, value: f64) -> f64 {
        let used = (value - self.rest) / (self.limit(value) - self.rest);
        if used.is_nan() { f64::INFINITY } else { used }
    }

    /// The name of the part, as the rig file has it.
    pub(super) fn part_name(&self, rig: &Rig) -> String {
        match self.part {
            Part::Leg(leg) => rig.actuators[leg].name.clone(),
            Part::Axis(axis) => rig.axes[axis].axis.word().to_string(),
        }
    }

    /// The arm of the crank that it stands on, m.
    fn arm_m(&self, rig: &Rig) -> Option<f64> {
        let Part::Leg(leg) = self.part else { return None };
        Some(rig.actuators.get(leg)?.crank?.crank.arm_m)
    }

    /// A value of this gauge with the sign that a rig file and a profile give it: heave counts up there, down here; of a
    /// crank the angle in the place of the pin's way.
    pub(super) fn signed(&self, rig: &Rig, value: f64) -> f64 {
        if let Some(arm_m) = self.arm_m(rig) {
            return value / arm_m;
        }
        match self.part {
            // Adding zero leaves no negative zero.
            Part::Axis(axis) => value * sign(rig.axes[axis].axis) + 0.0,
            Part::Leg(_) => value,
        }
    }

    /// What is measured.
    pub(super) fn dimension(&self, rig: &Rig) -> Dimension {
        if self.arm_m(rig).is_some() {
            return match self.quantity {
                Quantity::Speed => Dimension::ANGULAR_RATE,
                Quantity::Acceleration => Dimension::ANGULAR_ACCELERATION,
                Quantity::Jerk => Dimension::ANGULAR_JERK,
                _ => Dimension::ANGLE,
            };
        }
        match (self.quantity, self.part) {
            (Quantity::Speed, _) => Dimension::SPEED,
            (Quantity::Acceleration, _) => Dimension::ACCELERATION,
            (Quantity::Jerk, _) => Dimension::JERK,
            (_, Part::Axis(axis)) if rig.axes[axis].axis.is_rotation() => Dimension::ANGLE,
            _ => Dimension::LENGTH,
        }
    }
}

/// The furthest that a motion goes on one gauge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Extreme {
    /// Part of the way to the limit, between samples and on the drive's curve included.
    pub(super) used: f64,
    /// The sampled value.
    pub(super) peak: f64,
    /// The value that `used` speaks of.
    pub(super) bound: f64,
    /// Scenario time of the sample, s.
    pub(super) at_s: f64,
}

impl Extreme {
    /// At rest.
    pub(super) fn none(gauge: &Gauge) -> Self {
        Self { used: 0.0, peak: gauge.rest, bound: gauge.rest, at_s: 0.0 }
    }

    /// Nothing yet, and nothing up to `used` is worth taking.
    pub(super) fn ignoring(gauge: &Gauge, used: f64) -> Self {
        Self { used, at_s: f64::INFINITY, ..Self::none(gauge) }
    }

    /// What was taken, or rest when nothing was.
    pub(super) fn settle(&mut self, gauge: &Gauge) {
        if self.at_s == f64::INFINITY {
            *self = Self::none(gauge);
        }
    }

    /// Takes `peak`, which may be as far as `allowance` further out nearby, if it goes further than all before it.
    /// Equal ones: the earlier stays.
    pub(super) fn take(&mut self, gauge: &Gauge, peak: f64, allowance: f64, at_s: f64) {
        let outward = if peak < gauge.rest { -allowance } else { allowance };
        let bound = peak + outward;
        let used = gauge.used(bound);
        if used > self.used {
            *self = Self { used, peak, bound, at_s };
        }
    }

    /// The further of two, the earlier when equal.
    pub(super) fn merge(&mut self, other: &Self) {
        if other.used > self.used || (other.used == self.used && other.at_s < self.at_s) {
            *self = *other;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn use_is_counted_from_rest_to_the_nearer_side() {
        let gauge = Gauge { part: Part::Leg(0), quantity: Quantity::Stroke, rest: 0.5, low: 0.4, high: 0.7 };
        assert!((gauge.used(0.45) - 0.5).abs() < 1e-12);
        assert!((gauge.used(0.6) - 0.5).abs() < 1e-12);
        assert_eq!(gauge.used(f64::NAN), f64::INFINITY);
        let mut extreme = Extreme::none(&gauge);
        extreme.take(&gauge, 0.45, 0.01, 1.0);
        extreme.take(&gauge, 0.6, 0.0, 2.0);
        assert!((extreme.bound - 0.44).abs() < 1e-12 && extreme.at_s == 1.0);
    }
}
