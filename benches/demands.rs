//! What inverse kinematics and dynamics of a sample cost: two legs and six, with MuJoCo's `mj_inverse` on the same rigs
//! timed beside it in the same run. Needs the Python peers (`sh .ci/setup`) for the comparison; without them it is left out.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use cueloom::diag::{SourceText, Sources};
use cueloom::rig::demand::{Demands, Moment, TOGETHER};
use cueloom::rig::{self, Axis, AxisLimits, Rig};
use cueloom::signal::{BLOCK, JetBlock};
use nalgebra::Vector3;
use serde_json::{Value, json};
use std::hint::black_box;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

/// The demo rig with one load, as MuJoCo has one.
fn two_legs() -> Rig {
    let text = include_str!("../profiles/rigs/club-two-axis.toml");
    let mut sources = Sources::new();
    let id = sources.add(SourceText::new("club-two-axis.toml", text));
    let mut rig = rig::load(id, text).rig.expect("the demo rig loads");
    rig.parts.loads.clear();
    rig
}

/// Six legs in pairs round a platform, all six axes free.
fn six_legs() -> Rig {
    let mut rig = two_legs();
    let span = rig.axes[0].span;
    let axes = [Axis::Surge, Axis::Sway, Axis::Heave, Axis::Yaw, Axis::Pitch, Axis::Roll];
    rig.axes = axes.map(|axis| AxisLimits { axis, min: -0.3, max: 0.3, span }).to_vec();
    let leg = rig.actuators[0].clone();
    rig.actuators = (0..6)
        .map(|k| {
            let at = std::f64::consts::TAU * f64::from(k) / 6.0;
            let shift = if k % 2 == 0 { 0.45 } else { -0.45 };
            let round = |radius: f64, at: f64, z: f64| {
                let (sin, cos) = libm::sincos(at);
                Vector3::new(radius * cos, radius * sin, z)
            };
            let mut leg = leg.clone();
            (leg.base_r_m, leg.anchor_p_m) = (round(0.8, at + shift, 0.75), round(0.5, at, 0.1));
            leg
        })
        .collect();
    rig
}

fn case(rig: &Rig) -> Value {
    let row = |v: &Vector3<f64>| vec![v.x, v.y, v.z];
    json!({
        "axes": rig.axes.iter().map(|limits| limits.axis.word()).collect::<Vec<_>>(),
        "base": rig.actuators.iter().map(|leg| row(&leg.base_r_m)).collect::<Vec<_>>(),
        "anchor": rig.actuators.iter().map(|leg| row(&leg.anchor_p_m)).collect::<Vec<_>>(),
        "mass": rig.payload.mass_kg,
        "centre": row(&rig.payload.centre_p_m),
        "inertia": rig.payload.inertia_kg_m2.iter().collect::<Vec<_>>(),
        "gravity": 9.80665,
    })
}

/// Nanoseconds of one `mj_inverse`, its caller's loop taken off; `None` without the peers.
fn peer_ns(rig: &Rig) -> Option<f64> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut child = Command::new(root.join(".venv/bin/python"))
        .arg(root.join("tests/peers/mujoco_timing.py"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .ok()?;
    child.stdin.take()?.write_all(case(rig).to_string().as_bytes()).ok()?;
    let output = child.wait_with_output().ok()?;
    serde_json::from_slice::<Value>(&output.stdout).ok()?.as_f64()
}

/// A block of motion: every axis at another pose, rate and acceleration from sample to sample.
fn block(rig: &Rig) -> Vec<JetBlock> {
    let mut block = vec![JetBlock::zero(); rig.axes.len()];
    for jets in &mut block {
        for k in 0..BLOCK {
            (jets.0[0][k], jets.0[1][k], jets.0[2][k]) = (0.001 * (k % 64) as f64, 0.3, 2.0);
        }
    }
    block
}

/// What all samples of a block ask, as the check of a profile goes through them.
fn through(demands: &Demands<'_>, block: &[JetBlock], out: &mut [Moment]) {
    for first in (0..BLOCK).step_by(TOGETHER) {
        black_box(demands.together(block, first, black_box(&mut *out)));
    }
}

/// Nanoseconds of a sample of ours, over many.
#[allow(clippy::disallowed_methods, reason = "a bench is what looks at the clock")]
fn ours_ns(rig: &Rig) -> f64 {
    const ROUNDS: u32 = 2000;
    let (demands, block) = (Demands::new(rig), block(rig));
    let mut out = vec![demands.moment(); TOGETHER];
    let start = Instant::now();
    for _ in 0..ROUNDS {
        through(&demands, black_box(&block), &mut out);
    }
    start.elapsed().as_secs_f64() * 1e9 / f64::from(ROUNDS) / BLOCK as f64
}

fn bench(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("kinematics and dynamics");
    for (name, rig) in [("two legs", two_legs()), ("six legs", six_legs())] {
        let (demands, block) = (Demands::new(&rig), block(&rig));
        let mut out = vec![demands.moment(); TOGETHER];
        let n = rig.axes.len();
        group.throughput(Throughput::Elements(BLOCK as u64));
        group.bench_function(format!("a block of samples, {name}"), |bencher| {
            bencher.iter(|| through(&demands, black_box(&block), &mut out));
        });
        group.throughput(Throughput::Elements(1));
        group.bench_function(format!("one sample alone, {name}"), |bencher| {
            bencher.iter(|| {
                demands.at(black_box(&[0.05; 6][..n]), &[0.3; 6][..n], &[2.0; 6][..n], black_box(&mut out[0]))
            });
        });
        let ours = ours_ns(&rig);
        match peer_ns(&rig) {
            Some(peer) => {
                println!("{name}: {ours:.0} ns here, {peer:.0} ns in mj_inverse: {:.2} times", peer / ours);
            }
            None => println!("{name}: {ours:.0} ns here; no MuJoCo to compare with (sh .ci/setup)"),
        }
    }
    group.finish();
}

criterion_group!(benches, bench);
criterion_main!(benches);
