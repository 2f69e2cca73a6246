//! `expect`: what must hold, in numbers.

use super::resolver::{Place, Resolver, Stop};
use super::{Expectation, Measure, waveform};
use crate::diag::{Diagnostic, Severity, nearest};
use crate::lang::tree::{Expect, Group};
use crate::signal::Order;
use crate::units::factor_of_db;
use crate::units::{Dimension, show};

const MEASURES: &[(&str, Measure)] =
    &[("peak", Measure::Peak), ("rms", Measure::Rms), ("margin", Measure::Margin)];

impl<'a> Resolver<'a> {
    /// An expectation over a scene of `length_s`; `None` in a review. A scene with mistakes may be shorter than it was
    /// meant to be, so only in a whole one must a stretch lie inside.
    ///
    /// # Errors
    /// Told already.
    pub(super) fn expectation(
        &mut self,
        expect: &'a Expect,
        frame: usize,
        length_s: f64,
    ) -> Result<Option<Expectation>, Stop> {
        let at = Place { frame, statement: None };
        let measure = self.measure(expect, frame);
        let bound = self.constant(&expect.bound, at, "the bound of `expect`");
        let over = match &expect.over {
            Some(over) => self.stretch_of(over, at),
            None => Ok(None),
        };
        let (measure, bound, over) = (measure?, bound?, over?);
        let order = self.bound_order(expect, measure, bound.dimension)?;
        if bound.is_instant() {
            let title = "the bound of `expect` is an instant";
            return Err(self.fail(Diagnostic::error("label", expect.bound.span, title)));
        }
        let Some(mut number) = bound.number() else { return Ok(None) };
        if bound.dimension == Dimension::LEVEL {
            // dB to an amplitude ratio: 20 log10 of it. Source: ISO 80000-1, annex C.
            number = factor_of_db(number);
        }
        if number < 0.0 && measure != Measure::Margin {
            let title = format!(
                "a {} is never negative; the bound is {}",
                expect.measure.text,
                show(number, bound.dimension)
            );
            let diagnostic = Diagnostic::error("range", expect.bound.span, title)
                .help("it measures the absolute value: leave the sign out");
            return Err(self.fail(diagnostic));
        }
        if self.is_review(frame) {
            return Ok(None);
        }
        let is_whole = self.diagnostics.iter().all(|diagnostic| diagnostic.severity != Severity::Error);
        let over_s = match (&expect.over, over) {
            (Some(written), Some((from_s, to_s))) if from_s < 0.0 || (is_whole && to_s > length_s + 1e-9) => {
                let title = format!(
                    "this stretch runs from {} to {}, and the scene from 0 s to {}",
                    show(from_s, Dimension::TIME),
                    show(to_s, Dimension::TIME),
                    show(length_s, Dimension::TIME)
                );
                return Err(self.fail(Diagnostic::error("range", written.span, title)));
            }
            (_, Some(over)) => over,
            (_, None) => (0.0, length_s),
        };
        Ok(Some(Expectation {
            measure,
            line: expect.channel.map(|channel| channel.line),
            order,
            at_most: expect.at_most,
            bound: number,
            over_s,
            span: expect.span,
        }))
    }

    fn measure(&mut self, expect: &'a Expect, frame: usize) -> Result<Measure, Stop> {
        let word = &expect.measure.text;
        let Some((_, measure)) = MEASURES.iter().find(|(name, _)| *name == &**word) else {
            let title = format!("`{word}` is nothing that can be measured");
            let mut diagnostic = Diagnostic::error("expectation", expect.measure.span, title);
            diagnostic = match nearest(word, MEASURES.iter().map(|(name, _)| *name)) {
                Some(near) => diagnostic.help(format!("did you mean `{near}`?")).fix(
                    format!("write `{near}`"),
                    expect.measure.span,
                    near,
                ),
                None => diagnostic.help("measure `peak` or `rms` of a channel, or `margin`"),
            };
            return Err(self.fail(diagnostic));
        };
        match (measure, &expect.channel) {
            (Measure::Margin, Some(channel)) => {
                let diagnostic = Diagnostic::error(
                    "expectation",
                    channel.span,
                    "`margin` is of the whole rig and names no channel",
                )
                .help("write `expect margin >= 10 %`");
                Err(self.fail(diagnostic))
            }
            (Measure::Peak | Measure::Rms, None) => {
                let title = format!("`{word}` needs a channel");
                let diagnostic = Diagnostic::error("expectation", expect.measure.span, title)
                    .help(format!("write `expect {word} roll <= 10 deg`"));
                Err(self.fail(diagnostic))
            }
            (_, Some(channel)) if channel.group != Group::Platform && !self.is_review(frame) => {
                let what = if channel.group == Group::Seat {
                    "channels of the seat"
                } else {
                    "channels of the vehicle"
                };
                Err(self.not_yet(channel.span, what))
            }
            _ => Ok(*measure),
        }
    }

    fn bound_order(&mut self, expect: &'a Expect, measure: Measure, found: Dimension) -> Result<Order, Stop> {
        let Some(channel) = &expect.channel else {
            if measure == Measure::Margin && found == Dimension::NUMBER {
                return Ok(Order::Value);
            }
            let title = format!("`margin` is a part of each limit, a plain number; this is {found}");
            let diagnostic = Diagnostic::error("dimension", expect.bound.span, title)
                .help("write `expect margin >= 10 %`");
            return Err(self.fail(diagnostic));
        };
        if let Some(order) = waveform::order(channel.line, found) {
            return Ok(order);
        }
        let line = channel.line.word();
        let [value, rate, acceleration] = waveform::dimensions(channel.line);
        let (title, wanted) = if waveform::is_audio(channel.line) {
            (format!("`{line}` is measured in dB or a part of full scale; this is {found}"), Dimension::LEVEL)
        } else {
            (format!("`{line}` is measured in {value}, {rate} or {acceleration}; this is {found}"), value)
        };
        let diagnostic =
            Diagnostic::error("dimension", expect.bound.span, title).also(channel.span, "this channel");
        Err(self.fail(super::advice::toward(diagnostic, &expect.bound, found, wanted)))
    }
}
