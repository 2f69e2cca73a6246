//! Heat of a motor's winding: first order, from a stated start, once or for ever.
//!
//! tau u' = h - u, where u is the rise above ambient as a share of the rise that continuous torque makes in the end and
//! h = (T / Tc)^2 is the heating. 1 is the limit. Source: first-order motor heating, common practice in servo sizing.

use super::data_error::{DataError, positive};

/// Temperatures that a share stands for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WindingLimits {
    /// Ambient temperature that the rating is for, degC; 40 on most data sheets.
    pub ambient_degc: f64,
    /// Winding temperature at continuous torque in the end, degC.
    pub limit_degc: f64,
}

impl WindingLimits {
    /// # Errors
    /// When the limit is not above the ambient temperature.
    pub fn check(&self) -> Result<(), DataError> {
        positive("the winding's rise above ambient", self.limit_degc - self.ambient_degc, "degC")
    }

    /// Share of the permitted rise at a winding temperature. Below ambient it is negative.
    pub fn share(&self, winding_degc: f64) -> f64 {
        (winding_degc - self.ambient_degc) / (self.limit_degc - self.ambient_degc)
    }

    /// Winding temperature at a share, degC.
    pub fn degc(&self, share: f64) -> f64 {
        self.ambient_degc + share * (self.limit_degc - self.ambient_degc)
    }
}

/// A winding that warms sample by sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Winding {
    /// What is left of a rise after one sample.
    keep: f64,
    /// 1 - keep, without the loss of digits.
    take: f64,
    share: f64,
    peak: f64,
}

impl Winding {
    /// A winding with this time constant, at a share of its rise, fed every `step_s`.
    ///
    /// # Errors
    /// When the time constant or the step is impossible.
    pub fn new(time_constant_s: f64, step_s: f64, start_share: f64) -> Result<Self, DataError> {
        positive("the thermal time constant", time_constant_s, "s")?;
        positive("the time between samples", step_s, "s")?;
        let take = -libm::expm1(-step_s / time_constant_s);
        Ok(Self { keep: libm::exp(-step_s / time_constant_s), take, share: start_share, peak: start_share })
    }

    /// Adds a sample of heating (T / Tc)^2 that is held for one step: exact for such a staircase.
    pub fn push(&mut self, heating: f64) {
        self.share = self.share * self.keep + heating * self.take;
        self.peak = self.peak.max(self.share);
    }

    /// Share of the permitted rise now.
    pub fn share(&self) -> f64 {
        self.share
    }

    /// Largest share so far, the start included.
    pub fn peak(&self) -> f64 {
        self.peak
    }
}

/// What one play of a profile does to the winding, whatever it starts with: end = keep x start + add.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Play {
    /// What is left of a start share at the end, 0..1.
    pub keep: f64,
    /// Share at the end from a start at ambient.
    pub add: f64,
}

impl Play {
    /// From a play of `length_s` (more than 0) that began with `start_share` and ended with `end_share`.
    pub fn new(time_constant_s: f64, length_s: f64, start_share: f64, end_share: f64) -> Self {
        let keep = libm::exp(-length_s / time_constant_s);
        Self { keep, add: end_share - keep * start_share }
    }

    /// Share at the start of each play once it has been repeated for ever: add / (1 - keep).
    ///
    /// Its largest share comes from one more pass with a [`Winding`] that starts there.
    pub fn steady_share(&self) -> f64 {
        self.add / (1.0 - self.keep)
    }

    /// Share at the start of play `n` (0 is the first) from `start_share`: a geometric series in closed form.
    pub fn share_before(&self, n: u32, start_share: f64) -> f64 {
        let steady = self.steady_share();
        steady + libm::pow(self.keep, f64::from(n)) * (start_share - steady)
    }

    /// How many plays in a row start at `limit_share` or below; `None` for no end of them.
    pub fn plays_within(&self, limit_share: f64, start_share: f64) -> Option<u32> {
        if start_share > limit_share {
            return Some(0);
        }
        let steady = self.steady_share();
        if steady <= limit_share {
            return None;
        }
        // keep^n (start - steady) > limit - steady ends it; both differences are negative here.
        let n = libm::log((steady - limit_share) / (steady - start_share)) / libm::log(self.keep);
        Some(n.floor().min(f64::from(u32::MAX - 1)) as u32 + 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_time_constant_is_sixty_three_percent() {
        let mut winding = Winding::new(600.0, 0.5, 0.0).unwrap();
        (0..1200).for_each(|_| winding.push(1.0));
        assert!((winding.share() - 0.632_120_558_8).abs() < 1e-9, "{}", winding.share());
        assert_eq!(winding.peak(), winding.share());
        assert!(Winding::new(0.0, 0.5, 0.0).is_err());
    }

    #[test]
    fn temperatures_are_shares() {
        let limits = WindingLimits { ambient_degc: 40.0, limit_degc: 130.0 };
        assert_eq!(limits.check(), Ok(()));
        assert!((limits.share(85.0) - 0.5).abs() < 1e-15);
        assert!((limits.degc(0.5) - 85.0).abs() < 1e-12);
        assert!(WindingLimits { ambient_degc: 130.0, limit_degc: 40.0 }.check().is_err());
    }

    proptest! {
        #[test]
        fn the_closed_form_is_what_repetition_gives(
            heating in prop::collection::vec(0.0..4.0_f64, 1..50), start in 0.0..1.0_f64, tau in 0.3..30.0_f64,
        ) {
            let play_from = |start: f64| {
                let mut winding = Winding::new(tau, 0.1, start).unwrap();
                heating.iter().for_each(|h| winding.push(*h));
                winding.share()
            };
            let play = Play::new(tau, heating.len() as f64 * 0.1, start, play_from(start));
            let mut share = start;
            for n in 0..60_u32 {
                prop_assert!((share - play.share_before(n, start)).abs() < 1e-9, "play {n}");
                share = play_from(share);
            }
            let steady = play.steady_share();
            prop_assert!((play_from(steady) - steady).abs() < 1e-9);
        }

        #[test]
        fn plays_are_counted(keep in 0.2..0.99_f64, add in 0.01..1.0_f64, start in 0.0..0.9_f64) {
            let play = Play { keep, add };
            let counted = (0..5000_u32).take_while(|n| play.share_before(*n, start) <= 0.9).count();
            match play.plays_within(0.9, start) {
                Some(n) => prop_assert_eq!(n as usize, counted),
                None => prop_assert_eq!(counted, 5000),
            }
        }
    }
}
