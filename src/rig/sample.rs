//! Rigs for unit tests, made without a file.

use super::crank::{Assembly, Crank};
use super::parts::CrankPart;
use super::{Actuator, ActuatorSpans, Axis, AxisLimits, Drive, Interpolation, Payload, Rig};
use crate::diag::{SourceId, Span};
use nalgebra::{Matrix3, Vector3};

fn nowhere() -> Span {
    Span::new(SourceId(0), 0, 0)
}

/// A leg with limits of an everyday size and no limit of thrust.
pub(super) fn actuator(name: &str, base: [f64; 3], anchor: [f64; 3]) -> Actuator {
    let place = nowhere();
    Actuator {
        name: name.to_string(),
        base_r_m: Vector3::from(base),
        anchor_p_m: Vector3::from(anchor),
        min_m: 0.3,
        max_m: 0.9,
        soft_stop_m: 0.01,
        park_m: 0.5,
        lead_m: 0.005,
        speed_m_s: 0.25,
        acceleration_m_s2: 4.0,
        jerk_m_s3: 200.0,
        thrust_n: f64::INFINITY,
        crank: None,
        parts: Default::default(),
        spans: ActuatorSpans { table: place, stroke: place, speed: place, acceleration: place, jerk: place },
    }
}

/// A rig on these axes, each free by 0.4 rad or m, with a payload of 120 kg.
pub(super) fn rig(axes: &[Axis], actuators: Vec<Actuator>) -> Rig {
    let limits = |axis: &Axis| AxisLimits { axis: *axis, min: -0.4, max: 0.4, span: nowhere() };
    Rig {
        name: "sample".to_string(),
        axes: axes.iter().map(limits).collect(),
        payload: Payload {
            mass_kg: 120.0,
            centre_p_m: Vector3::new(0.05, 0.0, -0.25),
            inertia_kg_m2: Matrix3::from_diagonal(&Vector3::new(9.0, 14.0, 15.0)),
        },
        seat_p_m: Vector3::new(0.0, 0.0, -0.3),
        actuators,
        avoid: Vec::new(),
        drive: Drive {
            cycle_us: 2000,
            interpolation: Interpolation::Cubic,
            delay_s: 0.004,
            detection_s: 0.01,
            link_s: 0.001,
            bandwidth_hz: 25.0,
            counts_per_turn: 10_000,
        },
        pivot_height_m: None,
        parts: Default::default(),
        hash: String::new(),
    }
}

/// The worked example of the collected check values, turned into these axes (theirs: z up, left leg first).
pub(super) fn two_legs() -> Rig {
    rig(
        &[Axis::Pitch, Axis::Roll],
        vec![
            actuator("left", [-0.45, -0.30, 0.60], [-0.45, -0.30, 0.05]),
            actuator("right", [-0.45, 0.30, 0.60], [-0.45, 0.30, 0.05]),
        ],
    )
}

/// Six legs on six axes, none of them symmetrical.
pub(super) fn six_legs() -> Rig {
    let leg = |k: usize| {
        let (at, shift) = (k as f64 * 1.05 + 0.2, if k.is_multiple_of(2) { 0.45 } else { -0.45 });
        let (sin, cos) = libm::sincos(at);
        let (sin_b, cos_b) = libm::sincos(at + shift);
        actuator(
            &format!("leg {k}"),
            [0.8 * cos_b, 0.8 * sin_b, 0.75 + 0.01 * k as f64],
            [0.5 * cos, 0.5 * sin, 0.1 - 0.02 * k as f64],
        )
    };
    rig(
        &[Axis::Surge, Axis::Yaw, Axis::Heave, Axis::Pitch, Axis::Sway, Axis::Roll],
        (0..6).map(leg).collect(),
    )
}

/// One leg straight under a platform that only goes up and down.
pub(super) fn lift() -> Rig {
    rig(&[Axis::Heave], vec![actuator("lift", [0.0, 0.0, 0.6], [0.0, 0.0, 0.0])])
}

/// A crank leg of 0.1 m and 0.4 m under the anchor at 0.7 m from the pivot, `turned` about z: level, the crank points
/// forward and the rod stands upright.
pub(super) fn crank_leg(name: &str, turned: f64) -> Actuator {
    let (sin, cos) = libm::sincos(turned);
    let anchor = Vector3::new(-0.7 * cos, 0.7 * sin, 0.03);
    let centre_r_m = anchor + Vector3::new(-0.1, 0.0, 0.4);
    let part = CrankPart {
        crank: Crank {
            centre_r_m,
            axis_r: Vector3::y(),
            zero_r: Vector3::x(),
            arm_m: 0.1,
            rod_m: 0.4,
            assembly: Assembly::Behind,
        },
        middle_rad: 0.0,
        least_transmission: 0.25,
        gearbox: None,
    };
    Actuator {
        min_m: -0.09,
        max_m: 0.09,
        soft_stop_m: 0.002,
        park_m: -0.05,
        lead_m: std::f64::consts::TAU * 0.1 / 50.0,
        crank: Some(part),
        ..actuator(name, centre_r_m.into(), anchor.into())
    }
}

/// Two crank legs behind the pivot, not mirrored.
pub(super) fn two_cranks() -> Rig {
    rig(&[Axis::Pitch, Axis::Roll], vec![crank_leg("left", -0.5), crank_leg("right", 0.6)])
}

/// A crank and a screw, on either side.
pub(super) fn mixed_legs() -> Rig {
    let mut rig = two_legs();
    rig.actuators[0] = crank_leg("left", -0.6);
    rig
}
