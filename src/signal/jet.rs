//! A value with its first three time derivatives.

/// Value, rate, acceleration and jerk of a quantity at one instant.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Jet(pub [f64; 4]);

impl Jet {
    /// A constant.
    pub const fn constant(value: f64) -> Self {
        Self([value, 0.0, 0.0, 0.0])
    }
}

/// Samples in one block. Blocks start at multiples of this, so that ranges rendered apart give the same bytes.
pub const BLOCK: usize = 256;

/// A block of jets: `[value, rate, acceleration, jerk]`, each `BLOCK` samples.
#[derive(Debug, Clone, PartialEq)]
pub struct JetBlock(pub Box<[[f64; BLOCK]; 4]>);

impl JetBlock {
    /// All zero.
    pub fn zero() -> Self {
        Self(Box::new([[0.0; BLOCK]; 4]))
    }

    /// Sets all to zero.
    pub fn clear(&mut self) {
        self.0.iter_mut().for_each(|row| row.fill(0.0));
    }

    /// The jet of sample `k`.
    pub fn at(&self, k: usize) -> Jet {
        Jet([self.0[0][k], self.0[1][k], self.0[2][k], self.0[3][k]])
    }
}
