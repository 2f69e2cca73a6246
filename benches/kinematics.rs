//! What a sample of the legs costs: the block path, the single jet, and a coordinated stop.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use cueloom::diag::{SourceText, Sources};
use cueloom::rig::{self, Rig, kinematics, stopping};
use cueloom::signal::{BLOCK, Jet, JetBlock};
use std::hint::black_box;

fn demo() -> Rig {
    let text = include_str!("../profiles/rigs/club-two-axis.toml");
    let mut sources = Sources::new();
    let id = sources.add(SourceText::new("club-two-axis.toml", text));
    rig::load(id, text).rig.expect("the demo rig loads")
}

/// A tenth of a radian of smooth motion, sample by sample.
fn motion(axes: usize) -> Vec<JetBlock> {
    let mut blocks = vec![JetBlock::zero(); axes];
    for (j, block) in blocks.iter_mut().enumerate() {
        let w = 6.0 + j as f64;
        for k in 0..BLOCK {
            let (s, c) = libm::sincos(w * k as f64 / 1000.0);
            for (row, value) in block.0.iter_mut().zip([s, w * c, -w * w * s, -w * w * w * c]) {
                row[k] = 0.1 * value;
            }
        }
    }
    blocks
}

fn bench(criterion: &mut Criterion) {
    let rig = demo();
    let q = motion(rig.axes.len());
    let mut legs = vec![JetBlock::zero(); rig.actuators.len()];
    let mut group = criterion.benchmark_group("legs");
    group.throughput(Throughput::Elements(BLOCK as u64));
    group.bench_function("block of two legs, three derivatives, a sample", |bencher| {
        bencher.iter(|| kinematics::leg_block(&rig, black_box(&q), BLOCK, black_box(&mut legs)));
    });
    group.bench_function("the same one jet at a time", |bencher| {
        bencher.iter(|| {
            for k in 0..BLOCK {
                let now = [q[0].at(k), q[1].at(k)];
                black_box::<Jet>(kinematics::leg_jet(&rig, 0, black_box(&now)));
                black_box::<Jet>(kinematics::leg_jet(&rig, 1, black_box(&now)));
            }
        });
    });
    group.finish();
    criterion.bench_function("a coordinated stop", |bencher| {
        bencher.iter(|| {
            stopping::stop_now(&rig, black_box(&[0.05, 0.03]), black_box(&[0.2, -0.3]), &[1.0, 0.5])
        });
    });
    criterion.bench_function("forward kinematics", |bencher| {
        let lengths = kinematics::lengths_m(&rig, &[0.08, -0.06]);
        bencher.iter(|| kinematics::forward(&rig, black_box(&lengths), &[0.07, -0.05]));
    });
    criterion.bench_function("a leg's bound", |bencher| {
        let sup = [[0.1, 0.3, 2.0, 30.0, 400.0]; 2];
        bencher.iter(|| kinematics::leg_bound(&rig, 0, black_box(&sup), 0.44));
    });
    criterion.bench_function("load the demo rig", |bencher| {
        let text = include_str!("../profiles/rigs/club-two-axis.toml");
        let mut sources = Sources::new();
        let id = sources.add(SourceText::new("club-two-axis.toml", text));
        bencher.iter(|| rig::load(id, black_box(text)));
    });
}

criterion_group!(benches, bench);
criterion_main!(benches);
