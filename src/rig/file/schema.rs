//! The JSON Schema of rig files, for editors that complete and check TOML.
//!
//! The types here are never filled: they say to schemars what the reader accepts. A test holds their keys against the
//! reader's own lists, and the committed `profiles/rigs/rig.schema.json` against what comes out here.

use super::schema_crank::Crank;
use super::schema_parts::{self as parts, Current};
use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use std::borrow::Cow;

/// A number with its unit, as `units::quantity` reads it; which dimension is right stands in the description.
pub(super) const QUANTITY_PATTERN: &str = r"^\s*[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)(e[+-]?[0-9]+)?\s*[A-Za-z%]+(\^-?[0-9]+)?([*/][A-Za-z]+(\^-?[0-9]+)?)*\s*$";

/// The JSON Schema of rig files, as editors use it (draft 7, which TOML editors know).
pub fn schema() -> serde_json::Value {
    let generator = SchemaSettings::draft07().into_generator();
    generator.into_root_schema_for::<RigFile>().to_value()
}

macro_rules! quantities {
    ($($name:ident, $what:literal, [$($example:literal),+];)+) => { $(
        pub(in crate::rig::file) struct $name;

        impl JsonSchema for $name {
            fn inline_schema() -> bool {
                true
            }
            fn schema_name() -> Cow<'static, str> {
                stringify!($name).into()
            }
            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!({
                    "type": "string",
                    "description": $what,
                    "pattern": $crate::rig::file::schema::QUANTITY_PATTERN,
                    "examples": [$($example),+],
                })
            }
        }
    )+ };
}
pub(super) use quantities;

quantities! {
    Length, "a length with its unit", ["0.62 m", "430 mm"];
    Angle, "an angle with its unit", ["-10 deg", "0.2 rad"];
    Mass, "a mass with its unit", ["130 kg", "287 lb"];
    Inertia, "a moment of inertia with its unit", ["14 kg*m^2"];
    Speed, "a speed with its unit", ["250 mm/s"];
    Acceleration, "an acceleration with its unit", ["4 m/s^2"];
    Jerk, "a jerk with its unit", ["200 m/s^3"];
    Force, "a force with its unit", ["1500 N", "1.5 kN"];
    Time, "a time with its unit", ["4 ms"];
    Frequency, "a frequency with its unit", ["25 Hz"];
    TimeOrRate, "a time or a rate with its unit; whole microseconds", ["2 ms", "500 Hz"];
    Share, "a share", ["10 %"];
}

/// A motion rig: joint, payload, legs and drives. Points are in metres from the centre of the joint with the platform
/// level: x forward, y right, z DOWN.
#[derive(JsonSchema)]
#[schemars(title = "Cueloom rig file", deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct RigFile {
    /// The rig's name, for reports.
    #[schemars(length(min = 1, max = 80))]
    name: String,
    /// Where the joint is; for drawings.
    pivot: Option<Pivot>,
    /// The joint between frame and platform.
    joint: Joint,
    /// All that moves, the occupant included; may be left out where there are loads.
    payload: Option<Payload>,
    /// Load cases: all are checked.
    #[schemars(length(max = 8))]
    load: Option<Vec<parts::Load>>,
    /// The occupant.
    seat: Seat,
    /// The legs: as many as the joint has axes.
    #[schemars(length(min = 1, max = 12))]
    actuator: Vec<Actuator>,
    /// Bands of frequencies in which a profile should hold little.
    #[schemars(length(max = 32))]
    avoid: Option<Vec<Avoid>>,
    /// How set-points become motion.
    drive: Drive,
    /// Between this program and the drives.
    link: Link,
    /// Drives on a CAN bus (docs/can.md).
    can: Option<parts::Can>,
    /// The ball screws.
    screw: Option<OneOrMore<parts::Screw>>,
    /// The motors.
    motor: Option<OneOrMore<parts::Motor>>,
    /// The holding brakes.
    brake: Option<OneOrMore<parts::Brake>>,
    /// What takes the end of a leg's travel.
    end_stop: Option<OneOrMore<parts::EndStop>>,
    /// The hard-wired stop under control (category 1).
    emergency_stop: Option<parts::EmergencyStop>,
    /// The bus that feeds all drives.
    supply: Option<parts::Supply>,
    /// Springs of legs and joint.
    stiffness: Option<parts::Structure>,
    /// What was measured on the rig.
    measured: Option<parts::Measured>,
    /// Points of the platform that must keep away from obstacles.
    #[schemars(length(max = 32))]
    clearance: Option<Vec<parts::Clearance>>,
    /// What does not move.
    #[schemars(length(max = 32))]
    obstacle: Option<Vec<parts::Obstacle>>,
}

/// One table for all legs, or one for each kind.
#[derive(JsonSchema)]
#[schemars(untagged, inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
enum OneOrMore<T> {
    One(T),
    More(Vec<T>),
}

/// Where the joint is; for drawings.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Pivot {
    /// Height of the joint's centre above the floor.
    height: Length,
}

/// An axis of the joint. Positive: pitch nose up, roll right wing down, yaw nose right, surge forward, sway right,
/// heave up.
#[derive(JsonSchema)]
#[schemars(rename_all = "lowercase", inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
enum Axis {
    Pitch,
    Roll,
    Yaw,
    Surge,
    Sway,
    Heave,
}

/// The joint between frame and platform: a range for each axis of `order`.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Joint {
    /// The axes, in the order in which the joint turns them from the frame outwards.
    #[schemars(length(min = 1, max = 6), extend("uniqueItems" = true))]
    order: Vec<Axis>,
    /// Nose up is positive.
    pitch: Option<AngleRange>,
    /// Right wing down is positive.
    roll: Option<AngleRange>,
    /// Nose right is positive.
    yaw: Option<AngleRange>,
    /// Forward is positive.
    surge: Option<LengthRange>,
    /// Right is positive.
    sway: Option<LengthRange>,
    /// UP is positive, as in profiles (points count z down).
    heave: Option<LengthRange>,
}

/// How far an axis may turn; zero (level) must lie inside.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct AngleRange {
    /// Zero or below.
    min: Angle,
    /// Zero or above.
    max: Angle,
}

/// How far an axis may move; zero (level) must lie inside.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct LengthRange {
    /// Zero or below.
    min: Length,
    /// Zero or above.
    max: Length,
}

/// All that moves: platform, seat, controls and occupant together.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Payload {
    /// Mass.
    mass: Mass,
    /// Centre of mass: x forward, y right, z DOWN from the joint.
    centre: [Length; 3],
    /// Moments of inertia about the centre of mass.
    inertia: Moments,
}

/// Entries of the inertia matrix about the centre of mass; xy, xz, yz are minus the products of inertia that some CAD
/// programs print.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
pub(super) struct Moments {
    xx: Inertia,
    yy: Inertia,
    zz: Inertia,
    xy: Inertia,
    xz: Inertia,
    yz: Inertia,
}

/// The occupant.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Seat {
    /// The point that `seat.*` is about: x forward, y right, z DOWN from the joint.
    point: [Length; 3],
}

/// What drives a leg.
#[derive(JsonSchema)]
#[schemars(inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
enum Kind {
    #[schemars(rename = "ball screw")]
    BallScrew,
    #[schemars(rename = "crank")]
    Crank,
}

/// A leg: a ball screw, with its lengths as `length` or as `stroke` with `shortest`, or a crank with its table `crank`.
#[derive(JsonSchema)]
#[schemars(
    deny_unknown_fields,
    extend("oneOf" = [
        { "required": ["base", "length", "soft_stop", "park", "lead", "speed", "acceleration", "jerk"] },
        { "required": ["base", "stroke", "shortest", "soft_stop", "park", "lead", "speed", "acceleration", "jerk"] },
        { "required": ["crank"] }
    ])
)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Actuator {
    /// Its name, in reports and column titles.
    #[schemars(length(min = 1, max = 40))]
    name: String,
    /// What drives it.
    kind: Kind,
    /// Lower end of a ball screw, in the frame: x forward, y right, z DOWN from the joint.
    base: Option<[Length; 3]>,
    /// Upper end, or of a crank the rod's, on the platform while it is level: x forward, y right, z DOWN from the joint.
    platform: [Length; 3],
    /// Shortest and longest distance between the ends.
    length: Option<Lengths>,
    /// How far it can travel; goes with `shortest`.
    stroke: Option<Length>,
    /// Shortest distance between the ends; goes with `stroke`.
    shortest: Option<Length>,
    /// Kept free before either end.
    soft_stop: Option<Length>,
    /// Length where it parks.
    park: Option<Length>,
    /// Travel for one turn of the screw.
    lead: Option<Length>,
    /// Largest speed.
    speed: Option<Speed>,
    /// Largest acceleration.
    acceleration: Option<Acceleration>,
    /// Largest jerk.
    jerk: Option<Jerk>,
    /// Thrust at the nut; without it no limit is checked.
    thrust: Option<Force>,
    /// How far the lower end joint may swing from level.
    base_swing: Option<Angle>,
    /// How far the upper end joint may swing from level.
    platform_swing: Option<Angle>,
    /// What a crank is; only with `kind = "crank"`.
    crank: Option<Crank>,
}

/// Shortest and longest distance between a leg's ends.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Lengths {
    min: Length,
    max: Length,
}

/// A band of frequencies to keep out of.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Avoid {
    /// Its name, in reports.
    #[schemars(length(min = 1, max = 40))]
    name: String,
    /// On which axis; without it on all.
    axis: Option<Axis>,
    /// Lower and upper edge.
    band: [Frequency; 2],
    /// Largest share of an axis's r.m.s. acceleration that may lie in the band.
    share: Share,
}

/// What a drive does between two set-points.
#[derive(JsonSchema)]
#[schemars(rename_all = "lowercase", inline)]
#[allow(dead_code, reason = "read by schemars' derive only")]
enum Interpolation {
    Linear,
    Cubic,
}

/// How set-points become motion.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Drive {
    /// Time between set-points, or their rate.
    cycle: TimeOrRate,
    /// What the drive does between two set-points.
    interpolation: Interpolation,
    /// From a set-point's arrival to its effect.
    delay: Time,
    /// Bandwidth of the position loop, for the simulated drive.
    bandwidth: Frequency,
    /// Encoder counts for a turn of the screw, for the simulated drive.
    #[schemars(range(min = 1, max = 16_777_216))]
    counts_per_turn: u32,
    /// Current of a drive without end; goes with the two below.
    continuous_current: Option<Current>,
    /// Current of a drive for a moment.
    peak_current: Option<Current>,
    /// Over which time r.m.s. current must stay within the continuous one.
    current_window: Option<Time>,
}

/// Between this program and the drives.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[allow(dead_code, reason = "read by schemars' derive only")]
struct Link {
    /// Longest time until a lost link or a stop is noticed.
    detection: Time,
    /// Time on the way.
    delay: Time,
}

#[cfg(test)]
mod tests {
    use super::super::keys::{self, Key};
    use super::*;
    use serde_json::Value;

    fn resolve<'s>(root: &'s Value, schema: &'s Value) -> &'s Value {
        let reference = schema.get("$ref").or_else(|| schema.pointer("/allOf/0/$ref"));
        let any = schema.get("anyOf").and_then(|list| list.get(0));
        match (reference, any) {
            (Some(reference), _) => {
                root.pointer(reference.as_str().unwrap().trim_start_matches('#')).unwrap()
            }
            (None, Some(any)) => resolve(root, any),
            (None, None) => schema,
        }
    }

    fn keys_of(schema: &Value) -> Vec<&str> {
        assert_eq!(schema["additionalProperties"], false, "{schema}");
        schema["properties"].as_object().unwrap().keys().map(String::as_str).collect()
    }

    #[test]
    fn the_reader_and_the_schema_know_the_same_keys() {
        let root = schema();
        assert_eq!(root["title"], crate::rig::SCHEMA_TITLE);
        let inside = |path: &[&str]| {
            path.iter().fold(root.clone(), |schema, key| {
                let property = &schema["properties"][*key];
                let property = property.get("items").unwrap_or(property);
                resolve(&root, property).clone()
            })
        };
        let check = |path: &[&str], keys: &[Key]| {
            let schema = inside(path);
            let mut expected: Vec<_> = keys.iter().map(|key| key.name).collect();
            expected.sort_unstable();
            let mut found = keys_of(&schema);
            found.sort_unstable();
            assert_eq!(found, expected, "{path:?}");
        };
        check(&[], keys::ROOT);
        check(&["pivot"], keys::PIVOT);
        check(&["joint"], keys::JOINT);
        check(&["joint", "pitch"], keys::RANGE);
        check(&["joint", "heave"], keys::RANGE);
        check(&["payload"], keys::PAYLOAD);
        check(&["payload", "inertia"], keys::INERTIA);
        check(&["seat"], keys::SEAT);
        check(&["actuator"], keys::ACTUATOR);
        check(&["actuator", "length"], keys::LENGTH);
        check(&["actuator", "crank"], keys::CRANK);
        check(&["actuator", "crank", "angle"], keys::RANGE);
        check(&["actuator", "crank", "gearbox"], keys::GEARBOX);
        check(&["avoid"], keys::AVOID);
        check(&["drive"], keys::DRIVE);
        check(&["link"], keys::LINK);
        check(&["can"], keys::CAN);
        check(&["can", "presence"], keys::CAN_TERMINAL);
        check(&["can", "leg"], keys::CAN_LEG);
        check(&["load"], keys::LOAD);
        check(&["screw"], keys::SCREW);
        check(&["screw", "whirl"], keys::SLENDER);
        check(&["screw", "buckling"], keys::SLENDER);
        check(&["screw", "life"], keys::LIFE);
        check(&["motor"], keys::MOTOR);
        check(&["brake"], keys::BRAKE);
        check(&["end_stop"], keys::END_STOP);
        check(&["emergency_stop"], keys::EMERGENCY_STOP);
        check(&["supply"], keys::SUPPLY);
        check(&["supply", "resistor"], keys::RESISTOR);
        check(&["stiffness"], keys::STIFFNESS);
        check(&["stiffness", "leg"], keys::LEG_SPRING);
        check(&["stiffness", "joint"], keys::JOINT_SPRING);
        check(&["measured"], keys::MEASURED);
        check(&["clearance"], keys::CLEARANCE);
        check(&["obstacle"], keys::OBSTACLE);
        check(&["obstacle", "plane"], keys::PLANE);
        check(&["obstacle", "box"], keys::BOX);
    }
}
