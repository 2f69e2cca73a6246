//! The seven waveforms, each of unit amplitude.

mod hold;
mod instants;
mod noise;
mod noise_lines;
mod noise_moving;
mod noise_steady;
mod phase;
mod played;
mod pulse;
mod ring;
mod sine;
mod sweep;

pub(super) use instants::{Instants, Rows};

use super::trace::Spline;
use super::{Curve, Factor, Jet, Majorant, Order};
use std::sync::Arc;

/// A waveform of unit amplitude in time counted from its signal's start; built by the constructors, which check their
/// arguments. Cheap to clone.
#[derive(Debug, Clone, PartialEq)]
pub struct Wave(Shape);

#[derive(Debug, Clone, PartialEq)]
enum Shape {
    Sine(sine::Sine),
    Sweep(sweep::Sweep),
    Noise(Arc<noise::Noise>),
    Ring(ring::Ring),
    Pulse(pulse::Pulse),
    Hold(hold::Hold),
    Trace(played::Played),
}

/// Why a waveform cannot be built. The caller knows which argument stood where.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WaveError {
    /// A duration, width or frequency that is zero or less somewhere (or not a finite number).
    #[error("{what} must stay above zero; it reaches {reached}")]
    NotAboveZero {
        /// `frequency`, `width`, `ease`, `back`, `length`.
        what: &'static str,
        /// Smallest value, SI.
        reached: f64,
    },
    /// A frequency that is not a polynomial in time.
    #[error("{what} may only ramp as a sum and product of straight ramps, so that its phase stays exact")]
    NotPolynomial {
        /// `frequency`.
        what: &'static str,
    },
    /// A noise band of two numbers whose upper edge is not above the lower.
    #[error("the band ends at {high_hz} Hz, which is not above its start at {low_hz} Hz")]
    BandOrder {
        /// The edge that stands first, Hz.
        low_hz: f64,
        /// The edge that stands last, Hz.
        high_hz: f64,
    },
    /// A noise band whose moving edges do not keep their ratio, or are the wrong way round.
    #[error("the upper edge of the band must be a constant multiple, above 1, of the lower")]
    Band,
    /// A damping outside 0..1; 1 itself is allowed, 0 is not.
    #[error("damping must lie between 0 and 1; it is {0}")]
    Damping(f64),
    /// A hold shorter than its edges, a band too wide, a slope that is no number: words.
    #[error("{0}")]
    Length(String),
}

/// Refuses what is not above zero.
fn above_zero(what: &'static str, value: f64) -> Result<(), WaveError> {
    if value > 0.0 && value.is_finite() {
        Ok(())
    } else {
        Err(WaveError::NotAboveZero { what, reached: value })
    }
}

impl Wave {
    /// A sinusoid of `frequency` (Hz, a curve of scenario time), starting at `phase_turns`. Returns the wave and the
    /// factor that turns an amplitude of `order` into a value (1/(2 pi f)^order), `None` for `Order::Value`.
    ///
    /// # Errors
    /// When the frequency is no polynomial or not above zero over the signal.
    pub fn sine(
        frequency: &Curve,
        phase_turns: f64,
        order: Order,
        start_s: f64,
        length_s: f64,
    ) -> Result<(Self, Option<Factor>), WaveError> {
        let sine = sine::Sine::new(frequency, phase_turns, start_s, length_s)?;
        Ok((Self(Shape::Sine(sine)), phase::order_factor(frequency, order)))
    }

    /// From `from_hz` to `to_hz` over the length, equal time for each octave. The factor is as in [`Wave::sine`].
    ///
    /// # Errors
    /// When a frequency is not above zero.
    pub fn sweep(
        from_hz: f64,
        to_hz: f64,
        phase_turns: f64,
        order: Order,
        start_s: f64,
        length_s: f64,
    ) -> Result<(Self, Option<Factor>), WaveError> {
        above_zero("frequency", from_hz.min(to_hz))?;
        above_zero("frequency", from_hz.max(to_hz))?;
        if from_hz == to_hz {
            return Self::sine(&Curve::Constant(from_hz), phase_turns, order, start_s, length_s);
        }
        let sweep = sweep::Sweep::new(from_hz, to_hz, phase_turns, length_s)?;
        let factor = sweep.order_factor(order, start_s, length_s);
        Ok((Self(Shape::Sweep(sweep)), factor))
    }

    /// A seeded sum of sinusoids between `low` and `high` (Hz, curves in a constant ratio), r.m.s. 1 in `order`,
    /// spectral density as f^slope: 48 lines, 24 more for each octave (or part of one) beyond two, one at random in
    /// each equal step of log f. The factor turns the amplitude into a value where the order asks for one: the lines
    /// keep their ratios, so what is common to them is 1/(2 pi low)^order.
    ///
    /// # Errors
    /// When an edge is no polynomial, not above zero (zero at one instant is allowed for `Order::Value`), the ratio
    /// varies or the band spans more than 20 octaves.
    pub fn noise(
        low: &Curve,
        high: &Curve,
        slope: f64,
        seed: u64,
        order: Order,
        start_s: f64,
        length_s: f64,
    ) -> Result<(Self, Option<Factor>), WaveError> {
        let noise = noise::Noise::new(low, high, slope, seed, order, (start_s, length_s))?;
        Ok((Self(Shape::Noise(Arc::new(noise))), phase::order_factor(low, order)))
    }

    /// A decaying sinusoid whose largest swing in `order` is 1. Returns the wave and its own length in seconds.
    ///
    /// `frequency_hz` is the frequency at which it swings (what one counts, not the undamped one), and the envelope
    /// falls as e^(-damping 2 pi frequency t). S brings it in over the first half cycle and out over the last. It ends
    /// where the envelope has fallen to 1 %, rounded up to a whole half cycle.
    ///
    /// # Errors
    /// When the frequency is not above zero or the damping not within 0..=1 without 0 (it would never end).
    pub fn ring(frequency_hz: f64, damping: f64, order: Order) -> Result<(Self, f64), WaveError> {
        let ring = ring::Ring::new(frequency_hz, damping, order)?;
        let length_s = ring.length_s();
        Ok((Self(Shape::Ring(ring)), length_s))
    }

    /// sin^4(pi t / width), scaled so that its largest swing in `order` is 1.
    ///
    /// # Errors
    /// When the width is not above zero.
    pub fn pulse(width_s: f64, order: Order) -> Result<Self, WaveError> {
        Ok(Self(Shape::Pulse(pulse::Pulse::new(width_s, order)?)))
    }

    /// S up over `ease_s`, stay, S down over `back_s`, scaled so that its largest swing in `order` is 1.
    ///
    /// # Errors
    /// When an edge is not above zero or both do not fit into the length.
    pub fn hold(ease_s: f64, back_s: f64, length_s: f64, order: Order) -> Result<Self, WaveError> {
        Ok(Self(Shape::Hold(hold::Hold::new(ease_s, back_s, length_s, order)?)))
    }

    /// A recording, read from `from_s` on: `from_s` is a time of the recording's own time column
    /// ([`super::trace::Recording::extent_s`] says which there are). Beyond its ends the recording rests at its last
    /// value; keep the signal inside.
    pub fn trace(spline: Arc<Spline>, from_s: f64) -> Self {
        Self(Shape::Trace(played::Played { spline, from_s }))
    }

    /// Value and derivatives at scenario time `t_s` for a signal that starts at `start_s`.
    pub(super) fn jet(&self, t_s: f64, start_s: f64) -> Jet {
        match &self.0 {
            Shape::Sine(wave) => wave.jet(t_s, start_s),
            Shape::Sweep(wave) => wave.jet(t_s - start_s),
            Shape::Noise(wave) => wave.jet(t_s, start_s),
            Shape::Ring(wave) => wave.jet(t_s, start_s),
            Shape::Pulse(wave) => wave.jet(t_s - start_s),
            Shape::Hold(wave) => wave.jet(t_s - start_s),
            Shape::Trace(wave) => wave.jet(t_s - start_s),
        }
    }

    /// Writes the jets at `instants` into the first places of `rows`, which are zero.
    pub(super) fn fill(&self, instants: &Instants<'_>, rows: &mut Rows) {
        match &self.0 {
            Shape::Sine(wave) => wave.fill(instants, rows),
            Shape::Sweep(wave) => wave.fill(instants, rows),
            Shape::Noise(wave) => wave.fill(instants, rows),
            Shape::Ring(wave) => wave.fill(instants, rows),
            Shape::Pulse(wave) => instants.each_local(rows, |t| wave.jet(t)),
            Shape::Hold(wave) => wave.fill(instants, rows),
            Shape::Trace(wave) => wave.fill(instants, rows),
        }
    }

    /// Bounds over `from_s..=to_s` after the signal's start.
    pub(super) fn majorant(&self, from_s: f64, to_s: f64) -> Majorant {
        match &self.0 {
            Shape::Sine(wave) => wave.majorant(from_s, to_s),
            Shape::Sweep(wave) => wave.majorant(from_s, to_s),
            Shape::Noise(wave) => wave.majorant(from_s, to_s),
            Shape::Ring(wave) => wave.majorant(from_s, to_s),
            Shape::Pulse(wave) => wave.majorant(from_s, to_s),
            Shape::Hold(wave) => wave.majorant(from_s, to_s),
            Shape::Trace(wave) => wave.majorant(from_s, to_s),
        }
    }

    /// One over the time that its quickest edge takes, Hz, of a waveform without a band; 0 of the others.
    pub(super) fn edge_hz(&self) -> f64 {
        match &self.0 {
            Shape::Pulse(wave) => wave.edge_hz(),
            Shape::Hold(wave) => wave.edge_hz(),
            _ => 0.0,
        }
    }

    /// The lowest and highest frequency over the first `length_s` seconds, Hz.
    pub(super) fn band_hz(&self, length_s: f64) -> Option<(f64, f64)> {
        match &self.0 {
            Shape::Sine(wave) => Some(wave.band_hz(length_s)),
            Shape::Sweep(wave) => Some(wave.band_hz(length_s)),
            Shape::Noise(wave) => Some(wave.band_hz(length_s)),
            Shape::Ring(wave) => Some((wave.frequency_hz(), wave.frequency_hz())),
            Shape::Trace(wave) => Some((0.0, wave.spline.below_hz)),
            Shape::Pulse(_) | Shape::Hold(_) => None,
        }
    }
}

#[cfg(test)]
mod tests;
