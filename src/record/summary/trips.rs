//! Round trips counted to the microsecond.

/// Longer ones are not told apart, microseconds: a link that takes so long is out of the question.
const LONGEST: usize = 65_536;

/// How often what round trip was seen.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RoundTrips {
    /// One for each microsecond, as far as they were seen.
    counts: Vec<u64>,
    longer: u64,
    most_us: u64,
}

impl RoundTrips {
    /// Counts one.
    pub fn count(&mut self, us: u64) {
        self.most_us = self.most_us.max(us);
        match usize::try_from(us).ok().filter(|us| *us < LONGEST) {
            Some(us) => {
                self.counts.resize(self.counts.len().max(us + 1), 0);
                self.counts.iter_mut().skip(us).take(1).for_each(|count| *count += 1);
            }
            None => self.longer += 1,
        }
    }

    /// The longest, microseconds; `None` where there was none.
    pub fn longest_us(&self) -> Option<u64> {
        (self.total() > 0).then_some(self.most_us)
    }

    /// Of all, put in their order, the one at this share, microseconds.
    pub fn at_us(&self, share: f64) -> Option<u64> {
        let wanted = ((self.total() as f64 * share) as u64).min(self.total().checked_sub(1)?);
        let mut sum = 0;
        let found = self.counts.iter().position(|count| {
            sum += count;
            sum > wanted
        });
        Some(found.map_or(self.most_us, |us| us as u64))
    }

    fn total(&self) -> u64 {
        self.counts.iter().sum::<u64>() + self.longer
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn those_in_the_middle_are_those_of_a_sorted_list() {
        let mut trips = RoundTrips::default();
        assert_eq!((trips.at_us(0.5), trips.longest_us()), (None, None));
        for us in [900, 7, 900, 1200, 90_000_000] {
            trips.count(us);
        }
        let at = [0.0, 0.2, 0.5, 0.6, 0.8, 1.0].map(|share| trips.at_us(share).unwrap());
        assert_eq!(at, [7, 900, 900, 1200, 90_000_000, 90_000_000]);
        assert_eq!(trips.longest_us(), Some(90_000_000));
    }
}
