//! Life of a ball screw or bearing, its mean load, and the preload's lift-off.

use super::data_error::{DataError, positive};
use std::f64::consts::PI;

/// Revolutions that the dynamic load rating stands for. Source: ISO 3408-5 form (from memory).
const RATED_REV: f64 = 1e6;

/// Basic rating life L10 in revolutions: (C / F)^3 x 10^6. Infinite without load.
///
/// Source: ISO 3408-5 form (from memory). Ninety of a hundred equal screws live longer.
pub fn life_rev(dynamic_rating_n: f64, mean_load_n: f64) -> f64 {
    let ratio = dynamic_rating_n / mean_load_n.abs();
    ratio * ratio * ratio * RATED_REV
}

/// Life as distance of the nut, m.
pub fn life_m(life_rev: f64, lead_m: f64) -> f64 {
    life_rev * lead_m
}

/// Life in seconds of the duty when the screw turns `turned_rad` in `duty_s` seconds of it.
pub fn life_s(life_rev: f64, turned_rad: f64, duty_s: f64) -> f64 {
    if turned_rad > 0.0 { life_rev * 2.0 * PI / turned_rad * duty_s } else { f64::INFINITY }
}

/// Load at which a preloaded nut's unloaded side lifts off, N: 2^1.5 times the preload (2.83).
///
/// Source: calculation notes for ball screws (read); Hertz contact, deflection as force to the 2/3.
pub fn lift_off_n(preload_n: f64) -> f64 {
    2.0 * std::f64::consts::SQRT_2 * preload_n
}

/// Load on the balls of the loaded side of a preloaded nut, N: Fp (1 + F / (2^1.5 Fp))^1.5 below lift-off, F beyond.
///
/// Source: ISO 3408-5 form (from memory); at lift-off both branches meet.
pub fn ball_load_n(force_n: f64, preload_n: f64) -> f64 {
    let force = force_n.abs();
    let lift_off = lift_off_n(preload_n);
    if preload_n <= 0.0 || force >= lift_off {
        return force;
    }
    let sum = 1.0 + force / lift_off;
    preload_n * sum * sum.sqrt()
}

/// The cubic mean of a load over turned angle, fed sample by sample.
///
/// Fm = (sum F^3 n q / sum n q)^(1/3). Source: ISO 3408-5 form (from memory). Both directions of force count as one:
/// each flank bears only its own, so the life found is on the short side.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct MeanLoad {
    cubes: f64,
    turned_rad: f64,
}

impl MeanLoad {
    /// Adds a load of `load_n` while the screw turns by `turned_rad` (signs do not matter).
    pub fn push(&mut self, load_n: f64, turned_rad: f64) {
        let (load, turned) = (load_n.abs(), turned_rad.abs());
        self.cubes += load * load * load * turned;
        self.turned_rad += turned;
    }

    /// The mean, N; `None` when nothing turned.
    pub fn mean_n(&self) -> Option<f64> {
        (self.turned_rad > 0.0).then(|| libm::cbrt(self.cubes / self.turned_rad))
    }

    /// All the turning so far, rad.
    pub fn turned_rad(&self) -> f64 {
        self.turned_rad
    }
}

/// Whether a stroke turns the screw less than once, so that each ball stays on its own short path and the grease is
/// pressed out (false brinelling): turn it further now and then. Source: common practice.
pub fn is_short_stroke(stroke_m: f64, lead_m: f64) -> bool {
    stroke_m.abs() < lead_m
}

/// # Errors
/// When the rating is impossible.
pub fn check_rating(dynamic_rating_n: f64) -> Result<(), DataError> {
    positive("the dynamic load rating", dynamic_rating_n, "N")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// C = 10 kN, F = 2 kN, lead 5 mm, 1000 rpm: 125e6 rev, 625 km, 2083.3 h.
    #[test]
    fn the_worked_life_comes_out() {
        let life = life_rev(10_000.0, 2000.0);
        assert!((life - 125e6).abs() < 1e-3, "{life}");
        assert!((life_m(life, 0.005) - 625e3).abs() < 1e-6);
        let hours = life_s(life, 1000.0 * 2.0 * PI, 60.0) / 3600.0;
        assert!((hours - 2083.3).abs() < 0.05, "{hours}");
        assert!((life_rev(10_000.0, 4000.0) / life - 0.125).abs() < 1e-15);
        assert_eq!(life_rev(10_000.0, 0.0), f64::INFINITY);
        assert_eq!(life_s(life, 0.0, 60.0), f64::INFINITY);
        assert!(check_rating(0.0).is_err());
    }

    #[test]
    fn preload_lifts_off_at_two_point_eight_three() {
        assert!((lift_off_n(1.0) - 2.83).abs() < 0.002);
        let at = lift_off_n(300.0);
        assert!((ball_load_n(at * (1.0 - 1e-12), 300.0) - at).abs() < 1e-6, "the branches meet");
        assert_eq!(ball_load_n(0.0, 300.0), 300.0);
        assert_eq!(ball_load_n(-500.0, 0.0), 500.0);
    }

    #[test]
    fn short_strokes_are_seen() {
        assert!(is_short_stroke(-0.004, 0.005));
        assert!(!is_short_stroke(0.02, 0.005));
    }

    /// Half of the way at 1 kN and half at 2 kN: cbrt(4.5) kN.
    #[test]
    fn the_mean_is_cubic() {
        let mut mean = MeanLoad::default();
        assert_eq!(mean.mean_n(), None);
        mean.push(1000.0, 3.0);
        mean.push(-2000.0, -3.0);
        assert!((mean.mean_n().unwrap() - 1650.96).abs() < 0.01);
        assert_eq!(mean.turned_rad(), 6.0);
    }

    proptest! {
        #[test]
        fn the_mean_lies_between_the_loads(loads in prop::collection::vec((1.0..5000.0_f64, 0.001..10.0_f64), 1..40)) {
            let mut mean = MeanLoad::default();
            loads.iter().for_each(|(load, turned)| mean.push(*load, *turned));
            let found = mean.mean_n().unwrap();
            let least = loads.iter().fold(f64::INFINITY, |a, b| a.min(b.0));
            let most = loads.iter().fold(0.0_f64, |a, b| a.max(b.0));
            let plain = loads.iter().map(|(load, turned)| load * turned).sum::<f64>() / mean.turned_rad();
            prop_assert!(found >= least * (1.0 - 1e-12) && found <= most * (1.0 + 1e-12));
            prop_assert!(found >= plain * (1.0 - 1e-12), "a cubic mean is no less than the plain one");
        }
    }
}
