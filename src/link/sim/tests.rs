use super::*;
use crate::link::sample::two_legs;

fn rig(change: impl FnOnce(&mut Drive)) -> Rig {
    let mut rig = two_legs();
    change(&mut rig.drive);
    rig
}

/// Sends what `length` gives at each set-point's time and returns the true length of leg 0 at every cycle.
fn run(rig: &Rig, cycles: u64, length: impl Fn(f64) -> f64) -> (EngagedSim, Vec<f64>) {
    let cycle_us = u64::from(rig.drive.cycle_us);
    let mut link = SimRig::new(rig, &[length(0.0), 0.75]).engage(DriveTime(0)).map_err(|e| e.1).unwrap();
    let mut found = Vec::new();
    for k in 0..cycles {
        link.poll(DriveTime(k * cycle_us)).unwrap();
        found.push(link.rig().lengths_m()[0]);
        let apply_at = DriveTime((k + 1) * cycle_us);
        let lengths_m = Legs::from_slice(&[length(apply_at.0 as f64 * 1e-6), 0.75]).unwrap();
        link.send(&SetPoints { sequence: k, apply_at, lengths_m }).unwrap();
    }
    (link, found)
}

#[test]
fn follows_a_ramp_with_the_lag_of_its_loop_and_its_delay() {
    let rig = rig(|d| {
        d.bandwidth_hz = 20.0;
        d.delay_s = 0.003;
    });
    let (_, at) = run(&rig, 1000, |t| 0.7 + 0.1 * t);
    // 2 z / w behind a ramp (second-order system, from memory), w from the bandwidth: 2 * 0.9 / 168.4 = 10.69 ms.
    let lag_s = (0.7 + 0.1 * 0.999 - at[999]) / 0.1;
    assert!((lag_s - 0.003 - 0.01069).abs() < 1e-4, "{lag_s}");
}

#[test]
fn lets_its_bandwidth_through_at_three_decibels() {
    let rig = rig(|d| d.bandwidth_hz = 10.0);
    let (_, at) = run(&rig, 3000, |t| 0.75 + 0.0004 * libm::sin(std::f64::consts::TAU * 10.0 * t));
    let peak = at[2000..].iter().map(|x| (x - 0.75).abs()).fold(0.0, f64::max);
    assert!((peak / 0.0004 - std::f64::consts::FRAC_1_SQRT_2).abs() < 0.01, "{}", peak / 0.0004);
}

#[test]
fn a_cubic_is_one_cycle_later_than_a_line() {
    let with = |interpolation| {
        let rig = rig(|d| d.interpolation = interpolation);
        run(&rig, 500, |t| 0.7 + 0.1 * t).1[499]
    };
    let behind_s = (with(Interpolation::Linear) - with(Interpolation::Cubic)) / 0.1;
    assert!((behind_s - 0.001).abs() < 1e-5, "{behind_s}");
}

#[test]
fn speed_and_acceleration_have_ends() {
    let rig = two_legs();
    let (_, at) = run(&rig, 600, |t| if t > 0.0 { 0.88 } else { 0.65 });
    let speed = at.windows(2).map(|w| (w[1] - w[0]) / 0.001).fold(0.0, f64::max);
    let second = at.windows(3).map(|w| (w[2] - 2.0 * w[1] + w[0]).abs() / 1e-6).fold(0.0, f64::max);
    assert!(speed <= 1.25 * 0.3 + 1e-9 && speed > 0.3, "{speed}");
    assert!(second <= 1.25 * 3.0 + 1e-6 && second > 3.0, "{second}");
}

#[test]
fn the_encoder_shows_whole_counts() {
    let rig = two_legs();
    let (mut link, _) = run(&rig, 200, |t| 0.7 + 0.01 * t);
    let shown = link.poll(DriveTime(200_000)).unwrap().measured_m[0];
    let counts = (shown - 0.6) / (0.005 / 10_000.0);
    assert!((counts - counts.round()).abs() < 1e-6);
    assert!((shown - link.rig().lengths_m()[0]).abs() <= 0.25e-6 + 1e-12);
    link.rig().slip_encoder(0, 0.01);
    assert!((link.poll(DriveTime(200_000)).unwrap().measured_m[0] - shown - 0.01).abs() < 1e-6);
}

#[test]
fn silence_and_the_end_of_the_stroke_are_faults() {
    let rig = two_legs();
    let (mut link, _) = run(&rig, 100, |_| 0.7);
    let patience_us = (rig.drive.detection_s * 1e6) as u64 + 10_000;
    assert_eq!(link.poll(DriveTime(100_000)).unwrap().fault, None);
    assert_eq!(link.poll(DriveTime(100_000 + patience_us)).unwrap().fault, Some(DriveFault::Silence));
    assert!(matches!(link.release().engage(DriveTime(200_000)), Err((_, LinkFault::Drives))));
    let (mut link, _) = run(&rig, 1500, |t| 0.62 - 0.02 * t);
    assert_eq!(link.poll(DriveTime(1_500_000)).unwrap().fault, Some(DriveFault::EndStop { leg: 0 }));
}

#[test]
fn refuses_what_is_not_fit_to_send() {
    let rig = two_legs();
    let (mut link, _) = run(&rig, 3, |_| 0.7);
    let point = |sequence, at_us, lengths: &[f64]| SetPoints {
        sequence,
        apply_at: DriveTime(at_us),
        lengths_m: Legs::from_slice(lengths).unwrap(),
    };
    assert_eq!(link.send(&point(3, 4000, &[0.7])), Err(LinkFault::Count { found: 1, expected: 2 }));
    assert_eq!(link.send(&point(3, 4000, &[0.7, f64::NAN])), Err(LinkFault::NotANumber));
    assert_eq!(link.send(&point(2, 4000, &[0.7, 0.7])), Err(LinkFault::Order));
    assert_eq!(link.send(&point(3, 3000, &[0.7, 0.7])), Err(LinkFault::Order));
    assert_eq!(link.send(&point(3, 4000, &[0.7, 0.7])), Ok(()));
    link.rig().set_silent(true);
    assert_eq!(link.poll(DriveTime(4000)), Err(LinkFault::Silent));
    assert!(link.poll(DriveTime(u64::MAX)).is_err());
}

#[test]
fn the_same_set_points_give_the_same_bytes() {
    let rig = two_legs();
    let length = |t: f64| 0.7 + 0.02 * libm::sin(5.0 * t);
    let bits = |at: Vec<f64>| at.into_iter().map(f64::to_bits).collect::<Vec<_>>();
    assert_eq!(bits(run(&rig, 500, length).1), bits(run(&rig, 500, length).1));
}
