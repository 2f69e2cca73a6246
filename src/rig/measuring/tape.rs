//! A leg's zero and stroke from two tape measurements, and whether its lead is right.

use super::{COVERAGE, Estimate, MeasuringError, propagate};

/// A leg at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TapeReading {
    /// Travel by the encoder and the lead in the rig file, m, from wherever the encoder counts.
    pub encoder_m: Estimate,
    /// Between the ends' centres, by tape, m.
    pub length_m: Estimate,
}

/// What two tape measurements tell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LegTape {
    /// Shorter of both lengths, m.
    pub min_m: Estimate,
    /// Longer of both lengths, m.
    pub max_m: Estimate,
    /// Stroke, m.
    pub stroke_m: Estimate,
    /// Length at which the encoder reads 0, m: the mean of both places.
    pub zero_m: Estimate,
    /// Travel by tape for travel by encoder: 1 when the lead in the file is right; negative when the encoder counts the
    /// other way.
    pub scale: Estimate,
}

/// Zero and stroke from measurements at two places, best the two ends.
///
/// # Errors
/// When both are at the same place.
pub fn leg_from_tape(one: TapeReading, other: TapeReading) -> Result<LegTape, MeasuringError> {
    let (short, long) = if one.length_m.value <= other.length_m.value { (one, other) } else { (other, one) };
    let inputs = [short.encoder_m, short.length_m, long.encoder_m, long.length_m];
    if !inputs.iter().all(|input| input.is_usable()) {
        return Err(MeasuringError::NotFinite);
    }
    let [stroke_m, zero_m, scale] = propagate(&inputs, |values| {
        let [short_encoder, short, long_encoder, long] = *values else {
            return Err(MeasuringError::NotFinite);
        };
        let turned = long_encoder - short_encoder;
        if long == short || turned == 0.0 {
            return Err(MeasuringError::NoTravel);
        }
        Ok([long - short, (short - short_encoder + long - long_encoder) / 2.0, (long - short) / turned])
    })?;
    Ok(LegTape { min_m: short.length_m, max_m: long.length_m, stroke_m, zero_m, scale })
}

impl LegTape {
    /// What to say about the lead `lead_m` of the file; `None` when tape and encoder agree within the uncertainty.
    pub fn lead_words(&self, lead_m: f64) -> Option<String> {
        if (self.scale.value - 1.0).abs() <= COVERAGE * self.scale.standard {
            return None;
        }
        let (lead_mm, fits_mm) = (lead_m * 1e3, lead_m * self.scale.value * 1e3);
        if self.scale.value < 0.0 {
            return Some(
                "the encoder counts down while the leg grows longer; turn its sense in the drive".to_string(),
            );
        }
        Some(format!(
            "by tape the leg moves {:.3} times what the encoder says: a lead of {fits_mm:.3} mm fits and the file has {lead_mm:.3} mm",
            self.scale.value
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(encoder_mm: f64, length_mm: f64) -> TapeReading {
        TapeReading {
            encoder_m: Estimate::new(encoder_mm / 1e3, 0.0),
            length_m: Estimate::new(length_mm / 1e3, 0.001),
        }
    }

    /// By hand: 431 mm at 10 mm and 731 mm at 310 mm: stroke 300 +- 1.414 mm, zero 421 +- 0.707 mm, scale 1.
    #[test]
    fn two_tapes_by_hand() {
        let leg = leg_from_tape(at(310.0, 731.0), at(10.0, 431.0)).unwrap();
        assert!((leg.stroke_m.value - 0.3).abs() < 1e-12);
        assert!((leg.stroke_m.standard - 0.001 * 2.0_f64.sqrt()).abs() < 1e-9);
        assert!((leg.zero_m.value - 0.421).abs() < 1e-12);
        assert!((leg.zero_m.standard - 0.001 / 2.0_f64.sqrt()).abs() < 1e-9);
        assert!((leg.scale.value - 1.0).abs() < 1e-12);
        assert_eq!((leg.min_m.value, leg.max_m.value), (0.431, 0.731));
        assert_eq!(leg.lead_words(0.005), None);
    }

    #[test]
    fn a_lead_ten_times_too_large_is_seen() {
        let leg = leg_from_tape(at(0.0, 431.0), at(3000.0, 731.0)).unwrap();
        let words = leg.lead_words(0.05).unwrap();
        assert_eq!(
            words,
            "by tape the leg moves 0.100 times what the encoder says: a lead of 5.000 mm fits and the file has 50.000 mm"
        );
        let turned = leg_from_tape(at(0.0, 431.0), at(-300.0, 731.0)).unwrap();
        assert!(turned.lead_words(0.005).unwrap().contains("counts down"));
    }

    #[test]
    fn the_same_place_twice_is_refused() {
        assert_eq!(leg_from_tape(at(0.0, 431.0), at(0.0, 431.0)), Err(MeasuringError::NoTravel));
        assert_eq!(leg_from_tape(at(5.0, 431.0), at(5.0, 440.0)), Err(MeasuringError::NoTravel));
    }
}
