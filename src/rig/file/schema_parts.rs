//! The optional tables in the JSON Schema: loads, powertrain, supply, structure, clearance.

use super::schema::{Length, Moments};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use std::borrow::Cow;

super::schema::quantities! {
    Torque, "a torque with its unit", ["1.3 N*m"];
    Power, "a power with its unit", ["400 W"];
    Energy, "an energy with its unit", ["20 J"];
    Current, "a current with its unit", ["2.6 A"];
    Voltage, "a voltage with its unit", ["18 V"];
    Speed, "a turning speed with its unit", ["3000 rpm"];
    TorqueForCurrent, "a torque for a current with its unit", ["0.5 N*m/A"];
    Temperature, "a temperature with its unit", ["40 degC"];
    Stiffness, "a stiffness with its unit", ["3 kN/mm"];
    TurningStiffness, "a stiffness about an axis with its unit", ["40 kN*m/rad"];
    Mass, "a mass with its unit", ["3 kg"];
    Inertia, "a moment of inertia with its unit", ["0.00003 kg*m^2", "0.3 kg*cm^2"];
    Force, "a force with its unit", ["9 kN"];
    Acceleration, "an acceleration with its unit", ["15 m/s^2"];
    Frequency, "a frequency with its unit", ["14 Hz"];
    Time, "a time with its unit", ["2 min", "5000 h"];
    Share, "a share", ["90 %"];
}

/// One thing that may be carried: an occupant, an empty seat, a seat position. All are checked.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
pub(super) struct Load {
    /// Its name, in findings.
    #[schemars(length(min = 1, max = 40))]
    name: String,
    /// Mass of all that moves then.
    mass: Mass,
    /// Centre of mass: x forward, y right, z DOWN from the joint.
    centre: [Length; 3],
    /// Moments of inertia about the centre of mass.
    inertia: Moments,
}

/// The ball screws of all legs, or of those under `legs`.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
pub(super) struct Screw {
    /// Names of the legs; all without it.
    legs: Option<Vec<String>>,
    /// Work out by work in when the motor drives.
    efficiency: Share,
    /// Work out by work in when the load drives; 0 % for a screw that locks itself.
    efficiency_back: Share,
    /// Torque of preload, seals and guides that opposes any turning.
    drag: Torque,
    /// Moment of inertia of screw and coupling.
    inertia: Inertia,
    /// Mass that slides with the nut.
    sliding_mass: Mass,
    /// Root diameter; `whirl` and `buckling` need it.
    root_diameter: Option<Length>,
    /// The part that turns free, for the critical speed.
    whirl: Option<Slender>,
    /// The part that is pushed, for buckling.
    buckling: Option<Slender>,
    /// Data for its life.
    life: Option<Life>,
}

/// A slender part of a screw.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Slender {
    /// Longest distance between its supports.
    length: Length,
    /// How its ends are held.
    ends: Ends,
    /// Share of the critical speed or load that may be used: 80 % and 50 % are usual.
    share: Share,
}

#[derive(JsonSchema)]
#[schemars(inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
enum Ends {
    #[schemars(rename = "fixed-free")]
    FixedFree,
    #[schemars(rename = "supported-supported")]
    SupportedSupported,
    #[schemars(rename = "fixed-supported")]
    FixedSupported,
    #[schemars(rename = "fixed-fixed")]
    FixedFixed,
}

/// Data for a screw's life.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Life {
    /// Dynamic load rating.
    rating: Force,
    /// Preload of the nut; `0 N` for none.
    preload: Force,
    /// Hours of play that it should last.
    hours: Time,
}

/// The motors of all legs, or of those under `legs`.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
pub(super) struct Motor {
    /// Names of the legs; all without it.
    legs: Option<Vec<String>>,
    /// Torque without end: pairs of speed and torque from standstill on.
    #[schemars(length(min = 1, max = 64))]
    continuous: Vec<(Speed, Torque)>,
    /// Torque for a moment: pairs of speed and torque from standstill on.
    #[schemars(length(min = 1, max = 64))]
    peak: Vec<(Speed, Torque)>,
    /// Moment of inertia of the rotor, brake included.
    rotor_inertia: Inertia,
    /// Rated power.
    rated_power: Power,
    /// Torque for an ampere (r.m.s.).
    torque_constant: TorqueForCurrent,
    /// Thermal time constant.
    time_constant: Time,
    /// Over which time r.m.s. torque must stay within continuous torque.
    window: Time,
    /// Ambient temperature of the rating.
    rated_ambient: Temperature,
    /// Temperature that the winding may reach.
    winding_limit: Temperature,
    /// Temperature of the winding when play begins.
    start: Temperature,
}

/// The holding brakes of all legs, or of those under `legs`.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
pub(super) struct Brake {
    /// Names of the legs; all without it.
    legs: Option<Vec<String>>,
    /// Torque that it holds at rest.
    holding: Torque,
    /// What that must be of the torque that the load needs.
    margin: Share,
    /// Least torque while it slips.
    weakest: Torque,
    /// Largest torque while it slips.
    strongest: Torque,
    /// Supply from which it lets go.
    release: Voltage,
    /// From loss of supply until it brakes.
    delay: Time,
    /// Most work in one stop.
    stop_work: Energy,
    /// How many such stops it bears.
    #[schemars(range(min = 1, max = 1_000_000_000))]
    stops: u32,
    /// Largest acceleration of a leg in a stop that you accept.
    jolt: Acceleration,
}

/// What takes the ends of all legs, or of those under `legs`: rubber, or a bumper that is crushed once.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
pub(super) struct EndStop {
    /// Names of the legs; all without it.
    legs: Option<Vec<String>>,
    /// Energy that either end takes, the weaker one where they differ.
    energy: Energy,
}

/// The hard-wired stop: the drives brake, then power is taken away and the brakes drop (category 1).
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
pub(super) struct EmergencyStop {
    /// From the button until the drives begin to brake.
    delay: Time,
    /// From the button until the relay takes power away.
    power_off: Time,
    /// Largest deceleration at the head that you accept.
    deceleration: Option<Acceleration>,
    /// Largest sudden change of acceleration at the head, when the brakes drop, that you accept.
    jolt: Option<Acceleration>,
    /// Where both are felt: x forward, y right, z DOWN from the joint; the seat's point without it.
    head: Option<[Length; 3]>,
}

/// The bus that feeds all drives.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
pub(super) struct Supply {
    /// Most that it gives.
    power: Power,
    /// Of drive and motor together.
    efficiency: Share,
    /// Energy that the bus takes up before the resistor is switched in.
    store: Energy,
    /// The brake resistor, where there is one.
    resistor: Option<Resistor>,
}

/// A brake resistor.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Resistor {
    /// For a moment.
    peak: Power,
    /// Without end.
    continuous: Power,
}

/// Springs of legs and joint.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
pub(super) struct Structure {
    /// Of every leg, along its line.
    leg: LegSprings,
    /// Of the joint, about or along its axes.
    joint: Option<JointSprings>,
    /// How far the stiffnesses may be off either way.
    uncertainty: Share,
    /// Largest share of an axis's r.m.s. acceleration near a natural frequency.
    share: Share,
}

/// Springs of a leg along its line; what is absent is rigid.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct LegSprings {
    /// Bending of its mounts.
    mount: Option<Stiffness>,
    /// Screw, nut and bearing.
    screw: Option<Stiffness>,
    /// The position loop.
    servo: Option<Stiffness>,
}

/// Springs of the joint.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct JointSprings {
    pitch: Option<TurningStiffness>,
    roll: Option<TurningStiffness>,
    yaw: Option<TurningStiffness>,
    surge: Option<Stiffness>,
    sway: Option<Stiffness>,
    heave: Option<Stiffness>,
}

/// What was measured on the rig.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
pub(super) struct Measured {
    /// Lost motion along a leg.
    backlash: Option<Length>,
    /// Up to which frequency the platform follows.
    bandwidth: Option<Frequency>,
}

/// A point of the platform that must keep away from every obstacle.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
pub(super) struct Clearance {
    /// Its name, in findings.
    #[schemars(length(min = 1, max = 40))]
    name: String,
    /// Where it is on the platform: x forward, y right, z DOWN from the joint.
    point: [Length; 3],
    /// How far it must stay away.
    distance: Length,
}

/// Something that does not move: either a `plane` or a `box`.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, extend("oneOf" = [{ "required": ["plane"] }, { "required": ["box"] }]))]
#[allow(dead_code, reason = "read by schemars' derive only")]
pub(super) struct Obstacle {
    /// Its name, in findings.
    #[schemars(length(min = 1, max = 40))]
    name: String,
    /// All beyond a plane.
    plane: Option<Plane>,
    /// A box along the axes.
    #[schemars(rename = "box")]
    cuboid: Option<Cuboid>,
}

/// A plane.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Plane {
    /// A point on it.
    at: [Length; 3],
    /// A point straight off it, on the free side.
    free: [Length; 3],
}

/// A box.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Cuboid {
    /// Its smallest coordinates.
    min: [Length; 3],
    /// Its largest coordinates.
    max: [Length; 3],
}

/// Drives on a CAN bus: CiA 402 over CANopen, one drive a leg (docs/can.md).
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
pub(super) struct Can {
    /// Of the bus; every drive must be set to it.
    bit_rate: BitRate,
    /// Node id of this program: one that no drive has.
    #[schemars(range(min = 1, max = 127))]
    host: u32,
    /// How set-points reach the drives.
    mode: PositionMode,
    /// How a drive knows where its leg is; `homing` goes with `homing_method`.
    reference: Reference,
    /// The drive's own homing method (object 0x6098), from its manual.
    #[schemars(range(min = -128, max = 127))]
    homing_method: Option<i32>,
    /// A leg further than this from its set-point is a fault of its drive.
    following_error: Length,
    /// Closed while the operator holds the key, button or pedal. Without it nothing moves.
    presence: Option<Terminal>,
    /// Closed while every gate of the fence is. Without it nothing moves.
    gate: Option<Terminal>,
    /// Closed while nobody stands on a mat. Without it nothing moves.
    mat: Option<Terminal>,
    /// Closed while the seat's belt is. Without it nothing moves.
    belt: Option<Terminal>,
    /// Closed while no stop device is actuated. Without it nothing moves.
    stop: Option<Terminal>,
    /// The output that sounds the warning before a motion: bits 16 to 31.
    warning: Option<Terminal>,
    /// One table a leg.
    #[schemars(length(min = 1, max = 12))]
    leg: Vec<CanLeg>,
}

#[derive(JsonSchema)]
#[schemars(inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
enum BitRate {
    #[schemars(rename = "1 Mbit/s")]
    Thousand,
    #[schemars(rename = "500 kbit/s")]
    FiveHundred,
    #[schemars(rename = "250 kbit/s")]
    TwoHundredFifty,
    #[schemars(rename = "125 kbit/s")]
    HundredTwentyFive,
    #[schemars(rename = "50 kbit/s")]
    Fifty,
}

#[derive(JsonSchema)]
#[schemars(inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
enum PositionMode {
    #[schemars(rename = "cyclic synchronous position")]
    Cyclic,
    #[schemars(rename = "interpolated position")]
    Interpolated,
}

#[derive(JsonSchema)]
#[schemars(rename_all = "lowercase", inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
enum Reference {
    Absolute,
    Homing,
}

/// A bit of the digital inputs (0x60FD) or outputs (0x60FE) of a leg's drive; a one is closed, or on.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Terminal {
    /// Name of the leg.
    leg: String,
    /// Which bit.
    #[schemars(range(min = 0, max = 31))]
    bit: u32,
}

/// One leg's drive.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct CanLeg {
    /// Name of the leg.
    name: String,
    /// Node id of its drive.
    #[schemars(range(min = 1, max = 127))]
    node: u32,
    /// Vendor (object 0x1018:01).
    vendor: u32,
    /// Product (object 0x1018:02).
    product: u32,
    /// Serial number (object 0x1018:04).
    serial: Option<u32>,
    /// The drive's position counts for a turn of the screw.
    #[schemars(range(min = 1, max = 16_777_216))]
    counts_per_turn: u32,
    /// What counting up does to the leg.
    direction: Direction,
    /// Length of the leg at count zero.
    zero: Length,
    /// What 100 % of the drive's torque is (object 0x6076).
    rated_torque: Torque,
    /// Input bit of the contact that closes when the brake is on; goes with the other.
    #[schemars(range(min = 0, max = 31))]
    brake_set: Option<u32>,
    /// Input bit of the contact that closes when the brake is off.
    #[schemars(range(min = 0, max = 31))]
    brake_released: Option<u32>,
    /// How far the leg may sag as its brake lets go, and while it holds. Without contacts the brake is known by that alone.
    brake_sag: Option<Length>,
    /// Statusword bit that says that the reference is known: 8, 14 or 15, from the drive's manual.
    homed_bit: Option<u32>,
}

#[derive(JsonSchema)]
#[schemars(rename_all = "lowercase", inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
enum Direction {
    Longer,
    Shorter,
}
