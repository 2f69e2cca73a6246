//! The largest factor that fits, found by solving and verified by rendering.

/// Gains are given in whole thousandths, so that what is printed is what was verified.
pub(super) const STEPS: u32 = 1000;

/// The largest factor below 1, in whole thousandths, at which `used` is at most 1, while one thousandth more is not;
/// `used(1)` is known to be more. `used` rises almost in proportion (poses are small), so secant steps inside a bracket
/// settle in a few looks. `None` when nothing above zero was found.
pub(super) fn largest_factor(used_at_one: f64, mut used: impl FnMut(f64) -> f64) -> Option<f64> {
    let (mut low, mut low_used) = (0, 0.0);
    let (mut high, mut high_used) = (STEPS, used_at_one);
    while high - low > 1 {
        let slope = (high_used - low_used) / f64::from(high - low);
        let aim = f64::from(low) + (1.0 - low_used) / slope;
        let middle = f64::from(low + (high - low) / 2);
        let aim = if aim.is_finite() && high_used.is_finite() { aim.floor() } else { middle };
        // A look at either side of where the secant lands closes the bracket from both ends.
        for step in [aim, aim + 1.0, middle] {
            let step = step.clamp(f64::from(low), f64::from(high)) as u32;
            if step <= low || step >= high {
                continue;
            }
            let at = used(f64::from(step) / f64::from(STEPS));
            if at <= 1.0 {
                (low, low_used) = (step, at);
            } else {
                (high, high_used) = (step, at);
            }
        }
    }
    (low > 0).then(|| f64::from(low) / f64::from(STEPS))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn finds_the_edge_of_a_nearly_straight_curve(slope in 1.01..50.0f64, bend in -0.3..0.3f64) {
            let used = |g: f64| slope * g * (1.0 + bend * g) / (1.0 + bend);
            let mut looks = 0;
            let found = largest_factor(used(1.0), |g| {
                looks += 1;
                used(g)
            });
            // The first crossing, searched plainly on the same grid.
            let plain = (1..1000).map(|k| f64::from(k) / 1000.0).take_while(|g| used(*g) <= 1.0).last();
            prop_assert_eq!(found, plain);
            prop_assert!(looks <= 12, "{} looks", looks);
        }

        #[test]
        fn any_curve_ends(values in prop::collection::vec(0.0..3.0f64, 1000)) {
            let used = |g: f64| values[((g * 1000.0).round() as usize).min(999)];
            if let Some(found) = largest_factor(2.0, used) {
                prop_assert!(used(found) <= 1.0);
            }
        }
    }

    #[test]
    fn nothing_fits_where_the_rest_is_too_much() {
        assert_eq!(largest_factor(3.0, |g| 2.0 + g), None);
        assert_eq!(largest_factor(f64::INFINITY, |_| f64::INFINITY), None);
    }
}
