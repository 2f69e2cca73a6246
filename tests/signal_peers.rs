//! Signals against NumPy and SciPy, in the Python that `.ci/setup` makes.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use cueloom::signal::trace::{Recording, lowpass_taps};
use cueloom::signal::{BLOCK, Curve, Factor, JetBlock, Order, Signal, SplitMix64, Wave, smoothstep};
use serde_json::{Value, json};
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

/// Runs `tests/peers/{script}` with `asked` on its input; its output is JSON.
fn peer(script: &str, asked: &Value) -> Value {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let python = root.join(if cfg!(windows) { ".venv/Scripts/python.exe" } else { ".venv/bin/python" });
    assert!(python.exists(), "{} is missing: run sh .ci/setup", python.display());
    let mut child = Command::new(python)
        .arg(root.join("tests/peers").join(script))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the peer starts");
    // A peer that dies at once leaves a broken pipe; its status below says more than that error.
    let _ = child.stdin.take().unwrap().write_all(asked.to_string().as_bytes());
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "{script} failed (packages missing? run sh .ci/setup)");
    serde_json::from_slice(&output.stdout).expect("the peer answers in JSON")
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

/// Value and derivatives at `rate_hz`, rendered block by block.
fn rendered(signal: &Signal, rate_hz: u32, count: usize) -> [Vec<f64>; 4] {
    let rate = f64::from(rate_hz);
    let mut out: [Vec<f64>; 4] = Default::default();
    let mut block = JetBlock::zero();
    for b in 0..count.div_ceil(BLOCK) {
        block.clear();
        signal.add_block((b * BLOCK) as f64 / rate, 1.0 / rate, BLOCK, &mut block);
        for (all, row) in out.iter_mut().zip(block.0.iter()) {
            all.extend_from_slice(&row[..BLOCK.min(count - b * BLOCK)]);
        }
    }
    out
}

fn signal(built: (Wave, Option<Factor>), length_s: f64) -> Signal {
    Signal { start_s: 0.0, length_s, wave: built.0, factors: built.1.into_iter().collect() }
}

#[test]
fn the_random_numbers_are_those_of_the_published_formula() {
    for seed in [0, 1_234_567, u64::MAX] {
        let answer = peer("signal_random.py", &json!({"seed": seed.to_string(), "count": 1000}));
        let mut random = SplitMix64(seed);
        for theirs in answer.as_array().unwrap() {
            assert_eq!(random.next_bits().to_string(), theirs.as_str().unwrap());
        }
    }
}

#[test]
fn noise_has_the_density_asked_for_by_welch() {
    let cases = [
        (8.0, 14.0, 0.0, Order::Acceleration),
        (2.0, 20.0, 0.0, Order::Value),
        (2.0, 16.0, -2.0, Order::Rate),
        (3.0, 12.0, 1.0, Order::Value),
    ];
    let asked = cases.map(|(low, high, slope, order)| {
        let (a, b) = (Curve::Constant(low), Curve::Constant(high));
        let built = Wave::noise(&a, &b, slope, 11, order, 0.0, 400.0).unwrap();
        let [value, rate, acceleration, _] = rendered(&signal(built, 400.0), 200, 80_000);
        let samples = [value, rate, acceleration].into_iter().nth(order.count());
        json!({"rate_hz": 200.0, "low_hz": low, "high_hz": high, "slope": slope, "segment_s": 2.0, "samples": samples})
    });
    for answer in peer("signal_noise.py", &json!(asked)).as_array().unwrap() {
        let number = |key: &str| answer[key].as_f64().unwrap();
        let about = answer.to_string();
        assert!(number("bins") >= 7.0, "{about}");
        assert!((number("rms") - 1.0).abs() < 0.01, "{about}");
        assert!((number("power") - 1.0).abs() < 0.02, "{about}");
        assert!((number("mean") - 1.0).abs() < 0.05, "{about}");
        // One line a step of log f, at random within it: few lines to a bin, so single bins scatter.
        assert!(number("least") > 0.5 && number("most") < 1.6, "{about}");
        assert!(number("leak") < 1e-8, "{about}");
        for (share, expected) in numbers(&answer["shares"]).iter().zip(numbers(&answer["expected_shares"])) {
            assert!((share - expected).abs() < 0.03, "{about}");
        }
    }
}

#[test]
fn filter_taps_are_those_of_firwin() {
    let wanted = [(61, 10.0, 60.0), (153, 4.0, 60.0), (1281, 0.5, 60.0), (3, 25.0, 60.0)];
    let asked: Vec<Value> = wanted
        .iter()
        .map(|(count, below, rate)| json!({"count": count, "below_hz": below, "rate_hz": rate}))
        .collect();
    let answer = peer("signal_trace.py", &json!({"taps": asked}));
    assert!((answer["beta"].as_f64().unwrap() - 7.85726).abs() < 1e-12);
    for (k, (count, below_hz, rate_hz)) in wanted.into_iter().enumerate() {
        let ours = lowpass_taps(count, below_hz, rate_hz);
        let theirs = numbers(&answer["taps"][k]);
        assert_eq!(ours.len(), theirs.len());
        for (a, b) in ours.iter().zip(&theirs) {
            assert!((a - b).abs() < 1e-13, "{a} {b}");
        }
        if count == 153 {
            // The documented response, for the number of taps that such a limit gets.
            let response = numbers(&answer["response"][k]);
            assert!((response[0] - 1.0).abs() < 1e-12 && (response[1] - 1.0).abs() < 2e-4, "{response:?}");
            assert!((response[2] - 0.5).abs() < 1e-3 && response[3] < 2e-4, "{response:?}");
        }
    }
}

/// A seeded restless trace.
fn restless(count: usize) -> Vec<f64> {
    let mut random = SplitMix64(3);
    let mut at = 0.0;
    (0..count)
        .map(|_| {
            at += random.next_unit() - 0.5;
            at
        })
        .collect()
}

#[test]
fn a_filtered_trace_is_scipys() {
    for (rate_hz, below_hz, every) in [(60.0, 4.0, 1), (60.0, 10.0, 1), (500.0, 3.0, 10)] {
        let value = restless(1501);
        let time_s = (0..1501).map(|k| f64::from(k) / rate_hz).collect();
        let recording = Recording { time_s, value: value.clone(), remarks: Vec::new() };
        let spline = recording.spline(below_hz).unwrap();
        assert!((spline.step_s - f64::from(every) / rate_hz).abs() < 1e-12);
        // Kaiser's formula for 80 dB over half the limit, rounded up to an odd number.
        let order: f64 = (80.0 - 7.95) / (2.285 * std::f64::consts::PI * below_hz / rate_hz);
        let count = (order / 2.0).ceil() as usize * 2 + 1;
        let asked =
            json!({"value": value, "count": count, "below_hz": below_hz, "rate_hz": rate_hz, "every": every});
        let answer = peer("signal_trace.py", &json!({"filter": asked}));
        let filtered = numbers(&answer["filtered"]);
        for (k, theirs) in filtered.iter().enumerate().take(1500 / every as usize + 1) {
            let ours = spline.jet(spline.start_s + k as f64 * spline.step_s).0[0];
            assert!((ours - theirs).abs() < 1e-10, "{k}: {ours} {theirs}");
        }
    }
}

#[test]
fn the_quintic_spline_is_scipys() {
    let value = restless(40);
    let time_s: Vec<f64> = (0..40).map(|k| 3.0 + f64::from(k) * 0.25).collect();
    let recording = Recording { time_s, value: value.clone(), remarks: Vec::new() };
    let spline = recording.spline(100.0).unwrap();
    let at: Vec<f64> = (0..500).map(|k| 3.0 + 9.75 * f64::from(k) / 499.0).collect();
    let asked = json!({"spline": {"value": value, "start_s": 3.0, "step_s": 0.25, "at_s": at}});
    let answer = peer("signal_trace.py", &asked);
    for (order, row) in answer["jets"].as_array().unwrap().iter().enumerate() {
        let theirs = numbers(row);
        let size = theirs.iter().fold(0.0_f64, |size, x| size.max(x.abs()));
        for (t, expected) in at.iter().zip(theirs) {
            let found = spline.jet(*t).0[order];
            assert!((found - expected).abs() < 1e-9 * size, "order {order} at {t}: {found} {expected}");
        }
    }
}

#[test]
fn phases_are_those_of_chirp() {
    let at: Vec<f64> = (0..2000).map(|k| f64::from(k) * 0.005).collect();
    let ask = |method: &str, from: f64, to: f64| json!({"shape": "chirp", "method": method, "from_hz": from, "to_hz": to, "length_s": 10.0, "at_s": at});
    let answer = peer(
        "signal_waves.py",
        &json!([ask("linear", 0.5, 12.0), ask("logarithmic", 0.2, 12.0), ask("logarithmic", 9.0, 1.0)]),
    );
    let sine = Wave::sine(&Curve::ramp(0.5, 12.0, 0.0, 10.0), 0.0, Order::Value, 0.0, 10.0).unwrap();
    let up = Wave::sweep(0.2, 12.0, 0.0, Order::Value, 0.0, 10.0).unwrap();
    let down = Wave::sweep(9.0, 1.0, 0.0, Order::Value, 0.0, 10.0).unwrap();
    for (k, built) in [sine, up, down].into_iter().enumerate() {
        let ours = rendered(&signal(built, 10.0), 200, 2000);
        for (j, theirs) in numbers(&answer[k]).iter().enumerate() {
            assert!((ours[0][j] - theirs).abs() < 1e-11, "{k} at {j}: {} {theirs}", ours[0][j]);
        }
    }
}

#[test]
fn the_edge_polynomials_peaks_are_found_by_numpy() {
    let answer = peer("signal_waves.py", &json!([{"shape": "edge"}]));
    let fifth = (5.0 - 5.0_f64.sqrt()) / 10.0;
    let ours = [smoothstep(0.5)[1], smoothstep(fifth)[2], smoothstep(0.5)[3].abs()];
    assert_eq!((ours[0], ours[2]), (2.1875, 52.5));
    for ((a, b), closed) in
        ours.iter().zip(numbers(&answer[0])).zip([2.1875, 84.0 * 5.0_f64.sqrt() / 25.0, 52.5])
    {
        assert!((a - b).abs() < 1e-10 && (a - closed).abs() < 1e-14, "{a} {b} {closed}");
    }
}

/// A case: what the peer is told, the signal, and where they are compared (away from the ends of edges, where the
/// circle in complex time would cross from piece to piece).
fn case(mut told: Value, signal: Signal, radius_s: f64, breaks_s: &[f64]) -> (Value, Signal) {
    let at: Vec<f64> = (1..60)
        .map(|k| signal.length_s * f64::from(k) / 60.0)
        .filter(|t| breaks_s.iter().all(|b| (t - b).abs() > 1.01 * radius_s))
        .filter(|t| *t > 1.01 * radius_s && *t < signal.length_s - 1.01 * radius_s)
        .collect();
    assert!(at.len() > 30, "{told}: {}", at.len());
    told["at_s"] = json!(at);
    told["radius_s"] = json!(radius_s);
    (told, signal)
}

fn cases() -> Vec<(Value, Signal)> {
    let mut out = Vec::new();
    for (word, order) in
        [("value", Order::Value), ("rate", Order::Rate), ("acceleration", Order::Acceleration)]
    {
        for (f, damping) in [(7.0, 0.3), (48.0, 0.2), (5.0, 1.0)] {
            let (wave, length_s) = Wave::ring(f, damping, order).unwrap();
            let half = 0.5 / f;
            let told = json!({"shape": "ring", "frequency_hz": f, "damping": damping, "order": word, "peak_within_s": length_s.min(3.0 * half)});
            out.push(case(told, signal((wave, None), length_s), 0.04 / f, &[half, length_s - half]));
        }
        let told = json!({"shape": "pulse", "width_s": 0.16, "order": word, "peak_within_s": 0.16});
        out.push(case(told, signal((Wave::pulse(0.16, order).unwrap(), None), 0.16), 0.003, &[]));
        let told = json!({"shape": "hold", "ease_s": 0.7, "back_s": 1.1, "length_s": 3.0, "order": word, "peak_within_s": 3.0});
        let wave = Wave::hold(0.7, 1.1, 3.0, order).unwrap();
        out.push(case(told, signal((wave, None), 3.0), 0.05, &[0.7, 1.9]));

        let mut edges = vec![
            Factor::Rise { start_s: 0.0, length_s: 0.5 },
            Factor::Fall { end_s: 4.0, length_s: 0.8 },
            Factor::Gain(Curve::decibels(Curve::ramp(-20.0, 3.0, 0.0, 4.0))),
        ];
        let told = json!({"shape": "sine", "from_hz": 0.8, "to_hz": 5.0, "phase_turns": 0.2, "length_s": 4.0, "order": word, "rise_s": 0.5, "fall_s": 0.8, "from_db": -20.0, "to_db": 3.0});
        let mut sine =
            signal(Wave::sine(&Curve::ramp(0.8, 5.0, 0.0, 4.0), 0.2, order, 0.0, 4.0).unwrap(), 4.0);
        sine.factors.extend(edges.clone());
        out.push(case(told, sine, 0.04, &[0.5, 3.2]));
        let told = json!({"shape": "sweep", "from_hz": 6.0, "to_hz": 0.5, "phase_turns": 0.0, "length_s": 4.0, "order": word, "rise_s": 0.5, "fall_s": 0.8, "ease": [0.8, 0.3]});
        let mut sweep = signal(Wave::sweep(6.0, 0.5, 0.0, order, 0.0, 4.0).unwrap(), 4.0);
        edges[2] = Factor::Gain(Curve::ease(Curve::ramp(0.0, 1.0, 0.0, 4.0), 0.8, 0.3));
        sweep.factors.extend(edges);
        out.push(case(told, sweep, 0.04, &[0.5, 1.2, 3.2]));
    }
    out
}

#[test]
fn derivatives_are_those_of_complex_time() {
    let cases = cases();
    let told: Vec<&Value> = cases.iter().map(|(told, _)| told).collect();
    let answer = peer("signal_waves.py", &json!(told));
    for (k, (told, signal)) in cases.iter().enumerate() {
        let times = numbers(&told["at_s"]);
        let theirs: Vec<Vec<f64>> = answer[k].as_array().unwrap().iter().map(numbers).collect();
        assert_eq!(times.len(), theirs.len());
        for order in 0..4 {
            let size = theirs.iter().fold(0.0_f64, |size, jet| size.max(jet[order].abs()));
            for (t, jet) in times.iter().zip(&theirs) {
                let found = signal.jet(*t).0[order];
                assert!(
                    (found - jet[order]).abs() < 1e-8 * size,
                    "order {order} at {t} s of {told}: {found} {}",
                    jet[order]
                );
            }
        }
    }
}
