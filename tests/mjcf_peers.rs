//! The exported MJCF model in MuJoCo 4.0.0: of 1,020 seeded random rigs of every platform kind it must say the same
//! lengths, Jacobian and leg forces as the program; and of 450 more whose legs are cranks in part, the same.

#![allow(clippy::unwrap_used, reason = "a test may fail by it")]

use cueloom::diag::SourceId;
use cueloom::rig::crank::{Assembly, Crank};
use cueloom::rig::demand::Demands;
use cueloom::rig::kinematics::{jacobian, lengths_m};
use cueloom::rig::mjcf::mjcf;
use cueloom::rig::parts::CrankPart;
use cueloom::rig::{Actuator, Rig, gravity_legs_n, legs_n, load};
use nalgebra::{Matrix3, Vector3};
use serde_json::{Value, json};
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

const KINDS: [&str; 3] = [
    include_str!("../profiles/rigs/club-two-axis.toml"),
    include_str!("../profiles/rigs/club-three-axis.toml"),
    include_str!("../profiles/rigs/club-six-leg.toml"),
];
const EACH: usize = 340;

/// Numbers from a seed. SplitMix64 (Steele, Lea, Flood 2014; constants from memory).
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn within(&mut self, size: f64) -> f64 {
        size * (2.0 * (self.next() >> 11) as f64 / (1_u64 << 53) as f64 - 1.0)
    }

    fn vector(&mut self, size: f64) -> Vector3<f64> {
        Vector3::from_fn(|_, _| self.within(size))
    }
}

struct Case {
    rig: Rig,
    q: Vec<f64>,
    rate: Vec<f64>,
    acceleration: Vec<f64>,
}

/// A demo with every point moved and another payload, at a pose inside its ranges.
fn case(random: &mut Random, text: &str) -> Case {
    loop {
        let mut rig = load(SourceId(0), text).rig.unwrap();
        for leg in &mut rig.actuators {
            leg.base_r_m += random.vector(0.15);
            leg.anchor_p_m += random.vector(0.15);
        }
        let mut inertia = Matrix3::identity() * (5.0 + random.within(4.0));
        for _ in 0..4 {
            let at = random.vector(0.6);
            inertia += (Matrix3::identity() * at.norm_squared() - at * at.transpose())
                * (12.0 + random.within(10.0));
        }
        rig.payload.inertia_kg_m2 = inertia;
        rig.payload.mass_kg = 120.0 + random.within(80.0);
        rig.payload.centre_p_m = random.vector(0.3);
        let q: Vec<f64> = rig
            .axes
            .iter()
            .map(|axis| 0.5 * (axis.min + axis.max) + random.within(0.5 * (axis.max - axis.min)))
            .collect();
        let mut draw = |size: f64| (0..rig.axes.len()).map(|_| random.within(size)).collect::<Vec<f64>>();
        let (rate, acceleration) = (draw(0.8), draw(5.0));
        let mut slopes = jacobian(&rig, &q);
        for mut row in slopes.row_iter_mut() {
            row.normalize_mut();
        }
        // Near a singular pose there are no forces to compare.
        if slopes.determinant().abs() > 0.02 {
            return Case { rig, q, rate, acceleration };
        }
    }
}

fn ask(cases: &[Case]) -> Vec<Value> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let python = root.join(if cfg!(windows) { ".venv/Scripts/python.exe" } else { ".venv/bin/python" });
    assert!(python.exists(), "the Python peers are not set up: run `sh .ci/setup` first");
    let input: Vec<Value> = cases
        .iter()
        .map(|case| {
            json!({
                "xml": mjcf(&case.rig, "payload"),
                "joints": case.rig.axes.iter().map(|limits| limits.axis.word()).collect::<Vec<_>>(),
                "legs": case.rig.actuators.iter().map(|leg| leg.name.clone()).collect::<Vec<_>>(),
                "arms": case.rig.actuators.iter().map(|leg| leg.crank.map(|part| part.crank.arm_m)).collect::<Vec<_>>(),
                "q": case.q, "rate": case.rate, "acceleration": case.acceleration,
            })
        })
        .collect();
    let mut child = Command::new(python)
        .arg(root.join("tests/peers/mujoco_exported.py"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let text = Value::Array(input).to_string();
    let writer = std::thread::spawn(move || stdin.write_all(text.as_bytes()).unwrap());
    let output = child.wait_with_output().unwrap();
    writer.join().unwrap();
    assert!(output.status.success(), "the peer failed; if a module is missing, run `sh .ci/setup` again");
    serde_json::from_slice::<Value>(&output.stdout).unwrap().as_array().unwrap().clone()
}

fn worst(found: &[f64], expected: &Value) -> f64 {
    let expected: Vec<f64> = expected.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect();
    assert_eq!(found.len(), expected.len());
    found.iter().zip(expected).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}

/// A crank in the place of a screw: its shaft at the screw's foot, turned anyhow, put together either way.
fn to_crank(leg: &mut Actuator, random: &mut Random) {
    let along = leg.anchor_p_m - leg.base_r_m;
    let any = random.vector(1.0);
    let out = (any - along * (any.dot(&along) / along.norm_squared())).normalize();
    let (square, up) = (out.cross(&along.normalize()), along.normalize());
    let (tilt, offset) = (random.within(0.5), random.within(3.0));
    // Level the crank points along `out`; its angle there is `offset`.
    let axis_r = square * libm::cos(tilt) + up * libm::sin(tilt);
    let axis_r = if random.within(1.0) < 0.0 { -axis_r } else { axis_r };
    let zero_r = out * libm::cos(offset) - axis_r.cross(&out) * libm::sin(offset);
    let arm_m = 0.12 + random.within(0.05);
    let rod_m = (along - out * arm_m).norm();
    let crank = Crank { centre_r_m: leg.base_r_m, axis_r, zero_r, arm_m, rod_m, assembly: Assembly::Behind };
    let assembly =
        if crank.transmission(offset, leg.anchor_p_m) > 0.0 { Assembly::Behind } else { Assembly::Ahead };
    let crank = Crank { assembly, ..crank };
    crank.check().unwrap();
    leg.crank = Some(CrankPart { crank, middle_rad: offset, least_transmission: 0.3, gearbox: None });
}

/// A rig of which some legs are cranks, at a pose to which all of them come from level without passing a dead point.
fn crank_case(random: &mut Random, text: &str) -> Case {
    loop {
        let mut case = case(random, text);
        // The file's own loads are not the payload that was drawn.
        case.rig.parts.loads.clear();
        for leg in &mut case.rig.actuators {
            if random.within(1.0) < 0.5 {
                to_crank(leg, random);
            }
        }
        let shrink = 0.2 + 0.3 * (random.within(1.0) + 1.0);
        case.q.iter_mut().for_each(|q| *q *= shrink);
        let live = (0..=20).all(|k| {
            let q: Vec<f64> = case.q.iter().map(|q| q * f64::from(k) / 20.0).collect();
            let slopes = jacobian(&case.rig, &q);
            let forces = gravity_legs_n(&case.rig, &q);
            slopes.iter().all(|slope| slope.abs() < 4.0)
                && forces.is_some_and(|f| f.iter().all(|f| f.abs() < 2e4))
        });
        if live && case.rig.has_cranks() {
            return case;
        }
    }
}

/// MuJoCo finds the cranks' angles on its own: from level on, in steps, by its own lengths of the rods.
#[test]
fn exported_rigs_with_cranks_agree() {
    const EACH: usize = 150;
    for (kind, text) in KINDS.into_iter().enumerate() {
        let mut random = Random(20_261_127 + kind as u64);
        let cases: Vec<Case> = (0..EACH).map(|_| crank_case(&mut random, text)).collect();
        let answers = ask(&cases);
        let mut most = [0.0_f64; 5];
        let mut cranks = 0;
        for (k, (Case { rig, q, rate, acceleration }, answer)) in cases.iter().zip(&answers).enumerate() {
            cranks += rig.actuators.iter().filter(|leg| leg.crank.is_some()).count();
            let (held, moved) =
                (gravity_legs_n(rig, q).unwrap(), legs_n(rig, q, rate, acceleration).unwrap());
            let size = |forces: &[f64]| forces.iter().fold(1.0_f64, |most, force| most.max(force.abs()));
            let demands = Demands::new(rig);
            let mut moment = demands.moment();
            assert!(demands.at(q, rate, acceleration, &mut moment));
            let fast = moment.forces_n[0].as_slice();
            let slopes = jacobian(rig, q);
            let found = [
                worst(&lengths_m(rig, q), &answer["lengths"]),
                worst(slopes.transpose().as_slice(), &answer["jacobian"]) / slopes.amax().max(1.0),
                worst(&held, &answer["held"]) / size(&held),
                worst(&moved, &answer["moved"]) / size(&moved),
                worst(fast, &answer["moved"]) / size(&moved),
            ];
            for ((most, found), limit) in most.iter_mut().zip(found).zip([1e-9, 1e-6, 1e-6, 1e-6, 1e-6]) {
                assert!(found <= limit, "kind {kind}, case {k}: {found} is more than {limit}");
                *most = most.max(found);
            }
        }
        assert!(cranks > EACH, "{cranks}");
        println!("kind {kind}, {cranks} cranks, largest differences (m, slope, held, moved, fast): {most:?}");
    }
}

#[test]
fn exported_models_of_every_kind_agree() {
    for (kind, text) in KINDS.into_iter().enumerate() {
        let mut random = Random(20_261_125 + kind as u64);
        let cases: Vec<Case> = (0..EACH).map(|_| case(&mut random, text)).collect();
        let answers = ask(&cases);
        assert_eq!(answers.len(), EACH);
        let mut most = [0.0_f64; 5];
        for (k, (Case { rig, q, rate, acceleration }, answer)) in cases.iter().zip(&answers).enumerate() {
            let (held, moved) =
                (gravity_legs_n(rig, q).unwrap(), legs_n(rig, q, rate, acceleration).unwrap());
            let size = |forces: &[f64]| forces.iter().fold(1.0_f64, |most, force| most.max(force.abs()));
            let found = [
                worst(&lengths_m(rig, q), &answer["lengths"]),
                worst(jacobian(rig, q).transpose().as_slice(), &answer["jacobian"]),
                worst(&held, &answer["held"]) / size(&held),
                worst(&moved, &answer["moved"]) / size(&moved),
                answer["left"].as_f64().unwrap(),
            ];
            for ((most, found), limit) in most.iter_mut().zip(found).zip([1e-9, 1e-7, 1e-6, 1e-6, 1e-6]) {
                assert!(found <= limit, "kind {kind}, case {k}: {found} is more than {limit}");
                *most = most.max(found);
            }
        }
        println!("kind {kind}, largest differences (m, slope, held, moved, m/s^2 left over): {most:?}");
    }
}
