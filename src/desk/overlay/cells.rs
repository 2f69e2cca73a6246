//! Values over the scene's time, however long: smallest and largest of each cell of time. When time outgrows the cells,
//! two become one, so that what is held is bounded and no peak is lost.

use crate::desk::traces::Extent;

/// Most cells of a row: at 4 ms each nearly nine minutes, at 32 ms more than an hour. Own choice: 1 MB a row.
pub const MOST: usize = 1 << 17;

/// Cells that are looked at as one where all of them are in view.
const GROUP: usize = 64;

/// Rows of values over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Cells {
    width_us: u64,
    most: usize,
    rows: Vec<Vec<Extent>>,
    /// Of each row, [`GROUP`] cells as one.
    groups: Vec<Vec<Extent>>,
}

impl Cells {
    /// Empty, with cells that begin as wide as `width_us`; at most `most` of them a row.
    pub fn new(rows: usize, width_us: u64, most: usize) -> Self {
        Self {
            width_us: width_us.max(1),
            most: most.max(2),
            rows: vec![Vec::new(); rows],
            groups: vec![Vec::new(); rows],
        }
    }

    /// How wide a cell is, s.
    pub fn width_s(&self) -> f64 {
        self.width_us as f64 * 1e-6
    }

    /// Puts values in at a time: one a row; what is no number is left out.
    pub fn put(&mut self, at_us: u64, values: impl Iterator<Item = f64>) {
        while at_us / self.width_us >= self.most as u64 {
            self.halve();
        }
        let at = (at_us / self.width_us) as usize;
        for ((row, groups), value) in self.rows.iter_mut().zip(&mut self.groups).zip(values) {
            let value = value as f32;
            if !value.is_finite() {
                continue;
            }
            for (list, at) in [(row, at), (groups, at / GROUP)] {
                if list.len() <= at {
                    list.resize(at + 1, Extent::NONE);
                }
                if let Some(cell) = list.get_mut(at) {
                    cell.take(Extent { low: value, high: value });
                }
            }
        }
    }

    /// Two cells become one, twice as wide.
    fn halve(&mut self) {
        let joined = |cells: &[Extent]| {
            cells.iter().fold(Extent::NONE, |mut sum, cell| {
                sum.take(*cell);
                sum
            })
        };
        for list in self.rows.iter_mut().chain(&mut self.groups) {
            *list = list.chunks(2).map(joined).collect();
        }
        self.width_us *= 2;
    }

    /// Smallest and largest of a row over `from_s..to_s`, widened to whole cells; `None` where there is nothing.
    pub fn extent(&self, row: usize, from_s: f64, to_s: f64) -> Option<Extent> {
        let (cells, groups) = (self.rows.get(row)?, self.groups.get(row)?);
        let (from, to) = (from_s.max(0.0) / self.width_s(), to_s.max(0.0) / self.width_s());
        let (mut at, to) = (from as usize, (to.ceil() as usize).max(from as usize + 1).min(cells.len()));
        let mut sum = Extent::NONE;
        while at < to {
            if at.is_multiple_of(GROUP) && to >= at + GROUP {
                sum.take(groups.get(at / GROUP).copied().unwrap_or(Extent::NONE));
                at += GROUP;
            } else {
                sum.take(cells.get(at).copied().unwrap_or(Extent::NONE));
                at += 1;
            }
        }
        (!sum.is_none()).then_some(sum)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn put(cells: &mut Cells, values: &[(u64, f64)]) {
        values.iter().for_each(|(at_us, value)| cells.put(*at_us, [*value].into_iter()));
    }

    #[test]
    fn a_cell_has_its_smallest_and_largest_and_a_gap_has_none() {
        let mut cells = Cells::new(1, 4000, MOST);
        put(&mut cells, &[(0, 1.0), (3999, -2.0), (4000, 5.0), (12_000, f64::NAN), (16_000, 7.0)]);
        let seen = |from_s: f64, to_s: f64| cells.extent(0, from_s, to_s).map(|cell| (cell.low, cell.high));
        assert_eq!(seen(0.0, 0.004), Some((-2.0, 1.0)));
        assert_eq!(seen(0.0, 0.008), Some((-2.0, 5.0)));
        assert_eq!(seen(0.005, 0.0051), Some((5.0, 5.0)), "part of a cell is that cell");
        assert_eq!(seen(0.008, 0.016), None, "nothing was played there, and what is no number is none");
        assert_eq!(seen(0.016, 1e9), Some((7.0, 7.0)));
        assert_eq!(cells.extent(1, 0.0, 1.0), None, "there is no such row");
    }

    /// Eight cells of 1 ms, and 33 ms put in: three times two become one, so each is 8 ms wide.
    #[test]
    fn longer_time_makes_wider_cells_and_loses_no_peak() {
        let mut cells = Cells::new(1, 1000, 8);
        put(&mut cells, &[(0, 0.0), (2500, 9.0), (7000, -3.0)]);
        assert_eq!(cells.width_s(), 0.001);
        put(&mut cells, &[(33_000, 4.0)]);
        assert_eq!((cells.width_s(), cells.rows[0].len()), (0.008, 5));
        let seen = |from_s: f64, to_s: f64| cells.extent(0, from_s, to_s).map(|cell| (cell.low, cell.high));
        assert_eq!(seen(0.0, 0.008), Some((-3.0, 9.0)));
        assert_eq!((seen(0.008, 0.032), seen(0.032, 0.040)), (None, Some((4.0, 4.0))));
    }

    /// A second of millisecond cells, each of its own height, halved twice on the way: over any stretch of whole cells
    /// the extent is known by hand, whether groups are used or not.
    #[test]
    fn groups_say_the_same_as_their_cells() {
        let mut cells = Cells::new(1, 1000, 512);
        (0..2000u64).for_each(|k| cells.put(k * 1000, [k as f64].into_iter()));
        assert_eq!(cells.width_s(), 0.004);
        for (from, to) in [(0, 2000), (4, 8), (252, 1028), (256, 512), (260, 1996)] {
            let seen = cells.extent(0, from as f64 * 0.001, to as f64 * 0.001).unwrap();
            assert_eq!((seen.low, seen.high), (from as f32, (to - 1) as f32), "{from} {to}");
        }
    }
}
