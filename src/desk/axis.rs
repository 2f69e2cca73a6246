//! The one time axis: which stretch of the scene is in view, and where an instant lies on the screen.

/// The stretch in view, scene seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimeAxis {
    /// First instant.
    pub from_s: f64,
    /// Last instant; later than the first.
    pub to_s: f64,
}

/// Shortest stretch that can be looked at: sixty samples at 1 kHz. Own choice.
const SHORTEST_S: f64 = 0.06;

impl TimeAxis {
    /// All of a scene.
    pub fn whole(length_s: f64) -> Self {
        Self { from_s: 0.0, to_s: length_s.max(1.0) }
    }

    /// How long the stretch is, s.
    pub fn span_s(&self) -> f64 {
        self.to_s - self.from_s
    }

    /// Where `t_s` lies: 0 at the left, 1 at the right.
    pub fn part(&self, t_s: f64) -> f64 {
        (t_s - self.from_s) / self.span_s()
    }

    /// The instant at a part of the width.
    pub fn at(&self, part: f64) -> f64 {
        self.from_s + part * self.span_s()
    }

    /// Zooms by `factor` (above 1: closer) so that `around_s` stays where it is, within a scene of `length_s`.
    #[must_use]
    pub fn zoomed(&self, factor: f64, around_s: f64, length_s: f64) -> Self {
        if !(factor.is_finite() && factor > 0.0) {
            return *self;
        }
        let most = length_s.max(1.0);
        let span = (self.span_s() / factor).clamp(SHORTEST_S, most);
        let part = self.part(around_s).clamp(0.0, 1.0);
        Self { from_s: around_s - part * span, to_s: around_s + (1.0 - part) * span }.inside(length_s)
    }

    /// Moves by a part of the width.
    #[must_use]
    pub fn moved(&self, part: f64, length_s: f64) -> Self {
        let by = part * self.span_s();
        Self { from_s: self.from_s + by, to_s: self.to_s + by }.inside(length_s)
    }

    /// The same span with `t_s` in view, moved only when it was not.
    #[must_use]
    pub fn showing(&self, t_s: f64, length_s: f64) -> Self {
        if t_s >= self.from_s && t_s <= self.to_s {
            return *self;
        }
        let from_s = t_s - 0.1 * self.span_s();
        Self { from_s, to_s: from_s + self.span_s() }.inside(length_s)
    }

    fn inside(self, length_s: f64) -> Self {
        let length_s = length_s.max(1.0);
        let span = self.span_s().min(length_s);
        let from_s = self.from_s.clamp(0.0, length_s - span);
        Self { from_s, to_s: from_s + span }
    }

    /// Instants for marks, at most about `most` of them, on round numbers; and how far apart they are, s.
    pub fn marks(&self, most: usize) -> (Vec<f64>, f64) {
        const STEPS_S: [f64; 18] = [
            0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0,
            600.0, 1800.0,
        ];
        let wanted = self.span_s() / most.max(1) as f64;
        let step_s = STEPS_S
            .into_iter()
            .find(|step| *step >= wanted)
            .unwrap_or_else(|| (wanted / 3600.0).ceil() * 3600.0);
        let first = (self.from_s / step_s).ceil().max(0.0) as u64;
        let last = (self.to_s / step_s).floor().max(0.0) as u64;
        ((first..=last).map(|k| k as f64 * step_s).collect(), step_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn marks_stand_on_round_numbers() {
        let axis = TimeAxis { from_s: 61.0, to_s: 122.0 };
        assert_eq!(axis.marks(8), (vec![70.0, 80.0, 90.0, 100.0, 110.0, 120.0], 10.0));
        assert_eq!(TimeAxis { from_s: 0.0, to_s: 0.06 }.marks(6).1, 0.01);
    }

    #[test]
    fn an_instant_out_of_view_is_brought_into_it() {
        let axis = TimeAxis { from_s: 0.0, to_s: 10.0 };
        assert_eq!(axis.showing(5.0, 100.0), axis);
        assert_eq!(axis.showing(50.0, 100.0), TimeAxis { from_s: 49.0, to_s: 59.0 });
        assert_eq!(axis.showing(100.0, 100.0), TimeAxis { from_s: 90.0, to_s: 100.0 });
    }

    proptest! {
        #[test]
        fn what_the_pointer_is_on_stays_under_it(from in 0.0..90.0f64, span in 0.1..100.0f64, part in 0.0..1.0f64, factor in 0.1..10.0f64) {
            let axis = TimeAxis { from_s: from, to_s: from + span }.inside(100.0);
            let around = axis.at(part);
            let zoomed = axis.zoomed(factor, around, 100.0);
            prop_assert!(zoomed.from_s >= 0.0 && zoomed.to_s <= 100.0 + 1e-9 && zoomed.span_s() > 0.0);
            // Unless an end of the scene came in the way.
            if zoomed.from_s > 1e-9 && zoomed.to_s < 100.0 - 1e-9 {
                prop_assert!((zoomed.part(around) - part).abs() < 1e-6);
            }
            prop_assert!((axis.moved(0.3, 100.0).span_s() - axis.span_s()).abs() < 1e-9);
            prop_assert!(axis.marks(10).0.len() <= 11);
        }
    }
}
