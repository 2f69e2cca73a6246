//! Whether what is played fits the rig. The drawing plays what does not, because it only moves a picture; it must say so.

use super::{Fresh, Studio};
use crate::desk::lanes::Block;
use crate::desk::margins::{Nearness, percent};
use crate::diag::{Severity, Span};

/// How what would be played now stands to the rig file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// There is nothing to play: no motion, or none of the text as it is.
    Nothing,
    /// It is not measured yet.
    Open,
    /// It fits.
    Fits,
    /// It does not.
    TooMuch {
        /// By how much, and which line: `... (most of it `touch`, evening.cues:12) and 2 more`.
        words: String,
        /// The finding that says so; `None` while the line is still looked for.
        finding: Option<usize>,
    },
}

impl Studio {
    /// Whether what is played, or would be, fits the rig file.
    pub fn verdict(&self) -> Verdict {
        if self.motion.is_none() || self.understood.as_ref().is_none_or(|known| known.has_errors()) {
            return Verdict::Nothing;
        }
        if self.motion_is == Fresh::Old && !self.refused {
            return Verdict::Open;
        }
        if self.checked_is == Fresh::Current || self.refused {
            let too_much: Vec<usize> = (0..self.rows.len())
                .filter(|at| self.rows[*at].severity == Severity::Error && !self.is_of_broken_rig(*at))
                .collect();
            // One that names a statement before one that names the whole scene.
            let with_line = too_much.iter().find(|at| self.culprit(**at).is_some());
            let Some(first) = with_line.or(too_much.first()) else { return Verdict::Fits };
            let row = &self.rows[*first];
            let line = self.culprit(*first).map_or(row.place.clone(), |block| {
                format!("most of it `{}`, {}", block.name, self.place(block.span))
            });
            let more = match too_much.len() - 1 {
                0 => String::new(),
                more => format!(" and {more} more"),
            };
            return Verdict::TooMuch {
                words: format!("{} ({line}){more}", row.title),
                finding: Some(*first),
            };
        }
        match self.margins.first().filter(|_| self.margins_are == Fresh::Current) {
            Some(worst) if worst.nearness == Nearness::Past => Verdict::TooMuch {
                words: format!(
                    "{} {} used, {}; looking for the line",
                    worst.name,
                    percent(worst.used),
                    worst.words
                ),
                finding: None,
            },
            _ => Verdict::Open,
        }
    }

    /// Selects the finding that says what does not fit, and goes to the statement that asks for most of it.
    pub fn show_verdict(&mut self) {
        let Verdict::TooMuch { finding: Some(at), .. } = self.verdict() else { return };
        self.select(at);
        if let Some(span) = self.culprit(at).map(|block| block.span) {
            self.go_to(span);
        }
    }

    /// The statement that has the largest share in a finding.
    fn culprit(&self, row: usize) -> Option<&Block> {
        let (layer, _) = self.rows.get(row)?.blame.first()?;
        let plan = self.checked.as_ref()?.report.plan();
        let placement = plan.scenario().layers.get(*layer)?.placement;
        self.blocks.iter().find(|block| block.placement == placement)
    }

    /// `evening.cues:12`
    fn place(&self, span: Span) -> String {
        let Some(known) = &self.understood else { return String::new() };
        let (name, at) = known.sources.place(span);
        format!("{}:{}", name.rsplit(['/', '\\']).next().unwrap_or(name), at.line)
    }

    /// Says it when what plays does not fit.
    pub(super) fn warn(&mut self) {
        if let (true, Verdict::TooMuch { words, .. }) = (self.transport.playing, self.verdict()) {
            self.say(format!("what plays does not fit the rig file: {words}"));
        }
    }

    /// Whether a finding is about the rig file as it is now, and not about the motion on its last good state.
    fn is_of_broken_rig(&self, row: usize) -> bool {
        let broken = self.understood.as_ref().and_then(|known| known.broken_rig);
        broken.is_some_and(|broken| self.rows[row].span.source == broken)
    }
}
