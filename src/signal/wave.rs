//! The seven waveforms, and a signal: a waveform placed in time with its factors.

use super::{Curve, Jet, JetBlock, Majorant, trace::Spline};
use std::sync::Arc;

/// Which derivative an amplitude speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// The value itself.
    Value,
    /// Its first derivative.
    Rate,
    /// Its second derivative.
    Acceleration,
}

/// A waveform of unit amplitude; built by the constructors, which check their arguments.
/// (Fields are the signal module's own affair; this listing is a placeholder of the skeleton.)
#[derive(Debug, Clone, PartialEq)]
pub enum Wave {
    /// A placeholder.
    Hold,
}

/// Why a waveform cannot be built. The caller knows which argument stood where.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WaveError {
    /// A duration, width or frequency that is zero or less somewhere.
    #[error("{what} must stay above zero; it reaches {reached}")]
    NotAboveZero {
        /// `frequency`, `width`, `ease`, `damping`.
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
    /// A noise band whose edges do not keep their ratio, or are the wrong way round.
    #[error("the upper edge of the band must be a constant multiple, above 1, of the lower")]
    Band,
    /// A damping outside 0..1.
    #[error("damping must lie between 0 and 1; it is {0}")]
    Damping(f64),
    /// A hold shorter than its edges, or a length that is not above zero.
    #[error("{0}")]
    Length(String),
}

/// A factor that multiplies a waveform; times are scenario seconds.
#[derive(Debug, Clone, PartialEq)]
pub enum Factor {
    /// Any curve.
    Gain(Curve),
    /// S from 0 at `start_s` to 1 `length_s` later.
    Rise {
        /// Where it starts.
        start_s: f64,
        /// How long it takes; above zero.
        length_s: f64,
    },
    /// S from 1 to 0, ending at `end_s`.
    Fall {
        /// Where it ends.
        end_s: f64,
        /// How long it takes; above zero.
        length_s: f64,
    },
}

/// A waveform placed in time: zero outside `start_s..start_s + length_s`, and there with value, rate, acceleration
/// and jerk at zero at both ends when its factors say so.
#[derive(Debug, Clone, PartialEq)]
pub struct Signal {
    /// Scenario time of its start, s.
    pub start_s: f64,
    /// Its length, s.
    pub length_s: f64,
    /// Unit amplitude.
    pub wave: Wave,
    /// All multiply.
    pub factors: Vec<Factor>,
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
        let _ = (frequency, phase_turns, order, start_s, length_s);
        unimplemented!("H3")
    }

    /// From `from_hz` to `to_hz` over the length, equal time for each octave.
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
        let _ = (from_hz, to_hz, phase_turns, order, start_s, length_s);
        unimplemented!("H3")
    }

    /// A seeded sum of sinusoids between `low` and `high` (Hz, curves in a constant ratio), r.m.s. 1 in `order`,
    /// spectral density as f^slope.
    ///
    /// # Errors
    /// When an edge is no polynomial, not above zero (zero at one instant is allowed for `Order::Value`), or the ratio varies.
    pub fn noise(
        low: &Curve,
        high: &Curve,
        slope: f64,
        seed: u64,
        order: Order,
        start_s: f64,
        length_s: f64,
    ) -> Result<(Self, Option<Factor>), WaveError> {
        let _ = (low, high, slope, seed, order, start_s, length_s);
        unimplemented!("H3")
    }

    /// A decaying sinusoid whose largest swing in `order` is 1. Returns the wave and its own length in seconds.
    ///
    /// # Errors
    /// When frequency or damping is out of range.
    pub fn ring(frequency_hz: f64, damping: f64, order: Order) -> Result<(Self, f64), WaveError> {
        let _ = (frequency_hz, damping, order);
        unimplemented!("H3")
    }

    /// sin^4(pi t / width), scaled so that its largest swing in `order` is 1.
    ///
    /// # Errors
    /// When the width is not above zero.
    pub fn pulse(width_s: f64, order: Order) -> Result<Self, WaveError> {
        let _ = (width_s, order);
        unimplemented!("H3")
    }

    /// S up over `ease_s`, stay, S down over `back_s`, scaled so that its largest swing in `order` is 1.
    ///
    /// # Errors
    /// When an edge is not above zero or both do not fit into the length.
    pub fn hold(ease_s: f64, back_s: f64, length_s: f64, order: Order) -> Result<Self, WaveError> {
        let _ = (ease_s, back_s, length_s, order);
        unimplemented!("H3")
    }

    /// A recording, read from `from_s` on.
    pub fn trace(spline: Arc<Spline>, from_s: f64) -> Self {
        let _ = (spline, from_s);
        unimplemented!("H3")
    }
}

impl Signal {
    /// Value and derivatives at scenario time `t_s`.
    pub fn jet(&self, t_s: f64) -> Jet {
        let _ = t_s;
        unimplemented!("H3")
    }

    /// Adds samples `0..count` of a block to `out`: sample j is at `start_s + j * step_s` (scenario time).
    pub fn add_block(&self, start_s: f64, step_s: f64, count: usize, out: &mut JetBlock) {
        let _ = (start_s, step_s, count, out);
        unimplemented!("H3")
    }

    /// Bounds over `from_s..=to_s` (zero where the signal is silent).
    pub fn majorant(&self, from_s: f64, to_s: f64) -> Majorant {
        let _ = (from_s, to_s);
        unimplemented!("H3")
    }

    /// The lowest and highest frequency (Hz) that the waveform itself holds over the signal, where it has any
    /// (sine, sweep, noise, ring); traces give their band limit, pulses and holds `None`.
    pub fn band_hz(&self) -> Option<(f64, f64)> {
        unimplemented!("H3")
    }
}
