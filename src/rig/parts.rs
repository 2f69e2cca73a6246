//! What a rig file may say of its mechanics beyond geometry and limits. Every part may be absent; what is absent is not
//! checked, and a report says so.
//!
//! Cannot: compute; put in a missing number.

use super::can::CanPart;
use super::crank::{Crank, Gearbox};
use super::mechanics::brake::Brake;
use super::mechanics::column::Column;
use super::mechanics::drive_power::Supply;
use super::mechanics::motor::{CurrentLimits, Motor};
use super::mechanics::screw::BallScrew;
use super::mechanics::thermal::WindingLimits;
use super::mechanics::whirl::Shaft;
use super::modes::{JointSpring, LegSpring};
use super::{Actuator, Payload, Rig};
use crate::diag::Span;
use nalgebra::Vector3;

/// Name of the only case of a rig file that has `[payload]` and no `[[load]]`.
pub const ONLY_CASE: &str = "payload";

/// What is said of the whole rig.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RigParts {
    /// What may be carried: the cases of `[[load]]`, after `[payload]` where both stand. Empty: [`Rig::payload`] alone.
    pub loads: Vec<LoadCase>,
    /// The table `[payload]`, where it stands.
    pub payload_span: Option<Span>,
    /// Current limits of every drive.
    pub currents: Option<DriveCurrents>,
    /// The bus that feeds all drives.
    pub supply: Option<SupplyPart>,
    /// Springs of legs and joint.
    pub stiffness: Option<Structure>,
    /// Lost motion along a leg as measured, m.
    pub backlash_m: Option<Measured>,
    /// Frequency up to which the platform follows, as measured, Hz.
    pub bandwidth_hz: Option<Measured>,
    /// The hard-wired stop under control (category 1).
    pub emergency: Option<EmergencyStop>,
    /// Points of the platform that must keep away from obstacles.
    pub points: Vec<ClearancePoint>,
    /// What they must keep away from.
    pub obstacles: Vec<Obstacle>,
    /// Drives on a CAN bus.
    pub can: Option<CanPart>,
}

/// One thing that may be carried.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadCase {
    /// `heavy pilot`
    pub name: String,
    /// All that moves then.
    pub payload: Payload,
    /// Where the file says so.
    pub span: Span,
}

/// What is said of one leg.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LegParts {
    /// Its ball screw.
    pub screw: Option<ScrewPart>,
    /// Its motor.
    pub motor: Option<MotorPart>,
    /// Its holding brake.
    pub brake: Option<BrakePart>,
    /// What its end stops take.
    pub end_stop: Option<EndStop>,
    /// How far its lower end joint may swing from level, rad.
    pub base_swing_rad: Option<Measured>,
    /// How far its upper end joint may swing from level, rad.
    pub anchor_swing_rad: Option<Measured>,
}

/// What makes a leg a crank leg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrankPart {
    /// Geometry.
    pub crank: Crank,
    /// Middle of its travel, rad: angles are told within half a turn of it.
    pub middle_rad: f64,
    /// No pose inside the joint's ranges and the crank's travel has a smaller transmission (without its sign).
    pub least_transmission: f64,
    /// Its gearbox, where the file describes more than its ratio.
    pub gearbox: Option<GearboxPart>,
}

/// A gearbox with what moves with the pin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GearboxPart {
    /// The data sheet.
    pub gearbox: Gearbox,
    /// Mass that moves with the pin, kg.
    pub pin_kg: f64,
    /// Where its backlash stands.
    pub backlash_span: Span,
}

/// A number and where it stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// In the unit that the field's name says.
    pub value: f64,
    /// Where the file says so.
    pub span: Span,
}

/// A ball screw with what slides on it.
#[derive(Debug, Clone, PartialEq)]
pub struct ScrewPart {
    /// Lead (that of the leg), efficiencies, drag, inertia of screw and coupling.
    pub screw: BallScrew,
    /// Mass that the nut carries besides the platform, kg.
    pub sliding_kg: f64,
    /// As a shaft that may whirl.
    pub shaft: Option<(Shaft, Span)>,
    /// As a column that may buckle.
    pub column: Option<(Column, Span)>,
    /// How long it should last.
    pub life: Option<ScrewLife>,
    /// The table.
    pub span: Span,
}

/// What the life of a ball screw is worked out from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScrewLife {
    /// Dynamic load rating, N.
    pub rating_n: f64,
    /// Preload of the nut, N; 0 for none.
    pub preload_n: f64,
    /// Hours of play that it should last, s.
    pub wanted_s: f64,
    /// Where the file says so.
    pub span: Span,
}

/// A motor, its temperatures and the window of its r.m.s. torque.
#[derive(Debug, Clone, PartialEq)]
pub struct MotorPart {
    /// The data sheet.
    pub motor: Motor,
    /// Temperatures of rating and winding.
    pub winding: WindingLimits,
    /// Temperature of the winding when play begins, degC.
    pub start_degc: f64,
    /// Over which time r.m.s. torque must stay within continuous torque, s.
    pub window_s: f64,
    /// The table.
    pub span: Span,
    /// The peak curve.
    pub peak_span: Span,
    /// The continuous curve.
    pub continuous_span: Span,
}

/// Current limits of the drives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DriveCurrents {
    /// The limits.
    pub limits: CurrentLimits,
    /// Over which time r.m.s. current must stay within the continuous one, s.
    pub window_s: f64,
    /// Of the continuous current.
    pub continuous_span: Span,
    /// Of the peak current.
    pub peak_span: Span,
}

/// The supply.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SupplyPart {
    /// Its data.
    pub supply: Supply,
    /// The table.
    pub span: Span,
}

/// A brake.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BrakePart {
    /// Torque that holds at rest, the weakest of its kind, N m.
    pub holding_nm: f64,
    /// What the holding torque must be of the torque that the load needs, 1.5 for 150 %.
    pub margin: f64,
    /// Torques while it slips, delay, work and stops.
    pub brake: Brake,
    /// Largest acceleration of a leg in a stop that the builder accepts, m/s^2.
    pub jolt_m_s2: f64,
    /// The table.
    pub span: Span,
}

/// A stop under control with power taken away afterwards: category 1 of IEC 60204-1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EmergencyStop {
    /// From the button until the drives begin to brake, s.
    pub delay_s: f64,
    /// From the button until power is taken away, s.
    pub power_s: f64,
    /// Largest deceleration that is accepted where it is felt, m/s^2.
    pub deceleration_m_s2: Option<Measured>,
    /// Largest sudden change of acceleration there when the brakes drop, m/s^2.
    pub jolt_m_s2: Option<Measured>,
    /// Where it is felt, platform frame; at the seat's point where the file does not say.
    pub head_p_m: Option<Vector3<f64>>,
    /// The table.
    pub span: Span,
}

/// Rubber or the like at the mechanical ends of a leg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EndStop {
    /// Energy that either end takes without harm, J.
    pub energy_j: f64,
    /// Where the file says so.
    pub span: Span,
}

/// Springs, and the share of motion that may lie near a natural frequency.
#[derive(Debug, Clone, PartialEq)]
pub struct Structure {
    /// The same for every leg.
    pub leg: LegSpring,
    /// Of the joint.
    pub joint: Vec<JointSpring>,
    /// Largest share of an axis's r.m.s. acceleration that may lie near a natural frequency, 0..1.
    pub share: f64,
    /// The table.
    pub span: Span,
}

/// A point of the platform.
#[derive(Debug, Clone, PartialEq)]
pub struct ClearancePoint {
    /// `left armrest`
    pub name: String,
    /// Where it is, platform frame.
    pub point_p_m: Vector3<f64>,
    /// How far it must stay away from every obstacle, m.
    pub distance_m: f64,
    /// Where the file says so.
    pub span: Span,
}

/// Something that does not move.
#[derive(Debug, Clone, PartialEq)]
pub struct Obstacle {
    /// `desk`
    pub name: String,
    /// Its shape, rig frame.
    pub shape: Shape,
    /// Where the file says so.
    pub span: Span,
}

/// The shape of an obstacle, rig frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// All beyond a plane.
    Plane {
        /// A point of the plane.
        at_r_m: Vector3<f64>,
        /// Towards the free side, unit length.
        free_r: Vector3<f64>,
    },
    /// A box along the axes.
    Box {
        /// Smallest coordinates.
        min_r_m: Vector3<f64>,
        /// Largest coordinates.
        max_r_m: Vector3<f64>,
    },
}

impl Shape {
    /// Distance of a point, m; negative inside.
    pub fn distance_m(&self, point_r_m: Vector3<f64>) -> f64 {
        match self {
            Shape::Plane { at_r_m, free_r } => (point_r_m - at_r_m).dot(free_r),
            Shape::Box { min_r_m, max_r_m } => {
                let out = (min_r_m - point_r_m).sup(&(point_r_m - max_r_m));
                let inside = out.max().min(0.0);
                out.map(|d| d.max(0.0)).norm() + inside
            }
        }
    }
}

impl Rig {
    /// Every load case by its name, the one that is [`Rig::payload`] first; that alone where the file names none.
    pub fn load_cases(&self) -> Vec<(&str, &Payload)> {
        if self.parts.loads.is_empty() {
            return vec![(ONLY_CASE, &self.payload)];
        }
        self.parts.loads.iter().map(|load| (load.name.as_str(), &load.payload)).collect()
    }

    /// The payloads of [`Self::load_cases`], without a list made of them.
    pub(super) fn payloads(&self) -> impl Iterator<Item = &Payload> {
        let only = self.parts.loads.is_empty().then_some(&self.payload);
        only.into_iter().chain(self.parts.loads.iter().map(|load| &load.payload))
    }

    /// Whether some leg is a crank.
    pub fn has_cranks(&self) -> bool {
        self.actuators.iter().any(|leg| leg.crank.is_some())
    }

    /// Lost motion of a leg along its coordinate, m: of a screw as measured, of a crank its gearbox's backlash at the pin.
    pub fn lost_motion_m(&self, leg: &Actuator) -> Option<Measured> {
        match &leg.crank {
            None => self.parts.backlash_m,
            Some(part) => part.gearbox.map(|given| Measured {
                value: given.gearbox.backlash_rad * part.crank.arm_m,
                span: given.backlash_span,
            }),
        }
    }

    /// The rig with this in the place of its payload.
    pub fn carrying(&self, payload: &Payload) -> Rig {
        Rig { payload: payload.clone(), ..self.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_are_measured_from_the_nearest_face() {
        let plane = Shape::Plane { at_r_m: Vector3::new(0.0, 0.0, 0.6), free_r: -Vector3::z() };
        assert!((plane.distance_m(Vector3::new(3.0, 1.0, 0.5)) - 0.1).abs() < 1e-15);
        assert!((plane.distance_m(Vector3::new(0.0, 0.0, 0.7)) + 0.1).abs() < 1e-15);
        let cuboid = Shape::Box { min_r_m: Vector3::zeros(), max_r_m: Vector3::new(1.0, 2.0, 3.0) };
        assert!((cuboid.distance_m(Vector3::new(-3.0, 1.0, 7.0)) - 5.0).abs() < 1e-15);
        assert!((cuboid.distance_m(Vector3::new(0.9, 1.0, 1.0)) + 0.1).abs() < 1e-15);
        assert!((cuboid.distance_m(Vector3::new(0.5, 2.25, 1.0)) - 0.25).abs() < 1e-15);
    }
}
