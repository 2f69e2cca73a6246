//! The seeded generator behind noise.

/// SplitMix64. Source: Steele, Lea, Flood, "Fast splittable pseudorandom number generators" (OOPSLA 2014), figure 17;
/// the constants are those of `java.util.SplittableRandom`.
#[derive(Debug, Clone)]
pub struct SplitMix64(pub u64);

impl SplitMix64 {
    /// The next 64 bits.
    pub fn next_bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = self.0;
        let z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// The next number in 0..1, 1 excluded, from the upper 53 bits.
    pub fn next_unit(&mut self) -> f64 {
        (self.next_bits() >> 11) as f64 * (1.0 / (1_u64 << 53) as f64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The published sequence for this seed, computed apart in Python from the paper's formula (tests/peers/signal_random.py).
    #[test]
    fn the_published_sequence_comes_out() {
        let mut random = SplitMix64(1_234_567);
        let drawn: Vec<u64> = (0..5).map(|_| random.next_bits()).collect();
        assert_eq!(
            drawn,
            [
                6_457_827_717_110_365_317,
                3_203_168_211_198_807_973,
                9_817_491_932_198_370_423,
                4_593_380_528_125_082_431,
                16_408_922_859_458_223_821
            ]
        );
        let unit = SplitMix64(1_234_567).next_unit();
        assert_eq!(unit, (6_457_827_717_110_365_317_u64 >> 11) as f64 / 9_007_199_254_740_992.0);
    }
}
