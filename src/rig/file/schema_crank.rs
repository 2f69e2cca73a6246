//! `[actuator.crank]` in the JSON Schema.

use super::schema::{Angle, Inertia, Length, Mass, Share};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use std::borrow::Cow;

super::schema::quantities! {
    Torque, "a torque with its unit", ["120 N*m"];
    TurningSpeed, "a turning speed with its unit", ["150 deg/s"];
    TurningAcceleration, "an angular acceleration with its unit", ["2000 deg/s^2"];
    TurningJerk, "an angular jerk with its unit", ["100000 deg/s^3"];
}

/// A crank that a motor turns through a gearbox, and a rod from its pin to the platform.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
pub(super) struct Crank {
    /// Centre of the shaft in the plane in which the pin goes round: x forward, y right, z DOWN from the joint.
    centre: [Length; 3],
    /// Another point on the shaft's line, best a metre away: seen from there, growing angles turn against the clock.
    shaft: [Length; 3],
    /// A point that the crank points at when its angle is zero.
    zero: [Length; 3],
    /// From the shaft's centre to the pin's.
    arm: Length,
    /// From the pin's centre to that of the joint on the platform.
    rod: Length,
    /// Whether the pin runs ahead of the platform's point, in the sense of growing angles, or behind it.
    assembly: Assembly,
    /// Smallest and largest angle.
    angle: Travel,
    /// Kept free before either end.
    soft_stop: Angle,
    /// Angle where it parks.
    park: Angle,
    /// What the rod must keep from a dead point, at least 5 deg.
    dead_point: Angle,
    /// Turns of the motor for one of the crank.
    #[schemars(range(min = 0.0, max = 10_000.0))]
    ratio: f64,
    /// Largest turning speed of the crank.
    speed: TurningSpeed,
    /// Largest angular acceleration of the crank.
    acceleration: TurningAcceleration,
    /// Largest angular jerk of the crank.
    jerk: TurningJerk,
    /// Torque of the drive at the crank; without it no limit is checked.
    torque: Option<Torque>,
    /// What its gearbox loses and weighs.
    gearbox: Option<Gearbox>,
}

/// Which way crank and rod are put together.
#[derive(JsonSchema)]
#[schemars(rename_all = "lowercase", inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
enum Assembly {
    Ahead,
    Behind,
}

/// How far a crank turns.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Travel {
    min: Angle,
    max: Angle,
}

/// What a gearbox loses and weighs.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Gearbox {
    /// Work out by work in when the motor drives.
    efficiency: Share,
    /// Work out by work in when the crank drives; 0 % for one that locks itself.
    efficiency_back: Share,
    /// Torque at the motor that turns it without a load.
    drag: Torque,
    /// Moment of inertia at the motor's side, coupling included.
    inertia: Inertia,
    /// Play of the crank with the motor held, from one side to the other; an arcminute is 0.0167 deg.
    backlash: Angle,
    /// Mass that moves with the pin: half of the rod, and half of the arm.
    pin_mass: Mass,
}
