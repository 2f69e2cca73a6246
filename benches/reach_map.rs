//! The reach map at a quarter of a degree over the whole range, on each kind of platform: 2 s is what it may take.

use criterion::{Criterion, criterion_group, criterion_main};
use cueloom::diag::SourceId;
use cueloom::rig::load;
use cueloom::rig::survey::{map_axes, reach_map};
use std::hint::black_box;

fn maps(c: &mut Criterion) {
    let rigs = [
        ("two axes", include_str!("../profiles/rigs/club-two-axis.toml")),
        ("three axes", include_str!("../profiles/rigs/club-three-axis.toml")),
        ("six legs", include_str!("../profiles/rigs/club-six-leg.toml")),
    ];
    let mut group = c.benchmark_group("reach map");
    group.sample_size(10);
    for (name, text) in rigs {
        let Some(rig) = load(SourceId(0), text).rig else { continue };
        let Some(axes) = map_axes(&rig) else { continue };
        group.bench_function(name, |b| b.iter(|| reach_map(black_box(&rig), axes, &[])));
    }
    group.finish();
}

criterion_group!(benches, maps);
criterion_main!(benches);
