//! Short decimal numbers, read quickly.

/// The value of a sign or none and at most 15 digits with a point among them or none, which nearly all numbers in files
/// are; `None` for anything else, which a library may still read. The digits and the power of ten are both exact, so the
/// one division rounds correctly (IEEE 754-2019, 5.4.1).
#[inline]
pub fn decimal(written: &str) -> Option<f64> {
    const POWERS: [f64; 16] =
        [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];
    let unsigned = written.strip_prefix('-').unwrap_or(written);
    if unsigned.len() > 16 {
        return None;
    }
    let mut digits = 0_u64;
    let mut point = None;
    for (at, byte) in unsigned.bytes().enumerate() {
        match byte {
            b'0'..=b'9' => digits = digits * 10 + u64::from(byte - b'0'),
            b'.' if point.is_none() => point = Some(at),
            _ => return None,
        }
    }
    let count = unsigned.len() - usize::from(point.is_some());
    if !(1..=15).contains(&count) {
        return None;
    }
    let decimals = point.map_or(0, |at| unsigned.len() - at - 1);
    let size = digits as f64 / POWERS.get(decimals)?;
    Some(if unsigned.len() < written.len() { -size } else { size })
}

#[cfg(test)]
mod tests {
    use super::decimal;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn short_numbers_are_the_nearest_ones(written in "-?[0-9]{1,9}(\\.[0-9]{0,6})?") {
            let library: f64 = written.parse().unwrap();
            prop_assert_eq!(decimal(&written).map(f64::to_bits), Some(library.to_bits()));
        }

        #[test]
        fn nothing_is_read_that_the_library_reads_otherwise(written in "[-+.0-9eE_ ]{0,18}") {
            if let Some(value) = decimal(&written) {
                prop_assert_eq!(written.parse(), Ok(value));
            }
        }
    }

    #[test]
    fn long_ones_and_exponents_are_left_to_the_library() {
        for written in
            ["1e3", "1234567890123456", "0.1234567890123456", "", "-", ".", "-.", "+1", "1.2.3", "--1"]
        {
            assert_eq!(decimal(written), None, "{written}");
        }
        assert_eq!(decimal("0.30000000000000"), Some(0.3));
        assert_eq!(decimal("-0.0").map(f64::to_bits), Some((-0.0_f64).to_bits()));
    }
}
