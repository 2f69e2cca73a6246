//! What inverse kinematics and dynamics of a sample cost: two legs and six, with MuJoCo's `mj_inverse` on the same rigs
//! timed beside it in the same run. Needs the Python peers (`sh .ci/setup`) for the comparison; without them it is left out.

use criterion::{Criterion, criterion_group, criterion_main};
use cueloom::diag::{SourceText, Sources};
use cueloom::rig::demand::Demands;
use cueloom::rig::{self, Axis, AxisLimits, Rig};
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

/// Nanoseconds of one of ours over many poses.
#[allow(clippy::disallowed_methods, reason = "a bench is what looks at the clock")]
fn ours_ns(rig: &Rig) -> f64 {
    const ROUNDS: u32 = 400_000;
    let demands = Demands::new(rig);
    let mut moment = demands.moment();
    let n = rig.axes.len();
    let start = Instant::now();
    for k in 0..ROUNDS {
        let q = [0.001 * f64::from(k % 64); 6];
        black_box(demands.at(black_box(&q[..n]), &[0.3; 6][..n], &[2.0; 6][..n], &mut moment));
    }
    start.elapsed().as_secs_f64() * 1e9 / f64::from(ROUNDS)
}

fn bench(criterion: &mut Criterion) {
    for (name, rig) in [("two legs", two_legs()), ("six legs", six_legs())] {
        let demands = Demands::new(&rig);
        let mut moment = demands.moment();
        let n = rig.axes.len();
        criterion.bench_function(&format!("kinematics and dynamics of a sample, {name}"), |bencher| {
            bencher.iter(|| {
                demands.at(black_box(&[0.05; 6][..n]), &[0.3; 6][..n], &[2.0; 6][..n], black_box(&mut moment))
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
}

criterion_group!(benches, bench);
criterion_main!(benches);
