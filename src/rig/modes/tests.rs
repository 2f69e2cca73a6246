//! Modes against closed forms and against each other.

use super::*;
use crate::rig::sample::{actuator, lift, rig, six_legs, two_legs};
use crate::units::STANDARD_GRAVITY_M_S2 as G;
use proptest::prelude::*;

fn leg(n_m: f64) -> LegSpring {
    LegSpring { screw: Some(Stiffness { value: n_m, share: 0.1 }), ..LegSpring::default() }
}

fn springs(legs: usize, n_m: f64) -> Springs {
    Springs { legs: vec![leg(n_m); legs], joint: vec![] }
}

fn hz(model: &Model) -> Vec<f64> {
    model.modes().unwrap().iter().map(|mode| mode.frequency_hz().unwrap()).collect()
}

#[test]
fn a_mass_on_a_spring() {
    let model = Model::at(&lift(), &[0.0], &springs(1, 2e6), Side::Middle).unwrap();
    let expected = (2e6_f64 / 120.0).sqrt() / (2.0 * PI);
    assert!((hz(&model)[0] - expected).abs() < 1e-9 * expected);
    let sag = model.twist(Vector3::new(0.0, 0.0, 120.0 * G), Vector3::zeros()).unwrap();
    assert!((sag[0] - 120.0 * G / 2e6).abs() < 1e-15);
}

/// An upright payload on a pitch axis, held by one upright leg 0.5 m behind: K = k a^2 + k_t - m g h, M = I + m h^2.
/// The centre is over the axis, so the leg carries nothing and its own curvature does not count.
#[test]
fn an_upright_pendulum() {
    let mut rig = rig(&[Axis::Pitch], vec![actuator("rear", [-0.5, 0.0, 0.6], [-0.5, 0.0, 0.0])]);
    rig.payload.centre_p_m = Vector3::new(0.0, 0.0, -0.3);
    let joint = JointSpring { axis: Axis::Pitch, stiffness: Stiffness { value: 500.0, share: 0.0 } };
    let springs = Springs { legs: vec![leg(4e4)], joint: vec![joint] };
    let model = Model::at(&rig, &[0.0], &springs, Side::Middle).unwrap();
    let stiffness = 4e4 * 0.25 + 500.0 - 120.0 * G * 0.3;
    assert!((model.stiffness[(0, 0)] - stiffness).abs() < 1e-8, "{}", model.stiffness);
    let inertia = 14.0 + 120.0 * 0.09;
    assert!((model.mass[(0, 0)] - inertia).abs() < 1e-12);
    assert!((hz(&model)[0] - (stiffness / inertia).sqrt() / (2.0 * PI)).abs() < 1e-12);
    // With springs of nearly nothing it falls over, and says so.
    let soft = Springs { legs: vec![leg(1.0)], joint: vec![] };
    let model = Model::at(&rig, &[0.0], &soft, Side::Middle).unwrap();
    assert_eq!(model.modes().unwrap()[0].frequency_hz(), None);
    assert_eq!(model.twist(Vector3::x(), Vector3::zeros()), Err(ModesError::Falls));
}

/// Yaw of a universal joint is driven by no leg: with a torsion spring it is a mode of its own at level.
#[test]
fn the_joint_twists_in_yaw() {
    let joint = JointSpring { axis: Axis::Yaw, stiffness: Stiffness { value: 9000.0, share: 0.2 } };
    let springs = Springs { legs: vec![leg(1e6); 2], joint: vec![joint] };
    let mut rig = two_legs();
    rig.payload.centre_p_m = Vector3::new(0.0, 0.0, -0.25);
    let model = Model::at(&rig, &[0.0, 0.0], &springs, Side::Middle).unwrap();
    assert_eq!(model.axes, [Axis::Pitch, Axis::Roll, Axis::Yaw]);
    let modes = model.modes().unwrap();
    let yaw = &modes[0];
    assert!((yaw.frequency_hz().unwrap() - (9000.0_f64 / 15.0).sqrt() / (2.0 * PI)).abs() < 1e-9);
    assert!((yaw.shares[2] - 1.0).abs() < 1e-12 && (yaw.shape[2] - 15.0_f64.sqrt().recip()).abs() < 1e-12);
    // 100 N sideways at the nose: 0.8 m x 100 N / 9000 N m/rad.
    let twist = model.twist(Vector3::new(0.0, 100.0, 0.0), Vector3::new(0.8, 0.0, 0.0)).unwrap();
    assert!((twist[2] - 80.0 / 9000.0).abs() < 1e-12, "{twist:?}");
}

#[test]
fn springs_in_series_are_softer() {
    let leg = LegSpring {
        mount: Some(Stiffness { value: 2e6, share: 0.0 }),
        screw: Some(Stiffness { value: 2e6, share: 0.5 }),
        servo: None,
    };
    assert!((leg.along_n_m(Side::Middle).unwrap() - 1e6).abs() < 1e-6);
    assert!((leg.along_n_m(Side::Soft).unwrap() - 2e6 / 3.0).abs() < 1e-6);
    assert_eq!(in_series_n_m([]), None);
    // 13 mm steel, 0.3 m: 132.7 mm^2 x 206 GPa / 0.3 m.
    assert!((bar_n_m(0.013, 0.3, 2.06e11) - 9.1143e7).abs() < 1e4);
}

#[test]
fn springs_that_do_not_fit_are_refused() {
    let error = |springs: &Springs| Model::at(&two_legs(), &[0.0, 0.0], springs, Side::Middle).unwrap_err();
    assert_eq!(error(&springs(1, 1e6)), ModesError::LegCount { found: 1, legs: 2 });
    let rigid = Springs { legs: vec![leg(1e6), LegSpring::default()], joint: vec![] };
    assert_eq!(error(&rigid), ModesError::RigidLeg { leg: 2 });
    assert!(matches!(error(&springs(2, -1.0)), ModesError::Data(_)));
    let wild = Springs {
        legs: vec![leg(1e6); 2],
        joint: vec![JointSpring { axis: Axis::Yaw, stiffness: Stiffness { value: 1.0, share: 1.0 } }],
    };
    assert!(error(&wild).to_string().contains("uncertainty"));
}

#[test]
fn a_band_holds_what_lies_between() {
    let rig = two_legs();
    let light = Payload { mass_kg: 60.0, ..rig.payload.clone() };
    let poses = [vec![0.0, 0.0], vec![0.1, -0.1]];
    let springs = springs(2, 5e5);
    let bands = bands(&rig, &poses, &[rig.payload.clone(), light], &springs).unwrap();
    assert_eq!(bands.len(), 2);
    for q in &poses {
        for (band, hz) in bands.iter().zip(hz(&Model::at(&rig, q, &springs, Side::Middle).unwrap())) {
            assert!(band.low_hz.unwrap() < hz && hz < band.high_hz.unwrap(), "{band:?} {hz}");
        }
    }
    // Ten percent of stiffness is five of frequency, and half the mass is more than that.
    let one = super::bands(&rig, &poses[..1], std::slice::from_ref(&rig.payload), &springs).unwrap();
    let ratio = one[0].high_hz.unwrap() / one[0].low_hz.unwrap();
    assert!((ratio - (1.1_f64 / 0.9).sqrt()).abs() < 0.01, "{ratio}");
    assert!(bands[0].high_hz.unwrap() > one[0].high_hz.unwrap());
    assert_eq!(super::bands(&rig, &poses, &[], &springs).unwrap(), []);
}

use crate::rig::Payload;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    /// Modes solve their equation, and their shares add up.
    #[test]
    fn modes_solve_their_equation(q in prop::array::uniform6(-0.2..0.2_f64), k in prop::array::uniform6(1e5..1e7_f64)) {
        let springs = Springs { legs: k.iter().map(|k| leg(*k)).collect(), joint: vec![] };
        let model = Model::at(&six_legs(), &q, &springs, Side::Middle).unwrap();
        let size = model.stiffness.norm();
        for mode in model.modes().unwrap() {
            let x = DVector::from_vec(mode.shape.clone());
            let rest = &model.stiffness * &x - &model.mass * &x * mode.square_rad2_s2;
            prop_assert!(rest.norm() < 1e-9 * size * x.norm(), "{} of {size}", rest.norm());
            prop_assert!((mode.shares.iter().sum::<f64>() - 1.0).abs() < 1e-10);
        }
    }

    /// The stiffness is the slope of the force that holds the platform: legs as springs at their lengths, the weight.
    #[test]
    fn stiffness_is_the_slope_of_the_holding_force(q in prop::array::uniform6(-0.2..0.2_f64)) {
        let rig = six_legs();
        let springs = springs(6, 3e5);
        let model = Model::at(&rig, &q, &springs, Side::Middle).unwrap();
        let held_n = gravity_legs_n(&rig, &q).unwrap();
        let length_m = crate::rig::kinematics::lengths_m(&rig, &q);
        // Generalised force that is missing at a neighbouring pose.
        let missing = |q: &[f64]| {
            let still: Coordinates = [0.0; MAX_AXES];
            let weight = generalised(&rig.payload, &Pose::at(&rig, q), &still, &still, Gravity::On);
            let now_m = crate::rig::kinematics::lengths_m(&rig, q);
            let push = DVector::from_fn(6, |i, _| held_n[i] - 3e5 * (now_m[i] - length_m[i]));
            DVector::from_row_slice(&weight) - jacobian(&rig, q).transpose() * push
        };
        for j in 0..6 {
            let (mut up, mut down) = (q, q);
            up[j] += 1e-5;
            down[j] -= 1e-5;
            let slope = (missing(&up) - missing(&down)) / 2e-5;
            prop_assert!((slope - model.stiffness.column(j)).norm() < 1e-6 * model.stiffness.norm());
        }
    }
}
