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
    key("load", "[[load]]"),
    key("seat", "[seat]"),
    key("actuator", "[[actuator]]"),
    key("avoid", "[[avoid]]"),
    key("drive", "[drive]"),
    key("link", "[link]"),
    key("can", "[can]"),
    key("screw", "[screw]"),
    key("motor", "[motor]"),
    key("brake", "[brake]"),
    key("end_stop", "[end_stop]"),
    key("emergency_stop", "[emergency_stop]"),
    key("supply", "[supply]"),
    key("stiffness", "[stiffness]"),
    key("measured", "[measured]"),
    key("clearance", "[[clearance]]"),
    key("obstacle", "[[obstacle]]"),
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

const INERTIA_LINE: &str = "{ xx = \"9 kg*m^2\", yy = \"14 kg*m^2\", zz = \"16 kg*m^2\", xy = \"0 kg*m^2\", xz = \"0 kg*m^2\", yz = \"0 kg*m^2\" }";
const CENTRE_LINE: &str = "[\"0.03 m\", \"0 m\", \"-0.12 m\"]";
const POINT_LINE: &str = "[\"0.40 m\", \"0 m\", \"-0.30 m\"]";

/// `[payload]`
pub(super) const PAYLOAD: &[Key] =
    &[key("mass", "\"130 kg\""), key("centre", CENTRE_LINE), key("inertia", INERTIA_LINE)];

/// `[[load]]`
pub(super) const LOAD: &[Key] = &[
    key("name", "\"heavy pilot\""),
    key("mass", "\"155 kg\""),
    key("centre", CENTRE_LINE),
    key("inertia", INERTIA_LINE),
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
    key("base_swing", "\"20 deg\""),
    key("platform_swing", "\"20 deg\""),
    key("crank", "[actuator.crank]"),
];

/// Keys of `[[actuator]]` that only a ball screw has.
pub(super) const SCREW_ONLY: &[&str] = &[
    "base",
    "length",
    "stroke",
    "shortest",
    "soft_stop",
    "park",
    "lead",
    "speed",
    "acceleration",
    "jerk",
    "thrust",
    "base_swing",
];

/// `[actuator.crank]`
pub(super) const CRANK: &[Key] = &[
    key("centre", "[\"-0.80 m\", \"-0.40 m\", \"0.50 m\"]"),
    key("shaft", "[\"-0.80 m\", \"0.60 m\", \"0.50 m\"]"),
    key("zero", "[\"0.20 m\", \"-0.40 m\", \"0.50 m\"]"),
    key("arm", "\"100 mm\""),
    key("rod", "\"450 mm\""),
    key("assembly", "\"behind\""),
    key("angle", "{ min = \"-50 deg\", max = \"50 deg\" }"),
    key("soft_stop", "\"3 deg\""),
    key("park", "\"-35 deg\""),
    key("dead_point", "\"20 deg\""),
    key("ratio", "50"),
    key("speed", "\"150 deg/s\""),
    key("acceleration", "\"2000 deg/s^2\""),
    key("jerk", "\"100000 deg/s^3\""),
    key("torque", "\"120 N*m\""),
    key(
        "gearbox",
        "{ efficiency = \"90 %\", efficiency_back = \"85 %\", drag = \"0.05 N*m\", inertia = \"0.00003 kg*m^2\", backlash = \"0.1 deg\", pin_mass = \"0.8 kg\" }",
    ),
];

/// `actuator.crank.gearbox`
pub(super) const GEARBOX: &[Key] = &[
    key("efficiency", "\"90 %\""),
    key("efficiency_back", "\"85 %\""),
    key("drag", "\"0.05 N*m\""),
    key("inertia", "\"0.00003 kg*m^2\""),
    key("backlash", "\"0.1 deg\""),
    key("pin_mass", "\"0.8 kg\""),
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
    key("continuous_current", "\"2.6 A\""),
    key("peak_current", "\"7.6 A\""),
    key("current_window", "\"2 s\""),
];

/// `[link]`
pub(super) const LINK: &[Key] = &[key("detection", "\"10 ms\""), key("delay", "\"1 ms\"")];

/// `[can]`
pub(super) const CAN: &[Key] = &[
    key("bit_rate", "\"1 Mbit/s\""),
    key("host", "127"),
    key("mode", "\"cyclic synchronous position\""),
    key("reference", "\"absolute\""),
    key("homing_method", "17"),
    key("following_error", "\"5 mm\""),
    key("presence", TERMINAL_LINE),
    key("gate", TERMINAL_LINE),
    key("mat", TERMINAL_LINE),
    key("belt", TERMINAL_LINE),
    key("stop", TERMINAL_LINE),
    key("warning", TERMINAL_LINE),
    key("leg", "[[can.leg]]"),
];

const TERMINAL_LINE: &str = "{ leg = \"left\", bit = 16 }";

/// A bit of a drive's inputs or outputs.
pub(super) const CAN_TERMINAL: &[Key] = &[key("leg", "\"left\""), key("bit", "16")];

/// `[[can.leg]]`
pub(super) const CAN_LEG: &[Key] = &[
    key("name", "\"left\""),
    key("node", "1"),
    key("vendor", "0x0000009A"),
    key("product", "0x00030924"),
    key("serial", "1000"),
    key("counts_per_turn", "10000"),
    key("direction", "\"longer\""),
    key("zero", "\"430 mm\""),
    key("rated_torque", "\"0.64 N*m\""),
    key("brake_set", "20"),
    key("brake_released", "21"),
    key("brake_sag", "\"0.3 mm\""),
    key("homed_bit", "15"),
];

/// `[screw]`
pub(super) const SCREW: &[Key] = &[
    key("legs", "[\"left\"]"),
    key("efficiency", "\"90 %\""),
    key("efficiency_back", "\"88 %\""),
    key("drag", "\"0.05 N*m\""),
    key("inertia", "\"0.00002 kg*m^2\""),
    key("sliding_mass", "\"3 kg\""),
    key("root_diameter", "\"13 mm\""),
    key("whirl", "{ length = \"380 mm\", ends = \"fixed-supported\", share = \"80 %\" }"),
    key("buckling", "{ length = \"420 mm\", ends = \"fixed-free\", share = \"50 %\" }"),
    key("life", "{ rating = \"9 kN\", preload = \"0 N\", hours = \"5000 h\" }"),
];

/// `screw.whirl` and `screw.buckling`
pub(super) const SLENDER: &[Key] =
    &[key("length", "\"380 mm\""), key("ends", "\"fixed-supported\""), key("share", "\"80 %\"")];

/// `screw.life`
pub(super) const LIFE: &[Key] =
    &[key("rating", "\"9 kN\""), key("preload", "\"0 N\""), key("hours", "\"5000 h\"")];

/// `[motor]`
pub(super) const MOTOR: &[Key] = &[
    key("legs", "[\"left\"]"),
    key(
        "continuous",
        "[[\"0 rpm\", \"1.27 N*m\"], [\"3000 rpm\", \"1.27 N*m\"], [\"5000 rpm\", \"0.8 N*m\"]]",
    ),
    key("peak", "[[\"0 rpm\", \"3.8 N*m\"], [\"3000 rpm\", \"3.8 N*m\"], [\"5000 rpm\", \"1.8 N*m\"]]"),
    key("rotor_inertia", "\"0.00003 kg*m^2\""),
    key("rated_power", "\"400 W\""),
    key("torque_constant", "\"0.5 N*m/A\""),
    key("time_constant", "\"15 min\""),
    key("window", "\"2 min\""),
    key("rated_ambient", "\"40 degC\""),
    key("winding_limit", "\"130 degC\""),
    key("start", "\"40 degC\""),
];

/// `[brake]`
pub(super) const BRAKE: &[Key] = &[
    key("legs", "[\"left\"]"),
    key("holding", "\"1.3 N*m\""),
    key("margin", "\"150 %\""),
    key("weakest", "\"1.0 N*m\""),
    key("strongest", "\"2.0 N*m\""),
    key("release", "\"18 V\""),
    key("delay", "\"30 ms\""),
    key("stop_work", "\"20 J\""),
    key("stops", "1000"),
    key("jolt", "\"15 m/s^2\""),
];

/// `[end_stop]`
pub(super) const END_STOP: &[Key] = &[key("legs", "[\"left\"]"), key("energy", "\"8 J\"")];

/// `[emergency_stop]`
pub(super) const EMERGENCY_STOP: &[Key] = &[
    key("delay", "\"20 ms\""),
    key("power_off", "\"500 ms\""),
    key("deceleration", "\"10 m/s^2\""),
    key("jolt", "\"10 m/s^2\""),
    key("head", "[\"0 m\", \"0 m\", \"-0.90 m\"]"),
];

/// `[supply]`
pub(super) const SUPPLY: &[Key] = &[
    key("power", "\"800 W\""),
    key("efficiency", "\"85 %\""),
    key("store", "\"15 J\""),
    key("resistor", "{ peak = \"400 W\", continuous = \"40 W\" }"),
];

/// `supply.resistor`
pub(super) const RESISTOR: &[Key] = &[key("peak", "\"400 W\""), key("continuous", "\"40 W\"")];

/// `[stiffness]`
pub(super) const STIFFNESS: &[Key] = &[
    key("leg", "{ mount = \"3 kN/mm\", screw = \"40 kN/mm\", servo = \"2 kN/mm\" }"),
    key("joint", "{ yaw = \"40 kN*m/rad\" }"),
    key("uncertainty", "\"30 %\""),
    key("share", "\"30 %\""),
];

/// `stiffness.leg`
pub(super) const LEG_SPRING: &[Key] =
    &[key("mount", "\"3 kN/mm\""), key("screw", "\"40 kN/mm\""), key("servo", "\"2 kN/mm\"")];

/// `stiffness.joint`
pub(super) const JOINT_SPRING: &[Key] = &[
    key("pitch", "\"40 kN*m/rad\""),
    key("roll", "\"40 kN*m/rad\""),
    key("yaw", "\"40 kN*m/rad\""),
    key("surge", "\"5 kN/mm\""),
    key("sway", "\"5 kN/mm\""),
    key("heave", "\"5 kN/mm\""),
];

/// `[measured]`
pub(super) const MEASURED: &[Key] = &[key("backlash", "\"0.05 mm\""), key("bandwidth", "\"14 Hz\"")];

/// `[[clearance]]`
pub(super) const CLEARANCE: &[Key] =
    &[key("name", "\"left armrest\""), key("point", POINT_LINE), key("distance", "\"30 mm\"")];

/// `[[obstacle]]`
pub(super) const OBSTACLE: &[Key] = &[
    key("name", "\"desk\""),
    key("plane", "{ at = [\"0 m\", \"0 m\", \"0.62 m\"], free = [\"0 m\", \"0 m\", \"0 m\"] }"),
    key("box", "{ min = [\"0.8 m\", \"-0.6 m\", \"-0.2 m\"], max = [\"1.4 m\", \"0.6 m\", \"0.62 m\"] }"),
];

/// `obstacle.plane`
pub(super) const PLANE: &[Key] = &[key("at", POINT_LINE), key("free", POINT_LINE)];

/// `obstacle.box`
pub(super) const BOX: &[Key] = &[key("min", POINT_LINE), key("max", POINT_LINE)];
