//! The few frames of the scene around the clock's position, and the platform's pose between two of them.

use super::scene::Frame;
use crate::safety::MAX_AXES;

/// Where the session takes frames from.
pub(super) trait Frames {
    /// The next frame, if one is ready.
    fn next(&mut self) -> Option<Frame>;
    /// How many are ready.
    fn waiting(&self) -> u64;
}

/// How many frames are held: the clock advances at most one a cycle, and looks one beyond the next.
const HELD: usize = 4;

/// Frames `first ..`, in order.
#[derive(Debug, Clone)]
pub(super) struct Window {
    held: [Option<Frame>; HELD],
    first: u64,
    taken: u64,
    count: u64,
}

impl Window {
    /// Empty, for a scene of `count` frames.
    pub(super) fn new(count: u64) -> Self {
        Self { held: [None; HELD], first: 0, taken: 0, count }
    }

    /// How many frames the scene has.
    pub(super) fn count(&self) -> u64 {
        self.count
    }

    /// How many have not been taken.
    pub(super) fn left(&self) -> u64 {
        self.count - self.taken
    }

    /// Whether nothing has been taken.
    pub(super) fn is_fresh(&self) -> bool {
        self.taken == 0
    }

    /// Makes the frames from `frame` on ready, as far as there are any. `false` when one is missing.
    pub(super) fn reach(&mut self, frame: u64, frames: &mut dyn Frames) -> bool {
        while self.first < frame.min(self.count.saturating_sub(1)) {
            self.held.rotate_left(1);
            if let Some(last) = self.held.last_mut() {
                *last = None;
            }
            self.first += 1;
        }
        let wanted = (self.first + HELD as u64).min(self.count);
        while self.taken < wanted {
            let Some(next) = frames.next() else { return false };
            let place = self.taken.checked_sub(self.first).and_then(|k| self.held.get_mut(k as usize));
            if let Some(place) = place {
                *place = Some(next);
            }
            self.taken += 1;
        }
        true
    }

    /// The frame with this number, if it is held; the last one beyond the end.
    pub(super) fn frame(&self, frame: u64) -> Option<&Frame> {
        let frame = frame.min(self.count.saturating_sub(1));
        self.held.get(usize::try_from(frame.checked_sub(self.first)?).ok()?)?.as_ref()
    }

    /// The frame that lies `part` (0..1) of a cycle beyond frame `frame`: the quintic with value, rate and
    /// acceleration of both neighbours (leg lengths are the earlier one's). Its error goes with the sixth power of the
    /// cycle; at 1 ms and 10 Hz it is below 1e-12 of the amplitude.
    pub(super) fn between(&self, frame: u64, part: f64, cycle_s: f64) -> Option<Frame> {
        let earlier = *self.frame(frame)?;
        if part == 0.0 || frame + 1 >= self.count {
            return Some(earlier);
        }
        let later = self.frame(frame + 1)?;
        let mut made = earlier;
        for axis in 0..MAX_AXES {
            made.platform[axis][0] = quintic(&earlier.platform[axis], &later.platform[axis], part, cycle_s);
        }
        Some(made)
    }
}

/// Quintic Hermite interpolation over one step of `h_s` (basis from memory; the test holds it to polynomials).
fn quintic(from: &[f64; 3], to: &[f64; 3], u: f64, h_s: f64) -> f64 {
    let [p0, v0, a0] = [from[0], from[1] * h_s, from[2] * h_s * h_s];
    let [p1, v1, a1] = [to[0], to[1] * h_s, to[2] * h_s * h_s];
    let d = p1 - p0;
    // p0 + v0 u + a0/2 u^2 + c3 u^3 + c4 u^4 + c5 u^5, the last three from the conditions at u = 1.
    let c3 = 10.0 * d - 6.0 * v0 - 4.0 * v1 - 1.5 * a0 + 0.5 * a1;
    let c4 = -15.0 * d + 8.0 * v0 + 7.0 * v1 + 1.5 * a0 - a1;
    let c5 = 6.0 * d - 3.0 * v0 - 3.0 * v1 - 0.5 * a0 + 0.5 * a1;
    p0 + u * (v0 + u * (0.5 * a0 + u * (c3 + u * (c4 + u * c5))))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::safety::Legs;

    struct Numbers(u64, u64);

    impl Frames for Numbers {
        fn next(&mut self) -> Option<Frame> {
            (self.0 < self.1).then(|| {
                let x = self.0 as f64;
                self.0 += 1;
                // x^5 with its derivatives, a cycle being 1 s.
                let mut platform = [[0.0; 3]; MAX_AXES];
                platform[0] = [x * x * x * x * x, 5.0 * x * x * x * x, 20.0 * x * x * x];
                Frame { platform, legs_m: Legs::filled(1, x) }
            })
        }
        fn waiting(&self) -> u64 {
            self.1 - self.0
        }
    }

    #[test]
    fn is_exact_for_a_fifth_power_between_frames() {
        let mut frames = Numbers(0, 20);
        let mut window = Window::new(20);
        for frame in [0, 1, 2, 3, 7, 15] {
            assert!(window.reach(frame, &mut frames));
            for part in [0.0, 0.25, 0.5, 0.875] {
                let x = frame as f64 + part;
                let found = window.between(frame, part, 1.0).unwrap().platform[0][0];
                assert!((found - x * x * x * x * x).abs() <= 1e-9 * (1.0 + found), "{x} {found}");
            }
        }
    }

    #[test]
    fn says_when_frames_are_missing_and_stays_on_the_last() {
        let mut frames = Numbers(0, 6);
        let mut window = Window::new(20);
        assert!(window.reach(2, &mut frames) && !window.reach(3, &mut frames));
        assert!(window.frame(5).is_some() && window.frame(6).is_none());
        let mut window = Window::new(6);
        assert!(window.reach(9, &mut Numbers(0, 6)));
        assert_eq!(window.frame(99).unwrap().legs_m[0], 5.0);
    }
}
