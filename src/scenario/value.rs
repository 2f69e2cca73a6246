//! Values with dimensions, and their arithmetic. Knows nothing of names or places.

use super::limit;
use crate::lang::tree::Operator;
use crate::signal::Curve;
use crate::units::Dimension;

/// What an expression stands for.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Val {
    /// What it measures.
    pub(super) dimension: Dimension,
    /// How many instants of the scene are added up in it: a label is 1, a difference of two labels 0. Not a number
    /// when it cannot be known before the scene is dated.
    pub(super) instants: f64,
    /// Its value, SI; `None` while definitions are reviewed and parameters have no value yet.
    pub(super) curve: Option<Curve>,
    /// How many terms it holds.
    pub(super) size: u32,
}

/// Why two values do not go together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Misfit {
    /// `+` and `-` of different dimensions.
    Dimension,
    /// Levels add to levels only.
    Level,
    /// Temperatures take no arithmetic.
    Temperature,
    /// Labels are instants: they can be shifted and subtracted, nothing else.
    Instant,
    /// An exponent beyond any physics.
    Exponent,
    /// A result that is not finite.
    TooLarge,
    /// A divisor that is zero.
    Zero,
    /// More terms than a value may have.
    TooLong,
}

impl Val {
    /// A constant.
    pub(super) fn constant(value_si: f64, dimension: Dimension) -> Self {
        Self::curve(Curve::Constant(value_si), dimension)
    }

    /// A curve of one term.
    pub(super) fn curve(curve: Curve, dimension: Dimension) -> Self {
        Self { dimension, instants: 0.0, curve: Some(curve), size: 1 }
    }

    /// A value that is not known yet.
    pub(super) fn unknown(dimension: Dimension) -> Self {
        Self { dimension, instants: 0.0, curve: None, size: 1 }
    }

    /// An instant of the scene; its absolute time where it is known.
    pub(super) fn instant(at_s: Option<f64>) -> Self {
        let curve = at_s.map(Curve::Constant);
        Self { dimension: Dimension::TIME, instants: 1.0, curve, size: 1 }
    }

    /// The number, where it is known and does not vary.
    pub(super) fn number(&self) -> Option<f64> {
        self.curve.as_ref().and_then(Curve::constant)
    }

    /// Whether it is an instant and no length of time, as far as is known.
    pub(super) fn is_instant(&self) -> bool {
        self.instants != 0.0 && !self.instants.is_nan()
    }

    fn alone(&self) -> Option<Misfit> {
        if self.dimension.temperature != 0 {
            Some(Misfit::Temperature)
        } else if self.dimension.level != 0 {
            Some(Misfit::Level)
        } else {
            None
        }
    }

    fn checked(self) -> Result<Self, Misfit> {
        if self.size > limit::VALUE_SIZE && self.curve.is_some() && self.number().is_none() {
            return Err(Misfit::TooLong);
        }
        match self.number() {
            Some(number) if !number.is_finite() => Err(Misfit::TooLarge),
            Some(_) => Ok(Self { size: 1, ..self }),
            None => Ok(self),
        }
    }
}

/// `a operator b`.
pub(super) fn binary(operator: Operator, a: &Val, b: &Val) -> Result<Val, Misfit> {
    let size = a.size.saturating_add(b.size).saturating_add(1);
    let both = a.curve.clone().zip(b.curve.clone());
    match operator {
        Operator::Add | Operator::Subtract => {
            if a.dimension.temperature != 0 || b.dimension.temperature != 0 {
                return Err(Misfit::Temperature);
            }
            if a.dimension != b.dimension {
                let level = a.dimension.level != 0 || b.dimension.level != 0;
                return Err(if level { Misfit::Level } else { Misfit::Dimension });
            }
            let sign = if operator == Operator::Add { 1.0 } else { -1.0 };
            let curve = both.map(|(a, b)| Curve::sum(a, Curve::product(Curve::Constant(sign), b)));
            Val { dimension: a.dimension, instants: a.instants + sign * b.instants, curve, size }.checked()
        }
        Operator::Multiply => {
            if let Some(misfit) = a.alone().or(b.alone()) {
                return Err(misfit);
            }
            let dimension = a.dimension.times(b.dimension).ok_or(Misfit::Exponent)?;
            let instants = scaled(a, b, false)? + scaled(b, a, false)?;
            Val { dimension, instants, curve: both.map(|(a, b)| Curve::product(a, b)), size }.checked()
        }
        Operator::Divide => {
            if let Some(misfit) = a.alone().or(b.alone()) {
                return Err(misfit);
            }
            if b.number() == Some(0.0) {
                return Err(Misfit::Zero);
            }
            if b.is_instant() {
                return Err(Misfit::Instant);
            }
            let dimension = a.dimension.over(b.dimension).ok_or(Misfit::Exponent)?;
            let instants = scaled(a, b, true)?;
            Val { dimension, instants, curve: both.map(|(a, b)| Curve::quotient(a, b)), size }.checked()
        }
    }
}

/// How many instants `a` holds after it was scaled by `by`: the middle of two labels is `(a + b) / 2`.
fn scaled(a: &Val, by: &Val, inverse: bool) -> Result<f64, Misfit> {
    if a.instants == 0.0 {
        return Ok(0.0);
    }
    if by.dimension != Dimension::NUMBER || by.is_instant() {
        return Err(Misfit::Instant);
    }
    match (by.number(), by.curve.is_some()) {
        (Some(by), _) if inverse => Ok(a.instants / by),
        (Some(by), _) => Ok(a.instants * by),
        (None, true) => Err(Misfit::Instant),
        (None, false) => Ok(f64::NAN),
    }
}

/// `-a`
pub(super) fn negative(a: &Val) -> Val {
    let curve = a.curve.clone().map(|a| Curve::product(Curve::Constant(-1.0), a));
    Val { dimension: a.dimension, instants: -a.instants, curve, size: a.size }
}

/// `a ^ exponent`
pub(super) fn power(a: &Val, exponent: i32) -> Result<Val, Misfit> {
    if let Some(misfit) = a.alone() {
        return Err(misfit);
    }
    if a.is_instant() {
        return Err(Misfit::Instant);
    }
    if exponent.abs() > limit::POWER {
        return Err(Misfit::Exponent);
    }
    if exponent < 0 && a.number() == Some(0.0) {
        return Err(Misfit::Zero);
    }
    let dimension = a.dimension.to_power(exponent).ok_or(Misfit::Exponent)?;
    let curve = a.curve.clone().map(|a| Curve::power(a, exponent));
    Val { dimension, instants: 0.0, curve, size: a.size.saturating_add(1) }.checked()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seconds(value: f64) -> Val {
        Val::constant(value, Dimension::TIME)
    }

    #[test]
    fn lengths_of_time_and_instants_differ() {
        let a = Val::instant(Some(3.0));
        let b = Val::instant(Some(7.0));
        let shifted = binary(Operator::Add, &a, &seconds(2.0)).unwrap();
        assert_eq!((shifted.instants, shifted.number()), (1.0, Some(5.0)));
        let between = binary(Operator::Subtract, &b, &a).unwrap();
        assert_eq!((between.instants, between.number()), (0.0, Some(4.0)));
        let both = binary(Operator::Add, &a, &b).unwrap();
        let middle = binary(Operator::Divide, &both, &Val::constant(2.0, Dimension::NUMBER)).unwrap();
        assert_eq!((middle.instants, middle.number()), (1.0, Some(5.0)));
        assert_eq!(binary(Operator::Multiply, &a, &seconds(2.0)), Err(Misfit::Instant));
    }

    #[test]
    fn levels_add_to_levels_only() {
        let level = Val::constant(-10.0, Dimension::LEVEL);
        assert_eq!(binary(Operator::Add, &level, &level).unwrap().number(), Some(-20.0));
        let number = Val::constant(2.0, Dimension::NUMBER);
        assert_eq!(binary(Operator::Multiply, &level, &number), Err(Misfit::Level));
        assert_eq!(binary(Operator::Add, &number, &level), Err(Misfit::Level));
        let warm = Val::constant(20.0, Dimension::TEMPERATURE);
        assert_eq!(binary(Operator::Add, &warm, &warm), Err(Misfit::Temperature));
    }

    #[test]
    fn dimensions_follow_the_arithmetic() {
        let speed = Val::constant(30.0, Dimension::SPEED);
        let length = Val::constant(1.5, Dimension::LENGTH);
        let frequency = binary(Operator::Divide, &speed, &length).unwrap();
        assert_eq!((frequency.dimension, frequency.number()), (Dimension::FREQUENCY, Some(20.0)));
        assert_eq!(binary(Operator::Add, &speed, &length), Err(Misfit::Dimension));
        assert_eq!(power(&length, 2).unwrap().number(), Some(2.25));
        assert_eq!(power(&Val::constant(0.0, Dimension::LENGTH), -1), Err(Misfit::Zero));
        let huge = Val::constant(1e300, Dimension::LENGTH);
        assert_eq!(binary(Operator::Multiply, &huge, &huge), Err(Misfit::TooLarge));
    }
}
