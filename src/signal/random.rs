//! The seeded generator behind noise.

/// SplitMix64. Source: Steele, Lea, Flood, "Fast splittable pseudorandom number generators" (OOPSLA 2014).
#[derive(Debug, Clone)]
pub struct SplitMix64(pub u64);
