//! Upper bounds of a quantity and its derivatives over a stretch of time.

/// Suprema of |value| and of the first four |derivatives| over a stretch. Sums and products of majorants bound
/// the sums and products of what they bound (Leibniz).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Majorant(pub [f64; 5]);
