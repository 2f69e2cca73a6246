//! The rig drawn to scale from its file: lines and flat shapes in a plane, seen from any side.
//!
//! Nothing is drawn that the file does not say: joint, anchors, bases, seat point, centre of mass, floor.

use super::margins::Nearness;
use crate::rig::kinematics::Pose;
use crate::rig::{Axis, Rig, kinematics};
use nalgebra::Vector3;

/// From where the rig is looked at. Parallel projection, so that lengths can be compared.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// Which way it looks along the floor, rad: 0 forward (from behind), pi/2 to the right (from the left).
    pub heading_rad: f64,
    /// How far it looks down, rad.
    pub down_rad: f64,
    /// Pixels a metre over those that fit the whole rig.
    pub zoom: f64,
    /// Where the middle has been moved to, metres on the picture: right, up.
    pub pan_m: [f64; 2],
}

/// A camera that shows one side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// A little above and behind.
    Corner,
    /// From the left, nose to the left.
    Left,
    /// From behind, looking forward.
    Behind,
    /// From above, nose up.
    Above,
}

impl Side {
    /// All of them, in the order of their buttons.
    pub const ALL: [Self; 4] = [Self::Corner, Self::Left, Self::Behind, Self::Above];

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Corner => "Corner",
            Self::Left => "Left",
            Self::Behind => "Behind",
            Self::Above => "Above",
        }
    }

    /// The camera there.
    pub fn camera(self) -> Camera {
        let (heading, down) = match self {
            Self::Corner => (52.0_f64, 18.0_f64),
            Self::Left => (90.0, 0.0),
            Self::Behind => (0.0, 0.0),
            Self::Above => (0.0, 90.0),
        };
        Camera {
            heading_rad: heading.to_radians(),
            down_rad: down.to_radians(),
            zoom: 1.0,
            pan_m: [0.0, 0.0],
        }
    }
}

impl Camera {
    /// Turned by a drag of the pointer, in rad.
    #[must_use]
    pub fn turned(self, right_rad: f64, down_rad: f64) -> Self {
        let quarter = std::f64::consts::FRAC_PI_2;
        Self {
            heading_rad: (self.heading_rad - right_rad).rem_euclid(std::f64::consts::TAU),
            down_rad: (self.down_rad + down_rad).clamp(-quarter, quarter),
            ..self
        }
    }

    /// A point of the rig frame on the picture, metres to the right and up from the joint, and how far away.
    pub fn project(&self, point_r_m: Vector3<f64>) -> ([f64; 2], f64) {
        let (sin_h, cos_h) = libm::sincos(self.heading_rad);
        let (sin_d, cos_d) = libm::sincos(self.down_rad);
        let right = Vector3::new(-sin_h, cos_h, 0.0);
        let ahead = Vector3::new(cos_d * cos_h, cos_d * sin_h, sin_d);
        // Right, ahead and up make a right-handed frame with z down: up = right x ahead.
        let up = right.cross(&ahead);
        ([right.dot(&point_r_m), up.dot(&point_r_m)], ahead.dot(&point_r_m))
    }
}

/// What a shape is; the window chooses its colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The floor's outline.
    Floor,
    /// What stands still: post and bases.
    Frame,
    /// The platform's plate.
    Plate,
    /// A leg, by its index.
    Leg(usize),
    /// A point with a cross: joint, bases, anchors.
    Joint,
    /// The seat point, with its stem.
    Seat,
    /// The centre of mass.
    Mass,
}

/// A line (two points), a polygon (more), or a mark (one), in metres on the picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// What it is.
    pub kind: Kind,
    /// Its points.
    pub points_m: Vec<[f64; 2]>,
    /// How far away its middle is; larger is farther.
    pub depth_m: f64,
}

/// Shapes at platform coordinates `q`, the farthest first.
pub fn shapes(rig: &Rig, q: &[f64], camera: &Camera) -> Vec<Shape> {
    let pose = Pose::at(rig, q);
    let anchor = |leg: usize| pose.point_r_m(rig.actuators[leg].anchor_p_m);
    let mut out = Vec::new();
    let mut add = |kind, points: &[Vector3<f64>]| {
        let projected: Vec<_> = points.iter().map(|point| camera.project(*point)).collect();
        let depth_m = projected.iter().map(|(_, depth)| depth).sum::<f64>() / points.len().max(1) as f64;
        out.push(Shape { kind, points_m: projected.into_iter().map(|(at, _)| at).collect(), depth_m });
    };
    let floor = floor_m(rig);
    let side = reach_m(rig) * 1.15;
    add(
        Kind::Floor,
        &[(-side, -side), (side, -side), (side, side), (-side, side)].map(|(x, y)| Vector3::new(x, y, floor)),
    );
    let joint = pose.point_r_m(Vector3::zeros());
    add(Kind::Frame, &[Vector3::new(0.0, 0.0, floor), Vector3::zeros()]);
    for (leg, actuator) in rig.actuators.iter().enumerate() {
        let base = actuator.base_r_m;
        add(Kind::Frame, &[Vector3::new(base.x, base.y, floor), base]);
        match actuator.crank.and_then(|part| part.pin_r_m(&anchor(leg))) {
            None => add(Kind::Leg(leg), &[base, anchor(leg)]),
            Some(pin) => {
                add(Kind::Leg(leg), &[base, pin, anchor(leg)]);
                add(Kind::Joint, &[pin]);
            }
        }
        add(Kind::Joint, &[base]);
        add(Kind::Joint, &[anchor(leg)]);
    }
    let mut plate: Vec<Vector3<f64>> = (0..rig.actuators.len()).map(anchor).collect();
    if plate.len() < 3 {
        plate.push(joint);
    }
    add(Kind::Plate, &plate);
    if plate.len() < 4 && rig.actuators.len() > 2 {
        plate.iter().for_each(|corner| add(Kind::Plate, &[joint, *corner]));
    }
    let seat = rig.seat_p_m;
    add(Kind::Seat, &[pose.point_r_m(Vector3::new(seat.x, seat.y, 0.0)), pose.point_r_m(seat)]);
    add(Kind::Seat, &[pose.point_r_m(seat)]);
    add(Kind::Mass, &[pose.point_r_m(rig.payload.centre_p_m)]);
    add(Kind::Joint, &[joint]);
    out.sort_by(|a, b| b.depth_m.total_cmp(&a.depth_m));
    out
}

/// Height of the floor below the joint, m: as the file says, else the lowest base.
fn floor_m(rig: &Rig) -> f64 {
    let lowest = rig.actuators.iter().map(|actuator| actuator.base_r_m.z).fold(0.0, f64::max);
    rig.pivot_height_m.unwrap_or(lowest)
}

/// How far the farthest point of the rig is from the joint, m; for fitting the picture.
pub fn reach_m(rig: &Rig) -> f64 {
    let points = rig.actuators.iter().flat_map(|leg| [leg.base_r_m, leg.anchor_p_m]);
    points.chain([rig.seat_p_m]).map(|point| point.norm()).fold(floor_m(rig).max(0.1), f64::max)
}

/// How a part stands at one pose.
#[derive(Debug, Clone, PartialEq)]
pub struct PartState {
    /// `left`, `pitch`
    pub name: String,
    /// Share of the way from level to the end on its side.
    pub used: f64,
    /// How near the end it is.
    pub nearness: Nearness,
}

/// Every leg (its length inside the stroke that may be used), then every axis (inside its range).
pub fn parts(rig: &Rig, q: &[f64]) -> (Vec<PartState>, Vec<PartState>) {
    let state = |name: &str, value: f64, rest: f64, low: f64, high: f64| {
        let limit = if value < rest { low } else { high };
        let used = (value - rest) / (limit - rest);
        let used = if used.is_nan() { 0.0 } else { used };
        PartState { name: name.to_string(), used, nearness: Nearness::of(used) }
    };
    let (level, now) = (kinematics::lengths_m(rig, &[]), kinematics::lengths_m(rig, q));
    let legs = rig.actuators.iter().zip(level.iter().zip(&now)).map(|(leg, (level, now))| {
        let (low, high) = leg.soft_ends_m();
        state(&leg.name, *now, *level, low, high)
    });
    let axes = rig.axes.iter().zip(q).map(|(axis, q)| state(axis.axis.word(), *q, 0.0, axis.min, axis.max));
    (legs.collect(), axes.collect())
}

/// What the occupant would see of the horizon: pitch and roll, rad, nose up and right wing down positive.
pub fn horizon_rad(rig: &Rig, q: &[f64]) -> (f64, f64) {
    let of = |wanted: Axis| {
        rig.axes.iter().zip(q).find(|(axis, _)| axis.axis == wanted).map_or(0.0, |(_, value)| *value)
    };
    (of(Axis::Pitch), of(Axis::Roll))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::sample::scene;

    fn rig() -> std::sync::Arc<Rig> {
        scene("at 0 s pitch pulse(1 deg, 1 s)").rig.unwrap()
    }

    #[test]
    fn sides_show_what_their_names_say() {
        let (nose, right_wing, up) = (Vector3::x(), Vector3::y(), -Vector3::z());
        let seen = |side: Side, point| side.camera().project(point).0.map(|x| (x * 1e6).round() / 1e6);
        assert_eq!(seen(Side::Left, nose), [-1.0, 0.0], "nose to the left");
        assert_eq!(seen(Side::Left, up), [0.0, 1.0]);
        assert_eq!(seen(Side::Behind, right_wing), [1.0, 0.0]);
        assert_eq!(seen(Side::Above, nose), [0.0, 1.0], "nose up");
        assert_eq!(seen(Side::Above, right_wing), [1.0, 0.0]);
        // Seen from the left, the right side is farther away.
        assert!(Side::Left.camera().project(right_wing).1 > 0.0);
    }

    #[test]
    fn lengths_on_the_picture_are_the_rigs_own() {
        let rig = rig();
        let shapes = shapes(&rig, &[0.0, 0.0], &Side::Left.camera());
        let legs: Vec<_> = shapes.iter().filter(|shape| matches!(shape.kind, Kind::Leg(_))).collect();
        assert_eq!(legs.len(), 2);
        for leg in legs {
            let [a, b] = [leg.points_m[0], leg.points_m[1]];
            assert!((libm::hypot(a[0] - b[0], a[1] - b[1]) - 0.58).abs() < 1e-9);
        }
        // Nose up: seen from the left, the anchors behind the joint go down.
        let height = |q: [f64; 2]| {
            let shapes = super::shapes(&rig, &q, &Side::Left.camera());
            let leg = shapes.iter().find(|shape| matches!(shape.kind, Kind::Leg(_))).unwrap();
            leg.points_m[1][1]
        };
        assert!(height([0.1, 0.0]) < height([0.0, 0.0]) - 0.05);
    }

    #[test]
    fn a_part_near_its_end_says_so() {
        let rig = rig();
        let (_, axes) = parts(&rig, &[9.0_f64.to_radians(), -13.0_f64.to_radians()]);
        assert_eq!([axes[0].nearness, axes[1].nearness], [Nearness::Near, Nearness::Past]);
        let (legs, axes) = parts(&rig, &[0.0, 0.0]);
        assert!(legs.iter().chain(&axes).all(|part| part.used.abs() < 1e-9));
        assert_eq!(horizon_rad(&rig, &[0.1, -0.2]), (0.1, -0.2));
    }
}
