//! Which layers sound in a stretch of time: a static tree over their starts, each node knowing its latest end.

/// Intervals sorted by start, and a binary tree over them laid out by halves.
#[derive(Debug, Clone, Default)]
pub(super) struct IntervalIndex {
    /// `(start_s, end_s, item)`, by start, then item.
    rows: Vec<(f64, f64, usize)>,
    /// Latest end in the half-open half that a node covers, by the node's middle row.
    latest_s: Vec<f64>,
}

impl IntervalIndex {
    pub(super) fn new(mut rows: Vec<(f64, f64, usize)>) -> Self {
        rows.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.2.cmp(&b.2)));
        let mut index = Self { latest_s: vec![f64::NEG_INFINITY; rows.len()], rows };
        index.fill(0, index.rows.len());
        index
    }

    /// All of them, by start.
    pub(super) fn rows(&self) -> impl Iterator<Item = (f64, f64, usize)> + '_ {
        self.rows.iter().copied()
    }

    fn fill(&mut self, from: usize, to: usize) -> f64 {
        if from >= to {
            return f64::NEG_INFINITY;
        }
        let middle = from.midpoint(to);
        let latest = self.fill(from, middle).max(self.fill(middle + 1, to)).max(self.rows[middle].1);
        self.latest_s[middle] = latest;
        latest
    }

    /// Calls `found` for every item whose interval meets `from_s..=to_s`, in the order of the starts.
    pub(super) fn each(&self, from_s: f64, to_s: f64, found: &mut impl FnMut(usize)) {
        self.visit(0, self.rows.len(), from_s, to_s, found);
    }

    fn visit(&self, from: usize, to: usize, from_s: f64, to_s: f64, found: &mut impl FnMut(usize)) {
        if from >= to {
            return;
        }
        let middle = from.midpoint(to);
        if self.latest_s[middle] < from_s {
            return;
        }
        self.visit(from, middle, from_s, to_s, found);
        let (start_s, end_s, item) = self.rows[middle];
        if start_s > to_s {
            return;
        }
        if end_s >= from_s {
            found(item);
        }
        self.visit(middle + 1, to, from_s, to_s, found);
    }

    /// Whether nothing meets `from_s..=to_s`.
    pub(super) fn is_idle(&self, from_s: f64, to_s: f64) -> bool {
        let mut idle = true;
        self.each(from_s, to_s, &mut |_| idle = false);
        idle
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn finds_what_a_plain_search_finds(
            rows in prop::collection::vec((0.0..100.0f64, 0.0..20.0f64), 0..60), from in -5.0..110.0f64, length in 0.0..30.0f64,
        ) {
            let rows: Vec<_> = rows.iter().enumerate().map(|(k, (start, length))| (*start, start + length, k)).collect();
            let mut plain: Vec<_> =
                rows.iter().filter(|(s, e, _)| *s <= from + length && *e >= from).map(|row| row.2).collect();
            let mut found = Vec::new();
            IntervalIndex::new(rows).each(from, from + length, &mut |k| found.push(k));
            found.sort_unstable();
            plain.sort_unstable();
            prop_assert_eq!(found, plain);
        }
    }
}
