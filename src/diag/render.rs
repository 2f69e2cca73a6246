//! Diagnostics as text. annotate-snippets draws; nothing of it is seen outside of this file.

use super::excerpt::{clamp, excerpt, last_byte};
use super::{Diagnostic, Fix, Label, Severity, SourceId, Sources, Span};
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};

/// Columns that a message may take when nobody says otherwise.
pub const WIDTH: usize = 110;

/// Labels further apart than this many lines get a picture each.
const APART: u32 = 8;

/// One line a diagnostic: `file:line:column: error[slug]: title`.
pub fn render_short(diagnostic: &Diagnostic, sources: &Sources) -> String {
    let (name, at) = sources.place(diagnostic.primary.span);
    let (severity, rule) = (diagnostic.severity.word(), diagnostic.rule);
    format!("{name}:{}:{}: {severity}[{rule}]: {}", at.line, at.column, diagnostic.title)
}

/// The full form with the source lines under it; `colour` adds terminal colours.
pub fn render_human(diagnostic: &Diagnostic, sources: &Sources, colour: bool) -> String {
    render_human_in(diagnostic, sources, colour, WIDTH)
}

/// The full form, source lines cut to `width` columns.
pub fn render_human_in(diagnostic: &Diagnostic, sources: &Sources, colour: bool, width: usize) -> String {
    let level = match diagnostic.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
        Severity::Note => Level::NOTE,
    };
    let mut group = Group::with_title(level.primary_title(&diagnostic.title).id(diagnostic.rule));
    for picture in pictures(diagnostic, sources) {
        group = picture.draw(group, sources);
    }
    let fixes = diagnostic.fixes.iter().filter(|fix| !said(fix, &diagnostic.help)).map(fix_words);
    for line in diagnostic.help.iter().cloned().chain(fixes) {
        group = group.element(Level::HELP.message(line));
    }
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
    renderer.term_width(width.max(40)).render(&[group])
}

/// Whether a line of help already shows what the fix would write.
fn said(fix: &Fix, help: &[String]) -> bool {
    help.iter().any(|line| {
        let quoted = format!("`{}`", fix.replacement.trim());
        line.contains(&fix.title)
            || line.contains(&quoted)
            || (!fix.replacement.is_empty() && line.contains(&fix.replacement))
    })
}

fn fix_words(fix: &Fix) -> String {
    let short = fix.replacement.len() <= 80 && !fix.replacement.contains('\n');
    if !short || fix.replacement.is_empty() || fix.title.contains(fix.replacement.trim()) {
        fix.title.clone()
    } else {
        format!("{}: `{}`", fix.title, fix.replacement)
    }
}

/// Labels that are near each other in one text.
struct Picture<'a> {
    source: SourceId,
    lines: (u32, u32),
    labels: Vec<(AnnotationKind, &'a Label)>,
}

/// The labels in pictures: the primary's first, then as they come.
fn pictures<'a>(diagnostic: &'a Diagnostic, sources: &Sources) -> Vec<Picture<'a>> {
    let mut pictures: Vec<Picture<'a>> = Vec::new();
    let primary = std::iter::once((AnnotationKind::Primary, &diagnostic.primary));
    let secondary = diagnostic.secondary.iter().map(|label| (AnnotationKind::Context, label));
    for (kind, label) in primary.chain(secondary) {
        let source = label.span.source;
        let text = sources.get(source);
        let span = clamp(text, label.span);
        let line = |byte: usize| text.line_column(byte as u32).line;
        let (first, last) = (line(span.start), line(last_byte(&span)));
        let near = pictures.iter_mut().find(|picture| {
            picture.source == source
                && first <= picture.lines.1.saturating_add(APART)
                && last.saturating_add(APART) >= picture.lines.0
        });
        match near {
            Some(picture) => {
                picture.lines = (picture.lines.0.min(first), picture.lines.1.max(last));
                picture.labels.push((kind, label));
            }
            None => pictures.push(Picture { source, lines: (first, last), labels: vec![(kind, label)] }),
        }
    }
    pictures
}

impl<'a> Picture<'a> {
    fn draw(&self, group: Group<'a>, sources: &'a Sources) -> Group<'a> {
        let text = sources.get(self.source);
        let spans: Vec<Span> = self.labels.iter().map(|(_, label)| label.span).collect();
        let excerpt = excerpt(text, &spans);
        let marks = self.labels.iter().zip(excerpt.marks).map(|((kind, label), mark)| {
            kind.span(mark).label((!label.text.is_empty()).then_some(label.text.as_str()))
        });
        let snippet =
            Snippet::source(excerpt.text).line_start(excerpt.first_line as usize).annotations(marks);
        if !excerpt.cut {
            return group.element(snippet.path(text.name()));
        }
        // A cut line no longer knows its columns, so the place is said apart from it.
        let at = text.line_column(self.labels.first().map_or(0, |(_, label)| label.span.start));
        let origin = Origin::path(text.name()).line(at.line as usize).char_column(at.column as usize);
        group.element(origin).element(snippet)
    }
}

#[cfg(test)]
#[path = "render_tests.rs"]
mod tests;
