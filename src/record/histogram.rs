//! Lateness in fixed classes, so that counting costs nothing and never allocates.

/// Upper edges of the classes, microseconds; one more class has no upper edge.
const EDGES_US: [u32; 15] =
    [0, 10, 20, 50, 100, 150, 200, 300, 500, 1_000, 2_000, 5_000, 10_000, 50_000, 100_000];

/// How often what lateness was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Histogram {
    counts: [u64; EDGES_US.len() + 1],
    max_us: u32,
}

impl Histogram {
    /// Counts one.
    pub fn count(&mut self, late_us: u32) {
        let class = EDGES_US.iter().position(|edge| late_us <= *edge).unwrap_or(EDGES_US.len());
        if let Some(count) = self.counts.get_mut(class) {
            *count += 1;
        }
        self.max_us = self.max_us.max(late_us);
    }

    /// How many were counted.
    pub fn total(&self) -> u64 {
        self.counts.iter().sum()
    }

    /// The largest, microseconds.
    pub fn max_us(&self) -> u32 {
        self.max_us
    }

    /// An upper bound on the lateness of a `share` (0..1) of all, microseconds: the edge of its class.
    pub fn within_us(&self, share: f64) -> u32 {
        let wanted = share * self.total() as f64;
        let mut sum = 0;
        for (count, edge) in self.counts.iter().zip(EDGES_US) {
            sum += count;
            if sum as f64 >= wanted {
                return edge.min(self.max_us);
            }
        }
        self.max_us
    }

    /// The classes that hold something: upper edge (`None` for the last), count.
    pub fn classes(&self) -> impl Iterator<Item = (Option<u32>, u64)> {
        let edges = EDGES_US.iter().map(|edge| Some(*edge)).chain([None]);
        edges.zip(self.counts).filter(|(_, count)| *count > 0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_into_classes_and_bounds_a_share() {
        let mut h = Histogram::default();
        (0..98).for_each(|_| h.count(15));
        h.count(170);
        h.count(300_000);
        assert_eq!(h.classes().collect::<Vec<_>>(), [(Some(20), 98), (Some(200), 1), (None, 1)]);
        assert_eq!((h.within_us(0.5), h.within_us(0.99), h.within_us(1.0)), (20, 200, 300_000));
        assert_eq!((h.total(), h.max_us()), (100, 300_000));
        assert_eq!(Histogram::default().within_us(0.99), 0);
    }
}
