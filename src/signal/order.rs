//! Which derivative a number speaks of.

/// Which derivative an amplitude speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// The value itself.
    Value,
    /// Its first derivative.
    Rate,
    /// Its second derivative.
    Acceleration,
}

impl Order {
    /// How many times the value is differentiated: 0, 1 or 2.
    pub const fn count(self) -> usize {
        match self {
            Self::Value => 0,
            Self::Rate => 1,
            Self::Acceleration => 2,
        }
    }
}
