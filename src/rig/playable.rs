//! A small rig for tests of what guards and plays it, made by hand: only its limits and its drive matter here.

use super::{Actuator, ActuatorSpans, Axis, AxisLimits, Drive, Interpolation, Payload, Rig};
use crate::diag::{SourceId, Span};
use nalgebra::{Matrix3, Vector3};

/// Two legs of 600 to 900 mm on pitch and roll: 300 mm/s, 3 m/s^2, 50 m/s^3, a cycle of 1 ms.
pub(crate) fn two_legs() -> Rig {
    let place = Span::new(SourceId(0), 0, 0);
    let leg = |name: &str, side: f64| Actuator {
        name: name.to_string(),
        base_r_m: Vector3::new(-0.5, 0.4 * side, 0.75),
        anchor_p_m: Vector3::new(-0.5, 0.4 * side, 0.0),
        min_m: 0.6,
        max_m: 0.9,
        soft_stop_m: 0.01,
        park_m: 0.65,
        lead_m: 0.005,
        speed_m_s: 0.3,
        acceleration_m_s2: 3.0,
        jerk_m_s3: 50.0,
        thrust_n: 3000.0,
        crank: None,
        parts: Default::default(),
        spans: ActuatorSpans { table: place, stroke: place, speed: place, acceleration: place, jerk: place },
    };
    let axis = |axis, most: f64| AxisLimits { axis, min: -most, max: most, span: place };
    Rig {
        name: "sample".to_string(),
        axes: vec![axis(Axis::Pitch, 0.3), axis(Axis::Roll, 0.3)],
        payload: Payload {
            mass_kg: 120.0,
            centre_p_m: Vector3::new(0.0, 0.0, -0.3),
            inertia_kg_m2: Matrix3::identity() * 12.0,
        },
        seat_p_m: Vector3::new(0.0, 0.0, -0.3),
        actuators: vec![leg("left", -1.0), leg("right", 1.0)],
        avoid: Vec::new(),
        drive: Drive {
            cycle_us: 1000,
            interpolation: Interpolation::Linear,
            delay_s: 0.002,
            detection_s: 0.02,
            link_s: 0.001,
            bandwidth_hz: 20.0,
            counts_per_turn: 10_000,
        },
        pivot_height_m: None,
        parts: Default::default(),
        hash: "0".to_string(),
    }
}
