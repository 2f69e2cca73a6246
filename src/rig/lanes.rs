//! Eight samples side by side, in plain arrays that the compiler turns into vector instructions.

mod vector;

pub(super) use vector::{Columns, Vector};

use std::ops::{Add, Mul, Neg, Sub};

/// What the arithmetic of jets and of bodies needs of a number: one sample, or several side by side.
pub(super) trait Lane:
    Copy + Add<Output = Self> + Sub<Output = Self> + Mul<Output = Self> + Neg<Output = Self>
{
    /// How many samples.
    const COUNT: usize;
    /// The number of one sample.
    fn lane(&self, at: usize) -> f64;
    /// Another number for one sample.
    fn set(&mut self, at: usize, number: f64);
    /// The same number in every lane.
    fn splat(value: f64) -> Self;
    /// Square root.
    fn sqrt(self) -> Self;
    /// One over it.
    fn recip(self) -> Self;
    /// Sine and cosine, equal to `libm`'s bit for bit.
    fn sin_cos(self) -> (Self, Self);
    /// The number, or zero where it is below.
    fn at_least_zero(self) -> Self;
    /// The angle whose sine and cosine are as `self` to `cos`, by `libm`.
    fn atan2(self, cos: Self) -> Self;
}

impl Lane for f64 {
    const COUNT: usize = 1;
    #[inline(always)]
    fn lane(&self, _: usize) -> f64 {
        *self
    }
    #[inline(always)]
    fn set(&mut self, _: usize, number: f64) {
        *self = number;
    }
    fn splat(value: f64) -> Self {
        value
    }
    fn sqrt(self) -> Self {
        self.sqrt()
    }
    fn recip(self) -> Self {
        1.0 / self
    }
    fn sin_cos(self) -> (Self, Self) {
        libm::sincos(self)
    }
    fn at_least_zero(self) -> Self {
        self.max(0.0)
    }
    fn atan2(self, cos: Self) -> Self {
        libm::atan2(self, cos)
    }
}

/// Samples in one group.
pub(super) const LANES: usize = 8;

/// One number for each of [`LANES`] samples.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lanes(pub(super) [f64; LANES]);

impl Lanes {
    #[inline(always)]
    fn each(self, other: Self, f: impl Fn(f64, f64) -> f64) -> Self {
        let mut out = [0.0; LANES];
        for (out, (a, b)) in out.iter_mut().zip(self.0.into_iter().zip(other.0)) {
            *out = f(a, b);
        }
        Self(out)
    }
}

impl Add for Lanes {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        self.each(other, |a, b| a + b)
    }
}

impl Sub for Lanes {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        self.each(other, |a, b| a - b)
    }
}

impl Mul for Lanes {
    type Output = Self;
    #[inline(always)]
    fn mul(self, other: Self) -> Self {
        self.each(other, |a, b| a * b)
    }
}

impl Neg for Lanes {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self(self.0.map(|a| -a))
    }
}

impl Lane for Lanes {
    const COUNT: usize = LANES;
    #[inline(always)]
    fn lane(&self, at: usize) -> f64 {
        self.0[at]
    }
    #[inline(always)]
    fn set(&mut self, at: usize, number: f64) {
        self.0[at] = number;
    }
    #[inline(always)]
    fn splat(value: f64) -> Self {
        Self([value; LANES])
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        Self(self.0.map(f64::sqrt))
    }
    #[inline(always)]
    fn recip(self) -> Self {
        Self(self.0.map(|a| 1.0 / a))
    }
    #[inline(always)]
    fn sin_cos(self) -> (Self, Self) {
        let small = self.0.iter().fold(true, |all, x| all & (x.abs() <= std::f64::consts::FRAC_PI_4));
        if small { (kernel_sin(self), kernel_cos(self)) } else { by_libm(self) }
    }
    #[inline(always)]
    fn at_least_zero(self) -> Self {
        Self(self.0.map(|a| a.max(0.0)))
    }
    #[inline(always)]
    fn atan2(self, cos: Self) -> Self {
        self.each(cos, libm::atan2)
    }
}

/// Beyond an eighth of a turn: rare on a motion base, so one lane at a time.
#[cold]
#[inline(never)]
fn by_libm(x: Lanes) -> (Lanes, Lanes) {
    (Lanes(x.0.map(libm::sin)), Lanes(x.0.map(libm::cos)))
}

/// sin x for |x| <= pi/4, the operations of `libm`'s own kernel in their order.
/// Source: FreeBSD msun k_sin.c (after fdlibm 5.3, Sun Microsystems 1993), coefficients S1 to S6.
#[inline(always)]
fn kernel_sin(x: Lanes) -> Lanes {
    #[allow(clippy::excessive_precision, reason = "digits as the source prints them")]
    const S: [f64; 6] = [
        -1.666_666_666_666_663_243_48e-1,
        8.333_333_333_322_489_461_24e-3,
        -1.984_126_982_985_794_931_34e-4,
        2.755_731_370_707_006_767_89e-6,
        -2.505_076_025_340_686_341_95e-8,
        1.589_690_995_211_550_102_21e-10,
    ];
    let [s1, s2, s3, s4, s5, s6] = S.map(Lanes::splat);
    let z = x * x;
    let w = z * z;
    let r = s2 + z * (s3 + z * s4) + z * w * (s5 + z * s6);
    let v = z * x;
    x + v * (s1 + z * r)
}

/// cos x for |x| <= pi/4, the operations of `libm`'s own kernel in their order.
/// Source: FreeBSD msun k_cos.c (after fdlibm 5.3, Sun Microsystems 1993), coefficients C1 to C6.
#[inline(always)]
fn kernel_cos(x: Lanes) -> Lanes {
    #[allow(clippy::excessive_precision, reason = "digits as the source prints them")]
    const C: [f64; 6] = [
        4.166_666_666_666_660_190_37e-2,
        -1.388_888_888_887_410_957_49e-3,
        2.480_158_728_947_672_941_78e-5,
        -2.755_731_435_139_066_330_35e-7,
        2.087_572_321_298_174_827_90e-9,
        -1.135_964_755_778_819_482_65e-11,
    ];
    let [c1, c2, c3, c4, c5, c6] = C.map(Lanes::splat);
    let one = Lanes::splat(1.0);
    let z = x * x;
    let w = z * z;
    let r = z * (c1 + z * (c2 + z * c3)) + w * w * (c4 + z * (c5 + z * c6));
    let hz = Lanes::splat(0.5) * z;
    let w = one - hz;
    w + (((one - w) - hz) + z * r)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn same_as_libm(x: f64) {
        let (sin, cos) = Lanes::splat(x).sin_cos();
        assert_eq!(sin.0.map(f64::to_bits), [libm::sin(x).to_bits(); LANES], "sin {x:e}");
        assert_eq!(cos.0.map(f64::to_bits), [libm::cos(x).to_bits(); LANES], "cos {x:e}");
    }

    #[test]
    fn the_edges_equal_libm() {
        let quarter = std::f64::consts::FRAC_PI_4;
        for x in [0.0, 1e-300, 1e-9, 1e-8, quarter, -quarter, quarter * (1.0 + 1e-15), 3.0, -200.0] {
            same_as_libm(x);
        }
    }

    proptest! {
        /// Whichever way a lane goes, its neighbours cannot change its bits.
        #[test]
        fn any_angle_equals_libm(x in -1.0_f64..1.0, far in -50.0_f64..50.0) {
            same_as_libm(x);
            same_as_libm(far);
        }
    }
}
