//! Time to render one block of each waveform, in the middle of a long signal at 1 kHz. Criterion reports the
//! throughput in samples.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use cueloom::signal::trace::Recording;
use cueloom::signal::{BLOCK, Curve, Factor, JetBlock, Order, Signal, Wave};
use std::hint::black_box;
use std::sync::Arc;

const LENGTH_S: f64 = 100.0;

fn open(built: (Wave, Option<Factor>)) -> Signal {
    let mut factors = vec![
        Factor::Rise { start_s: 0.0, length_s: 0.25 },
        Factor::Fall { end_s: LENGTH_S, length_s: 0.25 },
        Factor::Gain(Curve::Constant(0.02)),
    ];
    factors.extend(built.1);
    Signal { start_s: 0.0, length_s: LENGTH_S, wave: built.0, factors }
}

fn closed(wave: Wave, length_s: f64) -> Signal {
    Signal { start_s: 0.0, length_s, wave, factors: vec![Factor::Gain(Curve::Constant(0.02))] }
}

fn signals() -> Vec<(&'static str, Signal, f64)> {
    let built = "arguments of the bench are in range";
    let hz = Curve::Constant;
    let ramp = |from, to| Curve::ramp(from, to, 0.0, LENGTH_S);
    let sine = |f: &Curve| open(Wave::sine(f, 0.0, Order::Value, 0.0, LENGTH_S).expect(built));
    let noise = |low: &Curve, high: &Curve, order| {
        open(Wave::noise(low, high, 0.0, 1, order, 0.0, LENGTH_S).expect(built))
    };
    let square = |a: Curve| Curve::product(a.clone(), a);
    let recording = Recording {
        time_s: (0..6000).map(|k| f64::from(k) / 60.0).collect(),
        value: (0..6000).map(|k| f64::from(k * k % 97)).collect(),
        remarks: Vec::new(),
    };
    let spline = Arc::new(recording.spline(10.0).expect(built));
    let mut swelling = noise(&hz(8.0), &hz(14.0), Order::Value);
    swelling.factors.push(Factor::Gain(ramp(0.2, 1.0)));
    let mut eased = sine(&hz(3.0));
    eased.factors.push(Factor::Gain(Curve::ease(ramp(40.0, 60.0), 60.0, 40.0)));
    let mut rising = sine(&hz(3.0));
    rising.factors[0] = Factor::Rise { start_s: 0.0, length_s: LENGTH_S };
    vec![
        ("sine", sine(&hz(3.0)), 40.0),
        ("sine, ramped", sine(&ramp(2.0, 9.0)), 40.0),
        ("sine, rising", rising, 40.0),
        ("sine, eased gain", eased, 40.0),
        ("sweep", open(Wave::sweep(0.2, 12.0, 0.0, Order::Rate, 0.0, LENGTH_S).expect(built)), 40.0),
        ("noise, 48 lines", noise(&hz(8.0), &hz(14.0), Order::Acceleration), 40.0),
        ("noise, ramped gain", swelling, 40.0),
        ("noise, ramped band", noise(&ramp(1.0, 4.0), &ramp(3.0, 12.0), Order::Value), 40.0),
        ("noise, curved band", noise(&square(ramp(1.0, 2.0)), &square(ramp(1.5, 3.0)), Order::Value), 40.0),
        ("ring", closed(Wave::ring(0.05, 0.2, Order::Value).expect(built).0, 80.0), 40.0),
        ("ring, first half cycle", closed(Wave::ring(0.05, 0.2, Order::Value).expect(built).0, 80.0), 4.0),
        ("pulse", closed(Wave::pulse(LENGTH_S, Order::Value).expect(built), LENGTH_S), 40.0),
        ("hold, edge", closed(Wave::hold(50.0, 50.0, LENGTH_S, Order::Value).expect(built), LENGTH_S), 40.0),
        ("hold, plateau", closed(Wave::hold(5.0, 5.0, LENGTH_S, Order::Value).expect(built), LENGTH_S), 40.0),
        ("trace", open((Wave::trace(spline, 0.0), None)), 40.0),
    ]
}

fn blocks(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("add_block");
    group.throughput(Throughput::Elements(BLOCK as u64));
    for (name, signal, at_s) in signals() {
        let mut out = JetBlock::zero();
        group.bench_function(name, |bench| {
            bench.iter(|| black_box(&signal).add_block(black_box(at_s), 0.001, BLOCK, black_box(&mut out)));
        });
    }
    group.finish();
    let mut group = criterion.benchmark_group("majorant");
    for (name, signal, at_s) in signals() {
        group.bench_function(name, |bench| {
            bench.iter(|| black_box(&signal).majorant(black_box(at_s), black_box(at_s + 0.256)));
        });
    }
    group.finish();
}

criterion_group!(benches, blocks);
criterion_main!(benches);
