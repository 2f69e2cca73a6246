//! The curve that a drive really follows between set-points: its own interpolation, bounded segment by segment.

use crate::rig::Interpolation;

/// Extremes of one leg over one cycle, as `(lowest, highest)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Segment {
    /// m
    pub(super) position: (f64, f64),
    /// m/s
    pub(super) speed: (f64, f64),
    /// m/s^2
    pub(super) acceleration: (f64, f64),
}

/// The segment between the middle two of four set-points (m) that are `cycle_s` apart.
///
/// A straight line has its bends at the set-points; what is given as its acceleration is the change of speed there
/// over one cycle, which is how fast the drive's loop must follow. The cubic takes its slopes from central
/// differences. Its speed is a quadratic (ends and vertex), its acceleration is straight (ends), its position lies
/// within the ends and T^2/8 times the largest acceleration.
pub(super) fn segment(kind: Interpolation, points: [f64; 4], cycle_s: f64) -> Segment {
    let slope = [0, 1, 2].map(|k| (points[k + 1] - points[k]) / cycle_s);
    let order = |a: f64, b: f64| if a < b { (a, b) } else { (b, a) };
    let ends = order(points[1], points[2]);
    match kind {
        Interpolation::Linear => {
            let bend = (slope[1] - slope[0]) / cycle_s;
            Segment { position: ends, speed: (slope[1], slope[1]), acceleration: (bend, bend) }
        }
        Interpolation::Cubic => {
            let (enter, leave) = ((slope[0] + slope[1]) / 2.0, (slope[1] + slope[2]) / 2.0);
            // p'(u) = enter + u (2 bend0) / 2 ..., from p'' at both ends.
            let first = (6.0 * slope[1] - 4.0 * enter - 2.0 * leave) / cycle_s;
            let last = (2.0 * enter + 4.0 * leave - 6.0 * slope[1]) / cycle_s;
            let mut speed = order(enter, leave);
            if first * last < 0.0 {
                let at = first / (first - last);
                let vertex = enter + cycle_s * at * (first + (last - first) * at / 2.0);
                speed = (speed.0.min(vertex), speed.1.max(vertex));
            }
            let acceleration = order(first, last);
            let room = cycle_s * cycle_s / 8.0 * first.abs().max(last.abs());
            Segment { position: (ends.0 - room, ends.1 + room), speed, acceleration }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The cubic itself, from its Hermite form.
    fn cubic(points: [f64; 4], cycle_s: f64, u: f64) -> f64 {
        let (enter, leave) = ((points[2] - points[0]) / 2.0, (points[3] - points[1]) / 2.0);
        let _ = cycle_s;
        let (u2, u3) = (u * u, u * u * u);
        points[1] * (2.0 * u3 - 3.0 * u2 + 1.0)
            + enter * (u3 - 2.0 * u2 + u)
            + points[2] * (3.0 * u2 - 2.0 * u3)
            + leave * (u3 - u2)
    }

    proptest! {
        #[test]
        fn the_cubic_stays_within_its_bounds(points in prop::array::uniform4(-1.0..1.0f64)) {
            let cycle_s = 0.5;
            let bound = segment(Interpolation::Cubic, points, cycle_s);
            let step = 1e-4;
            for k in 1..100 {
                let u = f64::from(k) / 100.0;
                let at = |u| cubic(points, cycle_s, u);
                let speed = (at(u + step) - at(u - step)) / (2.0 * step * cycle_s);
                let acceleration = (at(u + step) - 2.0 * at(u) + at(u - step)) / (step * cycle_s * step * cycle_s);
                prop_assert!(bound.position.0 - 1e-9 <= at(u) && at(u) <= bound.position.1 + 1e-9);
                prop_assert!(bound.speed.0 - 1e-5 <= speed && speed <= bound.speed.1 + 1e-5);
                prop_assert!(bound.acceleration.0 - 1e-4 <= acceleration && acceleration <= bound.acceleration.1 + 1e-4);
            }
            // The bounds are reached, not only kept.
            let speeds = (0..=1000).map(|k| f64::from(k) / 1000.0).map(|u| (cubic(points, cycle_s, u + 1e-6) - cubic(points, cycle_s, u - 1e-6)) / (2e-6 * cycle_s));
            let fastest = speeds.fold(f64::NEG_INFINITY, f64::max);
            prop_assert!((fastest - bound.speed.1).abs() < 1e-3 * (1.0 + fastest.abs()));
        }
    }

    #[test]
    fn a_straight_line_bends_at_its_set_points() {
        let bound = segment(Interpolation::Linear, [0.0, 0.0, 0.001, 0.002], 0.002);
        assert_eq!(bound.speed, (0.5, 0.5));
        assert_eq!(bound.acceleration, (250.0, 250.0));
    }
}
