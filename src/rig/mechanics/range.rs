//! A range of values: what friction leaves open.

/// From `low` to `high`, both included, in the unit of whoever made it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// The smaller end.
    pub low: f64,
    /// The larger end.
    pub high: f64,
}

impl Range {
    /// The range between two values in either order.
    pub fn between(a: f64, b: f64) -> Self {
        Self { low: a.min(b), high: a.max(b) }
    }

    /// One value.
    pub fn exact(value: f64) -> Self {
        Self { low: value, high: value }
    }

    /// The range moved by `by`.
    pub fn shifted(self, by: f64) -> Self {
        Self { low: self.low + by, high: self.high + by }
    }

    /// The end that is further from zero, with its sign: the worse branch.
    pub fn worst(self) -> f64 {
        if self.high >= -self.low { self.high } else { self.low }
    }

    /// Whether a value lies in it.
    pub fn holds(self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }

    /// The smallest range that has both.
    pub fn hull(self, other: Self) -> Self {
        Self { low: self.low.min(other.low), high: self.high.max(other.high) }
    }
}
