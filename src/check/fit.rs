//! The largest factor that fits, found by solving and verified by rendering.

/// Gains are given to this many steps of one, so that what is printed is what was verified.
const STEPS: f64 = 1000.0;

/// The largest factor in 0..1, on a grid of a thousandth, at which `used` is at most 1; `used(1)` is known to be more.
/// `used` rises almost in proportion (poses are small), so secant steps inside a bracket settle in a few looks.
/// `None` when nothing above zero was found.
pub(super) fn largest_factor(used_at_one: f64, mut used: impl FnMut(f64) -> f64) -> Option<f64> {
    let (mut low, mut low_used) = (0.0, 0.0);
    let (mut high, mut high_used) = (1.0, used_at_one);
    for _ in 0..24 {
        if (high - low) * STEPS < 1.5 {
            break;
        }
        let slope = (high_used - low_used) / (high - low);
        let aim = if slope > 0.0 && slope.is_finite() {
            low + (1.0 - low_used) / slope
        } else {
            f64::midpoint(low, high)
        };
        let factor = ((aim * STEPS).floor() / STEPS).clamp(low + 1.0 / STEPS, high - 1.0 / STEPS);
        let factor = (factor * STEPS).round() / STEPS;
        let at = used(factor);
        if at <= 1.0 {
            (low, low_used) = (factor, at);
            // A thousandth more would fail by its own slope: near enough to stop after one look at it.
            let next = ((factor * STEPS).round() + 1.0) / STEPS;
            if next < high {
                let beyond = used(next);
                if beyond > 1.0 {
                    break;
                }
                (low, low_used) = (next, beyond);
            }
        } else {
            (high, high_used) = (factor, at);
        }
    }
    (low > 0.0).then_some(low)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn finds_the_edge_of_a_nearly_straight_curve(slope in 1.01..50.0f64, bend in -0.3..0.3f64) {
            let used = |g: f64| slope * g * (1.0 + bend * g) / (1.0 + bend);
            let found = largest_factor(used(1.0), used);
            // The first crossing, searched plainly on the same grid.
            let plain = (1..1000).map(|k| f64::from(k) / 1000.0).take_while(|g| used(*g) <= 1.0).last();
            prop_assert_eq!(found, plain);
        }
    }

    #[test]
    fn nothing_fits_where_the_rest_is_too_much() {
        assert_eq!(largest_factor(3.0, |g| 2.0 + g), None);
    }
}
