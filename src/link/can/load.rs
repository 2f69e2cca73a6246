//! How much of a bus a cycle takes, before it is accepted: worst-case lengths of frames, and what fits.
//!
//! A classic frame with an 11-bit identifier and n data bytes has 44 + 8 n bits and 3 between frames. The 34 + 8 n of
//! them from start to checksum are stuffed: at worst a bit after the first five, and one after every four from there,
//! floor((34 + 8 n - 1) / 4). So 55 + 10 n bits, 135 for eight bytes. Source: ISO 11898-1 for the frame; the bound is
//! that of response-time analysis of CAN (Davis, Burns, Bril, Lukkien, Real-Time Systems 35, 2007), from memory.

use crate::rig::patience_ms;

/// Share of the bus that may be used at worst: the rest is for frames that are repeated after an error, and for
/// emergencies (own choice).
pub const MOST_SHARE: f64 = 0.9;

/// Forces and inputs may be this old, microseconds (own choice: a hand that lets go is heard within it).
const MOST_AGE_US: u32 = 10_000;

/// Bits of a frame with `bytes` data bytes at worst, the pause after it included.
pub const fn worst_bits(bytes: u32) -> u32 {
    44 + 8 * bytes + 3 + (34 + 8 * bytes - 1) / 4
}

/// What a bus is to carry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Traffic {
    /// Bits a second.
    pub bit_rate: u32,
    /// How many drives.
    pub legs: u32,
    /// The rig file's detection time, s.
    pub detection_s: f64,
}

/// How a bus is used at a cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Usage {
    /// Share of the bus at worst, 1 for all of it.
    pub share: f64,
    /// Every how many cycles a drive reports forces and inputs.
    pub every: u8,
}

/// Why a cycle is not accepted.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error(
    "{legs} drives at a cycle of {cycle_ms} ms would take {percent:.0} % of {bit_rate} bit/s at worst, expected at most {most:.0} %; the shortest cycle that fits is {shortest_ms} ms: set it in [drive], or give the bus a higher bit rate"
)]
pub struct Overload {
    /// How many drives.
    pub legs: u32,
    /// The cycle, ms.
    pub cycle_ms: f64,
    /// What it would take at worst, %.
    pub percent: f64,
    /// What it may take, %.
    pub most: f64,
    /// Bits a second.
    pub bit_rate: u32,
    /// The shortest cycle that fits, ms, in steps of a tenth.
    pub shortest_ms: f64,
}

/// How often everybody says that they are alive, ms: three times in that.
pub fn beat_ms(silence_ms: u16) -> u16 {
    (silence_ms / 3).max(1)
}

/// A cycle in a time that CiA 402 can carry as interpolation period (0x60C2): a count from 1 to 255, and a power of ten
/// of seconds. `None` for others.
pub fn period(cycle_us: u32) -> Option<(u8, i8)> {
    [(1000, -3_i8), (100, -4), (10, -5), (1, -6)].into_iter().find_map(|(unit_us, power)| {
        let count = u8::try_from(cycle_us / unit_us).ok().filter(|count| *count > 0)?;
        cycle_us.is_multiple_of(unit_us).then_some((count, power))
    })
}

impl Traffic {
    /// The share of the bus at worst when a drive reports forces and inputs every so many cycles. A cycle carries the
    /// synchronisation, one order (6 bytes) and one report (7) a drive, and one question and answer about an object (8
    /// each) of one drive, for no other is asked meanwhile; a report of forces and inputs has 6 bytes, a sign of life 1.
    fn share(&self, cycle_us: u32, every: u8) -> f64 {
        let cycles = 1e6 / f64::from(cycle_us.max(1));
        let legs = f64::from(self.legs);
        let bits = |bytes| f64::from(worst_bits(bytes));
        let cyclic = bits(0) + legs * (bits(6) + bits(7)) + 2.0 * bits(8);
        let slower = legs * bits(6) / f64::from(every.max(1));
        let alive =
            (legs + 1.0) * bits(1) * 1e3 / f64::from(beat_ms(patience_ms(self.detection_s, cycle_us)));
        (cycles * (cyclic + slower) + alive) / f64::from(self.bit_rate.max(1))
    }

    /// The most frequent reports of forces and inputs that fit; the sparsest that would be allowed, where none does.
    fn best(&self, cycle_us: u32) -> Usage {
        let sparsest = u8::try_from(MOST_AGE_US / cycle_us.max(1)).unwrap_or(u8::MAX).clamp(1, 5);
        let usage = |every| Usage { share: self.share(cycle_us, every), every };
        (1..=sparsest).map(usage).find(|usage| usage.share <= MOST_SHARE).unwrap_or(usage(sparsest))
    }

    /// How the bus is used at this cycle.
    ///
    /// # Errors
    /// When it does not fit.
    pub fn usage(&self, cycle_us: u32) -> Result<Usage, Overload> {
        let usage = self.best(cycle_us);
        if usage.share <= MOST_SHARE {
            return Ok(usage);
        }
        // A tenth of a second is the longest cycle of a rig file; at 10 kbit/s twelve drives need more.
        let shortest = (1..10_000).map(|step| step * 100).find(|us| self.best(*us).share <= MOST_SHARE);
        Err(Overload {
            legs: self.legs,
            cycle_ms: f64::from(cycle_us) * 1e-3,
            percent: usage.share * 100.0,
            most: MOST_SHARE * 100.0,
            bit_rate: self.bit_rate,
            shortest_ms: shortest.map_or(f64::INFINITY, f64::from) * 1e-3,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frames_are_as_long_as_stuffing_can_make_them() {
        // By hand: 8 bytes: 44 + 64 + 3 = 111, and floor(97 / 4) = 24 stuffed bits.
        assert_eq!([0, 1, 6, 7, 8].map(worst_bits), [55, 65, 115, 125, 135]);
        // Five of the longest are 675 bits: more than a millisecond of 500 kbit/s, two thirds of one at 1 Mbit/s.
        assert_eq!(5 * worst_bits(8), 675);
    }

    #[test]
    fn a_cycle_is_weighed_as_by_hand() {
        // 2 legs, 2 ms: 55 + 2 * (115 + 125) + 270 = 805, and 2 * 115 = 230 of forces and inputs: 1035 bits. Signs of
        // life: 3 * 65 = 195 every 3 ms (detection 10 ms), 130 in 2 ms. 1165 of 2000 bits.
        let traffic = Traffic { bit_rate: 1_000_000, legs: 2, detection_s: 0.010 };
        let usage = traffic.usage(2000).unwrap();
        assert!((usage.share - 0.5825).abs() < 1e-12, "{usage:?}");
        assert_eq!(usage.every, 1);
    }

    #[test]
    fn forces_are_reported_less_often_where_they_do_not_fit_and_then_it_is_refused() {
        let half = Traffic { bit_rate: 500_000, legs: 2, detection_s: 0.2 };
        // 2 ms, life every 66 ms: 805 + 5.909 + 230 / every of 1000 bits: 89.0 % needs every third cycle.
        let usage = half.usage(2000).unwrap();
        assert_eq!(usage.every, 3);
        assert!((usage.share - (805.0 + 195.0 * 2.0 / 66.0 + 230.0 / 3.0) / 1000.0).abs() < 1e-12);
        // 1 ms: (805 + 2.955 + 230 / 5) / 500 = 170.8 %. Fits: (805 + 46) bits and little more in 0.9 * 500 kbit/s:
        // 1.9 ms with every fifth cycle: 851 + 5.6 > 855? By hand 856.6 / 950 = 90.17 %: no; 2.0 ms.
        let overload = half.usage(1000).unwrap_err();
        assert!((overload.percent - 170.79).abs() < 0.01, "{overload:?}");
        assert!((overload.shortest_ms - 2.0).abs() < 1e-12, "{overload:?}");
        let words = overload.to_string();
        assert!(words.contains("171 % of 500000 bit/s") && words.contains("2 ms"), "{words}");
    }

    #[test]
    fn periods_are_counts_of_powers_of_ten() {
        assert_eq!(period(2000), Some((2, -3)));
        assert_eq!(period(2500), Some((25, -4)));
        assert_eq!(period(100_000), Some((100, -3)));
        assert_eq!((period(1234), period(250)), (None, Some((25, -5))));
        assert_eq!(
            (patience_ms(0.0104, 2000), patience_ms(0.01, 5000), beat_ms(10), beat_ms(1)),
            (11, 15, 3, 1)
        );
    }
}
