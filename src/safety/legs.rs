//! One number a leg, in a fixed array: what a cycle carries without allocating.

use std::ops::{Deref, DerefMut};

/// The most legs that a cycle can carry.
pub const MAX_LEGS: usize = 12;

/// The most platform coordinates: a rigid body has six.
pub const MAX_AXES: usize = 6;

/// One number for each leg of a rig (m, m/s or as the name beside it says), at most [`MAX_LEGS`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Legs {
    values: [f64; MAX_LEGS],
    count: usize,
}

impl Legs {
    /// `value` for each of `count` legs; for more than [`MAX_LEGS`] the first so many.
    pub fn filled(count: usize, value: f64) -> Self {
        Self { values: [value; MAX_LEGS], count: count.min(MAX_LEGS) }
    }

    /// What `value` gives for each of `count` legs; for more than [`MAX_LEGS`] the first so many.
    pub fn from_fn(count: usize, mut value: impl FnMut(usize) -> f64) -> Self {
        let mut legs = Self::filled(count, 0.0);
        legs.iter_mut().enumerate().for_each(|(leg, place)| *place = value(leg));
        legs
    }

    /// The numbers of a slice; `None` when it has more than [`MAX_LEGS`].
    pub fn from_slice(values: &[f64]) -> Option<Self> {
        (values.len() <= MAX_LEGS).then(|| {
            let mut legs = Self::filled(values.len(), 0.0);
            legs.copy_from_slice(values);
            legs
        })
    }
}

impl Deref for Legs {
    type Target = [f64];

    fn deref(&self) -> &[f64] {
        self.values.get(..self.count).unwrap_or(&[])
    }
}

impl DerefMut for Legs {
    fn deref_mut(&mut self) -> &mut [f64] {
        self.values.get_mut(..self.count).unwrap_or(&mut [])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn holds_as_many_as_it_was_given() {
        assert_eq!(&*Legs::from_fn(3, |leg| leg as f64), &[0.0, 1.0, 2.0]);
        assert_eq!(Legs::from_slice(&[0.0; 13]), None);
        assert_eq!(Legs::filled(99, 1.0).len(), MAX_LEGS);
    }
}
