use super::*;
use std::io::Write;
use std::process::{Command, Stdio};

/// d, v, a, j and T: closed form of a jerk-limited move from rest to rest (computed; the form itself is below).
const TABLE: [[f64; 5]; 10] = [
    [1.0, 1.0, 1.0, 1.0, 3.1748021],
    [2.0, 1.0, 1.0, 1.0, 4.0],
    [0.05, 0.2, 2.0, 40.0, 0.4],
    [0.2, 0.25, 2.0, 40.0, 0.975],
    [0.01, 0.3, 3.0, 50.0, 0.18566355],
    [0.10, 0.30, 3.0, 50.0, 0.49333333],
    [0.3, 0.3, 3.0, 30.0, 1.2],
    [0.002, 0.3, 3.0, 50.0, 0.1085767],
    // The two edges between the three forms: d = v t_a, and d = 2 a^3 / j^2.
    [0.048, 0.3, 3.0, 50.0, 0.32],
    [0.0216, 0.9, 3.0, 50.0, 0.24],
];

/// T = t_a + d / v, or a / j + sqrt((a / j)^2 + 4 d / a), or 4 (d / 2 j)^(1/3); from memory.
fn closed_form_s(d: f64, v: f64, a: f64, j: f64) -> f64 {
    let accelerate = if v * j >= a * a { v / a + a / j } else { 2.0 * (v / j).sqrt() };
    if d >= v * accelerate {
        accelerate + d / v
    } else if d >= 2.0 * a * a * a / (j * j) {
        a / j + ((a / j) * (a / j) + 4.0 * d / a).sqrt()
    } else {
        4.0 * libm::cbrt(d / (2.0 * j))
    }
}

fn pace(v: f64, a: f64, j: f64) -> Pace {
    Pace { speed_m_s: v, acceleration_m_s2: a, jerk_m_s3: j }
}

fn legs(values: &[f64]) -> Legs {
    Legs::from_slice(values).unwrap()
}

#[test]
fn takes_the_time_of_the_closed_form() {
    for [d, v, a, j, time_s] in TABLE {
        assert!((closed_form_s(d, v, a, j) / time_s - 1.0).abs() < 5e-8, "{d} {v} {a} {j}");
        for sign in [1.0, -1.0] {
            let made = Move::timed(&[pace(v, a, j)], legs(&[0.5]), legs(&[0.5 + sign * d])).unwrap();
            assert!((made.duration_s() - closed_form_s(d, v, a, j)).abs() < 1e-8, "{d} {v} {a} {j}");
        }
    }
}

struct Case {
    ways: Vec<f64>,
    paces: Vec<Pace>,
}

fn cases() -> Vec<Case> {
    let mut random = Random(20_251_125);
    let mut cases = Vec::new();
    for _ in 0..300 {
        let count = 1 + (random.next() * 6.0) as usize;
        let between = |random: &mut Random, low: f64, high: f64| low * libm::pow(high / low, random.next());
        let ways = (0..count)
            .map(|_| between(&mut random, 1e-4, 1.0) * if random.next() < 0.5 { -1.0 } else { 1.0 })
            .collect();
        // One pace for all legs: with several, the package leaves the straight line where that is quicker.
        let speed = between(&mut random, 0.02, 1.0);
        let acceleration = between(&mut random, 0.1, 50.0);
        let one = pace(speed, acceleration, between(&mut random, 5.0, 2000.0));
        let paces = vec![one; count];
        cases.push(Case { ways, paces });
    }
    cases
}

/// splitmix64 (its public constants, from memory), here so that the cases stay what they are.
struct Random(u64);

impl Random {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }
}

fn moved(case: &Case) -> Move {
    let from = Legs::filled(case.ways.len(), 1.5);
    let to = Legs::from_fn(case.ways.len(), |leg| 1.5 + case.ways[leg]);
    Move::timed(&case.paces, from, to).unwrap()
}

#[test]
fn agrees_with_the_ruckig_package_of_python() {
    let root = env!("CARGO_MANIFEST_DIR");
    let python = format!("{root}/.venv/bin/python");
    assert!(std::path::Path::new(&python).exists(), "there is no .venv/bin/python: run sh .ci/setup");
    let script = format!("{root}/tests/peers/park_moves.py");
    let mut peer = Command::new(python)
        .arg(script)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("python starts");
    let cases = cases();
    let mut asked = String::new();
    for case in &cases {
        let field = |value: &dyn Fn(usize) -> f64| {
            (0..case.ways.len()).map(|leg| format!("{:?}", value(leg))).collect::<Vec<_>>().join(",")
        };
        let fields = [
            field(&|leg| case.ways[leg]),
            field(&|leg| case.paces[leg].speed_m_s),
            field(&|leg| case.paces[leg].acceleration_m_s2),
            field(&|leg| case.paces[leg].jerk_m_s3),
        ];
        asked += &(fields.join(" ") + "\n");
    }
    peer.stdin.take().unwrap().write_all(asked.as_bytes()).unwrap();
    let answer = peer.wait_with_output().unwrap();
    assert!(answer.status.success(), "the peer failed: run sh .ci/setup");
    let lines: Vec<String> = String::from_utf8(answer.stdout).unwrap().lines().map(String::from).collect();
    assert_eq!(lines.len(), cases.len());
    for (case, line) in cases.iter().zip(lines) {
        let numbers: Vec<f64> = line.split(' ').map(|n| n.parse().unwrap()).collect();
        let made = moved(case);
        assert!((made.duration_s() / numbers[0] - 1.0).abs() < 1e-8, "{} {line}", made.duration_s());
        for (k, share) in [0.25, 0.5].into_iter().enumerate() {
            let at = made.at_m(share * numbers[0]);
            for leg in 0..case.ways.len() {
                let theirs = numbers[1 + k * case.ways.len() + leg];
                assert!((at[leg] - 1.5 - theirs).abs() < 1e-7, "leg {leg} {} {line}", at[leg] - 1.5);
            }
        }
    }
}

#[test]
fn every_leg_keeps_its_pace_and_the_line() {
    for case in cases().iter().take(40) {
        let made = moved(case);
        let step_s = made.duration_s() / 500.0;
        let at: Vec<Legs> = (0..=504).map(|k| made.at_m(step_s * f64::from(k))).collect();
        for leg in 0..case.ways.len() {
            let x = |k: usize| at[k][leg];
            for (k, lengths) in at.iter().enumerate().skip(3) {
                let speed = (x(k) - x(k - 1)) / step_s;
                let second = (x(k) - 2.0 * x(k - 1) + x(k - 2)) / (step_s * step_s);
                let third = (x(k) - 3.0 * x(k - 1) + 3.0 * x(k - 2) - x(k - 3)) / (step_s * step_s * step_s);
                let rounding = 8e-15 / (step_s * step_s * step_s);
                assert!(speed.abs() <= case.paces[leg].speed_m_s * (1.0 + 1e-6) + 1e-9);
                assert!(second.abs() <= case.paces[leg].acceleration_m_s2 * (1.0 + 1e-6) + rounding * step_s);
                assert!(third.abs() <= case.paces[leg].jerk_m_s3 * (1.0 + 1e-6) + rounding, "{third}");
                let share = (x(k) - 1.5) / case.ways[leg];
                assert!((share - (lengths[0] - 1.5) / case.ways[0]).abs() < 1e-9);
            }
            assert_eq!(x(504), 1.5 + case.ways[leg]);
        }
    }
}

#[test]
fn no_way_takes_no_time() {
    let made = Move::timed(&[pace(1.0, 1.0, 1.0)], legs(&[0.7]), legs(&[0.7])).unwrap();
    assert_eq!((made.duration_s(), made.at_m(3.0)), (0.0, legs(&[0.7])));
}

struct Sum;

impl Mechanism for Sum {
    fn axes(&self) -> usize {
        1
    }
    fn length_m(&self, _: usize, platform: &[f64]) -> f64 {
        platform[0]
    }
    fn pose(&self, lengths_m: &[f64], _: &[f64]) -> Option<Vec<f64>> {
        (lengths_m[0] < 0.8).then(|| vec![lengths_m[0]])
    }
    fn joints(&self, platform: &[f64]) -> Result<(), PastJoint> {
        if platform[0] <= 0.7 { Ok(()) } else { Err(PastJoint { axis: 0, value: platform[0] }) }
    }
}

#[test]
fn a_way_past_a_joint_or_out_of_a_stroke_is_refused() {
    let leg = crate::safety::LegLimits {
        low_m: 0.6,
        high_m: 0.9,
        speed_m_s: 0.3,
        acceleration_m_s2: 3.0,
        window_m: 0.01,
    };
    let limits = Limits::new(&[leg], 0.001).unwrap();
    let plan = |from: f64, to: f64| {
        Move::plan(&limits, &[pace(0.3, 3.0, 50.0)], &Sum, legs(&[from]), legs(&[to])).map(|m| m.duration_s())
    };
    assert!(plan(0.61, 0.69).is_ok());
    assert!(matches!(plan(0.61, 0.75), Err(MoveError::Joint { axis: 0, value }) if value > 0.7));
    assert!(matches!(plan(0.85, 0.65), Err(MoveError::NoPose { share: 0.0 })));
    assert!(matches!(plan(0.61, 0.95), Err(MoveError::Outside { leg: 0, .. })));
    assert!(matches!(plan(f64::NAN, 0.65), Err(MoveError::Outside { leg: 0, .. })));
}
