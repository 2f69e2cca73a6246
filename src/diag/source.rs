//! Texts by number, and places in them.

use std::sync::Arc;

/// Which text of a [`Sources`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SourceId(pub u32);

/// A half-open range of bytes in one text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Span {
    /// Which text.
    pub source: SourceId,
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Span {
    /// Bytes `start..end` of `source`.
    pub fn new(source: SourceId, start: usize, end: usize) -> Self {
        // Texts are capped far below 4 GiB when they are read (`files`), so this never saturates in practice.
        let byte = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
        Self { source, start: byte(start), end: byte(end) }
    }

    /// The smallest span that covers both (same text).
    #[must_use]
    pub fn to(self, other: Self) -> Self {
        Self { source: self.source, start: self.start.min(other.start), end: self.end.max(other.end) }
    }
}

/// A line and a column, both counted from 1; the column counts characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LineColumn {
    /// Line, from 1.
    pub line: u32,
    /// Column in characters, from 1.
    pub column: u32,
}

/// One text with its name and an index of its lines.
#[derive(Debug, Clone)]
pub struct SourceText {
    name: String,
    text: Arc<str>,
    line_starts: Vec<u32>,
}

impl SourceText {
    /// Indexes `text`, shown to people as `name`.
    pub fn new(name: impl Into<String>, text: impl Into<Arc<str>>) -> Self {
        let text: Arc<str> = text.into();
        let mut line_starts = vec![0];
        line_starts.extend(text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(k, _)| k as u32 + 1));
        Self { name: name.into(), text, line_starts }
    }

    /// The name that messages show, usually the path as the user typed it.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The whole text.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// How many lines; a text that ends on a line end has an empty last one.
    pub fn line_count(&self) -> u32 {
        self.line_starts.len() as u32
    }

    /// First byte of a line counted from 1, and its text without the line end. Empty past the last line.
    pub fn line(&self, line: u32) -> (usize, &str) {
        let index = line.max(1) as usize - 1;
        let start = self.line_starts.get(index).map_or(self.text.len(), |start| *start as usize);
        let end = self.line_starts.get(index + 1).map_or(self.text.len(), |next| *next as usize - 1);
        let text = self.text.get(start..end).unwrap_or("");
        (start, text.strip_suffix('\r').unwrap_or(text))
    }

    /// Line and column of a byte offset (clamped to the text, and back to a character's first byte).
    pub fn line_column(&self, offset: u32) -> LineColumn {
        let mut offset = (offset as usize).min(self.text.len());
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        let line = self.line_starts.partition_point(|start| *start as usize <= offset);
        let start = self.line_starts[line - 1] as usize;
        LineColumn { line: line as u32, column: self.text[start..offset].chars().count() as u32 + 1 }
    }
}

/// All texts of one compilation, in the order in which they were read.
#[derive(Debug, Clone, Default)]
pub struct Sources {
    texts: Vec<SourceText>,
}

impl Sources {
    /// No texts yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a text and numbers it.
    pub fn add(&mut self, text: SourceText) -> SourceId {
        self.texts.push(text);
        SourceId(self.texts.len() as u32 - 1)
    }

    /// The text with this number.
    ///
    /// # Panics
    /// When the number came from another `Sources`: a programming error.
    pub fn get(&self, id: SourceId) -> &SourceText {
        &self.texts[id.0 as usize]
    }

    /// All texts with their numbers.
    pub fn iter(&self) -> impl Iterator<Item = (SourceId, &SourceText)> {
        self.texts.iter().enumerate().map(|(k, text)| (SourceId(k as u32), text))
    }

    /// The text's name and the span's first line and column.
    pub fn place(&self, span: Span) -> (&str, LineColumn) {
        let text = self.get(span.source);
        (text.name(), text.line_column(span.start))
    }

    /// The text under a span (empty when the span does not fit the text).
    pub fn snippet(&self, span: Span) -> &str {
        self.get(span.source).text().get(span.start as usize..span.end as usize).unwrap_or("")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters() {
        let text = SourceText::new("a", "é = 1\nxy");
        assert_eq!(text.line_column(3), LineColumn { line: 1, column: 3 });
        assert_eq!(text.line_column(1), LineColumn { line: 1, column: 1 });
        assert_eq!(text.line_column(99), LineColumn { line: 2, column: 3 });
    }

    #[test]
    fn lines_come_without_their_ends() {
        let text = SourceText::new("a", "one\r\ntwo\n");
        assert_eq!((text.line(1), text.line(2), text.line(3)), ((0, "one"), (5, "two"), (9, "")));
        assert_eq!((text.line_count(), text.line(99), text.line(0)), (3, (9, ""), (0, "one")));
    }
}
