//! Phase in turns: exact where it is large, and the sine and cosine of a turn.
//!
//! The products and sums that carry their own rounding error are Dekker's and Knuth's (T. J. Dekker, "A floating-point
//! technique for extending the available precision", Numer. Math. 18, 1971; Knuth, TAOCP vol. 2, 4.2.2).

use std::f64::consts::TAU;

/// A number as an unevaluated sum of a large and a small part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pair {
    /// The rounded number.
    pub(super) high: f64,
    /// What rounding left over.
    pub(super) low: f64,
}

/// `a + b`, exactly.
#[inline(always)]
pub(super) fn exact_sum(a: f64, b: f64) -> Pair {
    let high = a + b;
    let part = high - a;
    Pair { high, low: (a - (high - part)) + (b - part) }
}

/// `a * b`, exactly (short of overflow).
#[inline(always)]
pub(super) fn exact_product(a: f64, b: f64) -> Pair {
    let high = a * b;
    let (a_high, a_low) = split(a);
    let (b_high, b_low) = split(b);
    Pair { high, low: ((a_high * b_high - high) + a_high * b_low + a_low * b_high) + a_low * b_low }
}

/// Two halves of 26 bits each. The factor is 2^27 + 1 (Dekker).
#[inline(always)]
fn split(a: f64) -> (f64, f64) {
    let wide = 134_217_729.0 * a;
    let high = wide - (wide - a);
    (high, a - high)
}

impl Pair {
    /// `self * b + c` to about twice the precision of a number.
    pub(super) fn times_plus(self, b: Pair, c: f64) -> Pair {
        let product = exact_product(self.high, b.high);
        let cross = self.high * b.low + self.low * b.high;
        let sum = exact_sum(product.high, c);
        exact_sum(sum.high, sum.low + product.low + cross)
    }

    /// `ratio * self + offset`, whole turns dropped: within -0.75..0.75 turns for offsets of up to a quarter turn more.
    #[inline(always)]
    pub(super) fn fraction(self, ratio: f64, offset: f64) -> f64 {
        let product = exact_product(ratio, self.high);
        (product.high - product.high.round_ties_even()) + (product.low + ratio * self.low) + offset
    }
}

/// Sine and cosine of `turns` turns, for |turns| below 2^49; exact at quarter turns, else within 2e-16.
///
/// The polynomials are fdlibm's `__kernel_sin` and `__kernel_cos` (Sun Microsystems, also in FreeBSD msun and in the
/// `libm` crate). Turns need no argument reduction by pi, and without branches a loop over this vectorises.
#[inline(always)]
pub(super) fn sine_cosine(turns: f64) -> (f64, f64) {
    // Adding 1.5 * 2^52 rounds to a whole number, which then stands in the lowest bits.
    const WHOLE: f64 = 6_755_399_441_055_744.0;
    let shifted = 4.0 * turns + WHOLE;
    let quarter = shifted.to_bits();
    let angle = (turns - 0.25 * (shifted - WHOLE)) * TAU;
    let z = angle * angle;
    let sine = angle
        + angle
            * z
            * (-1.666_666_666_666_663_2e-1
                + z * (8.333_333_333_322_49e-3
                    + z * (-1.984_126_982_985_795e-4
                        + z * (2.755_731_370_707_006_8e-6
                            + z * (-2.505_076_025_340_686_3e-8 + z * 1.589_690_995_211_55e-10)))));
    let cosine = 1.0
        - (0.5 * z
            - z * z
                * (4.166_666_666_666_66e-2
                    + z * (-1.388_888_888_887_411e-3
                        + z * (2.480_158_728_947_673e-5
                            + z * (-2.755_731_435_139_066_3e-7
                                + z * (2.087_572_321_298_175e-9 + z * -1.135_964_755_778_819_5e-11))))));
    let swap = 0_u64.wrapping_sub(quarter & 1);
    let (s, c) = (sine.to_bits(), cosine.to_bits());
    let up = (s & !swap) | (c & swap);
    let across = (c & !swap) | (s & swap);
    (
        f64::from_bits(up ^ ((quarter & 2) << 62)),
        f64::from_bits(across ^ ((quarter.wrapping_add(1) & 2) << 62)),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sine_and_cosine_agree_with_libm_and_are_exact_at_quarters() {
        for k in -40_000..40_000 {
            let turns = f64::from(k) * 1.234_567e-4;
            let (s, c) = sine_cosine(turns);
            // A whole turn is dropped first so that libm sees the same angle.
            let angle = (turns - turns.round()) * TAU;
            assert!((s - libm::sin(angle)).abs() < 5e-16, "{turns}");
            assert!((c - libm::cos(angle)).abs() < 5e-16, "{turns}");
        }
        for (turns, expected) in [
            (0.0, (0.0, 1.0)),
            (0.25, (1.0, 0.0)),
            (0.5, (0.0, -1.0)),
            (-0.25, (-1.0, 0.0)),
            (7.0, (0.0, 1.0)),
        ] {
            assert_eq!(sine_cosine(turns), expected, "{turns}");
        }
    }

    #[test]
    fn a_phase_of_ten_million_turns_keeps_its_fraction() {
        // 1e7 + 1/3 turns as 1/3 Hz for 3e7 + 1 s: the product in one number would be off by up to 9e-10.
        let third = 1.0 / 3.0;
        let phase = exact_product(third, 30_000_001.0).fraction(1.0, 0.0);
        // 1/3 as a number is short of a third by 2^-54 / 3 * ... = 1.85e-17; times 3e7 that is 5.55e-10.
        let short = 1.850_371_707_708_594e-17 * 30_000_001.0;
        assert!((phase - (third - short)).abs() < 1e-15, "{phase}");
    }
}
