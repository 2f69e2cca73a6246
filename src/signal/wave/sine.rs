//! A sinusoid, its frequency a polynomial in time.

use super::phase::{Local, Phase, since_first};
use super::{Instants, Rows, WaveError, above_zero};
use crate::signal::lanes::{WIDTH, compose};
use crate::signal::turns::sine_cosine;
use crate::signal::{Curve, Jet, Majorant};

#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sine {
    phase: Phase,
    offset_turns: f64,
}

impl Sine {
    pub(super) fn new(
        frequency: &Curve,
        phase_turns: f64,
        start_s: f64,
        length_s: f64,
    ) -> Result<Self, WaveError> {
        above_zero("length", length_s)?;
        let phase = Phase::new(frequency, start_s)?;
        above_zero("frequency", phase.frequency_hz.extremes(0.0, length_s).0)?;
        if !phase_turns.is_finite() {
            return Err(WaveError::Length("the phase must be a finite angle".to_owned()));
        }
        Ok(Self { phase, offset_turns: phase_turns - phase_turns.round() })
    }

    pub(super) fn jet(&self, t_s: f64, start_s: f64) -> Jet {
        let turns = self.phase.turns_at(t_s, start_s).fraction(1.0, self.offset_turns);
        let (s, c) = sine_cosine(turns);
        Jet(compose([s, c, -s, -c], self.phase.angle_rates(t_s - start_s)))
    }

    pub(super) fn fill(&self, instants: &Instants<'_>, rows: &mut Rows) {
        let (first, start) = (instants.first_s(), instants.start_s);
        let base = self.phase.turns_at(first, start).fraction(1.0, self.offset_turns);
        let local = Local::about(&self.phase, first - start);
        let mut place = 0;
        for (x, count) in since_first(instants) {
            let (turns, rates) = local.at(x);
            write(turns.map(|x| x + base), &rates, place, rows);
            place += count;
        }
    }

    pub(super) fn majorant(&self, from_s: f64, to_s: f64) -> Majorant {
        self.phase.angle_majorant(from_s, to_s).compose([1.0; 5])
    }

    pub(super) fn band_hz(&self, length_s: f64) -> (f64, f64) {
        self.phase.frequency_hz.extremes(0.0, length_s)
    }
}

/// Writes the jets of sines of `turns`, whose angles have the derivatives `rates`, from `place` on. What it writes beyond
/// the instants asked for is never read.
#[inline(always)]
pub(super) fn write(turns: [f64; WIDTH], rates: &[[f64; WIDTH]; 4], place: usize, rows: &mut Rows) {
    let mut out = [[0.0; WIDTH]; 4];
    for l in 0..WIDTH {
        let (s, c) = sine_cosine(turns[l]);
        let jet = compose([s, c, -s, -c], [0.0, rates[1][l], rates[2][l], rates[3][l]]);
        out[0][l] = jet[0];
        out[1][l] = jet[1];
        out[2][l] = jet[2];
        out[3][l] = jet[3];
    }
    for (row, lane) in rows.iter_mut().zip(&out) {
        if let Some(part) = row.get_mut(place..place + WIDTH) {
            part.copy_from_slice(lane);
        }
    }
}
