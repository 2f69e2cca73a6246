//! Whether what is played fits the rig. The drawing plays what does not, because it only moves a picture; it must say so.

use super::{Fresh, Studio};
use crate::desk::margins::{Nearness, percent};
use crate::diag::Severity;

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
        /// By how much, where, and which line: `roll ... too much (evening.cues:12) and 2 more`.
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
            let Some(first) = too_much.first() else { return Verdict::Fits };
            let row = &self.rows[*first];
            let more = match too_much.len() - 1 {
                0 => String::new(),
                more => format!(" and {more} more"),
            };
            return Verdict::TooMuch {
                words: format!("{} ({}){more}", row.title, row.place),
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

    /// Says it when what plays does not fit.
    pub(super) fn warn(&mut self) {
        if let (true, Verdict::TooMuch { words, .. }) = (self.transport.playing, self.verdict()) {
            self.say(format!("what plays does not fit the rig file: {words}"));
        }
    }

    fn is_of_broken_rig(&self, _row: usize) -> bool {
        false
    }
}
