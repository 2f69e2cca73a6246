//! A value with its uncertainty, and how uncertainty travels through a calculation.

/// Coverage factor of reported uncertainties: about 95 % for a normal spread. Source: GUM, JCGM 100:2008, 6.2 and 6.3.3
/// (from memory).
pub const COVERAGE: f64 = 2.0;

/// A value and its standard uncertainty, in the unit that the field's name gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Standard uncertainty (one standard deviation), in the same unit.
    pub standard: f64,
}

impl Estimate {
    /// A value with a standard uncertainty.
    pub fn new(value: f64, standard: f64) -> Self {
        Self { value, standard }
    }

    /// A value that is exact.
    pub fn exact(value: f64) -> Self {
        Self { value, standard: 0.0 }
    }

    /// A value that is surely within `half_width` either way, anywhere there alike (a scale's digit, a tape's mark): the
    /// standard uncertainty is half_width / sqrt 3. Source: GUM, JCGM 100:2008, 4.3.7 (from memory).
    pub fn within(value: f64, half_width: f64) -> Self {
        Self { value, standard: half_width / 3.0_f64.sqrt() }
    }

    /// Uncertainty to report: [`COVERAGE`] times the standard one.
    pub fn expanded(self) -> f64 {
        COVERAGE * self.standard
    }

    /// Whether it is a number with a usable uncertainty.
    pub fn is_usable(self) -> bool {
        self.value.is_finite() && self.standard >= 0.0 && self.standard.is_finite()
    }
}

/// Results of `f` with their uncertainties, for inputs that are independent of each other.
///
/// u^2 = sum ((f(x + u_i) - f(x - u_i)) / 2)^2: the law of propagation with sensitivities found by calculation. Source:
/// GUM, JCGM 100:2008, 5.1.2 and the second note of 5.1.3 (from memory).
///
/// # Errors
/// Those of `f`, at the values or near them.
pub fn propagate<const N: usize, E>(
    inputs: &[Estimate],
    f: impl Fn(&[f64]) -> Result<[f64; N], E>,
) -> Result<[Estimate; N], E> {
    let mut values: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    let middle = f(&values)?;
    let mut squares = [0.0; N];
    for (k, input) in inputs.iter().enumerate().filter(|(_, input)| input.standard > 0.0) {
        let mut at = |value: f64| {
            if let Some(slot) = values.get_mut(k) {
                *slot = value;
            }
            f(&values)
        };
        let (up, down) = (at(input.value + input.standard)?, at(input.value - input.standard)?);
        at(input.value)?;
        for (square, (up, down)) in squares.iter_mut().zip(up.iter().zip(down)) {
            let half = (up - down) / 2.0;
            *square += half * half;
        }
    }
    let mut results = middle.map(Estimate::exact);
    results.iter_mut().zip(squares).for_each(|(result, square)| result.standard = square.sqrt());
    Ok(results)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A product by hand: 3 +- 0.1 times 4 +- 0.2: sqrt(0.4^2 + 0.6^2) = 0.72111; a sum: sqrt(0.05).
    #[test]
    fn uncertainty_travels_as_by_hand() {
        let inputs = [Estimate::new(3.0, 0.1), Estimate::new(4.0, 0.2)];
        let [product, sum] = propagate(&inputs, |x| Ok::<_, ()>([x[0] * x[1], x[0] + x[1]])).unwrap();
        assert_eq!(product.value, 12.0);
        assert!((product.standard - 0.721_11).abs() < 1e-5);
        assert!((sum.standard - 0.05_f64.sqrt()).abs() < 1e-12);
        assert!((sum.expanded() - 2.0 * 0.05_f64.sqrt()).abs() < 1e-12);
        assert!((Estimate::within(1.0, 0.5).standard - 0.288_675).abs() < 1e-6);
        assert!(!Estimate::new(1.0, -0.1).is_usable() && !Estimate::exact(f64::NAN).is_usable());
    }
}
