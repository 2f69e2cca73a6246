//! The highest humps of a reading that was sampled coarsely: where a closer look is worth its time.

/// Humps that are remembered for one reading, at most.
const MOST: usize = 24;
/// A hump that comes this near the highest may hide the furthest of all.
const NEAR: f64 = 0.95;

/// A sample that is higher than its neighbours.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Hump {
    /// How high it may be beside the sample: a parabola through three samples rises by at most an eighth of their
    /// second difference above the middle one.
    used: f64,
    index: u64,
}

/// Whether two neighbours differ by rounding alone: a stretch that begins or ends level has no hump there.
fn is_level(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * b.abs()
}

/// The highest humps of one reading, and the slope that it left off on.
#[derive(Debug, Clone)]
pub(super) struct Humps {
    /// Highest first, the earlier first of equals.
    best: Vec<Hump>,
    /// What is lower than this is not near the highest.
    least: f64,
    before: f64,
    now: Option<(u64, f64)>,
}

impl Humps {
    /// None yet.
    pub(super) fn new() -> Self {
        Self { best: Vec::new(), least: 0.0, before: f64::NEG_INFINITY, now: None }
    }

    /// Takes the next sample.
    #[inline]
    pub(super) fn push(&mut self, index: u64, used: f64) {
        if let Some((at, now)) = self.now {
            let second = 2.0 * now - self.before - used;
            let beside = now + if second.is_finite() { second / 8.0 } else { 0.0 };
            let is_first = self.before == f64::NEG_INFINITY;
            // Height is asked first: a processor foresees that hardly anything is high, and cannot foresee humps.
            if beside >= self.least && now >= self.before && now > used && !(is_first && is_level(now, used))
            {
                self.keep(Hump { used: beside, index: at });
            }
            self.before = now;
        }
        self.now = Some((index, used));
    }

    /// Ends a stretch: what rose to its last sample is a hump.
    pub(super) fn pause(&mut self) {
        if let Some((index, used)) = self.now.take()
            && used >= self.before
            && !is_level(self.before, used)
        {
            self.keep(Hump { used, index });
        }
        self.before = f64::NEG_INFINITY;
    }

    /// Adds the humps of a later stretch.
    pub(super) fn merge(&mut self, later: &Self) {
        later.best.iter().for_each(|hump| self.keep(*hump));
    }

    /// Where the humps are that may hold the highest.
    pub(super) fn near(&self) -> impl Iterator<Item = u64> {
        self.best.iter().take_while(|hump| hump.used >= self.least).map(|hump| hump.index)
    }

    fn keep(&mut self, hump: Hump) {
        let full = self.best.len() == MOST;
        let is_low = hump.used < self.least || hump.used <= 0.0;
        if is_low || full && self.best.last().is_some_and(|last| last.used >= hump.used) {
            return;
        }
        if full {
            self.best.pop();
        }
        let place = self.best.partition_point(|other| other.used >= hump.used);
        self.best.insert(place, hump);
        self.least = self.least.max(NEAR * hump.used);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn humps(values: &[f64]) -> Humps {
        let mut humps = Humps::new();
        values.iter().enumerate().for_each(|(index, value)| humps.push(index as u64, *value));
        humps.pause();
        humps
    }

    #[test]
    fn the_highest_are_found_with_what_may_stand_beside_them() {
        // Both tops are 1; the first lies between its samples, the second on one.
        let first = [-1.5, -0.5, 0.5, 1.5].map(|k: f64| libm::cos(k * 0.5));
        let second = [-1.0, 0.0, 1.0].map(|k: f64| libm::cos(k * 0.5));
        let found = humps(&[first.as_slice(), &[0.1], &second, &[0.0]].concat());
        assert_eq!(found.near().collect::<Vec<_>>(), [6, 2]);
        assert!(found.best[1].used > 0.995, "{:?}", found.best);
    }

    #[test]
    fn ends_and_plateaus_count_once_and_low_ones_do_not() {
        assert_eq!(humps(&[1.0, 0.5, 0.98]).near().collect::<Vec<_>>(), [0, 2]);
        assert_eq!(humps(&[0.2, 1.0, 1.0, 1.0, 0.2]).near().collect::<Vec<_>>(), [3]);
        assert_eq!(humps(&[0.2, 0.9, 0.2, 1.0, 0.2]).near().collect::<Vec<_>>(), [3]);
        assert_eq!(humps(&[0.0, 0.0, 0.0]).near().count(), 0);
        // What is level but for rounding, cut out of a longer level stretch.
        assert_eq!(humps(&[1.0, 1.0 - 1e-12, 1.0]).near().count(), 0);
        assert_eq!(humps(&[]).near().count(), 0);
    }

    #[test]
    fn what_is_kept_is_bounded_and_the_highest_stay() {
        let comb: Vec<f64> =
            (0..400).map(|k| if k % 2 == 1 { 1.0 + f64::from(k) * 1e-6 } else { 0.0 }).collect();
        let whole = humps(&comb);
        assert_eq!(whole.best.len(), MOST);
        let mut parts = Humps::new();
        for from in [0, 100, 200, 300] {
            let mut part = Humps::new();
            (from..from + 100).for_each(|k| part.push(k as u64, comb[k]));
            part.pause();
            parts.merge(&part);
        }
        // The last sample of all has nothing after it that could tell of more.
        assert_eq!((whole.near().next(), parts.near().next()), (Some(397), Some(397)));
        assert_eq!(parts.best.len(), MOST);
    }
}
