//! Small square systems of equations on the stack.

/// A square matrix of up to six rows made ready for solving.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Factors<const N: usize> {
    /// Of two by two the inverse; else U above the diagonal.
    entries: [[f64; N]; N],
    /// L below the diagonal, reciprocals of U's diagonal on it.
    lower: [[f64; N]; N],
    /// Which row of the matrix stands in each row.
    rows: [usize; N],
}

/// Not a number is not.
fn is_regular(value: f64, scale: f64) -> bool {
    value.abs() > 1e-13 * scale
}

impl<const N: usize> Factors<N> {
    /// By elimination with pivots; `None` when it is singular to working precision. Two by two is written out: most rigs
    /// are.
    #[inline(always)]
    pub(super) fn of(mut a: [[f64; N]; N]) -> Option<Self> {
        let mut rows = [0; N];
        rows.iter_mut().enumerate().for_each(|(k, row)| *row = k);
        // Column by column first: a chain of comparisons over all entries would have to wait for each.
        let larger = |a: f64, b: f64| if b > a { b } else { a };
        let mut columns = [0.0; N];
        for row in &a {
            columns.iter_mut().zip(row).for_each(|(most, value)| *most = larger(*most, value.abs()));
        }
        let largest = columns.into_iter().fold(0.0, larger);
        if N == 2 {
            let determinant = a[0][0] * a[1][1] - a[0][1] * a[1][0];
            if !is_regular(determinant, largest * largest) {
                return None;
            }
            let scale = 1.0 / determinant;
            let entries = [[a[1][1] * scale, -a[0][1] * scale], [-a[1][0] * scale, a[0][0] * scale]];
            for (row, from) in a.iter_mut().zip(entries) {
                row.iter_mut().zip(from).for_each(|(value, from)| *value = from);
            }
            return Some(Self { entries: a, lower: [[0.0; N]; N], rows });
        }
        let mut factors = Self { entries: a, lower: [[0.0; N]; N], rows };
        // One after the other by name: each then is code of its own, with lengths that are known.
        let done = factors.column::<0>(largest)
            && factors.column::<1>(largest)
            && factors.column::<2>(largest)
            && factors.column::<3>(largest)
            && factors.column::<4>(largest)
            && factors.column::<5>(largest);
        done.then_some(factors)
    }

    /// Clears column `C` below the diagonal; false when nothing in it can be divided by. Nothing to do beyond the last.
    #[inline(always)]
    fn column<const C: usize>(&mut self, largest: f64) -> bool {
        let (a, lower) = (&mut self.entries, &mut self.lower);
        if C >= N {
            return true;
        }
        let (mut pivot, mut most) = (C, a[C][C].abs());
        for (row, line) in a.iter().enumerate().skip(C + 1) {
            if line[C].abs() > most {
                (pivot, most) = (row, line[C].abs());
            }
        }
        if !is_regular(most, largest) {
            return false;
        }
        if pivot != C {
            a.swap(C, pivot);
            lower.swap(C, pivot);
            self.rows.swap(C, pivot);
        }
        let (head, scale) = (a[C], 1.0 / a[C][C]);
        lower[C][C] = scale;
        for row in C + 1..N {
            let factor = a[row][C] * scale;
            for k in C + 1..N {
                a[row][k] -= factor * head[k];
            }
            lower[row][C] = factor;
        }
        true
    }

    /// x of A x = b for two right sides at once, side by side.
    #[inline(always)]
    pub(super) fn solve(&self, b: &[[f64; 2]; N]) -> [[f64; 2]; N] {
        let (a, lower, mut x) = (&self.entries, &self.lower, [[0.0; 2]; N]);
        if N == 2 {
            for (x, row) in x.iter_mut().zip(a) {
                for (x, (first, second)) in x.iter_mut().zip(b[0].iter().zip(&b[1])) {
                    *x = row[0] * first + row[1] * second;
                }
            }
            return x;
        }
        let less = |sum: [f64; 2], by: f64, of: [f64; 2]| [sum[0] - by * of[0], sum[1] - by * of[1]];
        for i in 0..N {
            x[i] = (0..i).fold(b[self.rows[i]], |sum, k| less(sum, lower[i][k], x[k]));
        }
        for i in (0..N).rev() {
            let sum = (i + 1..N).fold(x[i], |sum, k| less(sum, a[i][k], x[k]));
            x[i] = sum.map(|sum| sum * lower[i][i]);
        }
        x
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_singular_one_has_none() {
        assert_eq!(Factors::of([[1.0, 2.0], [2.0, 4.0]]), None);
        assert_eq!(Factors::of([[1.0, 2.0, 0.0], [2.0, 4.0, 0.0], [0.0, 0.0, 1.0]]), None);
        assert_eq!(Factors::of([[f64::NAN; 2]; 2]), None);
        assert_eq!(Factors::of([[f64::NAN; 3]; 3]), None);
        assert_eq!(Factors::of([[0.0]]), None);
    }

    /// The first pivot is zero: rows must change places.
    #[test]
    fn rows_change_places() {
        let factors = Factors::of([[0.0, 1.0, 0.0], [0.0, 0.0, 2.0], [4.0, 0.0, 0.0]]).unwrap();
        let found = factors.solve(&[[1.0, 10.0], [2.0, 20.0], [8.0, 80.0]]);
        assert_eq!(found, [[2.0, 20.0], [1.0, 10.0], [1.0, 10.0]]);
    }

    fn solves<const N: usize>(values: &[f64]) -> Result<(), TestCaseError> {
        let mut a = [[0.0; N]; N];
        for (k, value) in values.iter().enumerate().take(N * N) {
            a[k / N][k % N] = *value + if k / N == k % N { 3.0 } else { 0.0 };
        }
        let mut b = [[0.0; 2]; N];
        b.iter_mut().zip(values).for_each(|(b, value)| *b = [*value * 7.0, 1.0 - *value]);
        let x = Factors::of(a).unwrap().solve(&b);
        for (row, b) in a.iter().zip(b) {
            for side in 0..2 {
                let sum: f64 = row.iter().zip(x).map(|(a, x)| a * x[side]).sum();
                prop_assert!((sum - b[side]).abs() < 1e-12, "{sum} {b:?}");
            }
        }
        Ok(())
    }

    proptest! {
        #[test]
        fn what_is_solved_fits(values in prop::collection::vec(-1.0..1.0_f64, 36)) {
            solves::<1>(&values)?;
            solves::<2>(&values)?;
            solves::<3>(&values)?;
            solves::<4>(&values)?;
            solves::<5>(&values)?;
            solves::<6>(&values)?;
        }
    }
}
