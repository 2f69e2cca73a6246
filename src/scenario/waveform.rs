//! The waveforms' parameters, and what fits them: kinds, dimensions, channels.

use super::advice;
use super::arguments::Wanted;
use super::resolver::{Place, Resolver, Stop};
use super::value::Val;
use crate::diag::{Diagnostic, nearest};
use crate::lang::tree::{Arg, ArgValue, Call, Channel, Expr, Group, Line, Text, Value, ValueKind};
use crate::signal::Order;
use crate::units::Dimension;

/// The waveforms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Waveform {
    Sine,
    Sweep,
    Noise,
    Ring,
    Pulse,
    Hold,
    Trace,
    File,
    Loop,
}

/// What a parameter of a waveform takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// In a unit of the channel, or a level; may vary.
    Amplitude,
    /// Hz; may vary.
    Frequency,
    /// Hz, constant, above zero.
    FixedFrequency,
    /// `a..b` in Hz; may vary.
    Band,
    /// Constant.
    Angle,
    /// Constant.
    Number,
    /// Constant, above zero.
    Time,
    /// Constant, zero or later.
    Instant,
    /// In quotes.
    Text,
}

/// A parameter of a waveform.
pub(super) struct Parameter {
    name: &'static str,
    kind: Kind,
    required: bool,
}

/// A waveform's row.
pub(super) struct Row {
    pub(super) waveform: Waveform,
    pub(super) name: &'static str,
    pub(super) params: &'static [Parameter],
    /// Lasts as long as what it stands in.
    pub(super) open: bool,
    /// Rises and falls by default.
    pub(super) edges: bool,
}

const fn must(name: &'static str, kind: Kind) -> Parameter {
    Parameter { name, kind, required: true }
}

const fn may(name: &'static str, kind: Kind) -> Parameter {
    Parameter { name, kind, required: false }
}

const AMPLITUDE: Parameter = must("amplitude", Kind::Amplitude);

/// Every waveform.
pub(super) const ROWS: &[Row] = &[
    Row {
        waveform: Waveform::Sine,
        name: "sine",
        params: &[AMPLITUDE, must("frequency", Kind::Frequency), may("phase", Kind::Angle)],
        open: true,
        edges: true,
    },
    Row {
        waveform: Waveform::Sweep,
        name: "sweep",
        params: &[AMPLITUDE, must("first", Kind::FixedFrequency), must("last", Kind::FixedFrequency)],
        open: true,
        edges: true,
    },
    Row {
        waveform: Waveform::Noise,
        name: "noise",
        params: &[AMPLITUDE, must("band", Kind::Band), may("slope", Kind::Number)],
        open: true,
        edges: true,
    },
    Row {
        waveform: Waveform::Ring,
        name: "ring",
        params: &[AMPLITUDE, must("frequency", Kind::FixedFrequency), may("damping", Kind::Number)],
        open: false,
        edges: false,
    },
    Row {
        waveform: Waveform::Pulse,
        name: "pulse",
        params: &[AMPLITUDE, must("width", Kind::Time)],
        open: false,
        edges: false,
    },
    Row {
        waveform: Waveform::Hold,
        name: "hold",
        params: &[AMPLITUDE, must("ease", Kind::Time), may("back", Kind::Time)],
        open: true,
        edges: false,
    },
    Row {
        waveform: Waveform::Trace,
        name: "trace",
        params: &[
            AMPLITUDE,
            must("file", Kind::Text),
            must("column", Kind::Text),
            may("from", Kind::Instant),
            may("below", Kind::FixedFrequency),
        ],
        open: false,
        edges: true,
    },
    Row {
        waveform: Waveform::File,
        name: "file",
        params: &[must("file", Kind::Text), must("level", Kind::Amplitude)],
        open: false,
        edges: false,
    },
    Row {
        waveform: Waveform::Loop,
        name: "loop",
        params: &[must("file", Kind::Text), must("level", Kind::Amplitude)],
        open: true,
        edges: false,
    },
];

/// The waveform of this name.
pub(super) fn row(name: &str) -> Option<&'static Row> {
    ROWS.iter().find(|row| row.name == name)
}

/// Whether a line is heard or felt as vibration and does not move the platform.
pub(super) fn is_audio(line: Line) -> bool {
    matches!(line, Line::Sound | Line::Shaker)
}

/// The dimensions that a line's value, rate and acceleration have.
pub(super) fn dimensions(line: Line) -> [Dimension; 3] {
    match line {
        Line::Pitch | Line::Roll | Line::Yaw => {
            [Dimension::ANGLE, Dimension::ANGULAR_RATE, Dimension::ANGULAR_ACCELERATION]
        }
        _ => [Dimension::LENGTH, Dimension::SPEED, Dimension::ACCELERATION],
    }
}

/// The order of which an amplitude of this dimension speaks on this line.
pub(super) fn order(line: Line, dimension: Dimension) -> Option<Order> {
    if is_audio(line) {
        let level = dimension == Dimension::NUMBER || dimension == Dimension::LEVEL;
        return level.then_some(Order::Value);
    }
    let at = dimensions(line).iter().position(|known| *known == dimension)?;
    [Order::Value, Order::Rate, Order::Acceleration].get(at).copied()
}

/// A layer's call with its arguments in their places.
pub(super) struct Bindings<'a> {
    pub(super) row: &'static Row,
    args: Vec<Option<&'a Arg>>,
}

impl<'a> Bindings<'a> {
    fn arg(&self, name: &str) -> Option<&'a Arg> {
        let at = self.row.params.iter().position(|param| param.name == name)?;
        self.args.get(at).copied().flatten()
    }

    /// The value given to a parameter.
    pub(super) fn value(&self, name: &str) -> Option<&'a Value> {
        match &self.arg(name)?.value {
            ArgValue::Value(value) => Some(value),
            ArgValue::Text(_) => None,
        }
    }

    /// The text given to a parameter.
    pub(super) fn text(&self, name: &str) -> Option<&'a Text> {
        match &self.arg(name)?.value {
            ArgValue::Text(text) => Some(text),
            ArgValue::Value(_) => None,
        }
    }

    /// The two ends given to a band.
    pub(super) fn band(&self) -> Option<(&'a Expr, &'a Expr)> {
        match &self.value("band")?.kind {
            ValueKind::Range(ends) => Some((&ends[0], &ends[1])),
            _ => None,
        }
    }

    /// The amplitude or level.
    pub(super) fn amplitude(&self) -> Option<&'a Value> {
        self.value("amplitude").or_else(|| self.value("level"))
    }
}

impl<'a> Resolver<'a> {
    /// A layer's waveform and arguments.
    ///
    /// # Errors
    /// All mistakes of the call, told already.
    pub(super) fn bindings(&mut self, channel: &Channel, call: &'a Call) -> Result<Bindings<'a>, Stop> {
        let name = &call.name.text;
        let Some(row) = row(name) else {
            let title = format!("there is no waveform `{name}`");
            let mut diagnostic = Diagnostic::error("unknown-waveform", call.name.span, title);
            if self.program.cue(name).is_some() {
                let before = crate::diag::Span { end: call.name.span.start, ..channel.span };
                diagnostic = diagnostic.help("this is a cue, and a cue brings its own channels").fix(
                    "leave the channel out",
                    before,
                    "",
                );
            } else if let Some(near) = nearest(name, ROWS.iter().map(|row| row.name)) {
                let title = format!("write `{near}`");
                diagnostic =
                    diagnostic.help(format!("did you mean `{near}`?")).fix(title, call.name.span, near);
            } else {
                let names: Vec<_> = ROWS.iter().map(|row| row.name).collect();
                diagnostic = diagnostic.help(format!("the waveforms are {}", names.join(", ")));
            }
            return Err(self.fail(diagnostic));
        };
        let wanted: Vec<_> =
            row.params.iter().map(|param| Wanted { name: param.name, required: param.required }).collect();
        let args = self.bind(call, &wanted)?;
        Ok(Bindings { row, args })
    }

    /// Reviews a layer: waveform, channel, kinds and dimensions of all arguments.
    ///
    /// # Errors
    /// All mistakes of the layer, told already.
    pub(super) fn review_layer(&mut self, channel: &Channel, call: &'a Call, at: Place) -> Result<(), Stop> {
        let bindings = match self.bindings(channel, call) {
            Ok(bindings) => bindings,
            Err(stop) => {
                for arg in &call.args {
                    if let ArgValue::Value(Value {
                        kind: ValueKind::Single(_) | ValueKind::Ramp(..), ..
                    }) = &arg.value
                    {
                        self.review_lone(arg, at);
                    }
                }
                return Err(stop);
            }
        };
        let mut wrong = None;
        if matches!(bindings.row.waveform, Waveform::File | Waveform::Loop) && !is_audio(channel.line) {
            let title = format!("`{}` plays on `sound` and `shaker` only", call.name.text);
            wrong = Some(self.fail(Diagnostic::error("argument", channel.span, title)));
        }
        for (param, arg) in bindings.row.params.iter().zip(&bindings.args) {
            let Some(arg) = arg else { continue };
            if let Err(stop) = self.review_argument(channel, call, bindings.row, param, arg, at) {
                wrong = Some(stop);
            }
        }
        wrong.map_or(Ok(()), Err)
    }

    fn review_lone(&mut self, arg: &'a Arg, at: Place) {
        if let ArgValue::Value(value) = &arg.value {
            let _ = self.value(value, at, false);
        }
    }

    fn review_argument(
        &mut self,
        channel: &Channel,
        call: &'a Call,
        row: &Row,
        param: &Parameter,
        arg: &'a Arg,
        at: Place,
    ) -> Result<(), Stop> {
        let name = format!("`{}` of `{}`", param.name, row.name);
        let value = match (&arg.value, param.kind) {
            (ArgValue::Text(_), Kind::Text) => return Ok(()),
            (ArgValue::Text(text), _) => {
                let title = format!("{name} is a value, and this is a text");
                return Err(self.fail(Diagnostic::error("argument", text.span, title)));
            }
            (ArgValue::Value(value), Kind::Text) => {
                let title = format!("{name} is a text in quotes");
                return Err(self.fail(Diagnostic::error("argument", value.span, title)));
            }
            (ArgValue::Value(value), _) => value,
        };
        let wanted = match param.kind {
            Kind::Amplitude => return self.review_amplitude(channel, call, row, value, at),
            Kind::Band => {
                let ValueKind::Range(ends) = &value.kind else {
                    let diagnostic =
                        Diagnostic::error("argument", value.span, format!("{name} is a band `a..b`"))
                            .help("write both edges: `3 Hz..9 Hz`");
                    return Err(self.fail(diagnostic));
                };
                let [low, high] = &**ends;
                let a = self.review_edge(&name, low, at);
                let b = self.review_edge(&name, high, at);
                return a.and(b).map(|_| ());
            }
            Kind::Frequency | Kind::FixedFrequency => Dimension::FREQUENCY,
            Kind::Angle => Dimension::ANGLE,
            Kind::Number => Dimension::NUMBER,
            Kind::Time | Kind::Instant => Dimension::TIME,
            Kind::Text => return Ok(()),
        };
        let found = if param.kind == Kind::Frequency {
            self.value(value, at, false)?
        } else {
            self.constant_value(value, at, &name)?
        };
        if found.dimension != wanted {
            let title = format!("{name} takes {wanted}; this is {}", found.dimension);
            let diagnostic =
                Diagnostic::error("dimension", value.span, title).label(found.dimension.to_string());
            return Err(self.fail(advice::value_toward(diagnostic, value, found.dimension, wanted)));
        }
        if found.is_instant() {
            let title = format!("{name} is a length of time, and this is an instant");
            return Err(self.fail(Diagnostic::error("label", value.span, title)));
        }
        let above_zero = matches!(param.kind, Kind::Time | Kind::Frequency | Kind::FixedFrequency);
        match found.number() {
            Some(number) if above_zero && number <= 0.0 => {
                let title =
                    format!("{name} must be above zero; it is {}", crate::units::show(number, wanted));
                Err(self.fail(Diagnostic::error("range", value.span, title)))
            }
            Some(number) if param.kind == Kind::Instant && number < 0.0 => {
                let title = format!("{name} counts from the recording's start and cannot be negative");
                Err(self.fail(Diagnostic::error("range", value.span, title)))
            }
            _ => Ok(()),
        }
    }

    fn review_edge(&mut self, name: &str, edge: &'a Expr, at: Place) -> Result<Val, Stop> {
        let found = self.expr(edge, at, false)?;
        if found.dimension == Dimension::FREQUENCY {
            return Ok(found);
        }
        let title = format!("an edge of {name} takes {}; this is {}", Dimension::FREQUENCY, found.dimension);
        let diagnostic = Diagnostic::error("dimension", edge.span, title).label(found.dimension.to_string());
        Err(self.fail(advice::toward(diagnostic, edge, found.dimension, Dimension::FREQUENCY)))
    }

    fn review_amplitude(
        &mut self,
        channel: &Channel,
        call: &'a Call,
        row: &Row,
        value: &'a Value,
        at: Place,
    ) -> Result<(), Stop> {
        let found = self.value(value, at, false)?;
        let line = channel.line.word();
        let Some(order) = order(channel.line, found.dimension).filter(|_| !found.is_instant()) else {
            let [value_is, rate_is, acceleration_is] = dimensions(channel.line);
            let (title, wanted) = if is_audio(channel.line) {
                let title = format!(
                    "`{line}` takes a level in dB or a part of full scale; this is {}",
                    found.dimension
                );
                (title, Dimension::LEVEL)
            } else {
                let title = format!(
                    "`{line}` takes {value_is}, {rate_is} or {acceleration_is}; this is {}",
                    found.dimension
                );
                (title, value_is)
            };
            let mut diagnostic = Diagnostic::error("dimension", value.span, title)
                .label(found.dimension.to_string())
                .also(channel.span, "this channel");
            if wanted == Dimension::ANGLE && found.dimension == Dimension::ACCELERATION {
                diagnostic = diagnostic.help(
                    "an acceleration is felt at the seat (`seat.*`, not understood yet); a bare axis takes the angle itself",
                );
            } else {
                diagnostic = advice::value_toward(diagnostic, value, found.dimension, wanted);
            }
            return Err(self.fail(diagnostic));
        };
        if row.waveform == Waveform::Trace && channel.group == Group::Platform && order != Order::Value {
            let title = format!(
                "a trace on `{line}` takes {}; this is {}",
                dimensions(channel.line)[0],
                found.dimension
            );
            let diagnostic = Diagnostic::error("dimension", value.span, title)
                .help("a recording of rates or accelerations belongs on `vehicle.*`, where nothing has to be integrated");
            return Err(self.fail(diagnostic));
        }
        self.orders.insert(call.span, order);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lang::words;

    #[test]
    fn the_word_list_and_the_table_agree() {
        let listed = words::WAVEFORMS.iter().map(|word| {
            let params = word.parameters.iter().map(|param| (param.name, param.default.is_none()));
            (word.name, params.collect::<Vec<_>>())
        });
        let known = ROWS.iter().map(|row| {
            let params = row.params.iter().map(|param| (param.name, param.required));
            (row.name, params.collect::<Vec<_>>())
        });
        assert_eq!(listed.collect::<Vec<_>>(), known.collect::<Vec<_>>());
    }
}
