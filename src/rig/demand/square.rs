//! The inverse of a small square matrix on the stack.

use crate::rig::kinematics::MAX_AXES;

pub(super) type Square = [[f64; MAX_AXES]; MAX_AXES];

/// The inverse of the first `n` rows and columns by Gauss and Jordan with pivots; `None` when it is singular to working
/// precision. Two by two is written out: most rigs are.
pub(super) fn inverse(a: &Square, n: usize) -> Option<Square> {
    let largest = a.iter().flatten().fold(0.0_f64, |most, value| most.max(value.abs()));
    let mut out: Square = [[0.0; MAX_AXES]; MAX_AXES];
    if n == 2 {
        let determinant = a[0][0] * a[1][1] - a[0][1] * a[1][0];
        if determinant.abs().partial_cmp(&(1e-13 * largest * largest)) != Some(std::cmp::Ordering::Greater) {
            return None;
        }
        let scale = 1.0 / determinant;
        out[0][0] = a[1][1] * scale;
        out[0][1] = -a[0][1] * scale;
        out[1][0] = -a[1][0] * scale;
        out[1][1] = a[0][0] * scale;
        return Some(out);
    }
    let mut a = *a;
    for (k, row) in out.iter_mut().enumerate().take(n) {
        row[k] = 1.0;
    }
    for column in 0..n {
        let pivot = (column..n).max_by(|&i, &j| a[i][column].abs().total_cmp(&a[j][column].abs()))?;
        if a[pivot][column].abs().partial_cmp(&(1e-13 * largest)) != Some(std::cmp::Ordering::Greater) {
            return None;
        }
        a.swap(column, pivot);
        out.swap(column, pivot);
        let scale = 1.0 / a[column][column];
        a[column].iter_mut().chain(&mut out[column]).for_each(|value| *value *= scale);
        let (head, tail) = (a[column], out[column]);
        for row in (0..n).filter(|row| *row != column) {
            let factor = a[row][column];
            if factor != 0.0 {
                a[row].iter_mut().zip(&head).for_each(|(value, head)| *value -= factor * head);
                out[row].iter_mut().zip(&tail).for_each(|(value, tail)| *value -= factor * tail);
            }
        }
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_singular_one_has_none() {
        let mut flat: Square = [[0.0; MAX_AXES]; MAX_AXES];
        (flat[0][0], flat[0][1], flat[1][0], flat[1][1]) = (1.0, 2.0, 2.0, 4.0);
        assert_eq!(inverse(&flat, 2), None);
        assert_eq!(inverse(&flat, 3), None);
        assert_eq!(inverse(&[[f64::NAN; MAX_AXES]; MAX_AXES], 2), None);
    }

    proptest! {
        #[test]
        fn times_itself_is_one(values in prop::collection::vec(-1.0..1.0_f64, 36), n in 1_usize..=6) {
            let mut a: Square = [[0.0; MAX_AXES]; MAX_AXES];
            for (k, value) in values.iter().enumerate() {
                a[k / 6][k % 6] = *value + if k / 6 == k % 6 { 3.0 } else { 0.0 };
            }
            let b = inverse(&a, n).unwrap();
            for (i, row) in a.iter().enumerate().take(n) {
                for j in 0..n {
                    let sum: f64 = row.iter().zip(&b).take(n).map(|(a, b)| a * b[j]).sum();
                    let one = f64::from(u8::from(i == j));
                    prop_assert!((sum - one).abs() < 1e-12);
                }
            }
        }
    }
}
