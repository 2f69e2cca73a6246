//! Draws for Monte-Carlo tests from a fixed seed.

use super::Estimate;

/// splitmix64 (public domain, S. Vigna; from memory) and the polar-free Box-Muller transform.
pub(super) struct Draws(pub(super) u64);

impl Draws {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A value of the normal spread that an estimate stands for.
    pub(super) fn of(&mut self, estimate: Estimate) -> f64 {
        let size = (-2.0 * libm::log(1.0 - self.unit())).sqrt();
        estimate.value + estimate.standard * size * libm::cos(2.0 * std::f64::consts::PI * self.unit())
    }
}

/// Holds results against the mean and spread of `runs` draws: within 8 % of the spread.
pub(super) fn assert_spread<const N: usize>(
    results: [Estimate; N],
    runs: u32,
    mut draw: impl FnMut() -> [f64; N],
) {
    let (mut sums, mut squares) = ([0.0; N], [0.0; N]);
    for _ in 0..runs {
        for (k, value) in draw().into_iter().enumerate() {
            let off = value - results[k].value;
            sums[k] += off;
            squares[k] += off * off;
        }
    }
    for (k, result) in results.iter().enumerate() {
        let mean = sums[k] / f64::from(runs);
        let spread = (squares[k] / f64::from(runs) - mean * mean).sqrt();
        assert!(
            (spread / result.standard - 1.0).abs() < 0.08,
            "{k}: spread {spread}, expected {}",
            result.standard
        );
        assert!(mean.abs() < 0.1 * result.standard, "{k}: mean off by {mean}");
    }
}
