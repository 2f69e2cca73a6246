use super::*;
use crate::rig::crank::Gearbox;
use crate::rig::kinematics::{jacobian, leg_jet};
use crate::rig::mechanics::motor::Motor;
use crate::rig::mechanics::thermal::WindingLimits;
use crate::rig::mechanics::torque_curve::TorqueCurve;
use crate::rig::parts::{GearboxPart, LoadCase, MotorPart, ScrewPart};
use crate::rig::sample::{crank_leg, mixed_legs, six_legs, two_cranks, two_legs};
use crate::rig::{gravity_legs_n, legs_n};
use crate::signal::Jet;
use proptest::prelude::*;

/// The sample rigs with a second load, and an invented screw and motor on every leg.
fn fitted(mut rig: Rig) -> Rig {
    let span = rig.axes[0].span;
    let heavy = Payload { mass_kg: 200.0, centre_p_m: Vector3::new(-0.1, 0.07, -0.3), ..rig.payload.clone() };
    let load =
        |name: &str, payload: &Payload| LoadCase { name: name.to_string(), payload: payload.clone(), span };
    rig.parts.loads = vec![load("light", &rig.payload), load("heavy", &heavy)];
    for leg in &mut rig.actuators {
        leg.parts.screw = Some(ScrewPart {
            screw: BallScrew {
                lead_m: leg.lead_m,
                efficiency_forward: 0.9,
                efficiency_back: 0.88,
                drag_nm: 0.03,
                inertia_kg_m2: 2e-5,
            },
            sliding_kg: 2.5,
            shaft: None,
            column: None,
            life: None,
            span,
        });
        let curve = |name| TorqueCurve::new(name, vec![(0.0, 0.64), (471.0, 0.4)]).unwrap();
        leg.parts.motor = Some(MotorPart {
            motor: Motor {
                rotor_kg_m2: 3e-5,
                continuous: curve("continuous"),
                peak: curve("peak"),
                rated_w: 100.0,
                torque_nm_a: 0.4,
                time_constant_s: 700.0,
            },
            winding: WindingLimits { ambient_degc: 40.0, limit_degc: 130.0 },
            start_degc: 40.0,
            window_s: 120.0,
            span,
            peak_span: span,
            continuous_span: span,
        });
    }
    rig
}

/// Samples worked on together are to the bit what each is alone.
fn together_is_alone(rig: &Rig, v: &[f64]) {
    let (demands, n) = (Demands::new(rig), rig.axes.len());
    let mut block = vec![crate::signal::JetBlock::zero(); n];
    for (j, jets) in block.iter_mut().enumerate() {
        for (order, row) in jets.0.iter_mut().take(3).enumerate() {
            for (k, value) in row.iter_mut().take(TOGETHER + 2).enumerate() {
                *value = v[(j * 7 + order * 5 + k * 3) % v.len()] * [0.04, 0.4, 4.0][order];
            }
        }
    }
    let (mut several, mut one) = (vec![demands.moment(); TOGETHER], demands.moment());
    for (first, count) in [(0, TOGETHER), (1, TOGETHER), (TOGETHER, 2)] {
        let held = demands.together(&block, first, &mut several[..count]);
        for (k, found) in several.iter().take(count).enumerate() {
            let part = |order: usize| block.iter().map(|jets| jets.0[order][first + k]).collect::<Vec<_>>();
            assert_eq!(demands.at(&part(0), &part(1), &part(2), &mut one), held[k]);
            assert_eq!(format!("{found:?}"), format!("{one:?}"));
        }
    }
}

/// The same as the slower functions beside it, which are written another way and held against MuJoCo.
fn agrees(rig: &Rig, q: &[f64], rate: &[f64], up: &[f64]) {
    let demands = Demands::new(rig);
    let mut moment = demands.moment();
    assert!(demands.at(q, rate, up, &mut moment));
    let jets: Vec<Jet> = (0..q.len()).map(|j| Jet([q[j], rate[j], up[j], 0.0])).collect();
    for (leg, now) in moment.legs.iter().enumerate() {
        let jet = leg_jet(rig, leg, &jets).0;
        assert!((now.length_m - jet[0]).abs() < 1e-12);
        assert!((now.speed_m_s - jet[1]).abs() < 1e-12);
        assert!((now.acceleration_m_s2 - jet[2]).abs() < 1e-11, "{} {}", now.acceleration_m_s2, jet[2]);
    }
    for (case, (_, payload)) in demands.cases().iter().enumerate() {
        let loaded = Rig { payload: payload.clone(), ..rig.clone() };
        let (moving, still) = (legs_n(&loaded, q, rate, up).unwrap(), gravity_legs_n(&loaded, q).unwrap());
        for leg in 0..rig.actuators.len() {
            let scale = moving[leg].abs().max(100.0);
            assert!((moment.forces_n[case][leg] - moving[leg]).abs() < 1e-9 * scale, "{case} {leg}");
            assert!((moment.still_n[case][leg] - still[leg]).abs() < 1e-9 * scale, "{case} {leg}");
        }
    }
}

proptest! {
    #[test]
    fn samples_together_are_each_alone(v in prop::collection::vec(-1.0..1.0_f64, 64)) {
        for rig in [two_legs(), six_legs(), two_cranks(), mixed_legs()] {
            together_is_alone(&fitted(rig), &v);
        }
    }

    #[test]
    fn two_legs_agree(v in prop::collection::vec(-1.0..1.0_f64, 6)) {
        let scaled = |k: usize, by: f64| [v[2 * k] * by, v[2 * k + 1] * by];
        agrees(&fitted(two_legs()), &scaled(0, 0.2), &scaled(1, 0.5), &scaled(2, 6.0));
    }

    #[test]
    fn six_legs_agree(v in prop::collection::vec(-1.0..1.0_f64, 18)) {
        let scaled = |k: usize, by: f64| v[6 * k..6 * k + 6].iter().map(|v| v * by).collect::<Vec<_>>();
        agrees(&fitted(six_legs()), &scaled(0, 0.05), &scaled(1, 0.4), &scaled(2, 4.0));
    }

    #[test]
    fn cranks_agree(v in prop::collection::vec(-1.0..1.0_f64, 6)) {
        let scaled = |k: usize, by: f64| [v[2 * k] * by, v[2 * k + 1] * by];
        agrees(&fitted(two_cranks()), &scaled(0, 0.07), &scaled(1, 0.3), &scaled(2, 3.0));
        agrees(&fitted(mixed_legs()), &scaled(0, 0.07), &scaled(1, 0.3), &scaled(2, 3.0));
    }

    /// Power that the legs put in is the rate of change of kinetic and potential energy: over a closed motion all of it
    /// comes back. Trapezoids over a period of smooth motion converge faster than any power of the step.
    #[test]
    fn a_closed_motion_costs_nothing(amplitude in 0.02..0.15_f64, phase in 0.0..6.2_f64, hz in 0.2..2.0_f64) {
        closed(fitted(two_legs()), amplitude, phase, hz)?;
        closed(fitted(mixed_legs()), amplitude * 0.4, phase, hz)?;
    }
}

fn closed(rig: Rig, amplitude: f64, phase: f64, hz: f64) -> Result<(), TestCaseError> {
    let demands = Demands::new(&rig);
    let mut moment = demands.moment();
    let w = std::f64::consts::TAU * hz;
    let (mut net, mut gross) = ([0.0; 2], 0.0);
    for k in 0..256 {
        let turn = std::f64::consts::TAU * f64::from(k) / 256.0;
        let wave = |harmonic: f64, phase: f64| {
            let (sin, cos) = libm::sincos(harmonic * turn + phase);
            let rate = harmonic * w;
            [amplitude * sin, amplitude * rate * cos, -amplitude * rate * rate * sin]
        };
        let (pitch, roll) = (wave(1.0, 0.0), wave(2.0, phase));
        prop_assert!(demands.at(
            &[pitch[0], roll[0]],
            &[pitch[1], roll[1]],
            &[pitch[2], roll[2]],
            &mut moment
        ));
        for (case, net) in net.iter_mut().enumerate() {
            for (leg, force) in moment.legs.iter().zip(&moment.forces_n[case]) {
                *net += force * leg.speed_m_s;
                gross += (force * leg.speed_m_s).abs();
            }
        }
    }
    for net in net {
        prop_assert!(net.abs() < 1e-11 * gross, "{net} of {gross}");
    }
    Ok(())
}

/// One crank under 100 kg that go up and down, worked by hand: arm 0.1 m and level, rod upright, ratio 50, rising at
/// 0.1 m/s and 2 m/s^2. The pin follows the anchor:
/// the rod stands along the pin's way there, so that the anchor's velocity is the pin's and nothing is added.
#[test]
fn a_crank_by_hand() {
    let mut leg = crank_leg("one", 0.0);
    let part = leg.crank.as_mut().unwrap();
    part.gearbox = Some(GearboxPart {
        gearbox: Gearbox {
            ratio: 50.0,
            backlash_rad: 0.001,
            efficiency_forward: 0.9,
            efficiency_back: 0.8,
            drag_nm: 0.03,
            inertia_kg_m2: 2e-5,
        },
        pin_kg: 1.5,
        backlash_span: leg.spans.table,
    });
    let mut rig = fitted(crate::rig::sample::rig(&[crate::rig::Axis::Heave], vec![leg]));
    rig.parts.loads.clear();
    rig.payload.mass_kg = 100.0;
    let demands = Demands::new(&rig);
    let mut moment = demands.moment();
    assert!(demands.at(&[0.0], &[-0.1], &[-2.0], &mut moment));
    let now = &moment.legs[0];
    assert!(now.length_m.abs() < 1e-12 && (now.speed_m_s - 0.1).abs() < 1e-12, "{now:?}");
    assert!(
        (now.acceleration_m_s2 - 2.0).abs() < 1e-12 && (now.gravity_m_s2 + 9.80665).abs() < 1e-12,
        "{now:?}"
    );
    assert!((moment.forces_n[0][0] - 100.0 * 11.80665).abs() < 1e-9);
    // 1 m of pin is 10 rad of crank and 500 rad of motor: J alpha, the crank's torque over ratio and efficiency, drag.
    let by_hand = 5e-5 * 2.0 * 500.0 + (1180.665 + 1.5 * 11.80665) * 0.1 / 50.0 / 0.9 + 0.03;
    assert!((moment.torques_nm[0][0] - by_hand).abs() < 1e-12, "{} {by_hand}", moment.torques_nm[0][0]);
    assert!(demands.at(&[0.0], &[0.1], &[0.0], &mut moment));
    let by_hand = (980.665 + 1.5 * 9.80665) * 0.1 / 50.0 * 0.8 - 0.03;
    assert!((moment.torques_nm[0][0] - by_hand).abs() < 1e-12, "{} {by_hand}", moment.torques_nm[0][0]);
}

/// One leg straight up under 100 kg, worked by hand: rising at 0.1 m/s and 2 m/s^2.
#[test]
fn a_lift_by_hand() {
    let mut rig = fitted(crate::rig::sample::lift());
    rig.parts.loads.clear();
    rig.payload.mass_kg = 100.0;
    let demands = Demands::new(&rig);
    let mut moment = demands.moment();
    assert!(demands.at(&[0.0], &[-0.1], &[-2.0], &mut moment));
    assert!((moment.forces_n[0][0] - 100.0 * 11.80665).abs() < 1e-9);
    assert!((moment.still_n[0][0] - 980.665).abs() < 1e-9);
    // T = J alpha + (F + m (a + g)) l / (2 pi eta) + drag.
    let alpha = 2.0 * std::f64::consts::TAU / 0.005;
    let by_hand = 5e-5 * alpha + (1180.665 + 2.5 * 11.80665) * 0.005 / std::f64::consts::TAU / 0.9 + 0.03;
    assert!((moment.torques_nm[0][0] - by_hand).abs() < 1e-12, "{} {by_hand}", moment.torques_nm[0][0]);
    // Standing still, friction may hold or hinder: the worse is lifting.
    assert!(demands.at(&[0.0], &[0.0], &[0.0], &mut moment));
    let by_hand = (980.665 + 2.5 * 9.80665) * 0.005 / std::f64::consts::TAU / 0.9 + 0.03;
    assert!((moment.torques_nm[0][0] - by_hand).abs() < 1e-12);
    // Sinking, the load helps: less torque.
    assert!(demands.at(&[0.0], &[0.1], &[0.0], &mut moment));
    let by_hand = (980.665 + 2.5 * 9.80665) * 0.005 / std::f64::consts::TAU * 0.88 - 0.03;
    assert!((moment.torques_nm[0][0] - by_hand).abs() < 1e-12);
    assert_eq!(jacobian(&rig, &[0.0]).shape(), (1, 1));
}
