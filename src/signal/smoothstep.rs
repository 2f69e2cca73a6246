//! The edge polynomial S(u) = u^4 (35 - 84 u + 70 u^2 - 20 u^3).

/// S and its first four derivatives in u; 0 below u = 0 and S = 1 above u = 1.
///
/// S is the lowest polynomial from 0 to 1 with three derivatives at zero at both ends; S' = 140 u^3 (1 - u)^3.
#[inline]
pub fn smoothstep(u: f64) -> [f64; 5] {
    let [value, rate, acceleration, jerk] = edge(u);
    let snap =
        if u <= 0.0 || u >= 1.0 { 0.0 } else { 840.0 * ((1.0 - 2.0 * u) * (1.0 - 10.0 * u * (1.0 - u))) };
    [value, rate, acceleration, jerk, snap]
}

/// S and its first three derivatives in u, without branches: all three are zero at the ends by their factors.
#[inline(always)]
pub(super) fn edge(u: f64) -> [f64; 4] {
    let u = u.clamp(0.0, 1.0);
    let v = 1.0 - u;
    let w = u * v;
    // S(u) = 1 - S(1 - u): the nearer end is the one to count from, or the large terms cancel.
    let near = u.min(v);
    let near2 = near * near;
    let rise = near2 * near2 * (35.0 + near * (-84.0 + near * (70.0 - 20.0 * near)));
    [
        if u <= 0.5 { rise } else { 1.0 - rise },
        140.0 * (w * w * w),
        420.0 * (w * w * (1.0 - 2.0 * u)),
        840.0 * (w * (1.0 - 5.0 * w)),
    ]
}

/// Largest |S'|, at u = 1/2: 140 / 64.
pub(super) const PEAK_RATE: f64 = 2.1875;
/// Largest |S''|, where u (1 - u) = 1/5: 84 sqrt(5) / 25 = 7.513 188 404 399 293.
pub(super) const PEAK_ACCELERATION: f64 = 7.513_188_404_399_293;
/// Largest |S'''|, at u = 1/2.
pub(super) const PEAK_JERK: f64 = 52.5;

/// Where u (1 - u) = 1/5, below 1/2: (5 - sqrt 5) / 10. There S'' and S'''' turn.
const TURN_FIFTH: f64 = 0.276_393_202_250_021;
/// Where u (1 - u) = 1/10, below 1/2: (5 - sqrt 15) / 10. There S''' turns, at 42.
const TURN_TENTH: f64 = 0.112_701_665_379_258_3;

/// Bounds of |S| and its first four |derivatives| over `from..=to`: the ends, and the turning points between them.
pub(super) fn bounds(from: f64, to: f64) -> [f64; 5] {
    if to <= 0.0 {
        return [0.0; 5];
    }
    if from >= 1.0 {
        return [1.0, 0.0, 0.0, 0.0, 0.0];
    }
    let (from, to) = (from.max(0.0), to.min(1.0));
    let holds = |u: f64| from <= u && u <= to;
    let mut out = end(to);
    for (bound, low) in out.iter_mut().zip(end(from)) {
        *bound = bound.max(low);
    }
    if holds(0.5) {
        out[1] = PEAK_RATE;
        out[3] = PEAK_JERK;
    }
    if holds(TURN_FIFTH) || holds(1.0 - TURN_FIFTH) {
        out[2] = PEAK_ACCELERATION;
        out[4] = out[4].max(840.0 / 5.0_f64.sqrt());
    }
    if holds(TURN_TENTH) || holds(1.0 - TURN_TENTH) {
        out[3] = out[3].max(42.0);
    }
    out
}

/// Absolute values at an end of a stretch, with the fourth derivative as it is just inside 0 and 1.
fn end(u: f64) -> [f64; 5] {
    let mut out = smoothstep(u).map(f64::abs);
    if u <= 0.0 || u >= 1.0 {
        out[4] = 840.0;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn peaks_are_the_closed_forms() {
        assert_eq!(smoothstep(0.5), [0.5, 2.1875, 0.0, -52.5, 0.0]);
        assert!((smoothstep(TURN_FIFTH)[2] - PEAK_ACCELERATION).abs() < 2e-15);
        assert!((PEAK_ACCELERATION - 84.0 * 5.0_f64.sqrt() / 25.0).abs() < 1e-15);
        assert!((smoothstep(TURN_TENTH)[3] - 42.0).abs() < 1e-12);
        let scan =
            |k: usize| (0..=100_000).map(|i| smoothstep(f64::from(i) / 1e5)[k].abs()).fold(0.0, f64::max);
        assert_eq!(scan(1), PEAK_RATE);
        assert!((scan(2) - PEAK_ACCELERATION).abs() < 1e-7 && scan(2) <= PEAK_ACCELERATION);
        assert_eq!(scan(3), PEAK_JERK);
    }

    #[test]
    fn ends_are_at_rest() {
        assert_eq!(smoothstep(0.0), [0.0; 5]);
        assert_eq!(smoothstep(1.0), [1.0, 0.0, 0.0, 0.0, 0.0]);
        let near = smoothstep(1.0 - 1e-9);
        assert!((near[0] - 1.0).abs() < 1e-12 && near[1].abs() < 1e-12 && near[3].abs() < 1e-5);
    }

    proptest! {
        #[test]
        fn bounds_hold_and_touch(a in -0.3..1.3_f64, width in 0.0..0.6_f64) {
            let bound = bounds(a, a + width);
            let mut seen = [0.0_f64; 5];
            for i in 0..=500 {
                let s = smoothstep((a + width * f64::from(i) / 500.0).min(a + width));
                for k in 0..5 {
                    prop_assert!(s[k].abs() <= bound[k] * (1.0 + 1e-13), "order {} at {}", k, i);
                    seen[k] = seen[k].max(s[k].abs());
                }
            }
            prop_assert!(seen[0] >= bound[0] * 0.999_999);
            prop_assert!(seen[1] >= bound[1] * 0.999);
        }
    }
}
