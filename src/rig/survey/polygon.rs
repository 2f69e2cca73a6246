//! What two axes can do at once at level: the convex region that the legs' limits leave.
//!
//! Every leg adds a strip: its speed J x within its limit; its acceleration, J x from rest; its force, which is the
//! holding force and a linear part of the acceleration. The region is a square cut by those strips.

use super::limits::Limit;
use crate::rig::kinematics::jacobian;
use crate::rig::{Rig, legs_n};

/// Half the side of the square that is cut: far beyond any rig (rad or m, a second or a second squared).
const FAR: f64 = 1e6;

/// A side of a region.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Edge {
    /// What ends it here; `None` where nothing does.
    pub limit: Option<Limit>,
}

/// A convex region of two axes, corners in order; edge k runs from corner k to the next.
#[derive(Debug, Clone, PartialEq)]
pub struct Polygon {
    /// (across, up), rad or m, a second (squared).
    pub corners: Vec<(f64, f64)>,
    /// One a corner.
    pub edges: Vec<Edge>,
}

impl Polygon {
    fn far() -> Self {
        Self {
            corners: vec![(-FAR, -FAR), (FAR, -FAR), (FAR, FAR), (-FAR, FAR)],
            edges: vec![Edge { limit: None }; 4],
        }
    }

    /// Cuts away all beyond a x + b y <= c.
    fn cut(&mut self, (a, b): (f64, f64), c: f64, limit: Limit) {
        let room = |(x, y): (f64, f64)| c - a * x - b * y;
        let count = self.corners.len();
        let (mut corners, mut edges) = (Vec::with_capacity(count + 1), Vec::with_capacity(count + 1));
        for (k, (&corner, &edge)) in self.corners.iter().zip(&self.edges).enumerate() {
            let Some(&next) = self.corners.get((k + 1) % count) else { continue };
            let (here, there) = (room(corner), room(next));
            let share = here / (here - there);
            let crossing = (corner.0 + share * (next.0 - corner.0), corner.1 + share * (next.1 - corner.1));
            if here >= 0.0 {
                corners.push(corner);
                edges.push(edge);
                if there < 0.0 {
                    corners.push(crossing);
                    edges.push(Edge { limit: Some(limit) });
                }
            } else if there >= 0.0 {
                corners.push(crossing);
                edges.push(edge);
            }
        }
        (self.corners, self.edges) = (corners, edges);
    }

    /// Whether something ends it on every side.
    pub fn is_bounded(&self) -> bool {
        !self.edges.is_empty() && self.edges.iter().all(|edge| edge.limit.is_some())
    }
}

/// Rates of axes `across` and `up` (places in the rig's order) that the legs' speeds allow at level.
pub fn speed_reach(rig: &Rig, (across, up): (usize, usize)) -> Option<Polygon> {
    strips(rig, (across, up), |leg| leg.speed_m_s)
}

/// Accelerations of two axes that the legs' limits of acceleration and thrust allow at level, from rest, with the
/// payload of the file. No corners when some leg has not even the thrust to hold it there.
pub fn acceleration_reach(rig: &Rig, (across, up): (usize, usize)) -> Option<Polygon> {
    let mut polygon = strips(rig, (across, up), |leg| leg.acceleration_m_s2)?;
    let still = vec![0.0; rig.axes.len()];
    let with = |axis: usize| {
        let mut acceleration = still.clone();
        *acceleration.get_mut(axis)? = 1.0;
        legs_n(rig, &still, &still, &acceleration)
    };
    let held = legs_n(rig, &still, &still, &still)?;
    let (along, upward) = (with(across)?, with(up)?);
    for (i, leg) in rig.actuators.iter().enumerate().filter(|(_, leg)| leg.thrust_n.is_finite()) {
        let (held, along, upward) = (*held.get(i)?, *along.get(i)?, *upward.get(i)?);
        if held.abs() > leg.thrust_n {
            return Some(Polygon { corners: Vec::new(), edges: Vec::new() });
        }
        let slope = (along - held, upward - held);
        polygon.cut(slope, leg.thrust_n - held, Limit::Force(i));
        polygon.cut((-slope.0, -slope.1), leg.thrust_n + held, Limit::Force(i));
    }
    Some(polygon)
}

fn strips(
    rig: &Rig,
    (across, up): (usize, usize),
    most: impl Fn(&crate::rig::Actuator) -> f64,
) -> Option<Polygon> {
    if across.max(up) >= rig.axes.len() {
        return None;
    }
    let slopes = jacobian(rig, &[]);
    let mut polygon = Polygon::far();
    for (i, leg) in rig.actuators.iter().enumerate() {
        let slope = (slopes[(i, across)], slopes[(i, up)]);
        polygon.cut(slope, most(leg), Limit::Stroke(i));
        polygon.cut((-slope.0, -slope.1), most(leg), Limit::Stroke(i));
    }
    Some(polygon)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::sample::two_legs;

    /// Legs at arms of 0.45 m (pitch) and +-0.3 m (roll), 0.25 m/s: a diamond with corners at 0.25 / 0.45 rad/s in pitch
    /// and 0.25 / 0.3 rad/s in roll.
    #[test]
    fn the_diamond_of_two_legs() {
        let polygon = speed_reach(&two_legs(), (1, 0)).unwrap();
        assert!(polygon.is_bounded() && polygon.corners.len() == 4, "{polygon:?}");
        let most = |of: fn(&(f64, f64)) -> f64| polygon.corners.iter().map(of).fold(0.0, f64::max);
        assert!((most(|c| c.1) - 0.25 / 0.45).abs() < 1e-9 && (most(|c| c.0) - 0.25 / 0.3).abs() < 1e-9);
    }

    /// Inside the region every leg keeps its thrust, and just outside it one does not.
    #[test]
    fn thrust_cuts_accelerations() {
        let mut rig = two_legs();
        rig.actuators.iter_mut().for_each(|leg| leg.thrust_n = 150.0);
        let polygon = acceleration_reach(&rig, (1, 0)).unwrap();
        assert!(polygon.edges.iter().any(|edge| matches!(edge.limit, Some(Limit::Force(_)))), "{polygon:?}");
        let worst = |factor: f64| {
            let forces = polygon.corners.iter().filter_map(|(roll, pitch)| {
                legs_n(&rig, &[0.0; 2], &[0.0; 2], &[pitch * factor, roll * factor])
            });
            forces.flatten().fold(0.0_f64, |most, force| most.max(force.abs()))
        };
        assert!((worst(1.0) - 150.0).abs() < 1e-9 && worst(1.01) > 150.0, "{}", worst(1.0));
        // A thrust that cannot even hold leaves nothing.
        rig.actuators.iter_mut().for_each(|leg| leg.thrust_n = 20.0);
        assert_eq!(acceleration_reach(&rig, (1, 0)).unwrap().corners, []);
        assert_eq!(speed_reach(&rig, (0, 2)), None);
    }
}
