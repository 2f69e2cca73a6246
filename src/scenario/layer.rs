//! A layer's waveform, built from its arguments.

use super::resolver::{Place, Resolver, Stop};
use super::waveform::{Bindings, Waveform};
use crate::diag::{Diagnostic, Span};
use crate::lang::tree::{Call, Channel, Expr, Value};
use crate::signal::{Curve, Factor, Order, Wave, WaveError};
use crate::units::Dimension;

/// A layer before it is placed under its factors.
pub(super) enum Built {
    /// A waveform and what turns its unit amplitude into the channel's value.
    Wave(Wave, Vec<Factor>),
    /// A sound file.
    Sound { name: String, looped: bool, level: Curve },
}

/// Damping of a `ring` that names none: language.md's table gives 0.2.
const DAMPING: f64 = 0.2;

/// Band limit of a trace that names none, Hz.
const BELOW_HZ: f64 = 10.0;

impl<'a> Resolver<'a> {
    /// The length of a waveform that has one of its own, s.
    ///
    /// # Errors
    /// Told already.
    pub(super) fn own_length(&mut self, channel: &Channel, call: &'a Call, at: Place) -> Result<f64, Stop> {
        let bindings = self.bindings(channel, call)?;
        match bindings.row.waveform {
            Waveform::Ring => Ok(whole_nanoseconds(self.ring(&bindings, call, at)?.1)),
            Waveform::Pulse => self.needed(&bindings, "width", at).map(whole_nanoseconds),
            Waveform::Trace => {
                let (file, column) = texts(&bindings)?;
                let (_, recording) = self.recording(file, column)?;
                let (first_s, last_s) = recording.extent_s();
                let from_s = self.optional(&bindings, "from", at)?.unwrap_or(0.0);
                if from_s < last_s - first_s {
                    return Ok(last_s - first_s - from_s);
                }
                let span = bindings.value("from").map_or(call.span, |value| value.span);
                let length = crate::units::show(last_s - first_s, Dimension::TIME);
                let title = format!("the recording is over by then; it lasts {length}");
                Err(self.fail(Diagnostic::error("trace", span, title)))
            }
            Waveform::File => {
                let file = bindings.text("file").ok_or(Stop::Reported)?;
                self.sound_length(file)
            }
            Waveform::Sine | Waveform::Sweep | Waveform::Noise | Waveform::Hold | Waveform::Loop => {
                Err(Stop::Reported)
            }
        }
    }

    /// Builds the waveform of a layer that lasts `length_s` from `start_s`. `seed` is for noise.
    ///
    /// # Errors
    /// Told already.
    pub(super) fn build(
        &mut self,
        channel: &Channel,
        call: &'a Call,
        at: Place,
        (start_s, length_s): (f64, f64),
        seed: u64,
    ) -> Result<Built, Stop> {
        let bindings = self.bindings(channel, call)?;
        let order = self.orders.get(&call.span).copied().ok_or(Stop::Reported)?;
        let written = bindings.amplitude().ok_or(Stop::Reported)?;
        let amplitude = self.amplitude(written, at, (start_s, length_s))?;
        let wave = match bindings.row.waveform {
            Waveform::Sine => {
                let value = bindings.value("frequency").ok_or(Stop::Reported)?;
                let frequency = self.value(value, at, false)?.curve.ok_or(Stop::Reported)?;
                // Phase is kept in turns.
                let phase = self.optional(&bindings, "phase", at)?.unwrap_or(0.0) / std::f64::consts::TAU;
                Wave::sine(&frequency, phase, order, start_s, length_s)
            }
            Waveform::Sweep => {
                let first_hz = self.needed(&bindings, "first", at)?;
                let last_hz = self.needed(&bindings, "last", at)?;
                Wave::sweep(first_hz, last_hz, 0.0, order, start_s, length_s)
            }
            Waveform::Noise => {
                let (low, high) = bindings.band().ok_or(Stop::Reported)?;
                let low = self.edge(low, at)?;
                let high = self.edge(high, at)?;
                let slope = self.optional(&bindings, "slope", at)?.unwrap_or(0.0);
                Wave::noise(&low, &high, slope, seed, order, start_s, length_s)
            }
            Waveform::Ring => Ok((self.ring(&bindings, call, at)?.0, None)),
            Waveform::Pulse => {
                let width_s = self.needed(&bindings, "width", at)?;
                Wave::pulse(width_s, order).map(|wave| (wave, None))
            }
            Waveform::Hold => {
                let ease_s = self.needed(&bindings, "ease", at)?;
                let back_s = self.optional(&bindings, "back", at)?.unwrap_or(ease_s);
                Wave::hold(ease_s, back_s, length_s, order).map(|wave| (wave, None))
            }
            Waveform::Trace => {
                let (file, column) = texts(&bindings)?;
                let below_hz = self.optional(&bindings, "below", at)?.unwrap_or(BELOW_HZ);
                let from_s = self.optional(&bindings, "from", at)?.unwrap_or(0.0);
                let (_, recording) = self.recording(file, column)?;
                let spline = self.spline(file, column, below_hz)?;
                Ok((Wave::trace(spline, recording.extent_s().0 + from_s), None))
            }
            Waveform::File | Waveform::Loop => {
                let file = bindings.text("file").ok_or(Stop::Reported)?;
                self.sound_length(file)?;
                let looped = bindings.row.waveform == Waveform::Loop;
                return Ok(Built::Sound { name: file.text.to_string(), looped, level: amplitude });
            }
        };
        let (wave, factor) = wave.map_err(|error| {
            let diagnostic = wave_error(&bindings, call.span, &error);
            self.fail(diagnostic)
        })?;
        let mut factors = vec![Factor::Gain(amplitude)];
        factors.extend(factor);
        Ok(Built::Wave(wave, factors))
    }

    /// An amplitude, level or gain as a factor over a stretch: dB become a ratio.
    ///
    /// # Errors
    /// Told already.
    pub(super) fn amplitude(
        &mut self,
        written: &'a Value,
        at: Place,
        (start_s, length_s): (f64, f64),
    ) -> Result<Curve, Stop> {
        let value = self.value(written, at, false)?;
        let curve = value.curve.ok_or(Stop::Reported)?;
        // Source: ISO 80000-1, annex C: a level is 20 log10 of an amplitude ratio.
        let curve = if value.dimension == Dimension::LEVEL { Curve::decibels(curve) } else { curve };
        let (low, high) = curve.range(start_s, start_s + length_s);
        if low.is_finite() && high.is_finite() {
            return Ok(curve);
        }
        let title = "this grows beyond all bounds while it plays";
        let diagnostic = Diagnostic::error("range", written.span, title)
            .help("a divisor in it reaches zero, or a level or power is too large");
        Err(self.fail(diagnostic))
    }

    fn ring(&mut self, bindings: &Bindings<'a>, call: &'a Call, at: Place) -> Result<(Wave, f64), Stop> {
        let order = self.orders.get(&call.span).copied().unwrap_or(Order::Value);
        let frequency_hz = self.needed(bindings, "frequency", at)?;
        let damping = self.optional(bindings, "damping", at)?.unwrap_or(DAMPING);
        // Finding its largest swing takes thousands of sines, and a scene may ring the same way a thousand times.
        let key = (frequency_hz.to_bits(), damping.to_bits(), order as u8);
        if let Some(known) = self.rings.get(&key) {
            return Ok(known.clone());
        }
        let ring = Wave::ring(frequency_hz, damping, order).map_err(|error| {
            let diagnostic = wave_error(bindings, call.span, &error);
            self.fail(diagnostic)
        })?;
        self.rings.insert(key, ring.clone());
        Ok(ring)
    }

    fn needed(&mut self, bindings: &Bindings<'a>, name: &str, at: Place) -> Result<f64, Stop> {
        self.optional(bindings, name, at)?.ok_or(Stop::Reported)
    }

    /// A constant argument; above zero where it is a time or a frequency (parameters may say otherwise only now).
    fn optional(&mut self, bindings: &Bindings<'a>, name: &str, at: Place) -> Result<Option<f64>, Stop> {
        let Some(value) = bindings.value(name) else { return Ok(None) };
        let what = format!("`{name}` of `{}`", bindings.row.name);
        let found = self.constant_value(value, at, &what)?;
        let Some(number) = found.number() else { return Ok(None) };
        let counts_from_zero = name == "from";
        let above_zero = matches!(found.dimension, Dimension::TIME | Dimension::FREQUENCY);
        if above_zero && (number < 0.0 || (number == 0.0 && !counts_from_zero)) {
            let title =
                format!("{what} must be above zero; it is {}", crate::units::show(number, found.dimension));
            return Err(self.fail(Diagnostic::error("range", value.span, title)));
        }
        Ok(Some(number))
    }

    fn edge(&mut self, expr: &'a Expr, at: Place) -> Result<Curve, Stop> {
        self.expr(expr, at, false)?.curve.ok_or(Stop::Reported)
    }
}

fn texts<'a>(
    bindings: &Bindings<'a>,
) -> Result<(&'a crate::lang::tree::Text, &'a crate::lang::tree::Text), Stop> {
    bindings.text("file").zip(bindings.text("column")).ok_or(Stop::Reported)
}

/// Upwards, so that the shape has come to rest by then; a thousandth of a nanosecond is rounding error.
fn whole_nanoseconds(length_s: f64) -> f64 {
    (length_s * 1e9 - 1e-3).ceil() / 1e9
}

fn wave_error(bindings: &Bindings<'_>, call: Span, error: &WaveError) -> Diagnostic {
    let of =
        |names: &[&str]| names.iter().find_map(|name| bindings.value(name)).map_or(call, |value| value.span);
    let title = format!("`{}`: {error}", bindings.row.name);
    match error {
        WaveError::NotAboveZero { what, reached } => {
            let dimension = match *what {
                "frequency" => Dimension::FREQUENCY,
                "damping" => Dimension::NUMBER,
                _ => Dimension::TIME,
            };
            let reached = crate::units::show(*reached, dimension);
            let title =
                format!("the {what} of `{}` must stay above zero; it reaches {reached}", bindings.row.name);
            Diagnostic::error("range", of(&[*what, "frequency", "band", "first"]), title)
        }
        WaveError::NotPolynomial { what } => {
            Diagnostic::error("varying", of(&[*what, "frequency", "band"]), title)
                .help("`ease` and quotients of ramps may stand in amplitudes, not here")
        }
        WaveError::BandOrder { low_hz, high_hz } => {
            let show = |hz: f64| crate::units::show(hz, Dimension::FREQUENCY);
            let (low, high) = (show(*low_hz), show(*high_hz));
            let title = match low_hz == high_hz {
                true => format!("the band of `{}` has no width: both edges are {low}", bindings.row.name),
                false => format!(
                    "the band of `{}` is upside down: it starts at {low} and ends at {high}",
                    bindings.row.name
                ),
            };
            let help = match low_hz == high_hz {
                true => "for one frequency alone, write `sine`".to_string(),
                false => format!("the lower edge comes first: `{high}..{low}`"),
            };
            Diagnostic::error("range", of(&["band"]), title).help(help)
        }
        WaveError::Band => Diagnostic::error("range", of(&["band"]), title)
            .help("write both edges as the same thing over a constant: `speed / 12 m..speed / 1.5 m`"),
        WaveError::Damping(_) => Diagnostic::error("range", of(&["damping"]), title)
            .help("0.05 rings long, 0.2 is a firm knock, 0.5 a dull one"),
        WaveError::Length(_) => Diagnostic::error("range", call, title),
    }
}
