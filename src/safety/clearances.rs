//! Clearances as bounds on leg lengths, so that the governor can hold them without solving for the pose.
//!
//! For each clearance point and obstacle that some pose of the rig brings too near to each other: the flat that touches,
//! from outside, the leg lengths of all poses that keep every clearance. Its direction is that in which the distance
//! falls at a pose that is too near, of several the one whose flat leaves least. A plan that keeps its clearances is never
//! held by it, nor is the way between park and level. A hostile stream can come nearer than the distance by as much as
//! the free poses are no half of all: hardly before a floor or a wall, more around a corner that reaches in between.
//! Derived here.

use super::joints::points;
use super::legs::MAX_LEGS;
use super::limits::{Bound, Keeps, Limits, LimitsError, weighted_m};
use crate::rig::Rig;
use crate::rig::kinematics::{self, Pose};

/// Poses that are too near of which directions are tried, for each point and obstacle.
const TRIED: usize = 24;

/// Halvings between a pose that is free and one that is not: a range over 2^30 is nothing.
const HALVINGS: u32 = 30;

/// The limits with bounds that keep the clearances of a rig as well; with none where nothing can come too near, or the rig
/// has fewer legs than coordinates.
///
/// # Errors
/// When there are more bounds than room.
pub fn within_clearances(rig: &Rig, limits: Limits) -> Result<Limits, LimitsError> {
    let axes = rig.axes.len();
    let pairs = rig.parts.points.len() * rig.parts.obstacles.len();
    if pairs == 0 || axes == 0 || rig.actuators.len() < axes || rig.actuators.len() > MAX_LEGS {
        return Ok(limits);
    }
    let poses = Poses::of(rig, &limits);
    let free = poses.free();
    let mut bounds: Vec<Bound> = Vec::new();
    for pair in 0..pairs {
        let near: Vec<&Point> = poses
            .points
            .iter()
            .filter(|point| point.inside && point.room_m[pair] < 0.0)
            .filter(|point| bounds.iter().all(|bound| bound.is_kept(&point.lengths_m)))
            .collect();
        let every = near.len().div_ceil(TRIED).max(1);
        let tried = near.iter().step_by(every).filter_map(|point| bound(rig, pair, &point.q, &free));
        // What the worst pose still left is short by, m.
        let left_m = |bound: &Bound| {
            let left = near.iter().filter(|point| bound.is_kept(&point.lengths_m));
            left.map(|point| -point.room_m[pair]).fold(0.0, f64::max)
        };
        let best = tried.map(|bound| (left_m(&bound), bound)).reduce(|a, b| if b.0 < a.0 { b } else { a });
        bounds.extend(
            best.map(|(_, bound)| bound).filter(|bound| near.iter().any(|p| !bound.is_kept(&p.lengths_m))),
        );
    }
    bounds.iter().try_fold(limits, |limits, bound| limits.bounded(Keeps::Clearance, bound))
}

/// How much further than it must a point is from an obstacle, m, of one pair after the other.
fn room_m(rig: &Rig, q: &[f64]) -> Vec<f64> {
    let pose = Pose::at(rig, q);
    let points = rig.parts.points.iter();
    points
        .flat_map(|point| {
            let at_r_m = pose.point_r_m(point.point_p_m);
            rig.parts
                .obstacles
                .iter()
                .map(move |obstacle| obstacle.shape.distance_m(at_r_m) - point.distance_m)
        })
        .collect()
}

/// A pose on the grid.
struct Point {
    q: Vec<f64>,
    lengths_m: Vec<f64>,
    /// Of each pair.
    room_m: Vec<f64>,
    /// All legs are inside their strokes.
    inside: bool,
}

impl Point {
    fn at(rig: &Rig, limits: &Limits, q: Vec<f64>) -> Self {
        let lengths_m = kinematics::lengths_m(rig, &q);
        let inside = lengths_m.iter().zip(limits.legs()).all(|(l, leg)| *l >= leg.low_m && *l <= leg.high_m);
        Self { room_m: room_m(rig, &q), inside, lengths_m, q }
    }

    fn is_free(&self) -> bool {
        self.inside && self.room_m.iter().all(|room| *room >= 0.0)
    }
}

/// Poses over the ranges of all coordinates.
struct Poses<'a> {
    rig: &'a Rig,
    limits: &'a Limits,
    points: Vec<Point>,
    each: usize,
}

impl<'a> Poses<'a> {
    fn of(rig: &'a Rig, limits: &'a Limits) -> Self {
        let (axes, each) = (rig.axes.len(), points(rig.axes.len()));
        let at = |mut index: usize| {
            let q = rig.axes.iter().map(|axis| {
                let share = (index % each) as f64 / (each - 1) as f64;
                index /= each;
                axis.min + share * (axis.max - axis.min)
            });
            q.collect()
        };
        let points = (0..each.pow(axes as u32)).map(|index| Point::at(rig, limits, at(index))).collect();
        Self { rig, limits, points, each }
    }

    /// Leg lengths of poses that are free: on the grid, on the edge between one that is and a neighbour that is not, and
    /// where the rig parks.
    fn free(&self) -> Vec<Vec<f64>> {
        let mut free = vec![self.rig.actuators.iter().map(|leg| leg.park_m).collect()];
        free.push(kinematics::lengths_m(self.rig, &vec![0.0; self.rig.axes.len()]));
        let mut step = 1;
        for _ in 0..self.rig.axes.len() {
            for (index, point) in self.points.iter().enumerate() {
                let last = (index / step) % self.each == self.each - 1;
                let Some(next) = self.points.get(index + step).filter(|_| !last) else { continue };
                match (point.is_free(), next.is_free()) {
                    (true, false) => free.push(self.edge(point, next)),
                    (false, true) => free.push(self.edge(next, point)),
                    _ => {}
                }
            }
            step *= self.each;
        }
        free.extend(self.points.iter().filter(|point| point.is_free()).map(|point| point.lengths_m.clone()));
        free
    }

    fn edge(&self, free: &Point, other: &Point) -> Vec<f64> {
        let (mut low, mut high) = (0.0, 1.0);
        let at = |share: f64| {
            let q = free.q.iter().zip(&other.q).map(|(a, b)| a + share * (b - a));
            Point::at(self.rig, self.limits, q.collect())
        };
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if at(middle).is_free() { low = middle } else { high = middle }
        }
        at(low).lengths_m
    }
}

/// The bound across the way in which a pair comes nearer at a pose; `None` where no leg changes that.
fn bound(rig: &Rig, pair: usize, q: &[f64], free: &[Vec<f64>]) -> Option<Bound> {
    const STEP: f64 = 1e-6;
    let nearer: Vec<f64> = (0..q.len())
        .map(|axis| {
            let at = |by: f64| {
                let mut beside = q.to_vec();
                beside[axis] += by;
                room_m(rig, &beside)[pair]
            };
            (at(-STEP) - at(STEP)) / (2.0 * STEP)
        })
        .collect();
    let inverse = kinematics::jacobian(rig, q).pseudo_inverse(1e-9).ok()?;
    let weight: Vec<f64> = (0..rig.actuators.len())
        .map(|leg| nearer.iter().enumerate().map(|(axis, n)| n * inverse[(axis, leg)]).sum())
        .collect();
    let sums = || free.iter().map(|lengths_m| weighted_m(&weight, lengths_m));
    let largest = sums().reduce(f64::max).filter(|_| weight.iter().any(|w| *w != 0.0))?;
    let smallest = sums().fold(largest, f64::min);
    // What the grid can have missed of a smooth surface's top: its spread over the square of the points.
    let spread = (largest - smallest) / (points(q.len()) as f64 * points(q.len()) as f64);
    Some(Bound { weight, at_most_m: largest + spread + 1e-9 })
}

#[cfg(test)]
mod tests;
