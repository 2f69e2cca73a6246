//! How fast profile text is read: bytes a second of a generated profile of 2 MB, denser than people write, and of the
//! shipped profiles one after the other, comments and all, until they make as much.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use cueloom::diag::SourceId;
use cueloom::lang::{format as layout, parse};
use std::fmt::Write;
use std::hint::black_box;

/// Scenes with the usual mix: placed cues, layers, blocks, labels, comments.
fn profile(bytes: usize) -> String {
    let mut text = String::with_capacity(bytes + 1000);
    let mut scene = 0;
    while text.len() < bytes {
        let _ = writeln!(
            text,
            "cue joint_{scene}(speed: kt, size = 0.25 deg) {{  # a wheel crosses a slab joint"
        );
        text += "    pitch ring(size, 7 Hz, damping: 0.30)\n    sound ring(-14 dB, 48 Hz)\n}\n";
        let _ = writeln!(text, "scene \"circuit {scene}\" {{");
        for step in 0..40 {
            let at = step * 7;
            let _ = writeln!(
                text,
                "    at {at} s  rumble(5 kt -> 60 kt, roughness: 1.6)  for 14 s  rise 1 s  as run_{step}"
            );
            let _ = writeln!(
                text,
                "    at run_{step}.end + 0.3 s  pitch noise(0.02 deg * size * speed / 60 kt, 3 Hz..9 Hz)  for 3 s"
            );
            text += "    at 1:24.5  {\n        roll hold(-9 deg, ease: 2.5 s)\n    }  for 18 s  fall 2 s\n";
            let _ = writeln!(text, "    # step {step} of the circuit: the base leg");
        }
        text += "    expect rms seat.heave <= 0.9 m/s^2 over run_1 .. 1:40\n}\n\n";
        scene += 1;
    }
    text
}

/// The profiles that come with the project, over and over.
fn shipped(bytes: usize) -> String {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles");
    let files: Vec<_> = [folder.clone(), folder.join("library")]
        .iter()
        .flat_map(|folder| std::fs::read_dir(folder).expect("the folder is part of the project"))
        .map(|entry| entry.expect("its entries can be read").path())
        .filter(|path| path.extension().is_some_and(|end| end == "cues"))
        .collect();
    let all: String =
        files.iter().map(|path| std::fs::read_to_string(path).expect("a profile is text") + "\n").collect();
    all.repeat(bytes.div_ceil(all.len()))
}

fn reading(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("language");
    group.sample_size(20);
    for (name, text) in [("generated", profile(2_000_000)), ("shipped", shipped(2_000_000))] {
        assert!(parse(SourceId(0), &text).errors.is_empty());
        group.throughput(Throughput::Bytes(text.len() as u64));
        group.bench_function(format!("parse/{name}"), |bencher| {
            bencher.iter_with_large_drop(|| parse(SourceId(0), black_box(&text)))
        });
        group.bench_function(format!("format/{name}"), |bencher| bencher.iter(|| layout(black_box(&text))));
    }
    group.finish();
}

criterion_group!(benches, reading);
criterion_main!(benches);
