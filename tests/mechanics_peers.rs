//! The modal model against SciPy, which gets the rig as numbers and works from energies alone (tests/peers/modes.py).
//!
//! Needs the packages of tests/peers/requirements.txt in .venv: `sh .ci/setup`.

#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

use cueloom::diag::{SourceText, Sources};
use cueloom::rig::modes::{JointSpring, LegSpring, Model, Side, Springs, Stiffness};
use cueloom::rig::{Actuator, Axis, AxisLimits, Rig};
use nalgebra::{DMatrix, Matrix3, Vector3};
use serde_json::{Value, json};
use std::io::Write;
use std::process::{Command, Stdio};

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

/// The peer's answers to cases.
fn ask(cases: &[Value]) -> Vec<Value> {
    let mut peer = Command::new(format!("{ROOT}/.venv/bin/python"))
        .arg(format!("{ROOT}/tests/peers/modes.py"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the Python of .venv; run `sh .ci/setup`");
    peer.stdin.take().unwrap().write_all(json!(cases).to_string().as_bytes()).unwrap();
    let out = peer.wait_with_output().unwrap();
    assert!(out.status.success());
    serde_json::from_slice(&out.stdout).unwrap()
}

/// Uniform draws from a fixed seed: splitmix64 (public domain; from memory).
struct Draws(u64);

impl Draws {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        low + (high - low) * (((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64)
    }

    fn point(&mut self, at: [f64; 3], spread: f64) -> Vector3<f64> {
        Vector3::from(at.map(|value| value + self.between(-spread, spread)))
    }
}

fn demo() -> Rig {
    let text = include_str!("../profiles/rigs/club-two-axis.toml");
    let mut sources = Sources::new();
    let id = sources.add(SourceText::new("rig.toml", text));
    cueloom::rig::load(id, text).rig.unwrap()
}

/// A random rig on these axes with a leg for each, and springs; the joint holds some axes more.
fn random(draws: &mut Draws, axes: &[Axis], held: &[Axis]) -> (Rig, Springs) {
    let mut rig = demo();
    let (leg, span) = (rig.actuators[0].clone(), rig.axes[0].span);
    rig.axes = axes.iter().map(|axis| AxisLimits { axis: *axis, min: -0.4, max: 0.4, span }).collect();
    rig.actuators = (0..axes.len())
        .map(|k| {
            // Two legs stand behind to either side: opposite each other they could not hold both axes.
            let step = if axes.len() == 2 { 1.9 } else { std::f64::consts::TAU / axes.len() as f64 };
            let turn = 2.2 + step * k as f64;
            let swing = if k % 2 == 0 { 0.5 } else { -0.5 };
            let round = |at: f64, radius: f64, z: f64| [radius * libm::cos(at), radius * libm::sin(at), z];
            Actuator {
                base_r_m: draws.point(round(turn + swing, 0.8, 0.7), 0.05),
                anchor_p_m: draws.point(round(turn, 0.5, 0.05), 0.05),
                ..leg.clone()
            }
        })
        .collect();
    rig.payload.mass_kg = draws.between(60.0, 250.0);
    rig.payload.centre_p_m = draws.point([0.0, 0.0, -0.2], 0.1);
    let skew = draws.between(-1.0, 1.0);
    rig.payload.inertia_kg_m2 = Matrix3::new(9.0, skew, 0.4, skew, 14.0, -0.3, 0.4, -0.3, 16.0);
    let mut stiffness = |low: f64, high: f64| Stiffness { value: draws.between(low, high), share: 0.2 };
    let legs = axes.iter().map(|_| LegSpring {
        mount: Some(stiffness(1e6, 5e6)),
        screw: Some(stiffness(5e6, 5e7)),
        servo: Some(stiffness(5e5, 5e6)),
    });
    let legs = legs.collect();
    let joint = held.iter().map(|axis| {
        let scale = if axis.is_rotation() { 1.0 } else { 100.0 };
        JointSpring { axis: *axis, stiffness: stiffness(8e3 * scale, 5e4 * scale) }
    });
    (rig, Springs { legs, joint: joint.collect() })
}

fn rows(matrix: &DMatrix<f64>) -> Vec<Vec<f64>> {
    matrix.row_iter().map(|row| row.iter().copied().collect()).collect()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

#[test]
fn modes_are_those_of_scipy() {
    let kinds: [(&[Axis], &[Axis]); 4] = [
        (&[Axis::Pitch, Axis::Roll], &[Axis::Yaw, Axis::Surge, Axis::Sway, Axis::Heave]),
        (&[Axis::Pitch, Axis::Roll], &[Axis::Yaw, Axis::Roll]),
        (&[Axis::Heave, Axis::Roll, Axis::Pitch], &[Axis::Yaw]),
        (&[Axis::Surge, Axis::Sway, Axis::Heave, Axis::Yaw, Axis::Pitch, Axis::Roll], &[]),
    ];
    let mut draws = Draws(20);
    let (mut cases, mut ours) = (Vec::new(), Vec::new());
    for (axes, held) in kinds.iter().cycle().take(24) {
        let (rig, springs) = random(&mut draws, axes, held);
        let q: Vec<f64> = axes.iter().map(|_| draws.between(-0.15, 0.15)).collect();
        let model = Model::at(&rig, &q, &springs, Side::Middle).unwrap();
        let (load, point) = (draws.point([0.0; 3], 300.0), draws.point([0.0; 3], 0.6));
        let of_axis = |axis: &Axis| {
            let spring = springs.joint.iter().find(|spring| spring.axis == *axis);
            spring.map_or(0.0, |spring| spring.stiffness.value)
        };
        cases.push(json!({
            "axes": model.axes.iter().map(|axis| axis.word()).collect::<Vec<_>>(),
            "q": q,
            "base": rig.actuators.iter().map(|leg| leg.base_r_m.as_slice().to_vec()).collect::<Vec<_>>(),
            "anchor": rig.actuators.iter().map(|leg| leg.anchor_p_m.as_slice().to_vec()).collect::<Vec<_>>(),
            "mass": rig.payload.mass_kg,
            "centre": rig.payload.centre_p_m.as_slice(),
            "inertia": rig.payload.inertia_kg_m2.row_iter().map(|row| row.iter().copied().collect()).collect::<Vec<Vec<f64>>>(),
            "legs": springs.legs.iter().map(|leg| {
                let parts = [leg.mount, leg.screw, leg.servo].map(|part| part.unwrap().value);
                1.0 / parts.iter().map(|k| 1.0 / k).sum::<f64>()
            }).collect::<Vec<_>>(),
            "joint": model.axes.iter().map(of_axis).collect::<Vec<_>>(),
            "stiffness": rows(&model.stiffness),
            "mass_matrix": rows(&model.mass),
            "load": load.as_slice(),
            "point": point.as_slice(),
        }));
        let squares: Vec<f64> = model.modes().unwrap().iter().map(|mode| mode.square_rad2_s2).collect();
        ours.push((squares, model.twist(load, point).unwrap()));
    }
    for (k, ((squares, twist), answer)) in ours.iter().zip(ask(&cases)).enumerate() {
        let most = squares.last().unwrap();
        let near = |name: &str, found: &[f64], share: f64, size: f64| {
            let expected = numbers(&answer[name]);
            assert_eq!(found.len(), expected.len());
            for (found, expected) in found.iter().zip(&expected) {
                assert!(
                    (found - expected).abs() < share * size,
                    "case {k} {name}: {found} and not {expected}"
                );
            }
        };
        near("same_squares", squares, 1e-12, *most);
        // Differences of energies are good for nine digits of the largest.
        near("squares", squares, 1e-8, *most);
        near("twist", twist, 1e-6, twist.iter().fold(0.0, |most: f64, part| most.max(part.abs())));
    }
}
