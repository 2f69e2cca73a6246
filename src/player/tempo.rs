//! The clock of the path under way: how far it has been played, and at what rate (0 rests, 1 is real time).
//!
//! It never jumps and never runs backwards. On its way between rest and full rate it is jerk-limited: the change of
//! the rate follows sqrt(2 j r), r being the part of the rate still to go, so that it ends at nothing just when the
//! rate arrives (from v^2 = 2 a s, with rate for distance; from memory). In the last cycle it may be half as much more.

/// How fast a rate may change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TempoLimits {
    /// Largest change of the rate, 1/s.
    pub(super) change_per_s: f64,
    /// Largest change of that change, 1/s^2.
    pub(super) bend_per_s2: f64,
}

/// Where the clock is going.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Goal {
    /// To rest.
    Rest,
    /// To full rate.
    Run,
}

/// Position on a path in cycles, with its rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tempo {
    /// Whole cycles played.
    pub(super) frame: u64,
    /// The part of a cycle beyond, 0..1.
    pub(super) part: f64,
    /// Cycles of the path a cycle, 0..1.
    pub(super) rate: f64,
    /// Change of the rate, 1/s.
    pub(super) change_per_s: f64,
}

impl Tempo {
    /// At the beginning, at full rate.
    pub(super) const START: Self = Self { frame: 0, part: 0.0, rate: 1.0, change_per_s: 0.0 };

    /// Whether it rests.
    pub(super) fn is_at_rest(&self) -> bool {
        self.rate == 0.0
    }

    /// The change of the rate that it would like for the next cycle, 1/s.
    pub(super) fn wish(&self, goal: Goal, limits: &TempoLimits, cycle_s: f64) -> f64 {
        let (left, sign) = match goal {
            Goal::Rest => (self.rate, -1.0),
            Goal::Run => (1.0 - self.rate, 1.0),
        };
        let step = limits.bend_per_s2 * cycle_s;
        // The last step is a whole one, not the tail of the square root that never quite ends.
        if left <= step * cycle_s {
            let last = sign * left / cycle_s;
            return last.clamp(self.change_per_s - 1.5 * step, self.change_per_s + 1.5 * step);
        }
        // A cycle ahead, and with a tenth of the bend in hand: on the curve itself the change would come a cycle late,
        // stay late, and end in a jolt.
        let ahead = (left - self.change_per_s.abs() * cycle_s).max(0.0);
        let most = (2.0 * 0.9 * limits.bend_per_s2 * ahead).sqrt().min(limits.change_per_s);
        (sign * most).clamp(self.change_per_s - step, self.change_per_s + step)
    }

    /// One cycle on, the rate changing by `change_per_s` over it (cut where the rate ends at 0 or 1).
    pub(super) fn after(&self, change_per_s: f64, cycle_s: f64) -> Self {
        let wanted = self.rate + change_per_s * cycle_s;
        // Rounding must leave neither a rate that never quite rests nor one that never quite runs.
        let rate = if wanted < 1e-12 {
            0.0
        } else if wanted > 1.0 - 1e-12 {
            1.0
        } else {
            wanted
        };
        let ends = rate == 0.0 || rate == 1.0;
        let part = self.part + 0.5 * (self.rate + rate);
        let whole = part.floor();
        Self {
            frame: self.frame + whole as u64,
            part: part - whole,
            rate,
            change_per_s: if ends { 0.0 } else { change_per_s },
        }
    }

    /// Position in seconds of the path.
    pub(super) fn path_s(&self, cycle_s: f64) -> f64 {
        (self.frame as f64 + self.part) * cycle_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: TempoLimits = TempoLimits { change_per_s: 3.0, bend_per_s2: 30.0 };
    const T: f64 = 0.001;

    fn run(mut tempo: Tempo, goal: Goal, cycles: usize) -> (Tempo, Vec<Tempo>) {
        let seen: Vec<Tempo> = (0..cycles)
            .map(|_| {
                tempo = tempo.after(tempo.wish(goal, &LIMITS, T), T);
                tempo
            })
            .collect();
        (tempo, seen)
    }

    #[test]
    fn at_full_rate_it_stays_on_whole_cycles() {
        let (tempo, _) = run(Tempo::START, Goal::Run, 100_000);
        assert_eq!(tempo, Tempo { frame: 100_000, ..Tempo::START });
    }

    #[test]
    fn slows_to_rest_and_back_with_bounded_change_and_bend() {
        let (rest, slowing) = run(Tempo::START, Goal::Rest, 1000);
        assert_eq!((rest.rate, rest.change_per_s), (0.0, 0.0));
        let (full, speeding) = run(rest, Goal::Run, 1000);
        assert_eq!((full.rate, full.change_per_s), (1.0, 0.0));
        for seen in [slowing, speeding] {
            // d / v + v / a: 1 / 3 + 3 / 30 = 0.433 s, and what is kept in hand.
            let end = seen.iter().position(|t| t.rate == seen[999].rate).unwrap();
            assert!((430..=445).contains(&end), "{end}");
            for pair in seen.windows(2) {
                assert!(pair[1].change_per_s.abs() <= 3.0 + 1e-9);
                let bend = (pair[1].change_per_s - pair[0].change_per_s) / T;
                assert!(bend.abs() <= 30.0 * 1.5, "{bend}");
                assert!((pair[1].frame, pair[1].part) >= (pair[0].frame, pair[0].part));
            }
        }
    }

    #[test]
    fn turns_round_in_between() {
        for cycles in 0..450 {
            let (some, _) = run(Tempo::START, Goal::Rest, cycles);
            let (full, seen) = run(some, Goal::Run, 1200);
            assert_eq!((full.rate, full.change_per_s), (1.0, 0.0), "{cycles}");
            for pair in seen.windows(2) {
                let bend = (pair[1].change_per_s - pair[0].change_per_s) / T;
                assert!(bend.abs() <= 30.0 * 1.5 + 1e-6, "{cycles} {bend}");
            }
        }
    }
}
