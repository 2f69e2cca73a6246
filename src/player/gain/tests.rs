use super::super::sample::{Bent, Swing};
use super::*;
use crate::safety::LegLimits;

fn limits(speed_m_s: f64, acceleration_m_s2: f64) -> Limits {
    let leg = LegLimits { low_m: 0.61, high_m: 0.89, speed_m_s, acceleration_m_s2, window_m: 0.01 };
    Limits::new(&[leg, leg], 0.001).unwrap()
}

fn fit(limits: &Limits, start: u64, from: f64, to: f64) -> Result<GainRamp, GainError> {
    GainRamp::fit(&Swing::default(), &Bent, limits, start, from, to)
}

#[test]
fn a_ramp_goes_from_one_gain_to_the_other() {
    let ramp = GainRamp { from: 1.0, to: 0.5, start: 100, length: 1000 };
    assert_eq!((ramp.at(0, 0.5), ramp.at(100, 0.0), ramp.at(1100, 0.0)), (1.0, 1.0, 0.5));
    assert!((ramp.at(600, 0.0) - 0.75).abs() < 1e-12 && ramp.at(600, 0.5) < ramp.at(600, 0.0));
    assert_eq!(GainRamp::constant(0.3).at(7, 0.2), 0.3);
}

#[test]
fn tighter_limits_make_it_longer_until_none_fits() {
    let length = |speed, acceleration| fit(&limits(speed, acceleration), 5000, 0.0, 1.0).map(|r| r.length);
    assert_eq!(length(0.3, 3.0), Ok(1000));
    // What the scene itself takes at its peak, and next to nothing more.
    let swing = Swing::default();
    let x = |k: usize, leg: usize| swing.legs_m(k as f64 * 0.001, 1.0)[leg];
    let second = |k: usize, leg: usize| (x(k + 2, leg) - 2.0 * x(k + 1, leg) + x(k, leg)) / 1e-6;
    let peak = (0..11_998).flat_map(|k| [second(k, 0), second(k, 1)]).fold(0.0, |p: f64, a| p.max(a.abs()));
    let tight = length(0.3, 1.001 * peak).unwrap();
    assert!(tight > 1000, "{tight} {peak}");
    assert!(matches!(length(0.02, 3.0), Err(GainError::NoRamp { .. })));
    // 34 s do not fit into what is left of 12 s.
    assert!(matches!(fit(&limits(0.3, 3.0), 11_500, 1.0, 0.2), Err(GainError::NoRamp { .. })));
}

#[test]
fn a_gain_that_was_not_checked_is_refused() {
    for gain in [1.0001, -0.1, f64::NAN, f64::INFINITY] {
        assert!(matches!(fit(&limits(0.3, 3.0), 0, 1.0, gain), Err(GainError::Unchecked { .. })));
    }
    assert!(fit(&limits(0.3, 3.0), 0, 1.0, 0.0).is_ok());
}
