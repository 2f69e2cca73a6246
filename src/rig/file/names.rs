//! Names, words out of a few, and lists of named tables.

use super::keys;
use super::reader::{Placed, Reader, Section, clip};
use crate::diag::{Diagnostic, Span, nearest};
use std::ops::Range;
use toml::Spanned;
use toml::de::DeValue;

/// A name that can stand in a report, a column title and a log.
pub(super) fn proper_name(reader: &mut Reader, name: Placed<&str>, most: usize) -> Option<String> {
    let text = name.value.trim();
    let length = text.chars().count();
    if length == 0 || length > most || text.chars().any(|c| c.is_control() || matches!(c, '"' | '`')) {
        let title = format!("a name has 1 to {most} characters, none of them a quote or a line end");
        reader.push(Diagnostic::error("rig-name", name.span, title));
        return None;
    }
    Some(text.to_string())
}

/// Entries of `[[actuator]]` or `[[avoid]]`; a single `[actuator]` counts as one.
fn entries<'t>(value: &'t Spanned<DeValue<'t>>) -> Vec<(&'t DeValue<'t>, Range<usize>)> {
    match value.get_ref() {
        DeValue::Array(list) => list.iter().map(|entry| (entry.get_ref(), entry.span())).collect(),
        other => vec![(other, value.span())],
    }
}

/// The tables of a list of tables, each under its name; too many or something else is reported.
pub(super) fn named<'t>(
    reader: &mut Reader,
    value: &'t Spanned<DeValue<'t>>,
    (word, most): (&str, usize),
    keys: &'static [keys::Key],
) -> Option<Vec<Section<'t>>> {
    let found = entries(value);
    if found.len() > most {
        let title = format!("{} tables `[[{word}]]` are too many; at most {most} are read", found.len());
        let span = found.get(most).map_or(value.span(), |(_, range)| range.clone());
        let span = reader.span(span);
        reader.push(Diagnostic::error("rig-size", span, title));
        return None;
    }
    let mut sections = Vec::new();
    for (k, (entry, range)) in found.into_iter().enumerate() {
        let DeValue::Table(table) = entry else {
            let title = format!("`{word}` must be a table under the header `[[{word}]]`");
            let span = reader.span(range);
            reader.push(
                Diagnostic::error("rig-value", span, title)
                    .help(format!("write `[[{word}]]` above its keys")),
            );
            return None;
        };
        let label = match table.get("name").and_then(|name| name.get_ref().as_str()) {
            Some(name) => format!("{word} `{}`", clip(name)),
            None => format!("{word} {}", k + 1),
        };
        sections.push(reader.section(table, range, label, keys));
    }
    Some(sections)
}

/// The name of a table among others of its kind.
pub(super) fn own_name(
    reader: &mut Reader,
    section: &Section<'_>,
    before: &mut Vec<(String, Span)>,
) -> Option<String> {
    let placed = reader.text(section, "name")?;
    let name = proper_name(reader, placed, 40)?;
    if let Some((_, first)) = before.iter().find(|(other, _)| *other == name) {
        let title = format!("the name `{}` is taken; each needs its own", clip(&name));
        reader.push(Diagnostic::error("rig-name", placed.span, title).also(*first, "first here"));
        return None;
    }
    before.push((name.clone(), placed.span));
    Some(name)
}

/// One of a few words.
pub(super) fn word<'w>(
    reader: &mut Reader,
    section: &Section<'_>,
    name: &str,
    words: &[&'w str],
) -> Option<&'w str> {
    let found = reader.text(section, name)?;
    let known = words.iter().find(|word| **word == found.value).copied();
    if known.is_none() {
        let listed: Vec<_> = words.iter().map(|word| format!("\"{word}\"")).collect();
        let title = format!("`{name}` cannot be `{}`; it is {}", clip(found.value), listed.join(" or "));
        let diagnostic = Diagnostic::error("rig-value", found.span, title);
        let near = nearest(found.value, words.iter().copied());
        reader.push(near.into_iter().fold(diagnostic, |diagnostic, near| {
            diagnostic.fix(format!("use \"{near}\""), found.span, format!("\"{near}\""))
        }));
    }
    known
}
