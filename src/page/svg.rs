//! A picture in SVG, element by element.

use super::html::escaped;
use super::ink::{BLACK, Colour};
use std::fmt::Write;

/// How something is drawn.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pen {
    pub(super) stroke: Option<Colour>,
    pub(super) width: f64,
    pub(super) dashes: &'static str,
    /// `none`, a colour, or a hatching.
    pub(super) fill: String,
    pub(super) opacity: f64,
}

impl Pen {
    /// A line.
    pub(super) fn line(stroke: Colour, width: f64) -> Self {
        Self { stroke: Some(stroke), width, dashes: "", fill: "none".to_string(), opacity: 1.0 }
    }

    /// A filled area without an edge.
    pub(super) fn fill(fill: impl Into<String>) -> Self {
        Self { stroke: None, width: 0.0, dashes: "", fill: fill.into(), opacity: 1.0 }
    }

    /// The same with dashes; none when empty.
    pub(super) fn dashed(self, dashes: &'static str) -> Self {
        Self { dashes, ..self }
    }

    /// The same line around an area.
    pub(super) fn around(self, fill: impl Into<String>) -> Self {
        Self { fill: fill.into(), ..self }
    }

    /// The same, let through by so much, 0..1.
    pub(super) fn faint(self, opacity: f64) -> Self {
        Self { opacity, ..self }
    }

    fn attributes(&self) -> String {
        let mut out = format!(" fill=\"{}\"", self.fill);
        // Writing to a string cannot fail.
        if let Some(stroke) = self.stroke {
            let _ = write!(out, " stroke=\"{stroke}\" stroke-width=\"{}\"", number(self.width));
        }
        if !self.dashes.is_empty() {
            let _ = write!(out, " stroke-dasharray=\"{}\"", self.dashes);
        }
        if self.opacity < 1.0 {
            let _ = write!(out, " opacity=\"{}\"", number(self.opacity));
        }
        out
    }
}

/// Which point of a text stands at its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// A picture.
#[derive(Debug, Clone)]
pub(super) struct Svg {
    width: f64,
    height: f64,
    /// Millimetres on paper for a unit, for drawings to scale.
    unit_mm: Option<f64>,
    label: String,
    body: String,
    size: f64,
}

impl Svg {
    /// Of this size in its own units; `label` says in words what it shows.
    pub(super) fn new(width: f64, height: f64, label: &str) -> Self {
        Self { width, height, unit_mm: None, label: label.to_string(), body: String::new(), size: 11.0 }
    }

    /// A unit is so many millimetres on paper.
    pub(super) fn on_paper(mut self, unit_mm: f64) -> Self {
        self.unit_mm = Some(unit_mm);
        self
    }

    /// Size of letters from here on.
    pub(super) fn letters(&mut self, size: f64) {
        self.size = size;
    }

    pub(super) fn line(&mut self, from: (f64, f64), to: (f64, f64), pen: &Pen) {
        let [x1, y1, x2, y2] = [from.0, from.1, to.0, to.1].map(number);
        let _ = writeln!(
            self.body,
            "<line x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\"{}/>",
            pen.attributes()
        );
    }

    pub(super) fn rect(&mut self, at: (f64, f64), size: (f64, f64), pen: &Pen) {
        let [x, y, w, h] = [at.0, at.1, size.0.max(0.0), size.1.max(0.0)].map(number);
        let _ = writeln!(
            self.body,
            "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\"{}/>",
            pen.attributes()
        );
    }

    pub(super) fn circle(&mut self, at: (f64, f64), radius: f64, pen: &Pen) {
        let [x, y, r] = [at.0, at.1, radius].map(number);
        let _ = writeln!(self.body, "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\"{}/>", pen.attributes());
    }

    /// A path from its own words; nothing when empty.
    pub(super) fn path(&mut self, words: &str, pen: &Pen) {
        if !words.is_empty() {
            let _ = writeln!(self.body, "<path d=\"{words}\"{}/>", pen.attributes());
        }
    }

    /// A line through points.
    pub(super) fn trail(&mut self, points: &[(f64, f64)], pen: &Pen) {
        self.path(&through(points), pen);
    }

    /// A closed shape.
    pub(super) fn shape(&mut self, points: &[(f64, f64)], pen: &Pen) {
        if !points.is_empty() {
            self.path(&(through(points) + "Z"), pen);
        }
    }

    /// Words on a white edge, so that they can be read on a hatching.
    pub(super) fn text(&mut self, at: (f64, f64), anchor: Anchor, words: &str) {
        self.text_in(at, anchor, words, BLACK, "");
    }

    /// The same in a colour and turned by a quarter, when asked.
    pub(super) fn text_in(
        &mut self,
        at: (f64, f64),
        anchor: Anchor,
        words: &str,
        colour: Colour,
        turn: &str,
    ) {
        let [x, y, size, halo] = [at.0, at.1, self.size, self.size * 0.25].map(number);
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let turn =
            if turn.is_empty() { String::new() } else { format!(" transform=\"rotate({turn} {x} {y})\"") };
        let _ = writeln!(
            self.body,
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" text-anchor=\"{anchor}\" fill=\"{colour}\" \
             stroke=\"#ffffff\" stroke-width=\"{halo}\" paint-order=\"stroke\"{turn}>{}</text>",
            escaped(words)
        );
    }

    /// The element as it stands in a page.
    pub(super) fn finish(&self) -> String {
        let (width, height) = (number(self.width), number(self.height));
        let size = match self.unit_mm {
            Some(mm) => {
                format!(" width=\"{}mm\" height=\"{}mm\"", number(self.width * mm), number(self.height * mm))
            }
            None => format!(" width=\"{width}\" height=\"{height}\""),
        };
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\"{size} role=\"img\" \
             aria-label=\"{}\" font-family=\"Helvetica, Arial, sans-serif\">\n{}</svg>\n",
            escaped(&self.label),
            self.body
        )
    }
}

/// Path words of a line through points.
pub(super) fn through(points: &[(f64, f64)]) -> String {
    let mut out = String::new();
    for (k, (x, y)) in points.iter().enumerate() {
        let _ = write!(out, "{}{} {}", if k == 0 { "M" } else { "L" }, number(*x), number(*y));
    }
    out
}

/// Two decimals, no trailing zeros; what is no number is left at 0, off the picture's meaning but not of its syntax.
pub(super) fn number(value: f64) -> String {
    if !value.is_finite() {
        return "0".to_string();
    }
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_string() } else { text.to_string() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn elements_are_written_and_words_escaped() {
        let mut svg = Svg::new(100.0, 50.0, "a < b").on_paper(0.5);
        svg.line((0.0, 1.0), (2.005, -0.001), &Pen::line(BLACK, 1.0).dashed("2 2"));
        svg.text((1.0, 2.0), Anchor::Middle, "x & \"y\"");
        svg.shape(&[(0.0, 0.0), (1.0, f64::NAN)], &Pen::fill("none"));
        let text = svg.finish();
        assert!(text.contains("width=\"50mm\" height=\"25mm\""), "{text}");
        assert!(text.contains("aria-label=\"a &lt; b\""), "{text}");
        assert!(text.contains("x1=\"0\" y1=\"1\" x2=\"2\" y2=\"0\""), "{text}");
        assert!(text.contains("stroke-dasharray=\"2 2\"") && text.contains("x &amp; &quot;y&quot;</text>"));
        assert!(text.contains("d=\"M0 0L1 0Z\""), "{text}");
    }
}
