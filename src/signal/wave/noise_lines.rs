//! Drawing the lines of a noise: where they lie, how strong they are, how they start.

use crate::signal::{Order, SplitMix64};

/// Lines are kept in groups of this many, so that the tables of one fit the nearest cache.
pub(super) const GROUP: usize = 24;

/// Some lines, side by side.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Group {
    /// Frequency over the lower edge.
    pub(super) ratio: [f64; GROUP],
    /// Phase at the start.
    pub(super) offset_turns: [f64; GROUP],
    /// Amplitude times ratio^k, k = 0..3.
    pub(super) weight: [[f64; GROUP]; 4],
}

/// How many lines a band of `ratio` has: 48, and 24 for each octave beyond two, a part of one counted whole (a ratio
/// within rounding of whole octaves does not start another).
fn count(ratio: f64) -> usize {
    let beyond = (libm::log2(ratio) - 2.0 - 1e-9).ceil().max(0.0);
    48 + 24 * beyond as usize
}

/// Draws the lines of a band from 1 to `ratio`.
///
/// Line i of n lies at ratio^((i + u) / n) with u uniform in 0..1; so a step of log f holds power in proportion to f
/// times the density, f^(slope + 1). Amplitudes a make the sum of a^2 / 2 one in `order`; as values they are smaller by
/// ratio^order (what is common, 1/(2 pi low)^order, is the caller's factor). Each line draws its place, then its phase.
pub(super) fn draw(ratio: f64, slope: f64, seed: u64, order: Order) -> Vec<Group> {
    let count = count(ratio);
    let mut random = SplitMix64(seed);
    let span = libm::log(ratio);
    let drawn: Vec<(f64, f64)> = (0..count)
        .map(|i| {
            let log = span * (i as f64 + random.next_unit()) / count as f64;
            (log, random.next_unit())
        })
        .collect();
    // Relative to the strongest line, so that no slope overflows.
    let strongest = if slope + 1.0 > 0.0 { drawn.last() } else { drawn.first() }.map_or(0.0, |(log, _)| *log);
    let power = |log: f64| libm::exp((slope + 1.0) * (log - strongest));
    let total: f64 = drawn.iter().map(|(log, _)| power(*log)).sum();
    let mut out = Vec::with_capacity(count / GROUP);
    for lines in drawn.chunks(GROUP) {
        let mut group = Group { ratio: [1.0; GROUP], offset_turns: [0.0; GROUP], weight: [[0.0; GROUP]; 4] };
        for (i, (log, turns)) in lines.iter().enumerate() {
            let line = libm::exp(*log);
            let mut weight = (2.0 * power(*log) / total).sqrt() / libm::pow(line, order.count() as f64);
            group.ratio[i] = line;
            group.offset_turns[i] = *turns;
            for row in &mut group.weight {
                row[i] = weight;
                weight *= line;
            }
        }
        out.push(group);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wider_band_has_more_lines() {
        let lines = [1.5, 4.0, 4.001, 8.0, 8.01, 1024.0].map(count);
        assert_eq!(lines, [48, 48, 72, 72, 96, 48 + 8 * 24]);
    }

    #[test]
    fn power_is_one_and_falls_along_the_slope_with_one_line_a_step() {
        for slope in [-4.0, -1.0, 0.0, 3.0] {
            for order in [Order::Value, Order::Rate, Order::Acceleration] {
                let groups = draw(6.0, slope, 7, order);
                let lines: Vec<(f64, f64)> = groups
                    .iter()
                    .flat_map(|g| (0..GROUP).map(|i| (g.ratio[i], g.weight[order.count()][i])))
                    .collect();
                assert_eq!(lines.len(), 72);
                let power: f64 = lines.iter().map(|(_, a)| a * a / 2.0).sum();
                assert!((power - 1.0).abs() < 1e-12);
                for (i, (ratio, a)) in lines.iter().enumerate() {
                    let place = libm::log(*ratio) / libm::log(6.0) * 72.0;
                    assert!(i as f64 <= place + 1e-9 && place < i as f64 + 1.0 + 1e-9);
                    let (first, strength) = lines[0];
                    let expected = libm::pow(ratio / first, slope + 1.0);
                    assert!((a * a / (strength * strength) / expected - 1.0).abs() < 1e-9);
                }
            }
        }
    }

    #[test]
    fn another_seed_gives_other_lines_and_a_monstrous_slope_stays_finite() {
        assert_ne!(draw(2.0, 0.0, 1, Order::Value), draw(2.0, 0.0, 2, Order::Value));
        assert_eq!(draw(2.0, 0.0, 1, Order::Value), draw(2.0, 0.0, 1, Order::Value));
        for slope in [-1e6, 1e6] {
            let groups = draw(1e6, slope, 1, Order::Value);
            assert!(groups.iter().flat_map(|g| g.weight[0]).all(f64::is_finite));
        }
    }
}
