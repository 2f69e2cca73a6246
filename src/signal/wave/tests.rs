//! What holds for every waveform: derivatives, blocks, bounds, rest at the ends.

use super::*;
use crate::signal::{BLOCK, JetBlock, Signal};
use proptest::prelude::*;

const RATE_HZ: f64 = 1000.0;

fn orders() -> impl Strategy<Value = Order> {
    prop_oneof![Just(Order::Value), Just(Order::Rate), Just(Order::Acceleration)]
}

/// A frequency over `start` and `length`: steady, a straight ramp or a product of ramps; always above zero.
fn frequencies(start_s: f64, length_s: f64) -> impl Strategy<Value = Curve> {
    let end_s = start_s + length_s;
    prop_oneof![
        (0.3..40.0_f64).prop_map(Curve::Constant),
        (0.3..40.0_f64, 0.3..40.0_f64).prop_map(move |(a, b)| Curve::ramp(a, b, start_s, end_s)),
        (0.5..5.0_f64, 0.5..5.0_f64).prop_map(move |(a, b)| {
            let ramp = Curve::ramp(a, b, start_s, end_s);
            Curve::product(ramp.clone(), ramp)
        }),
    ]
}

/// Any of the seven waveforms, with the edges and gains that a profile gives it.
pub(crate) fn signals() -> impl Strategy<Value = Signal> {
    (0.0..50.0_f64, 0.5..4.0_f64).prop_flat_map(|(start_s, length_s)| {
        let edges = [
            Factor::Rise { start_s, length_s: length_s * 0.2 },
            Factor::Fall { end_s: start_s + length_s, length_s: length_s * 0.25 },
        ];
        let open = move |wave: Wave, factor: Option<Factor>| Signal {
            start_s,
            length_s,
            wave,
            factors: edges.iter().cloned().chain(factor).collect(),
        };
        let (open_b, open_c, open_d) = (open.clone(), open.clone(), open.clone());
        let shape = prop_oneof![
            (frequencies(start_s, length_s), -1.0..1.0_f64, orders()).prop_map(move |(f, phase, order)| {
                let (wave, factor) = Wave::sine(&f, phase, order, start_s, length_s).unwrap();
                open(wave, factor)
            }),
            (0.2..30.0_f64, 0.2..30.0_f64, 0.0..1.0_f64, orders()).prop_map(move |(a, b, phase, order)| {
                let (wave, factor) = Wave::sweep(a, b, phase, order, start_s, length_s).unwrap();
                open_b(wave, factor)
            }),
            (frequencies(start_s, length_s), 1.2..12.0_f64, -3.0..2.0_f64, any::<u64>(), orders()).prop_map(
                move |(low, ratio, slope, seed, order)| {
                    let high = Curve::product(low.clone(), Curve::Constant(ratio));
                    let (wave, factor) =
                        Wave::noise(&low, &high, slope, seed, order, start_s, length_s).unwrap();
                    open_c(wave, factor)
                }
            ),
            (0.5..60.0_f64, 0.05..1.0_f64, orders()).prop_map(move |(f, damping, order)| {
                let (wave, length_s) = Wave::ring(f, damping, order).unwrap();
                Signal { start_s, length_s, wave, factors: Vec::new() }
            }),
            (orders()).prop_map(move |order| {
                let wave = Wave::pulse(length_s, order).unwrap();
                Signal { start_s, length_s, wave, factors: Vec::new() }
            }),
            (0.05..0.5_f64, 0.05..0.5_f64, orders()).prop_map(move |(ease, back, order)| {
                let wave = Wave::hold(ease * length_s, back * length_s, length_s, order).unwrap();
                Signal { start_s, length_s, wave, factors: Vec::new() }
            }),
            (any::<u64>(), 0.02..0.2_f64).prop_map(move |(seed, step_s)| {
                let mut random = crate::signal::SplitMix64(seed);
                let count = (5.0 / step_s) as usize + 8;
                let value: Vec<f64> = (0..count).map(|_| random.next_unit() - 0.5).collect();
                let time_s = (0..count).map(|k| 7.0 + k as f64 * step_s).collect();
                let recording = super::super::trace::Recording { time_s, value, remarks: Vec::new() };
                let spline = recording.spline(100.0).unwrap();
                open_d(Wave::trace(Arc::new(spline), 7.5), None)
            }),
        ];
        let gain = prop_oneof![
            Just(None),
            (-2.0..2.0_f64).prop_map(|x| Some(Curve::Constant(x))),
            (-2.0..2.0_f64, -2.0..2.0_f64).prop_map(move |(a, b)| Some(Curve::ramp(
                a,
                b,
                start_s,
                start_s + length_s
            ))),
            (-20.0..6.0_f64, -20.0..6.0_f64).prop_map(move |(a, b)| Some(Curve::decibels(Curve::ramp(
                a,
                b,
                start_s,
                start_s + length_s
            )))),
        ];
        (shape, gain).prop_map(|(mut signal, gain)| {
            signal.factors.extend(gain.map(Factor::Gain));
            signal
        })
    })
}

/// The bounds of the signal alone, without its edges: what its size is.
fn size(signal: &Signal) -> [f64; 5] {
    signal.majorant(signal.start_s, signal.start_s + signal.length_s).0
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn derivatives_match_differences(signal in signals(), part in 0.001..0.999_f64) {
        let t = signal.start_s + part * signal.length_s;
        let h = 1e-5;
        let (earlier, later) = (t - h, t + h);
        let (before, at, after) = (signal.jet(earlier), signal.jet(t), signal.jet(later));
        let bound = signal.majorant(t - h, t + h).0;
        for k in 0..3 {
            let difference = (after.0[k] - before.0[k]) / (later - earlier);
            // Half the step times the bound of the next derivative, however it jumps; and the numbers' own rounding.
            let allowed = bound[k + 2] * h + 1e-9 * (bound[k] + bound[k + 1] * 1e-3) + 1e-12;
            prop_assert!((difference - at.0[k + 1]).abs() <= allowed, "order {}: {} {} in {:?}", k + 1, difference, at.0[k + 1], signal);
        }
    }

    #[test]
    fn blocks_are_the_jets(signal in signals(), offset in 0..BLOCK, count in 1..=BLOCK) {
        let size = size(&signal);
        let first = (signal.start_s * RATE_HZ) as i64 - offset as i64;
        let blocks = (signal.length_s * RATE_HZ) as i64 / BLOCK as i64 + 3;
        for b in 0..blocks {
            let start_s = (first + b * BLOCK as i64) as f64 / RATE_HZ;
            let mut out = JetBlock::zero();
            out.0[2].fill(1.0);
            signal.add_block(start_s, 1.0 / RATE_HZ, count, &mut out);
            for j in 0..BLOCK {
                let t = start_s + j as f64 * (1.0 / RATE_HZ);
                let jet = if j < count { signal.jet(t) } else { Jet::default() };
                for k in 0..4 {
                    let found = out.0[k][j] - if k == 2 { 1.0 } else { 0.0 };
                    let time = size[k + 1] * t * f64::EPSILON;
                    prop_assert!((found - jet.0[k]).abs() <= 1e-11 * size[k] + time + 1e-15, "order {} sample {}: {} {} in {:?}", k, j, found, jet.0[k], signal);
                }
            }
        }
    }

    #[test]
    fn bounds_hold(signal in signals(), from in -0.1..1.0_f64, part in 0.0..0.4_f64) {
        let from_s = signal.start_s + from * signal.length_s;
        let to_s = from_s + part * signal.length_s;
        let bound = signal.majorant(from_s, to_s).0;
        let step = (to_s - from_s) / 400.0;
        let mut last: Option<(f64, f64)> = None;
        for i in 0..=400 {
            let t = (from_s + f64::from(i) * step).min(to_s);
            let jet = signal.jet(t).0;
            for k in 0..4 {
                prop_assert!(jet[k].abs() <= bound[k] + 1e-13, "order {} at {}: {} above {} in {:?}", k, t, jet[k], bound[k], signal);
            }
            if let Some((at, jerk)) = last && t > at {
                let snap = (jet[3] - jerk).abs() / (t - at);
                prop_assert!(snap <= bound[4] * (1.0 + 1e-6) + 1e-9 * bound[3] / step, "{} above {} in {:?}", snap, bound[4], signal);
            }
            last = Some((t, jet[3]));
        }
    }

    #[test]
    fn both_ends_are_at_rest_and_beyond_them_is_silence(signal in signals()) {
        let size = size(&signal);
        let end_s = signal.start_s + signal.length_s;
        let hair = 1e-7 * signal.length_s;
        for (t, inside) in [(signal.start_s, hair), (end_s, -hair)] {
            let near = signal.jet(t + inside).0;
            for k in 0..4 {
                // All are zero at the end itself, so near it they are at most the next bound times the distance.
                prop_assert!(near[k].abs() <= 2.0 * size[k + 1] * hair + 1e-12 * size[k], "order {}: {:?} in {:?}", k, near, signal);
            }
            prop_assert_eq!(signal.jet(t - inside), Jet::default());
        }
        prop_assert_eq!(signal.majorant(end_s + 0.01, end_s + 1.0), Majorant::default());
        prop_assert_eq!(signal.majorant(signal.start_s - 1.0, signal.start_s - 0.01), Majorant::default());
    }
}

fn peak(signal: &Signal, order: usize) -> f64 {
    (0..=200_000)
        .map(|i| signal.jet(signal.start_s + signal.length_s * f64::from(i) / 200_000.0).0[order].abs())
        .fold(0.0, f64::max)
}

#[test]
fn rings_pulses_and_holds_swing_by_one_in_the_order_asked() {
    for order in [Order::Value, Order::Rate, Order::Acceleration] {
        let mut waves = vec![
            (Wave::pulse(0.16, order).unwrap(), 0.16),
            (Wave::hold(0.4, 1.0, 3.0, order).unwrap(), 3.0),
            (Wave::hold(1.0, 0.2, 1.2, order).unwrap(), 1.2),
        ];
        for (f, damping) in [(7.0, 0.3), (48.0, 0.2), (5.0, 1.0), (2.0, 0.02), (3.0, 0.7)] {
            waves.push(Wave::ring(f, damping, order).unwrap());
        }
        for (wave, length_s) in waves {
            let signal = Signal { start_s: 0.0, length_s, wave, factors: Vec::new() };
            let found = peak(&signal, order.count());
            assert!((found - 1.0).abs() < 1e-5 && found < 1.0 + 1e-9, "{found} in {signal:?}");
        }
    }
}

#[test]
fn a_ring_lasts_to_one_percent_in_whole_half_cycles() {
    // ln 100 / (2 pi 0.2) = 3.665 cycles, so 4; at 0.3, 2.443, so 2.5; at 1, 0.733, so 1
    for (damping, cycles) in [(0.2, 4.0), (0.3, 2.5), (1.0, 1.0)] {
        let (_, length_s) = Wave::ring(8.0, damping, Order::Value).unwrap();
        assert_eq!(length_s, cycles / 8.0);
    }
    for damping in [0.0, -0.1, 1.01, f64::NAN, f64::INFINITY] {
        assert!(matches!(Wave::ring(8.0, damping, Order::Value), Err(WaveError::Damping(_))));
    }
}

#[test]
fn amplitudes_of_a_rate_are_values_by_calculus() {
    let plain = |wave: Wave, factor: Option<Factor>| Signal {
        start_s: 0.0,
        length_s: 20.0,
        wave,
        factors: factor.into_iter().collect(),
    };
    let (wave, factor) = Wave::sine(&Curve::Constant(2.0), 0.0, Order::Rate, 0.0, 20.0).unwrap();
    let sine = plain(wave, factor);
    assert!((sine.jet(0.0).0[1] - 1.0).abs() < 1e-14);
    let (wave, factor) = Wave::sine(&Curve::Constant(2.0), 0.25, Order::Acceleration, 0.0, 20.0).unwrap();
    assert!((plain(wave, factor).jet(0.0).0[2] + 1.0).abs() < 1e-14);
    let (low, high) = (Curve::Constant(3.0), Curve::Constant(9.0));
    for order in [Order::Value, Order::Rate, Order::Acceleration] {
        let (wave, factor) = Wave::noise(&low, &high, -1.0, 5, order, 0.0, 2000.0).unwrap();
        let signal = Signal { length_s: 2000.0, ..plain(wave, factor) };
        let samples = 200_000;
        let square: f64 =
            (0..samples).map(|i| signal.jet(f64::from(i) * 0.01).0[order.count()].powi_two()).sum();
        let rms = (square / f64::from(samples)).sqrt();
        assert!((rms - 1.0).abs() < 5e-3, "{rms}");
    }
}

trait Square {
    fn powi_two(self) -> f64;
}

impl Square for f64 {
    fn powi_two(self) -> f64 {
        self * self
    }
}

#[test]
fn wrong_arguments_are_named() {
    let hz = Curve::Constant;
    let sine = |f: &Curve| Wave::sine(f, 0.0, Order::Value, 0.0, 1.0).map(|_| ()).unwrap_err().to_string();
    assert_eq!(sine(&hz(0.0)), "frequency must stay above zero; it reaches 0");
    assert_eq!(sine(&Curve::ramp(3.0, -1.0, 0.0, 1.0)), "frequency must stay above zero; it reaches -1");
    assert!(sine(&Curve::decibels(Curve::ramp(0.0, 1.0, 0.0, 1.0))).starts_with("frequency may only ramp"));
    assert!(sine(&hz(f64::NAN)).contains("NaN"));
    let noise = |a: &Curve, b: &Curve, order| Wave::noise(a, b, 0.0, 1, order, 0.0, 1.0).map(|_| ());
    assert_eq!(
        noise(&hz(3.0), &hz(2.0), Order::Value),
        Err(WaveError::BandOrder { low_hz: 3.0, high_hz: 2.0 })
    );
    assert_eq!(
        noise(&hz(3.0), &hz(3.0), Order::Value),
        Err(WaveError::BandOrder { low_hz: 3.0, high_hz: 3.0 })
    );
    let up = |top: f64| Curve::ramp(0.0, top, 0.0, 1.0);
    assert_eq!(noise(&up(1.0), &hz(3.0), Order::Value), Err(WaveError::Band));
    assert_eq!(noise(&up(1.0), &up(3.0), Order::Value), Ok(()));
    assert_eq!(
        noise(&up(1.0), &up(3.0), Order::Rate),
        Err(WaveError::NotAboveZero { what: "frequency", reached: 0.0 })
    );
    assert!(noise(&Curve::ramp(-1.0, 1.0, 0.0, 1.0), &up(3.0), Order::Value).is_err());
    assert!(noise(&hz(1e-6), &hz(100.0), Order::Value).unwrap_err().to_string().contains("octaves"));
    assert!(matches!(Wave::pulse(0.0, Order::Value), Err(WaveError::NotAboveZero { what: "width", .. })));
    let hold = Wave::hold(2.0, 2.0, 3.0, Order::Value).unwrap_err().to_string();
    assert!(hold.contains("at least 4 s"), "{hold}");
    assert!(matches!(
        Wave::sweep(0.0, 3.0, 0.0, Order::Value, 0.0, 1.0),
        Err(WaveError::NotAboveZero { .. })
    ));
}

#[test]
fn bands_are_those_of_the_waveform() {
    let band = |wave: Wave| Signal { start_s: 2.0, length_s: 4.0, wave, factors: Vec::new() }.band_hz();
    let ramp = Curve::ramp(3.0, 5.0, 2.0, 6.0);
    assert_eq!(band(Wave::sine(&ramp, 0.0, Order::Value, 2.0, 4.0).unwrap().0), Some((3.0, 5.0)));
    let high = Curve::product(ramp.clone(), Curve::Constant(4.0));
    assert_eq!(band(Wave::noise(&ramp, &high, 0.0, 1, Order::Value, 2.0, 4.0).unwrap().0), Some((3.0, 20.0)));
    let (low, high) = band(Wave::sweep(8.0, 2.0, 0.0, Order::Value, 2.0, 4.0).unwrap().0).unwrap();
    assert!((low - 2.0).abs() < 1e-12 && high == 8.0);
    assert_eq!(band(Wave::ring(7.0, 0.2, Order::Value).unwrap().0), Some((7.0, 7.0)));
    assert_eq!(band(Wave::pulse(4.0, Order::Value).unwrap()), None);
}

#[test]
fn a_phase_of_ten_million_turns_is_the_same_by_block_and_by_jet() {
    let (wave, _) = Wave::sine(&Curve::Constant(1000.0), 0.0, Order::Value, 0.0, 20_000.0).unwrap();
    let signal = Signal { start_s: 0.0, length_s: 20_000.0, wave, factors: Vec::new() };
    let mut out = JetBlock::zero();
    // 1e7 turns and a quarter, hit exactly: 10000 s and 1/4096 s is 1e7 turns and 1000/4096.
    signal.add_block(10_000.0, 1.0 / 4096.0, 256, &mut out);
    for j in 0..256 {
        let turns = f64::from((1000 * j) % 4096) / 4096.0;
        let expected = libm::sin(turns * std::f64::consts::TAU);
        assert!((out.0[0][j as usize] - expected).abs() < 1e-12);
        assert!((signal.jet(10_000.0 + f64::from(j) / 4096.0).0[0] - expected).abs() < 1e-12);
    }
}
