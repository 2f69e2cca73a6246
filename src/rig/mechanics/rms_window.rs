//! Root mean square over a sliding window of samples.
//!
//! A running sum with additions and subtractions drifts and can go below zero. Here the window is always the rest of
//! one block and the start of the next, each summed by additions only: two additions a sample, no drift.

use super::data_error::DataError;

/// Most samples in a window: ten minutes at 16 kHz, 77 MB.
pub const MOST_TICKS: u64 = 9_600_000;

/// Sliding root mean square, fed sample by sample; remembers its largest value and where that was.
#[derive(Debug, Clone, PartialEq)]
pub struct RmsWindow {
    /// Squares of the block being filled, then, from `filled` on, sums of squares from there to the last block's end.
    slots: Vec<f64>,
    filled: usize,
    sum: f64,
    /// Samples so far.
    tick: u64,
    /// Sums of squares over the window: now, and the largest so far.
    now: f64,
    peak: f64,
    peak_tick: u64,
}

impl RmsWindow {
    /// A window of `ticks` samples; before the first sample the value is taken to have been `before` all along
    /// (a rig that stands still holds its weight).
    ///
    /// # Errors
    /// When `ticks` is 0 or more than [`MOST_TICKS`].
    pub fn new(ticks: u64, before: f64) -> Result<Self, DataError> {
        let refused = DataError::Window { ticks, most: MOST_TICKS };
        let length = match usize::try_from(ticks) {
            Ok(length) if (1..=MOST_TICKS).contains(&ticks) => length,
            _ => return Err(refused),
        };
        let square = before * before;
        let slots = (0..length).map(|k| square * (length - k) as f64).collect();
        let now = square * length as f64;
        Ok(Self { slots, filled: 0, sum: 0.0, tick: 0, now, peak: now, peak_tick: 0 })
    }

    /// Adds a sample.
    pub fn push(&mut self, value: f64) {
        let square = value * value;
        self.sum += square;
        if let Some(slot) = self.slots.get_mut(self.filled) {
            *slot = square;
        }
        self.filled += 1;
        let rest = self.slots.get(self.filled).copied().unwrap_or(0.0);
        self.now = rest + self.sum;
        if self.now > self.peak {
            (self.peak, self.peak_tick) = (self.now, self.tick);
        }
        self.tick += 1;
        if self.filled == self.slots.len() {
            let mut sum = 0.0;
            for slot in self.slots.iter_mut().rev() {
                sum += *slot;
                *slot = sum;
            }
            (self.filled, self.sum) = (0, 0.0);
        }
    }

    /// The r.m.s. of the last window of samples.
    pub fn now(&self) -> f64 {
        self.mean(self.now)
    }

    /// The largest so far, what was before the first sample included.
    pub fn peak(&self) -> f64 {
        self.mean(self.peak)
    }

    fn mean(&self, squares: f64) -> f64 {
        (squares / self.slots.len() as f64).sqrt()
    }

    /// The sample (from 0) at whose end the largest was reached.
    pub fn peak_tick(&self) -> u64 {
        self.peak_tick
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn impossible_windows_are_refused() {
        assert!(RmsWindow::new(0, 0.0).is_err());
        assert!(RmsWindow::new(u64::MAX, 0.0).is_err());
    }

    #[test]
    fn silence_is_exactly_zero_after_noise() {
        let mut window = RmsWindow::new(7, 0.3).unwrap();
        (0..1000).for_each(|k| {
            window.push(1e8 / f64::from(k + 1));
        });
        (0..7).for_each(|_| {
            window.push(0.0);
        });
        assert_eq!(window.now(), 0.0);
        assert_eq!(window.peak_tick(), 6);
    }

    proptest! {
        #[test]
        fn is_the_plain_mean_of_the_last_samples(
            values in prop::collection::vec(-5.0..5.0_f64, 1..200), ticks in 1_u64..40, before in -2.0..2.0_f64,
        ) {
            let mut window = RmsWindow::new(ticks, before).unwrap();
            let mut peak = window.peak();
            for k in 0..values.len() {
                window.push(values[k]);
                let found = window.now();
                let squares = (0..ticks as usize).map(|back| k.checked_sub(back).map_or(before, |at| values[at]));
                let plain = (squares.map(|v| v * v).sum::<f64>() / ticks as f64).sqrt();
                prop_assert!((found - plain).abs() <= 1e-12 * plain.max(1e-3), "{k}: {found} {plain}");
                peak = peak.max(found);
            }
            prop_assert_eq!(window.peak(), peak);
        }
    }
}
