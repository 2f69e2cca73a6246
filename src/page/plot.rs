//! A frame with two scales, for everything that is drawn over numbers.

use super::ink::{BLACK, GREY, PALE};
use super::quantity::figures;
use super::svg::{Anchor, Pen, Svg};

/// One scale: numbers from `low` to `high` along an edge.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Scale {
    pub(super) low: f64,
    pub(super) high: f64,
    /// Name and unit.
    pub(super) words: String,
}

impl Scale {
    /// From `low` to `high`, a little wider when both are the same or no numbers.
    pub(super) fn new(low: f64, high: f64, words: impl Into<String>) -> Self {
        let (low, high) = if low.is_finite() && high.is_finite() { (low, high) } else { (0.0, 1.0) };
        let (low, high) = if high - low > 1e-12 * low.abs().max(high.abs()) {
            (low, high)
        } else {
            (low - 1.0, high + 1.0)
        };
        Self { low, high, words: words.into() }
    }

    /// A twentieth of room at either end.
    pub(super) fn roomy(low: f64, high: f64, words: impl Into<String>) -> Self {
        let room = 0.05 * (high - low);
        Self::new(low - room, high + room, words)
    }

    /// Round numbers inside, about `wanted` of them.
    pub(super) fn ticks(&self, wanted: f64) -> Vec<f64> {
        let raw = (self.high - self.low) / wanted.max(1.0);
        let power = libm::pow(10.0, libm::floor(libm::log10(raw)));
        let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * power).find(|step| *step >= raw * 0.999);
        let step = step.unwrap_or(raw);
        let (first, last) = ((self.low / step - 1e-9).ceil(), (self.high / step + 1e-9).floor());
        if !(step > 0.0 && last - first < 1000.0) {
            return Vec::new();
        }
        (0..=(last - first) as usize).map(|k| (first + k as f64) * step + 0.0).collect()
    }
}

/// A frame in a picture: where its inside lies and what its edges count.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Frame {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) across: Scale,
    pub(super) up: Scale,
}

impl Frame {
    pub(super) fn x(&self, value: f64) -> f64 {
        self.left + self.width * (value - self.across.low) / (self.across.high - self.across.low)
    }

    pub(super) fn y(&self, value: f64) -> f64 {
        self.top + self.height * (self.up.high - value) / (self.up.high - self.up.low)
    }

    pub(super) fn at(&self, across: f64, up: f64) -> (f64, f64) {
        (self.x(across), self.y(up))
    }

    /// Lines behind everything at round numbers.
    pub(super) fn grid(&self, svg: &mut Svg) {
        let pen = Pen::line(PALE, 0.7);
        for value in self.across.ticks(self.width / 60.0) {
            svg.line((self.x(value), self.top), (self.x(value), self.top + self.height), &pen);
        }
        for value in self.up.ticks(self.height / 35.0) {
            svg.line((self.left, self.y(value)), (self.left + self.width, self.y(value)), &pen);
        }
    }

    /// The frame with numbers and names on its edges.
    pub(super) fn edges(&self, svg: &mut Svg) {
        let bottom = self.top + self.height;
        svg.rect((self.left, self.top), (self.width, self.height), &Pen::line(BLACK, 1.0));
        let tick = Pen::line(BLACK, 1.0);
        for value in self.across.ticks(self.width / 60.0) {
            let x = self.x(value);
            svg.line((x, bottom), (x, bottom + 4.0), &tick);
            svg.text((x, bottom + 15.0), Anchor::Middle, &figures(value));
        }
        for value in self.up.ticks(self.height / 35.0) {
            let y = self.y(value);
            svg.line((self.left - 4.0, y), (self.left, y), &tick);
            svg.text((self.left - 6.0, y + 3.8), Anchor::End, &figures(value));
        }
        svg.text((self.left + self.width / 2.0, bottom + 30.0), Anchor::Middle, &self.across.words);
        let at = (self.left - 42.0, self.top + self.height / 2.0);
        svg.text_in(at, Anchor::Middle, &self.up.words, BLACK, "-90");
    }

    /// Lines through zero, where they are inside.
    pub(super) fn zero(&self, svg: &mut Svg) {
        let pen = Pen::line(GREY, 0.8);
        if self.across.low < 0.0 && self.across.high > 0.0 {
            svg.line((self.x(0.0), self.top), (self.x(0.0), self.top + self.height), &pen);
        }
        if self.up.low < 0.0 && self.up.high > 0.0 {
            svg.line((self.left, self.y(0.0)), (self.left + self.width, self.y(0.0)), &pen);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(Scale::new(-11.5, 12.0, "").ticks(6.0), [-10.0, -5.0, 0.0, 5.0, 10.0]);
        assert_eq!(Scale::new(0.0, 0.35, "").ticks(4.0).len(), 4);
        assert_eq!(Scale::new(3.0, 3.0, ""), Scale { low: 2.0, high: 4.0, words: String::new() });
        assert_eq!(Scale::new(f64::NAN, 3.0, "").high, 1.0);
        assert!(Scale::new(1e300, 1e300 + 1e285, "").ticks(5.0).len() < 1001);
    }

    #[test]
    fn up_is_up() {
        let frame = Frame {
            left: 10.0,
            top: 20.0,
            width: 100.0,
            height: 50.0,
            across: Scale::new(-1.0, 1.0, ""),
            up: Scale::new(0.0, 5.0, ""),
        };
        assert_eq!(frame.at(0.0, 5.0), (60.0, 20.0));
        assert_eq!(frame.at(1.0, 0.0), (110.0, 70.0));
    }
}
