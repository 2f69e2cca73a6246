//! The long texts of the rig file's rules, as `explain` prints them.

use crate::diag::Rule;

/// Every rule that reading a rig file knows.
pub const RULES: &[Rule] = &[
    Rule {
        slug: "rig-syntax",
        text: r#"What it checks
  that the rig file is TOML (version 1.1)

Why it matters
  nothing can be read from a line that is not TOML, nor from what follows it

Example
  mass = "130 kg            (the closing quote is missing)

Write instead
  mass = "130 kg"
  one key a line; tables under [header], legs and bands under [[header]] each
"#,
    },
    Rule {
        slug: "rig-size",
        text: r#"What it checks
  that the file and its lists stay small: 12 legs, 32 bands, 8 loads, 64 points of a curve, 32 points and 32
  obstacles

Why it matters
  a rig file is read by a person; a larger one is another file given by mistake

Example
  a CSV recording given as the rig

Write instead
  the path of a rig file, such as profiles/rigs/club-two-axis.toml
"#,
    },
    Rule {
        slug: "rig-key",
        text: r#"What it checks
  that every key is one that is known in its table

Why it matters
  a misspelt key would be passed over, and the rig checked would not be the rig that stands there

Example
  sped = "250 mm/s"

Write instead
  speed = "250 mm/s"
  the schema lists all keys; an editor with TOML support completes them from it
"#,
    },
    Rule {
        slug: "rig-missing-value",
        text: r#"What it checks
  that nothing is left out which the rig needs

Why it matters
  nothing has a default: a limit that nobody wrote is a limit that nobody knows

Example
  an [[actuator]] without `speed`

Write instead
  speed = "250 mm/s"
  optional are only: pivot, avoid, an actuator's thrust or a crank's torque, a band's axis
"#,
    },
    Rule {
        slug: "rig-value",
        text: r#"What it checks
  that a value is of the right kind: a quantity is a number with its unit in quotes, a point is a
  list of three

Why it matters
  a number without a unit may be mm or m, and the rig would be a thousand times too large

Example
  mass = 130

Write instead
  mass = "130 kg"
  point = ["0 m", "0 m", "-0.20 m"]
"#,
    },
    Rule {
        slug: "rig-dimension",
        text: r#"What it checks
  that a quantity measures what its key is about

Why it matters
  a speed in mm or an angle in mm is a slip that no later check could find

Example
  speed = "250 mm"

Write instead
  speed = "250 mm/s"
"#,
    },
    Rule {
        slug: "rig-range",
        text: r#"What it checks
  that a number lies between bounds which any rig for a person keeps: lengths up to 20 m, speeds up
  to 20 m/s, angles up to 90 deg, delays up to 1 s; masses, strokes and limits above zero

Why it matters
  what lies outside is a slip of a unit or of the decimal point, and sums with it mean nothing

Example
  speed = "250 m/s"

Write instead
  speed = "250 mm/s"
"#,
    },
    Rule {
        slug: "rig-name",
        text: r#"What it checks
  that names are short, plain and each used once among its kind

Why it matters
  reports, column titles and logs tell legs and bands apart by their names

Example
  two actuators named "left"

Write instead
  name = "left" and name = "right"
"#,
    },
    Rule {
        slug: "rig-axes",
        text: r#"What it checks
  that `order` names axes of motion, each once, that each has a range, and that a band's axis is one
  of them

Why it matters
  the order decides how two rotations combine: pitch then roll is another pose than roll then pitch

Example
  order = ["pitch", "rol"]

Write instead
  order = ["pitch", "roll"]
  pitch = { min = "-10 deg", max = "10 deg" }
  roll = { min = "-12 deg", max = "12 deg" }
"#,
    },
    Rule {
        slug: "rig-joint-range",
        text: r#"What it checks
  that each axis goes from a smaller to a larger value, with level (zero) between

Why it matters
  every profile starts and ends level; a range without it allows no profile

Example
  pitch = { min = "2 deg", max = "10 deg" }

Write instead
  pitch = { min = "-10 deg", max = "10 deg" }
"#,
    },
    Rule {
        slug: "rig-leg-count",
        text: r#"What it checks
  that there are as many legs as axes

Why it matters
  with fewer legs some axis is free to fall; with more they can work against each other, and how
  they share the load cannot be worked out from lengths alone

Example
  three [[actuator]] tables with order = ["pitch", "roll"]

Write instead
  two [[actuator]] tables, or a third axis in `order` if the joint has one
"#,
    },
    Rule {
        slug: "rig-stroke",
        text: r#"What it checks
  that a leg's longest length is larger than its shortest, given once, and that its soft stops leave
  some stroke

Why it matters
  a leg without stroke cannot move; lengths given twice may contradict each other

Example
  length = { min = "430 mm", max = "730 mm" } with soft_stop = "150 mm"

Write instead
  soft_stop = "10 mm"
  lengths are given either as length = { min, max } or as stroke with shortest
"#,
    },
    Rule {
        slug: "rig-park",
        text: r#"What it checks
  that each leg parks within its stroke and outside its soft stops, and that all of them parked hold a pose
  inside the joint's ranges

Why it matters
  parking is the way to rest after every session; it must be a pose that the joint allows

Example
  park = "40 mm" with length = { min = "430 mm", max = "730 mm" }

Write instead
  park = "540 mm"
"#,
    },
    Rule {
        slug: "rig-level-pose",
        text: r#"What it checks
  that with the platform level every leg is within its stroke, soft stops kept free

Why it matters
  level is where every profile starts and ends; a rig that cannot stand level cannot be assembled as
  described

Example
  a leg 880 mm long at level whose longest length is 730 mm

Write instead
  anchors as measured from the joint's centre, x forward, y right, z DOWN, with the platform level;
  the length at level is the distance from `base` to `platform`
"#,
    },
    Rule {
        slug: "rig-singular-pose",
        text: r#"What it checks
  that at level, and at every pose that the legs reach inside the joint's ranges (looked at on a
  grid), the legs hold every axis

Why it matters
  at a singular pose the platform can move though no leg does; near it leg forces grow without bound

Example
  two legs in one line behind the joint: nothing holds roll

Write instead
  anchors that give each axis a lever arm of its own, or a narrower range of the joint
"#,
    },
    Rule {
        slug: "rig-anchor",
        text: r#"What it checks
  that the two ends of a leg are apart, and that no two legs run between the same points

Why it matters
  a leg without length has no direction; two legs on one line hold only one axis

Example
  base and platform of a leg both ["-0.70 m", "0.40 m", "0.02 m"]

Write instead
  base = ["-0.70 m", "0.40 m", "0.60 m"]       (in the frame)
  platform = ["-0.70 m", "0.40 m", "0.02 m"]   (on the platform)
"#,
    },
    Rule {
        slug: "rig-leg-kind",
        text: r#"What it checks
  that a leg is one thing: a ball screw with `base`, lengths and `lead`, or a crank with its table
  `[actuator.crank]`; and that tables which speak of one kind only are given for that kind

Why it matters
  a lead has no meaning for a crank, and a gearbox none for a screw: a key of the other kind would be passed
  over, and what stands in the file would not be what is checked

Example
  kind = "crank" with lead = "5 mm"

Write instead
  kind = "crank", and under [actuator.crank] arm, rod and ratio
"#,
    },
    Rule {
        slug: "rig-crank",
        text: r#"What it checks
  that the points `shaft` and `zero` of a crank give directions: `shaft` lies on the shaft's line away from
  `centre`, and `zero` lies off that line

Why it matters
  angles are counted about the shaft, by the right hand from `centre` towards `shaft`, from where the crank
  points at `zero`; two points that are nearly one give any direction

Example
  centre and shaft both ["-0.55 m", "0.40 m", "0.47 m"]

Write instead
  shaft = ["-0.55 m", "1.40 m", "0.47 m"]     (a metre to the right on the shaft's line)
  zero  = ["0.45 m", "0.40 m", "0.47 m"]      (the crank points forward at angle zero)
"#,
    },
    Rule {
        slug: "rig-dead-point",
        text: r#"What it checks
  that at every pose inside the joint's ranges and the crank's own travel the rod keeps the angle `dead_point`
  from where it lies square to the pin's way; a bound for all such poses, not a sample of them

Why it matters
  at a dead point the crank moves and the platform does not: forces grow without bound, and beyond it the
  crank goes on the other way round

Example
  angle = { min = "-80 deg", max = "80 deg" } with dead_point = "20 deg"

Write instead
  angle = { min = "-55 deg", max = "55 deg" }, a longer rod, or a `centre` at which the crank is square to the
  rod when level
"#,
    },
    Rule {
        slug: "rig-inertia",
        text: r#"What it checks
  that the moments of inertia can belong to a body: positive about every axis, and none larger than
  the two others together

Why it matters
  forces computed with moments of no body are wrong by amounts that nobody can guess

Example
  xx = "9 kg*m^2", yy = "14 kg*m^2", zz = "26 kg*m^2"

Write instead
  zz = "16 kg*m^2"
  all about the centre of mass; xy, xz, yz are entries of the matrix, minus the products of inertia
  that some CAD
  programs print
"#,
    },
    Rule {
        slug: "rig-cycle",
        text: r#"What it checks
  that the drive's cycle is a whole number of microseconds

Why it matters
  set-points are dated on a grid of whole microseconds, so that hours of them stay in step

Example
  cycle = "300 Hz"

Write instead
  cycle = "2 ms", or as a rate cycle = "500 Hz"
"#,
    },
    Rule {
        slug: "rig-band",
        text: r#"What it checks
  that a band to avoid goes from a lower to an upper edge; a warning where it lies above half of the
  drive's rate

Why it matters
  set-points cannot carry a frequency above half their rate, so nothing could be found there

Example
  band = ["13 Hz", "11 Hz"]

Write instead
  band = ["11 Hz", "13 Hz"]
"#,
    },
    Rule {
        slug: "rig-motor",
        text: r#"What it checks
  that a motor's torque curves begin at standstill and never rise with speed, that the peak curve lies above
  the continuous one, that the rated power is on the continuous curve, and that the winding starts below its
  limit

Why it matters
  a curve that rises, or two that are swapped, comes from a column misread in a data sheet, and every check
  of torque would go by it

Example
  continuous = [["0 rpm", "0.8 N*m"], ["3000 rpm", "1.3 N*m"]]

Write instead
  continuous = [["0 rpm", "1.3 N*m"], ["3000 rpm", "1.3 N*m"], ["5000 rpm", "0.8 N*m"]]
"#,
    },
    Rule {
        slug: "rig-part",
        text: r#"What it checks
  that what is said of screws, brakes, stops, supply, springs and obstacles agrees with itself: smaller
  numbers where the smaller ones belong, one table a leg, names of legs that there are

Why it matters
  two numbers that are swapped look right one by one

Example
  weakest = "2.0 N*m" with strongest = "1.0 N*m"

Write instead
  weakest = "1.0 N*m" with strongest = "2.0 N*m"
"#,
    },
    Rule {
        slug: "rig-can",
        text: r#"What it checks
  that [can] and its [[can.leg]] tables agree with themselves and with the legs: one table a leg, node ids
  that differ, inputs that mean one thing each, both contacts of a brake or none, a homing method only where
  drives home, a thrust for every leg, lengths that a drive's counter can hold

Why it matters
  a swapped node id moves the other leg; a torque limit can only be set where the thrust is known

Example
  [[can.leg]] of `left` and of `right`, both with node = 1

Write instead
  node = 1 for `left` and node = 2 for `right`, as the drives' own switches say
  docs/can.md says where each number comes from
"#,
    },
    Rule {
        slug: "rig-weight",
        text: r#"What it checks
  that every leg holds its part of every load while the platform is level and still: against its thrust, and,
  where screw and motor are given, against the motor's torque without end (friction of the screw helping)

Why it matters
  a rig that cannot hold its own weight sinks or overheats before any cue is played; mostly a slip: a lead ten
  times too large, a centre of mass on the wrong side, pounds for kilograms

Example
  lead = "50 mm" on a leg that carries 300 N with a motor of 1.27 N*m

Write instead
  lead = "5 mm"
"#,
    },
];
