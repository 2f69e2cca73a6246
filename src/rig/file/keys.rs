//! Every table of a rig file and every key that may stand in it, with a line that would be right.

/// One key of a table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Key {
    /// The word before the `=`.
    pub(super) name: &'static str,
    /// What could stand after it.
    pub(super) example: &'static str,
}

const fn key(name: &'static str, example: &'static str) -> Key {
    Key { name, example }
}

const RANGE_DEG: &str = "{ min = \"-10 deg\", max = \"10 deg\" }";
const RANGE_M: &str = "{ min = \"-100 mm\", max = \"100 mm\" }";

/// The file itself. Tables are keys too; their example is the header to write.
pub(super) const ROOT: &[Key] = &[
    key("name", "\"my rig\""),
    key("pivot", "[pivot]"),
    key("joint", "[joint]"),
    key("payload", "[payload]"),
    key("seat", "[seat]"),
    key("actuator", "[[actuator]]"),
    key("avoid", "[[avoid]]"),
    key("drive", "[drive]"),
    key("link", "[link]"),
];

/// `[pivot]`
pub(super) const PIVOT: &[Key] = &[key("height", "\"0.62 m\"")];

/// `[joint]`
pub(super) const JOINT: &[Key] = &[
    key("order", "[\"pitch\", \"roll\"]"),
    key("pitch", RANGE_DEG),
    key("roll", RANGE_DEG),
    key("yaw", RANGE_DEG),
    key("surge", RANGE_M),
    key("sway", RANGE_M),
    key("heave", RANGE_M),
];

/// A range of a joint.
pub(super) const RANGE: &[Key] = &[key("min", "\"-10 deg\""), key("max", "\"10 deg\"")];

/// `[payload]`
pub(super) const PAYLOAD: &[Key] = &[
    key("mass", "\"130 kg\""),
    key("centre", "[\"0.03 m\", \"0 m\", \"-0.12 m\"]"),
    key(
        "inertia",
        "{ xx = \"9 kg*m^2\", yy = \"14 kg*m^2\", zz = \"16 kg*m^2\", xy = \"0 kg*m^2\", xz = \"0 kg*m^2\", yz = \"0 kg*m^2\" }",
    ),
];

/// `payload.inertia`
pub(super) const INERTIA: &[Key] = &[
    key("xx", "\"9 kg*m^2\""),
    key("yy", "\"14 kg*m^2\""),
    key("zz", "\"16 kg*m^2\""),
    key("xy", "\"0 kg*m^2\""),
    key("xz", "\"0 kg*m^2\""),
    key("yz", "\"0 kg*m^2\""),
];

/// `[seat]`
pub(super) const SEAT: &[Key] = &[key("point", "[\"0 m\", \"0 m\", \"-0.35 m\"]")];

/// `[[actuator]]`
pub(super) const ACTUATOR: &[Key] = &[
    key("name", "\"left\""),
    key("kind", "\"ball screw\""),
    key("base", "[\"-0.70 m\", \"-0.40 m\", \"0.60 m\"]"),
    key("platform", "[\"-0.70 m\", \"-0.40 m\", \"0.02 m\"]"),
    key("length", "{ min = \"430 mm\", max = \"730 mm\" }"),
    key("stroke", "\"300 mm\""),
    key("shortest", "\"430 mm\""),
    key("soft_stop", "\"10 mm\""),
    key("park", "\"540 mm\""),
    key("lead", "\"5 mm\""),
    key("speed", "\"250 mm/s\""),
    key("acceleration", "\"4 m/s^2\""),
    key("jerk", "\"200 m/s^3\""),
    key("thrust", "\"1500 N\""),
];

/// `actuator.length`
pub(super) const LENGTH: &[Key] = &[key("min", "\"430 mm\""), key("max", "\"730 mm\"")];

/// `[[avoid]]`
pub(super) const AVOID: &[Key] = &[
    key("name", "\"frame sway\""),
    key("axis", "\"roll\""),
    key("band", "[\"11 Hz\", \"13 Hz\"]"),
    key("share", "\"10 %\""),
];

/// `[drive]`
pub(super) const DRIVE: &[Key] = &[
    key("cycle", "\"2 ms\""),
    key("interpolation", "\"cubic\""),
    key("delay", "\"4 ms\""),
    key("bandwidth", "\"25 Hz\""),
    key("counts_per_turn", "10000"),
];

/// `[link]`
pub(super) const LINK: &[Key] = &[key("detection", "\"10 ms\""), key("delay", "\"1 ms\"")];
