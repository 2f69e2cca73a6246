//! What the platform is: geometry, actuators, drives; and the arithmetic of its motion.
//!
//! Cannot: know a profile, clamp, touch a file.

pub mod advice;
pub mod can;
mod carried;
pub mod crank;
pub mod demand;
mod dynamics;
pub mod explain;
mod file;
mod geometry;
pub mod kinematics;
mod lanes;
pub mod measuring;
pub mod mechanics;
pub mod mjcf;
pub mod modes;
pub mod parts;
#[cfg(test)]
pub(crate) mod playable;
#[cfg(test)]
mod sample;
mod square;
pub mod stopping;
pub mod straying;
pub mod summary;
pub mod survey;

pub use carried::{Carried, NutForce};
pub use dynamics::{MAX_LEGS, gravity_legs_n, legs_n};
pub use file::{Loaded, SCHEMA_TITLE, load, schema};
pub use geometry::{Axis, Rotation};
use mechanics::screw::BallScrew;
use parts::{CrankPart, LegParts, RigParts};

use crate::diag::Span;
use crate::units::{Dimension, show};
use nalgebra::{Matrix3, Vector3};

/// A commented rig file of everyday numbers, to fill in by measuring; it loads as it is.
pub const TEMPLATE: &str = include_str!("../profiles/rigs/template.toml");
/// The name in [`TEMPLATE`]: who still has it has numbers of the template too.
pub const TEMPLATE_NAME: &str = "NAME OF YOUR RIG";

/// A rig as its file describes it. SI units; points in the frame that their names end on (`_r_m` rig, `_p_m` platform).
#[derive(Debug, Clone, PartialEq)]
pub struct Rig {
    /// The rig's name.
    pub name: String,
    /// Degrees of freedom, in the order of platform coordinates. Rotations in the order in which the joint applies
    /// them from the frame outwards: `[Pitch, Roll]` is R = Ry(pitch) Rx(roll). Translations run along the rig's axes
    /// whatever their place in the order. Heave counts down here; a rig file counts it up, as profiles do.
    pub axes: Vec<AxisLimits>,
    /// What moves.
    pub payload: Payload,
    /// The occupant's reference point, platform frame.
    pub seat_p_m: Vector3<f64>,
    /// The legs.
    pub actuators: Vec<Actuator>,
    /// Bands in which a profile should hold little.
    pub avoid: Vec<AvoidBand>,
    /// How set-points become motion.
    pub drive: Drive,
    /// Height of the pivot above the floor, m, for drawings; where the file says so.
    pub pivot_height_m: Option<f64>,
    /// Load cases, supply, structure, clearance: what the file says of them.
    pub parts: RigParts,
    /// SHA-256 of the rig file's text, hex.
    pub hash: String,
}

/// One degree of freedom and how far it may go.
#[derive(Debug, Clone, PartialEq)]
pub struct AxisLimits {
    /// Which.
    pub axis: Axis,
    /// Smallest value, rad or m.
    pub min: f64,
    /// Largest value, rad or m.
    pub max: f64,
    /// Where the file says so.
    pub span: Span,
}

/// The moving mass: platform, cockpit and occupant together.
#[derive(Debug, Clone, PartialEq)]
pub struct Payload {
    /// kg.
    pub mass_kg: f64,
    /// Centre of mass, platform frame.
    pub centre_p_m: Vector3<f64>,
    /// About the centre of mass, platform axes, kg m^2.
    pub inertia_kg_m2: Matrix3<f64>,
}

/// A leg between the frame and a point of the platform: a ball screw, or a crank with a rod.
///
/// Its coordinate is a length in metres whatever its kind: of a screw the distance between its ends, of a crank the way
/// of its pin along its circle, arm times angle. So speed, acceleration, jerk, force along the leg and power are the same
/// words for both; what differs is where the coordinate comes from, and what an angle is called in a message.
#[derive(Debug, Clone, PartialEq)]
pub struct Actuator {
    /// `left`
    pub name: String,
    /// Lower end, rig frame; of a crank the centre of its shaft.
    pub base_r_m: Vector3<f64>,
    /// Upper end, platform frame.
    pub anchor_p_m: Vector3<f64>,
    /// Smallest coordinate: of a screw the shortest length between the ends, m.
    pub min_m: f64,
    /// Largest, m.
    pub max_m: f64,
    /// Kept free before either end, m.
    pub soft_stop_m: f64,
    /// Coordinate where it parks, m.
    pub park_m: f64,
    /// Travel for a turn of the motor, m: of a screw its lead, of a crank 2 pi arm / ratio.
    pub lead_m: f64,
    /// Limits of the leg's speed, acceleration and jerk (m/s, m/s^2, m/s^3).
    pub speed_m_s: f64,
    /// Limit of acceleration, m/s^2.
    pub acceleration_m_s2: f64,
    /// Limit of jerk, m/s^3.
    pub jerk_m_s3: f64,
    /// Thrust that the drive can give at the nut, or along the pin's circle, N; infinite where the file does not say.
    pub thrust_n: f64,
    /// What makes it a crank leg; `None` for a ball screw.
    pub crank: Option<CrankPart>,
    /// Screw, motor, brake, joints: what the file says of them.
    pub parts: LegParts,
    /// The table in the file, and each limit's place.
    pub spans: ActuatorSpans,
}

impl Actuator {
    /// Turns of the motor a second at the limit of speed: v / lead.
    pub fn motor_hz(&self) -> f64 {
        self.speed_m_s / self.lead_m
    }

    /// Angular acceleration of the motor at the limit of acceleration, rad/s^2: 2 pi a / lead.
    pub fn motor_rad_s2(&self) -> f64 {
        std::f64::consts::TAU * self.acceleration_m_s2 / self.lead_m
    }

    /// A coordinate or a part of it as the rig file writes it: a length, or the angle of a crank.
    pub fn shown(&self, coordinate_m: f64) -> String {
        match &self.crank {
            None => show(coordinate_m, Dimension::LENGTH),
            // Rounded to what a file could hold, so that zero is zero.
            Some(part) => show((coordinate_m / part.crank.arm_m * 1e9).round() / 1e9, Dimension::ANGLE),
        }
    }

    /// What turns a force along the leg into a torque of its motor: the screw, or the gearbox as a screw whose lead is
    /// what the pin goes in a turn of the motor. `None` where the file has no data of it.
    pub fn reduction(&self) -> Option<Reduction> {
        match &self.crank {
            None => self
                .parts
                .screw
                .as_ref()
                .map(|part| Reduction { screw: part.screw, sliding_kg: part.sliding_kg }),
            Some(part) => part.gearbox.map(|given| Reduction {
                screw: given.gearbox.at_pin(self.lead_m),
                sliding_kg: given.pin_kg,
            }),
        }
    }
}

/// A leg's reduction from motor to coordinate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reduction {
    /// Lead, efficiencies, drag and inertia at the motor.
    pub screw: BallScrew,
    /// Mass that moves with the coordinate besides the platform, kg.
    pub sliding_kg: f64,
}

/// Where an actuator's numbers stand in the file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ActuatorSpans {
    /// The table.
    pub table: Span,
    /// Stroke or lengths.
    pub stroke: Span,
    /// Speed.
    pub speed: Span,
    /// Acceleration.
    pub acceleration: Span,
    /// Jerk.
    pub jerk: Span,
}

/// A band of frequencies that a profile should keep out of.
#[derive(Debug, Clone, PartialEq)]
pub struct AvoidBand {
    /// `frame sway`
    pub name: String,
    /// On which axis; all where `None`.
    pub axis: Option<Axis>,
    /// Lower edge, Hz.
    pub low_hz: f64,
    /// Upper edge, Hz.
    pub high_hz: f64,
    /// Largest share of an axis's r.m.s. acceleration that may lie in the band, 0..1.
    pub share: f64,
    /// Where the file says so.
    pub span: Span,
}

/// How a drive turns set-points into motion.
#[derive(Debug, Clone, PartialEq)]
pub struct Drive {
    /// Time between set-points, whole microseconds.
    pub cycle_us: u32,
    /// What the drive does between set-points.
    pub interpolation: Interpolation,
    /// From a set-point's arrival to its effect, s.
    pub delay_s: f64,
    /// Longest time for a lost link or a stop to be noticed, s.
    pub detection_s: f64,
    /// Time on the link, s.
    pub link_s: f64,
    /// Bandwidth of the position loop, Hz (for the simulated drive).
    pub bandwidth_hz: f64,
    /// Encoder counts for a turn of the screw (for the simulated drive).
    pub counts_per_turn: u32,
}

impl Actuator {
    /// Coordinates between which it may be used: its stroke less the soft stop at either end, m.
    pub fn soft_ends_m(&self) -> (f64, f64) {
        (self.min_m + self.soft_stop_m, self.max_m - self.soft_stop_m)
    }
}

impl Drive {
    /// After so long without a word either side takes the other for silent, microseconds: the detection time, and three
    /// cycles at least, for one frame may be lost without a stop (own choice).
    pub fn patience_us(&self) -> u64 {
        patience_us(self.detection_s, self.cycle_us)
    }
}

fn patience_us(detection_s: f64, cycle_us: u32) -> u64 {
    ((detection_s * 1e6).round() as u64).max(3 * u64::from(cycle_us))
}

/// [`Drive::patience_us`] in whole milliseconds, as far ends are told: none is less patient than this program.
pub fn patience_ms(detection_s: f64, cycle_us: u32) -> u16 {
    u16::try_from(patience_us(detection_s, cycle_us).div_ceil(1000)).unwrap_or(u16::MAX).max(1)
}

/// What a drive does between two set-points.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Interpolation {
    /// A straight line.
    Linear,
    /// A cubic through the set-points with slopes from their neighbours (central differences), one cycle late.
    Cubic,
}
