use super::*;
use proptest::prelude::*;

fn ramp(from: f64, to: f64) -> Curve {
    Curve::ramp(from, to, 1.0, 5.0)
}

/// Any curve of a few operations, ramps over 1 s to 5 s.
fn curves() -> impl Strategy<Value = Curve> {
    let leaf = prop_oneof![
        (-3.0..3.0_f64).prop_map(Curve::Constant),
        (-3.0..3.0_f64, -3.0..3.0_f64).prop_map(|(a, b)| ramp(a, b)),
    ];
    leaf.prop_recursive(4, 12, 2, |inner| {
        prop_oneof![
            (inner.clone(), inner.clone()).prop_map(|(a, b)| Curve::sum(a, b)),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| Curve::product(a, b)),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| Curve::quotient(a, b)),
            (inner.clone(), -2..4_i32).prop_map(|(a, n)| Curve::power(a, n)),
            (inner.clone(), -2.0..0.0_f64, 0.1..2.0_f64, any::<bool>()).prop_map(|(x, low, high, down)| {
                if down { Curve::ease(x, high, low) } else { Curve::ease(x, low, high) }
            }),
            inner.clone().prop_map(Curve::decibels),
            inner.prop_map(Curve::exponential),
        ]
    })
}

#[test]
fn constants_fold_and_ramps_stay_ramps() {
    let two = || Curve::Constant(2.0);
    assert_eq!(Curve::sum(two(), two()), Curve::Constant(4.0));
    assert_eq!(Curve::product(ramp(1.0, 3.0), two()), ramp(2.0, 6.0));
    assert_eq!(Curve::quotient(ramp(1.0, 3.0), two()), ramp(0.5, 1.5));
    assert_eq!(Curve::sum(ramp(1.0, 3.0), ramp(3.0, 1.0)), Curve::Constant(4.0));
    assert_eq!(Curve::power(two(), -2), Curve::Constant(0.25));
    assert_eq!(Curve::ease(Curve::Constant(0.5), 0.0, 1.0), Curve::Constant(0.5));
    assert_eq!(Curve::exponential(Curve::Constant(0.0)), Curve::Constant(1.0));
    assert_eq!(Curve::decibels(Curve::Constant(0.0)).constant(), Some(1.0));
    assert_eq!(Curve::Product(Arc::new(two()), Arc::new(two())).constant(), Some(4.0));
    assert_eq!(ramp(1.0, 3.0).constant(), None);
    assert!((Curve::decibels(Curve::Constant(-20.0)).constant().unwrap() - 0.1).abs() < 1e-16);
}

#[test]
fn sums_and_products_of_ramps_are_polynomials_and_nothing_else_is() {
    // t from 0 at 1 s: 2 + t and its square, about the origin 3 s: 4 + x and 16 + 8 x + x^2
    let x = ramp(2.0, 6.0);
    assert_eq!(x.polynomial(3.0).unwrap().0, [4.0, 1.0]);
    assert_eq!(Curve::product(x.clone(), x.clone()).polynomial(3.0).unwrap().0, [16.0, 8.0, 1.0]);
    assert_eq!(Curve::power(x.clone(), 2).polynomial(3.0).unwrap().0, [16.0, 8.0, 1.0]);
    assert_eq!(Curve::power(x.clone(), 8).polynomial(3.0).unwrap().0.len(), 9);
    assert_eq!(Curve::power(x.clone(), 9).polynomial(3.0), None);
    assert_eq!(Curve::quotient(Curve::Constant(1.0), x.clone()).polynomial(3.0), None);
    assert_eq!(Curve::ease(x, 0.0, 1.0).polynomial(3.0), None);
}

#[test]
fn a_divisor_that_reaches_zero_has_no_bounds() {
    let curve = Curve::quotient(Curve::Constant(1.0), ramp(-1.0, 1.0));
    assert_eq!(curve.range(2.0, 4.0), (f64::NEG_INFINITY, f64::INFINITY));
    assert_eq!(curve.majorant(2.0, 4.0).0, [f64::INFINITY; 5]);
    assert!(curve.majorant(3.5, 4.0).0.iter().all(|x| x.is_finite()));
}

#[test]
fn two_hundred_levels_neither_overflow_the_stack_nor_hang() {
    let mut curve = ramp(0.1, 0.2);
    for _ in 0..200 {
        curve = Curve::Product(Arc::new(curve), Arc::new(Curve::Constant(1.0)));
    }
    let jet = curve.jet(3.0);
    assert!((jet.0[0] - 0.15).abs() < 1e-14 && (jet.0[1] - 0.025).abs() < 1e-14);
    assert!(curve.majorant(1.0, 5.0).0[0] < 0.21);
    assert_eq!(curve.lanes([3.0; 8]).0[0][7], jet.0[0]);
    let mut doubled = ramp(0.0, 1.0);
    for _ in 0..100 {
        let shared = Arc::new(doubled);
        doubled = Curve::Sum(shared.clone(), shared);
    }
    assert_eq!(doubled.size(1000), 1000);
    assert_eq!(Curve::sum(ramp(0.0, 1.0), Curve::power(ramp(0.0, 1.0), 2)).size(1000), 4);
}

proptest! {
    #[test]
    fn derivatives_match_differences(curve in curves(), t in 1.2..4.8_f64) {
        // S has steps in its fourth derivative, so only third derivatives within one piece compare; take the
        // symmetric difference and allow for the bound of the next derivative.
        let h = 1e-5;
        let (earlier, later) = (t - h, t + h);
        let (before, at, after) = (curve.jet(earlier), curve.jet(t), curve.jet(later));
        let bound = curve.majorant(t - h, t + h);
        for k in 0..3 {
            let difference = (after.0[k] - before.0[k]) / (later - earlier);
            let next = bound.0.get(k + 2).copied().unwrap_or(f64::INFINITY);
            let rounding = 1e-9 * (1.0 + bound.0[k]);
            if next.is_finite() && bound.0[k].is_finite() && bound.0[k] < 1e4 && next < 1e6 {
                prop_assert!((difference - at.0[k + 1]).abs() <= next * h + rounding,
                    "order {}: {} against {} in {:?}", k + 1, difference, at.0[k + 1], curve);
            }
        }
    }

    #[test]
    fn bounds_hold_everything(curve in curves(), from in 0.5..5.0_f64, length in 0.0..1.0_f64) {
        let (low, high) = curve.range(from, from + length);
        let majorant = curve.majorant(from, from + length);
        let mut last: Option<(f64, f64)> = None;
        for i in 0..=60 {
            let t = (from + length * f64::from(i) / 60.0).min(from + length);
            let jet = curve.jet(t);
            if !(low.is_finite() && high.is_finite()) { continue; }
            prop_assert!(low <= jet.0[0] && jet.0[0] <= high, "{} not in {}..{} of {:?}", jet.0[0], low, high, curve);
            // Where a divisor is zero, a derivative is no number and its bound infinite.
            for k in (0..4).filter(|k| majorant.0[*k].is_finite()) {
                prop_assert!(jet.0[k].abs() <= majorant.0[k] * (1.0 + 1e-9) + 1e-12, "order {} of {:?}", k, curve);
            }
            if let Some((at, jerk)) = last && t - at > 1e-3 && majorant.0[4].is_finite() {
                let slope = (jet.0[3] - jerk).abs() / (t - at);
                prop_assert!(slope <= majorant.0[4] * (1.0 + 1e-6) + 1e-6 * (1.0 + majorant.0[3]), "snap of {:?}", curve);
            }
            last = Some((t, jet.0[3]));
        }
    }
}
