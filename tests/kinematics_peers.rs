//! Leg lengths, Jacobian and leg forces against MuJoCo 4.0.0, which builds each rig from its data alone.

#![allow(clippy::unwrap_used, reason = "a test may fail by it")]

use cueloom::diag::{SourceId, Span};
use cueloom::rig::demand::Demands;
use cueloom::rig::kinematics::{jacobian, lengths_m};
use cueloom::rig::{
    Actuator, ActuatorSpans, Axis, AxisLimits, Drive, Interpolation, Payload, Rig, gravity_legs_n, legs_n,
};
use cueloom::units::STANDARD_GRAVITY_M_S2;
use nalgebra::{DMatrix, Matrix3, Vector3};
use serde_json::{Value, json};
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

/// Runs a script of tests/peers with `input` as JSON on its standard input; its standard output as JSON.
fn peer(script: &str, input: &Value) -> Value {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let python = root.join(if cfg!(windows) { ".venv/Scripts/python.exe" } else { ".venv/bin/python" });
    assert!(python.exists(), "the Python peers are not set up: run `sh .ci/setup` first");
    let mut child = Command::new(python)
        .arg(root.join("tests/peers").join(script))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(input.to_string().as_bytes()).unwrap();
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "{script} failed; if a module is missing, run `sh .ci/setup` again");
    serde_json::from_slice(&output.stdout).unwrap()
}

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

    fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn below(&mut self, count: usize) -> usize {
        (self.next() % count as u64) as usize
    }

    fn vector(&mut self, low: [f64; 3], high: [f64; 3]) -> Vector3<f64> {
        Vector3::from_fn(|k, _| self.within(low[k], high[k]))
    }
}

fn actuator(name: &str, base_r_m: Vector3<f64>, anchor_p_m: Vector3<f64>) -> Actuator {
    let nowhere = Span::new(SourceId(0), 0, 0);
    Actuator {
        name: name.to_string(),
        base_r_m,
        anchor_p_m,
        min_m: 0.1,
        max_m: 3.0,
        soft_stop_m: 0.0,
        park_m: 0.5,
        lead_m: 0.005,
        speed_m_s: 0.25,
        acceleration_m_s2: 4.0,
        jerk_m_s3: 200.0,
        thrust_n: f64::INFINITY,
        crank: None,
        parts: Default::default(),
        spans: ActuatorSpans {
            table: nowhere,
            stroke: nowhere,
            speed: nowhere,
            acceleration: nowhere,
            jerk: nowhere,
        },
    }
}

fn rig(axes: &[Axis], actuators: Vec<Actuator>, payload: Payload) -> Rig {
    let span = Span::new(SourceId(0), 0, 0);
    Rig {
        name: "peer".to_string(),
        axes: axes.iter().map(|axis| AxisLimits { axis: *axis, min: -1.0, max: 1.0, span }).collect(),
        payload,
        seat_p_m: Vector3::zeros(),
        actuators,
        avoid: Vec::new(),
        drive: Drive {
            cycle_us: 1000,
            interpolation: Interpolation::Linear,
            delay_s: 0.0,
            detection_s: 0.0,
            link_s: 0.0,
            bandwidth_hz: 20.0,
            counts_per_turn: 10_000,
        },
        pivot_height_m: None,
        parts: Default::default(),
        hash: String::new(),
    }
}

/// A rig at a pose, moving.
struct Case {
    rig: Rig,
    q: Vec<f64>,
    rate: Vec<f64>,
    acceleration: Vec<f64>,
}

impl Case {
    fn json(&self, gravity: f64) -> Value {
        let row = |v: &Vector3<f64>| vec![v.x, v.y, v.z];
        let legs = |f: fn(&Actuator) -> Vector3<f64>| {
            self.rig.actuators.iter().map(|leg| row(&f(leg))).collect::<Vec<_>>()
        };
        json!({
            "axes": self.rig.axes.iter().map(|limits| limits.axis.word()).collect::<Vec<_>>(),
            "base": legs(|leg| leg.base_r_m),
            "anchor": legs(|leg| leg.anchor_p_m),
            "mass": self.rig.payload.mass_kg,
            "centre": row(&self.rig.payload.centre_p_m),
            "inertia": self.rig.payload.inertia_kg_m2.iter().collect::<Vec<_>>(),
            "gravity": gravity,
            "q": self.q, "rate": self.rate, "acceleration": self.acceleration,
        })
    }

    /// |det J| with rows and columns scaled to length 1: random rigs near a singular pose have no forces to compare.
    fn regular(&self) -> bool {
        let mut matrix: DMatrix<f64> = jacobian(&self.rig, &self.q);
        for mut column in matrix.column_iter_mut() {
            column.normalize_mut();
        }
        for mut row in matrix.row_iter_mut() {
            row.normalize_mut();
        }
        matrix.determinant().abs() > 0.05 && lengths_m(&self.rig, &self.q).iter().all(|length| *length > 0.1)
    }
}

/// A body of a few point masses and a sphere: any such matrix belongs to a body.
fn payload(random: &mut Random) -> Payload {
    let mut inertia = Matrix3::identity() * random.within(0.5, 8.0);
    for _ in 0..4 {
        let (mass, at) = (random.within(1.0, 20.0), random.vector([-0.6; 3], [0.6; 3]));
        inertia += (Matrix3::identity() * at.norm_squared() - at * at.transpose()) * mass;
    }
    Payload {
        mass_kg: random.within(20.0, 300.0),
        centre_p_m: random.vector([-0.3, -0.3, -0.5], [0.3, 0.3, 0.2]),
        inertia_kg_m2: inertia,
    }
}

/// `count` axes in a random order; legs from somewhere below to somewhere on the platform.
fn random_case(random: &mut Random, among: &[Axis], count: usize) -> Case {
    loop {
        let mut left = among.to_vec();
        let axes: Vec<Axis> = (0..count).map(|_| left.remove(random.below(left.len()))).collect();
        let leg = |random: &mut Random| {
            let base = random.vector([-1.0, -1.0, 0.3], [1.0, 1.0, 1.2]);
            actuator("leg", base, random.vector([-0.8, -0.8, -0.2], [0.8, 0.8, 0.2]))
        };
        let actuators = (0..count).map(|_| leg(random)).collect();
        let rig = rig(&axes, actuators, payload(random));
        let mut draw = |size: f64| (0..count).map(|_| random.within(-size, size)).collect::<Vec<f64>>();
        let case = Case { rig, q: draw(0.35), rate: draw(1.0), acceleration: draw(8.0) };
        if case.regular() {
            return case;
        }
    }
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

fn worst(found: &[f64], expected: &[f64]) -> f64 {
    assert_eq!(found.len(), expected.len());
    found.iter().zip(expected).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}

/// Holds every case against its answer; the largest differences seen.
fn compare(cases: &[Case]) -> [f64; 4] {
    let input: Vec<Value> = cases.iter().map(|case| case.json(STANDARD_GRAVITY_M_S2)).collect();
    let answers = peer("mujoco_legs.py", &Value::Array(input));
    let answers = answers.as_array().unwrap();
    assert_eq!(answers.len(), cases.len());
    let mut most = [0.0_f64; 4];
    for (k, (case, answer)) in cases.iter().zip(answers).enumerate() {
        let Case { rig, q, rate, acceleration } = case;
        let length = worst(&lengths_m(rig, q), &numbers(&answer["lengths"]));
        assert!(length <= 1e-9, "case {k}: lengths differ by {length} m");
        let ours = jacobian(rig, q).transpose();
        let slope = worst(ours.as_slice(), &numbers(&answer["jacobian"]));
        assert!(slope <= 1e-7, "case {k}: Jacobians differ by {slope}");
        let relative = |ours: Vec<f64>, theirs: Vec<f64>| {
            worst(&ours, &theirs) / theirs.iter().fold(1.0_f64, |most, force| most.max(force.abs()))
        };
        let held = relative(gravity_legs_n(rig, q).unwrap(), numbers(&answer["held"]));
        assert!(held <= 1e-6, "case {k}: static leg forces differ by {held}");
        let moved = relative(legs_n(rig, q, rate, acceleration).unwrap(), numbers(&answer["moved"]));
        assert!(moved <= 1e-6, "case {k}: leg forces in motion differ by {moved}");
        // The fast path that the check takes, with the same numbers.
        let demands = Demands::new(rig);
        let mut moment = demands.moment();
        assert!(demands.at(q, rate, acceleration, &mut moment), "case {k}");
        let held_fast = relative(moment.still_n[0].clone(), numbers(&answer["held"]));
        let moved_fast = relative(moment.forces_n[0].clone(), numbers(&answer["moved"]));
        assert!(held_fast <= 1e-6 && moved_fast <= 1e-6, "case {k}: {held_fast} {moved_fast}");
        for (most, found) in most.iter_mut().zip([length, slope, held.max(held_fast), moved.max(moved_fast)])
        {
            *most = most.max(found);
        }
    }
    most
}

const ROTATIONS: [Axis; 3] = [Axis::Pitch, Axis::Roll, Axis::Yaw];

/// 1,000 rigs on two rotations each, in either order, each at a pose of its own.
#[test]
fn a_thousand_random_two_axis_rigs_agree() {
    let mut random = Random(20_251_125);
    let cases: Vec<Case> = (0..1000).map(|_| random_case(&mut random, &ROTATIONS, 2)).collect();
    println!("largest differences (m, m/rad, relative, relative): {:?}", compare(&cases));
}

/// 1,000 rigs with pitch, roll and heave on three legs, moving.
#[test]
fn a_thousand_random_three_axis_rigs_agree() {
    let mut random = Random(3);
    let among = [Axis::Pitch, Axis::Roll, Axis::Heave];
    let cases: Vec<Case> = (0..1000).map(|_| random_case(&mut random, &among, 3)).collect();
    println!("largest differences (m, m/rad, relative, relative): {:?}", compare(&cases));
}

/// 1,000 rigs with six axes on six legs, moving.
#[test]
fn a_thousand_random_six_axis_rigs_agree() {
    let mut random = Random(66);
    let cases: Vec<Case> = (0..1000).map(|_| random_case(&mut random, &Axis::ALL, 6)).collect();
    println!("largest differences (m, m/rad, relative, relative): {:?}", compare(&cases));
}

/// Any one to six of the six axes, with as many legs.
#[test]
fn rigs_of_one_to_six_axes_agree() {
    let mut random = Random(6);
    let cases: Vec<Case> = (0..240).map(|k| random_case(&mut random, &Axis::ALL, 1 + k % 6)).collect();
    println!("largest differences (m, m/rad, relative, relative): {:?}", compare(&cases));
}

/// The worked example that the unit tests hold: MuJoCo says the same numbers. Pitch here is nose up.
#[test]
fn the_worked_example_agrees() {
    const WORKED: [([f64; 2], [f64; 2], [f64; 2]); 4] = [
        ([0.0, 0.0], [0.550_000, 0.550_000], [-65.400, -65.400]),
        ([-10.0, 0.0], [0.628_904, 0.628_904], [-120.717, -120.717]),
        ([0.0, 10.0], [0.602_868, 0.498_841], [-150.063, 19.266]),
        ([12.0, 7.0], [0.493_833, 0.423_128], [-55.666, 66.775]),
    ];
    let leg = |name, y| actuator(name, Vector3::new(-0.45, y, 0.60), Vector3::new(-0.45, y, 0.05));
    let body = Payload {
        mass_kg: 120.0,
        centre_p_m: Vector3::new(0.05, 0.0, -0.25),
        inertia_kg_m2: Matrix3::identity() * 12.0,
    };
    let rig = rig(&[Axis::Pitch, Axis::Roll], vec![leg("left", -0.30), leg("right", 0.30)], body);
    let case = |degrees: [f64; 2]| Case {
        rig: rig.clone(),
        q: degrees.map(f64::to_radians).to_vec(),
        rate: vec![0.3, -0.2],
        acceleration: vec![2.0, 3.0],
    };
    let cases: Vec<Case> = WORKED.iter().map(|(degrees, _, _)| case(*degrees)).collect();
    compare(&cases);
    let input: Vec<Value> = cases.iter().map(|case| case.json(9.81)).collect();
    let answers = peer("mujoco_legs.py", &Value::Array(input));
    for (answer, (degrees, lengths, forces)) in answers.as_array().unwrap().iter().zip(WORKED) {
        assert!(worst(&numbers(&answer["lengths"]), &lengths) < 6e-7, "{degrees:?}");
        assert!(worst(&numbers(&answer["held"]), &forces) < 6e-4, "{degrees:?}");
    }
}
