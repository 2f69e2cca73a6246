//! The governor's promise over arbitrary, hostile set-points, through its public face only.

use cueloom::safety::{Bound, Governor, Keeps, LegLimits, Limits, Outcome, TOLERANCE};
use proptest::prelude::*;

fn leg() -> impl Strategy<Value = LegLimits> {
    (0.1f64..2.0, 0.01f64..0.5, 0.01f64..1.0, 0.1f64..60.0).prop_map(|(low, range, speed, acceleration)| {
        LegLimits {
            low_m: low,
            high_m: low + range,
            speed_m_s: speed,
            acceleration_m_s2: acceleration,
            window_m: 0.01,
        }
    })
}

fn limits() -> impl Strategy<Value = Limits> {
    (prop::collection::vec(leg(), 1..=6), prop::sample::select(vec![0.001, 0.002, 0.004, 0.01]))
        .prop_map(|(legs, period_s)| Limits::new(&legs, period_s).expect("as prepared"))
}

/// One cycle's wanted lengths: where in the stroke (0..1 inside), or nonsense.
fn wanted() -> impl Strategy<Value = f64> {
    prop_oneof![
        6 => -0.2f64..1.2,
        1 => Just(0.0),
        1 => Just(1.0),
        1 => -1e3f64..1e3,
        1 => prop::num::f64::ANY,
    ]
}

/// A stretch of a stream: jump to a value, creep at a rate, swing, or repeat.
fn stream() -> impl Strategy<Value = Vec<(u16, Vec<f64>, Vec<f64>)>> {
    let piece = (1u16..60, prop::collection::vec(wanted(), 6), prop::collection::vec(-0.02f64..0.02, 6));
    prop::collection::vec(piece, 1..12)
}

fn place(limits: &Limits, shares: &[f64]) -> Vec<f64> {
    limits.legs().iter().zip(shares).map(|(l, s)| l.low_m + s * (l.high_m - l.low_m)).collect()
}

/// Checks a stream of set-points against the promise.
struct Watch {
    before: Vec<f64>,
    at: Vec<f64>,
}

impl Watch {
    fn step(&mut self, limits: &Limits, out: &[f64]) {
        let period_s = limits.period_s();
        for (leg, l) in limits.legs().iter().enumerate() {
            let x = out[leg];
            assert!(x >= l.low_m - TOLERANCE && x <= l.high_m + TOLERANCE, "leg {leg} at {x}, {l:?}");
            let speed = (x - self.at[leg]) / period_s;
            assert!(speed.abs() <= l.speed_m_s + TOLERANCE, "leg {leg} speed {speed}, {l:?}");
            let second = (x - 2.0 * self.at[leg] + self.before[leg]) / (period_s * period_s);
            let rounding = 8.0 * f64::EPSILON * l.high_m / (period_s * period_s);
            let most = l.acceleration_m_s2 * (1.0 + TOLERANCE) + rounding;
            assert!(second.abs() <= most, "leg {leg} acceleration {second}, {l:?}");
        }
        self.before.copy_from_slice(&self.at);
        self.at.copy_from_slice(out);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_promise_is_never_broken(
        limits in limits(),
        start in prop::collection::vec(0.0f64..=1.0, 6),
        stream in stream(),
        brake_at in prop::option::of(0usize..300),
        lost_at in prop::option::of(0usize..300),
    ) {
        let at: Vec<f64> = place(&limits, &start)
            .iter().zip(limits.legs()).map(|(x, l)| x.clamp(l.low_m, l.high_m)).collect();
        let mut governor = Governor::start(limits.clone(), &at).expect("as prepared");
        let mut watch = Watch { before: at.clone(), at };
        let mut cycle = 0;
        for (length, shares, rates) in stream {
            for k in 0..length {
                let now: Vec<f64> =
                    shares.iter().zip(&rates).map(|(s, r)| s + r * f64::from(k)).collect();
                let wanted = place(&limits, &now);
                if brake_at == Some(cycle) { governor.brake(); }
                let measured: Vec<f64> = if lost_at == Some(cycle) {
                    governor.set_points_m().iter().map(|x| x + 0.02).collect()
                } else {
                    governor.set_points_m().to_vec()
                };
                let would = governor.would_hold(&wanted);
                let (out, outcome) = governor.step(&wanted, Some(&measured));
                watch.step(&limits, &out);
                if outcome == Outcome::Followed {
                    prop_assert_eq!(&*out, &wanted[..]);
                    prop_assert_eq!(would, None);
                }
                if lost_at.is_some_and(|lost| cycle >= lost) {
                    prop_assert!(matches!(outcome, Outcome::Tripped(_)));
                }
                cycle += 1;
            }
        }
        // From wherever that left it, a stop is straight and ends inside.
        governor.brake();
        let first: Vec<f64> = watch.at.iter().zip(&watch.before).map(|(a, b)| a - b).collect();
        let from = watch.at.clone();
        let mut cycles = 0;
        loop {
            let (out, _) = governor.step(&from, None);
            watch.step(&limits, &out);
            if governor.is_at_rest() { break; }
            cycles += 1;
            prop_assert!(cycles < 100_000);
        }
        let longest = (0..first.len()).max_by(|a, b| first[*a].abs().total_cmp(&first[*b].abs())).expect("as prepared");
        if first[longest] != 0.0 {
            let share = (watch.at[longest] - from[longest]) / first[longest];
            for leg in 0..first.len() {
                let off = watch.at[leg] - from[leg] - share * first[leg];
                prop_assert!(off.abs() < 1e-9 * (1.0 + share), "leg {leg} off the line by {off}");
            }
        }
    }

    #[test]
    fn it_comes_to_any_allowed_target_that_stays(
        limits in limits(),
        start in prop::collection::vec(0.0f64..=1.0, 6),
        stream in stream(),
        target in prop::collection::vec(0.0f64..=1.0, 6),
    ) {
        let inside = |shares: &[f64]| -> Vec<f64> {
            place(&limits, shares).iter().zip(limits.legs()).map(|(x, l)| x.clamp(l.low_m, l.high_m)).collect()
        };
        let mut governor = Governor::start(limits.clone(), &inside(&start)).expect("as prepared");
        for (length, shares, rates) in stream {
            for k in 0..length {
                let now: Vec<f64> =
                    shares.iter().zip(&rates).map(|(s, r)| s + r * f64::from(k)).collect();
                governor.step(&place(&limits, &now), None);
            }
        }
        let target = inside(&target);
        let slowest = limits.legs().iter().map(|l| {
            (l.high_m - l.low_m) / l.speed_m_s + 3.0 * l.speed_m_s / l.acceleration_m_s2
        }).fold(0.0, f64::max);
        let cycles = (4.0 * slowest / limits.period_s()) as usize + 100;
        let arrived = (0..cycles).any(|_| {
            let (out, outcome) = governor.step(&target, None);
            *out == target[..] && outcome == Outcome::Followed && governor.is_at_rest()
        });
        prop_assert!(arrived, "{:?} after {cycles} cycles, wanted {target:?}", governor.set_points_m());
    }

    #[test]
    fn a_joint_bound_is_kept_like_a_stroke(
        limits in limits(),
        weights in prop::collection::vec(-1.0f64..1.0, 6),
        room in 0.0f64..0.05,
        stream in stream(),
    ) {
        let count = limits.legs().len();
        let start = place(&limits, &[0.5; 6]);
        let sum = |x: &[f64]| weights.iter().zip(x).map(|(w, x)| w * x).sum::<f64>();
        let most = sum(&start) + room;
        let limits = limits.bounded(Keeps::Joint, &Bound { weight: weights[..count].to_vec(), at_most_m: most }).expect("as prepared");
        let mut governor = Governor::start(limits.clone(), &start).expect("as prepared");
        for (length, shares, _) in stream {
            for _ in 0..length {
                let (out, _) = governor.step(&place(&limits, &shares), None);
                prop_assert!(sum(&out) <= most + TOLERANCE, "{} over {most}", sum(&out));
            }
        }
    }
}
