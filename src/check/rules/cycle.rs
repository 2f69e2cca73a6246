//! A drive cycle that the check cannot line its samples up with.

use crate::diag::Rule;
use crate::rig::Drive;
use crate::time::SampleRate;

pub(crate) const RULE: Rule = Rule { slug: "drive-cycle", text: TEXT };

const TEXT: &str = "\
What it checks: a whole number of samples, at a rate of at most 20 kHz, fits into the drive's cycle.

Why it matters: the drive's own curve runs through its set-points; to bound it, the check must look exactly there.

Example: `cycle = \"1.37 ms\"`.

Write instead: the cycle that your link really runs at: 1 ms, 2 ms, 4 ms.
";

/// Most samples a second that a check takes.
const FASTEST_HZ: u32 = 20_000;

/// The lowest rate, at least `wanted`, of which a whole number of samples fits into the drive's cycle, and that number.
pub(in crate::check) fn check_rate(drive: &Drive, wanted: SampleRate) -> Option<(SampleRate, u64)> {
    let whole = 1_000_000 / gcd(1_000_000, drive.cycle_us.max(1));
    let hz = wanted.hz().div_ceil(whole).checked_mul(whole)?;
    // Where a faster rate was asked for, the next one that fits is taken if it is near.
    if hz > FASTEST_HZ.max(wanted.hz()) && whole > FASTEST_HZ {
        return None;
    }
    let steps = u64::from(hz) * u64::from(drive.cycle_us) / 1_000_000;
    Some((SampleRate::new(hz)?, steps.max(1)))
}

fn gcd(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::Interpolation;

    #[test]
    fn samples_line_up_with_the_cycle() {
        let drive = |cycle_us| Drive {
            cycle_us,
            interpolation: Interpolation::Cubic,
            delay_s: 0.0,
            detection_s: 0.0,
            link_s: 0.0,
            bandwidth_hz: 20.0,
            counts_per_turn: 10_000,
        };
        let rate =
            |cycle_us| check_rate(&drive(cycle_us), SampleRate::new(1000).unwrap()).map(|(r, m)| (r.hz(), m));
        assert_eq!(rate(2000), Some((1000, 2)));
        assert_eq!(rate(1000), Some((1000, 1)));
        assert_eq!(rate(2500), Some((1200, 3)));
        assert_eq!(rate(500), Some((2000, 1)));
        assert_eq!(rate(3000), Some((1000, 3)));
        assert_eq!(rate(1371), None);
    }
}
