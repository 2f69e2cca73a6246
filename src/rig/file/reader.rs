//! Values with places out of TOML tables, and a diagnostic for each that is not what it should be.

use super::keys::Key;
use crate::diag::{Diagnostic, SourceId, Span, nearest};
use crate::units::{Dimension, Quantity, QuantityError, quantity, show, show_in};
use nalgebra::Vector3;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A value and where it stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Placed<T> {
    pub(super) value: T,
    pub(super) span: Span,
}

/// A table of the file with the words that name it in messages.
#[derive(Debug, Clone)]
pub(super) struct Section<'t> {
    table: &'t DeTable<'t>,
    /// `[payload]`, `actuator `left``.
    pub(super) label: String,
    pub(super) span: Span,
    keys: &'static [Key],
}

/// Which values a quantity may have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Want {
    pub(super) dimension: Dimension,
    pub(super) low: f64,
    pub(super) high: f64,
    /// Whether `low` itself is allowed.
    pub(super) low_allowed: bool,
}

impl Want {
    /// From `low` to `high`, both allowed.
    pub(super) const fn within(dimension: Dimension, low: f64, high: f64) -> Self {
        Self { dimension, low, high, low_allowed: true }
    }

    /// Above zero, up to `high`.
    pub(super) const fn above_zero(dimension: Dimension, high: f64) -> Self {
        Self { dimension, low: 0.0, high, low_allowed: false }
    }
}

/// Collects diagnostics while values are read.
#[derive(Debug)]
pub(super) struct Reader {
    source: SourceId,
    pub(super) diagnostics: Vec<Diagnostic>,
}

type Value<'t> = Spanned<DeValue<'t>>;

/// What a TOML value is, in words.
fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) | DeValue::Float(_) => "a bare number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

impl Reader {
    pub(super) fn new(source: SourceId) -> Self {
        Self { source, diagnostics: Vec::new() }
    }

    pub(super) fn span(&self, range: Range<usize>) -> Span {
        Span::new(self.source, range.start, range.end)
    }

    pub(super) fn push(&mut self, diagnostic: Diagnostic) {
        self.diagnostics.push(diagnostic);
    }

    /// A table whose keys are all known; unknown ones are reported.
    pub(super) fn section<'t>(
        &mut self,
        table: &'t DeTable<'t>,
        range: Range<usize>,
        label: impl Into<String>,
        keys: &'static [Key],
    ) -> Section<'t> {
        let section = Section { table, label: label.into(), span: self.span(range), keys };
        for (found, _) in table {
            let (word, span) = (found.get_ref().as_ref(), self.span(found.span()));
            if keys.iter().any(|key| key.name == word) {
                continue;
            }
            let title = format!("{} has no key `{}`", section.label, clip(word));
            let diagnostic = Diagnostic::error("rig-key", span, title);
            let known: Vec<_> = keys.iter().map(|key| format!("`{}`", key.name)).collect();
            self.push(match nearest(word, keys.iter().map(|key| key.name)) {
                Some(near) => diagnostic.help(format!("did you mean `{near}`?")).fix(
                    format!("use `{near}`"),
                    span,
                    near,
                ),
                None => diagnostic.help(format!("known here: {}", known.join(", "))),
            });
        }
        section
    }

    /// The table under a value, or a report that it is none.
    pub(super) fn table<'t>(
        &mut self,
        value: &'t Value<'t>,
        label: impl Into<String>,
        keys: &'static [Key],
        example: &str,
    ) -> Option<Section<'t>> {
        match value.get_ref() {
            DeValue::Table(table) => Some(self.section(table, value.span(), label, keys)),
            other => {
                self.wrong_kind(value, &label.into(), "a table", kind(other), example);
                None
            }
        }
    }

    /// A table that was read before: its keys are not looked at again.
    pub(super) fn quiet_table<'t>(
        &mut self,
        value: &'t Value<'t>,
        label: impl Into<String>,
        keys: &'static [Key],
    ) -> Option<Section<'t>> {
        let DeValue::Table(table) = value.get_ref() else { return None };
        Some(Section { table, label: label.into(), span: self.span(value.span()), keys })
    }

    /// A list of two.
    pub(super) fn pair<'t>(
        &mut self,
        value: &'t Value<'t>,
        name: &str,
        example: &str,
    ) -> Option<[&'t Value<'t>; 2]> {
        if let DeValue::Array(list) = value.get_ref() {
            let entries: &'t [Value<'t>] = list;
            if let [first, second] = entries {
                return Some([first, second]);
            }
        }
        let found = kind(value.get_ref());
        self.wrong_kind(value, &format!("a point of `{name}`"), "a list of two", found, example);
        None
    }

    fn wrong_kind(&mut self, value: &Value<'_>, what: &str, wanted: &str, found: &str, example: &str) {
        let title = format!("{what} is {found} here; it must be {wanted}");
        let span = self.span(value.span());
        self.push(Diagnostic::error("rig-value", span, title).help(format!("such as `{example}`")));
    }

    /// A key that must be there.
    pub(super) fn required<'t>(&mut self, section: &Section<'t>, name: &str) -> Option<&'t Value<'t>> {
        let found = section.table.get(name);
        if found.is_none() && !section.misspells(name) {
            let title = format!("{} has no `{name}`", section.label);
            let example = section.example(name);
            let help = if example.trim_matches(['[', ']']) == name {
                format!("add a table under the header `{example}`")
            } else {
                format!("add a line such as `{name} = {example}`")
            };
            self.push(Diagnostic::error("rig-missing-value", section.span, title).help(help));
        }
        found
    }

    /// A text that must be there.
    pub(super) fn text<'t>(&mut self, section: &Section<'t>, name: &str) -> Option<Placed<&'t str>> {
        let value = self.required(section, name)?;
        self.as_text(value, name, section.example(name))
    }

    /// A value that must be a text.
    pub(super) fn as_text<'t>(
        &mut self,
        value: &'t Value<'t>,
        name: &str,
        example: &str,
    ) -> Option<Placed<&'t str>> {
        match value.get_ref() {
            DeValue::String(text) => Some(Placed { value: text.as_ref(), span: self.span(value.span()) }),
            other => {
                self.wrong_kind(
                    value,
                    &format!("`{name}`"),
                    "a text in quotes",
                    kind(other),
                    &assign(name, example),
                );
                None
            }
        }
    }

    /// A list of exactly `count` entries, or of any number of them.
    pub(super) fn list<'t>(
        &mut self,
        section: &Section<'t>,
        name: &str,
        count: Option<usize>,
    ) -> Option<(&'t [Value<'t>], Span)> {
        let value = self.required(section, name)?;
        let example = assign(name, section.example(name));
        match value.get_ref() {
            DeValue::Array(list) if count.is_none_or(|count| list.len() == count) => {
                let entries: &'t [Value<'t>] = list;
                Some((entries, self.span(value.span())))
            }
            DeValue::Array(list) => {
                let wanted = format!("a list of {}", count.unwrap_or(0));
                self.wrong_kind(
                    value,
                    &format!("`{name}`"),
                    &wanted,
                    &format!("a list of {}", list.len()),
                    &example,
                );
                None
            }
            other => {
                self.wrong_kind(value, &format!("`{name}`"), "a list", kind(other), &example);
                None
            }
        }
    }

    /// A whole number from zero without a unit, within a range.
    pub(super) fn count(&mut self, section: &Section<'_>, name: &str, range: Range<u32>) -> Option<u32> {
        let number = self.whole(section, name, range.start.into()..range.end.into())?;
        u32::try_from(number).ok()
    }

    /// A whole number without a unit, within a range.
    pub(super) fn whole(&mut self, section: &Section<'_>, name: &str, range: Range<i64>) -> Option<i64> {
        let value = self.required(section, name)?;
        let DeValue::Integer(number) = value.get_ref() else {
            let example = assign(name, section.example(name));
            let (what, found) = (format!("`{name}`"), kind(value.get_ref()));
            self.wrong_kind(value, &what, "a whole number without quotes", found, &example);
            return None;
        };
        let number = i64::from_str_radix(number.as_str(), number.radix()).ok();
        let number = number.filter(|number| range.contains(number));
        if number.is_none() {
            let title = format!("`{name}` must be from {} to {}", range.start, range.end - 1);
            self.push(Diagnostic::error("rig-range", self.span(value.span()), title));
        }
        number
    }

    /// A quantity that must be there.
    pub(super) fn quantity(&mut self, section: &Section<'_>, name: &str, want: Want) -> Option<Placed<f64>> {
        let value = self.required(section, name)?;
        self.as_quantity(value, name, section.example(name), want)
    }

    /// A quantity that may be absent.
    pub(super) fn optional(&mut self, section: &Section<'_>, name: &str, want: Want) -> Option<Placed<f64>> {
        let value = section.table.get(name)?;
        self.as_quantity(value, name, section.example(name), want)
    }

    /// A value that must be a quantity within what is wanted.
    pub(super) fn as_quantity(
        &mut self,
        value: &Value<'_>,
        name: &str,
        example: &str,
        want: Want,
    ) -> Option<Placed<f64>> {
        let found = self.any_quantity(value, name, example)?;
        if found.value.dimension != want.dimension {
            let wanted = want.dimension.to_string();
            self.wrong_dimension(
                value,
                name,
                example,
                found.value.dimension,
                (&wanted, Some(want.dimension)),
            );
            return None;
        }
        self.ranged(Placed { value: found.value.value_si, span: found.span }, name, want)
    }

    /// A value that must be a quantity of some dimension.
    pub(super) fn any_quantity(
        &mut self,
        value: &Value<'_>,
        name: &str,
        example: &str,
    ) -> Option<Placed<Quantity>> {
        let span = self.span(value.span());
        let line = assign(name, example);
        let DeValue::String(text) = value.get_ref() else {
            let found = kind(value.get_ref());
            self.wrong_kind(value, &format!("`{name}`"), "a number with its unit, in quotes", found, &line);
            let number = match value.get_ref() {
                DeValue::Integer(number) if number.radix() == 10 => Some(number.as_str()),
                DeValue::Float(number) => Some(number.as_str()),
                _ => None,
            };
            let fixed = number.map(|number| format!("{number} {}", unit_of(example)));
            if let (Some(fixed), Some(last)) =
                (fixed.filter(|fixed| quantity(fixed).is_ok()), self.diagnostics.last_mut())
            {
                *last = last.clone().fix(format!("use `\"{fixed}\"`"), span, format!("\"{fixed}\""));
            }
            return None;
        };
        match quantity(text) {
            Ok(value) => Some(Placed { value, span }),
            Err(error) => {
                let mut diagnostic =
                    Diagnostic::error("rig-value", span, format!("`{name}`: {}", clip_error(&error)));
                if let QuantityError::Unit(crate::units::UnitError::Unknown { symbol, nearest: Some(near) }) =
                    &error
                {
                    let corrected = text.replacen(symbol.as_str(), near, 1);
                    diagnostic = diagnostic.fix(format!("use `{near}`"), span, format!("\"{corrected}\""));
                }
                self.push(diagnostic.help(format!("such as `{line}`")));
                None
            }
        }
    }

    /// Reports a quantity of the wrong dimension, with both sides and, where the slip is plain, what to write.
    pub(super) fn wrong_dimension(
        &mut self,
        value: &Value<'_>,
        name: &str,
        example: &str,
        found: Dimension,
        (wanted, dimension): (&str, Option<Dimension>),
    ) {
        let span = self.span(value.span());
        let text = value.get_ref().as_str().unwrap_or_default().trim();
        let title = format!(
            "`{name}` must be {}; `{}` is {}",
            article(wanted),
            clip(text),
            article(&found.to_string())
        );
        let mut diagnostic = Diagnostic::error("rig-dimension", span, title);
        let fixed = if found == Dimension::NUMBER && !text.contains('%') {
            Some(format!("{text} {}", unit_of(example)))
        } else {
            dimension.and_then(|dimension| per_second(text, found, dimension))
        };
        if let Some(fixed) = fixed.filter(|fixed| quantity(fixed).is_ok()) {
            diagnostic = diagnostic.fix(format!("use `{fixed}`"), span, format!("\"{fixed}\""));
        }
        self.push(diagnostic.help(format!("such as `{}`", assign(name, example))));
    }

    /// Reports a value outside what is wanted.
    pub(super) fn ranged(&mut self, found: Placed<f64>, name: &str, want: Want) -> Option<Placed<f64>> {
        let above = if want.low_allowed { found.value >= want.low } else { found.value > want.low };
        if above && found.value <= want.high {
            return Some(found);
        }
        let from = shown(want.low, want.dimension);
        let low = if want.low_allowed { format!("at least {from}") } else { format!("above {from}") };
        let title = format!(
            "`{name}` is {}; it must be {low} and at most {}",
            shown(found.value, want.dimension),
            shown(want.high, want.dimension)
        );
        self.push(Diagnostic::error("rig-range", found.span, title));
        None
    }

    /// A point: three lengths.
    pub(super) fn point(
        &mut self,
        section: &Section<'_>,
        name: &str,
        want: Want,
    ) -> Option<Placed<Vector3<f64>>> {
        let (entries, span) = self.list(section, name, Some(3))?;
        let words = ["x", "y", "z"].map(|axis| format!("{name} {axis}"));
        let mut read = [None; 3];
        for ((slot, entry), word) in read.iter_mut().zip(entries).zip(&words) {
            *slot = self.as_quantity(entry, word, "\"0.40 m\"", want).map(|placed| placed.value);
        }
        let [Some(x), Some(y), Some(z)] = read else { return None };
        Some(Placed { value: Vector3::new(x, y, z), span })
    }
}

impl<'t> Section<'t> {
    /// A key's value, if it is there.
    pub(super) fn get(&self, name: &str) -> Option<&'t Value<'t>> {
        self.table.get(name)
    }

    /// Every key that is there, with its range of bytes.
    pub(super) fn found(&self) -> impl Iterator<Item = (&'t str, Range<usize>)> + use<'t> {
        self.table.iter().map(|(key, _)| (key.get_ref().as_ref(), key.span()))
    }

    /// Whether an unknown key of the table is near enough to `name` to be meant: then it is reported as that.
    fn misspells(&self, name: &str) -> bool {
        let known = |word: &str| self.keys.iter().any(|key| key.name == word);
        self.found().any(|(word, _)| {
            !known(word) && nearest(word, self.keys.iter().map(|key| key.name)) == Some(name)
        })
    }

    /// What could stand after a key.
    pub(super) fn example(&self, name: &str) -> &'static str {
        self.keys.iter().find(|key| key.name == name).map_or("", |key| key.example)
    }
}

/// `mass = "130 kg"`, or for an entry of a list (`base x`) the value alone.
fn assign(name: &str, example: &str) -> String {
    if name.contains(' ') { example.to_string() } else { format!("{name} = {example}") }
}

/// A value as rig files write it: times in ms, plain numbers (shares) in %.
pub(super) fn shown(value_si: f64, dimension: Dimension) -> String {
    match dimension {
        Dimension::TIME => show_in(value_si, "ms", 1e-3),
        Dimension::NUMBER => show_in(value_si, "%", 1e-2),
        other => show(value_si, other),
    }
}

/// The unit of an example: `mm/s` of `"250 mm/s"`.
fn unit_of(example: &str) -> &str {
    let start = example.find(|c: char| c.is_ascii_alphabetic() || c == '%').unwrap_or(example.len());
    example.get(start..).and_then(|rest| rest.split('"').next()).unwrap_or_default()
}

/// `250 mm` where a speed belongs: the same with `/s`, when the powers of time are all that differs.
fn per_second(text: &str, found: Dimension, wanted: Dimension) -> Option<String> {
    if (Dimension { time: wanted.time, ..found }) != wanted || found.time > 0 {
        return None;
    }
    let stem = match found.time {
        0 => text,
        -1 => text.strip_suffix("/s")?,
        time => text.strip_suffix(&format!("/s^{}", -time))?,
    };
    Some(match wanted.time {
        0 => stem.to_string(),
        -1 => format!("{stem}/s"),
        time if time < 0 => format!("{stem}/s^{}", -time),
        _ => return None,
    })
}

/// `a length (m)`, `an angle (rad)`, `a plain number`.
fn article(words: &str) -> String {
    match words.chars().next() {
        _ if words.starts_with("a ") => words.to_string(),
        Some('a' | 'e' | 'i' | 'o' | 'u') => format!("an {words}"),
        _ => format!("a {words}"),
    }
}

/// A word from the file, short enough for a message.
pub(super) fn clip(text: &str) -> String {
    const MOST: usize = 40;
    let plain: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).take(MOST).collect();
    if text.chars().count() > MOST { format!("{plain}…") } else { plain }
}

fn clip_error(error: &QuantityError) -> String {
    let words = error.to_string();
    if words.chars().count() > 120 { "this is not a number with a unit".to_string() } else { words }
}
