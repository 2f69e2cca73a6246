//! Writing: edits, remedies, jumps between text, findings and time.

use super::Studio;
use crate::desk::findings::{self, Remedy};
use crate::desk::writing::{self, Candidate};
use crate::diag::{SourceId, Span};
use crate::lang;
use std::ops::Range;

impl Studio {
    /// The text in front, for the editor. [`Studio::edited`] must follow when it was changed.
    pub fn text_mut(&mut self) -> &mut String {
        &mut self.documents[self.front].text
    }

    /// The text in front was changed.
    pub fn edited(&mut self) {
        if self.rehearsing {
            self.stop();
            self.say("stopped: the text changed");
        }
        self.compile();
    }

    /// Puts `text` in place of the text in front.
    pub fn replace_text(&mut self, text: String) {
        if self.documents[self.front].text != text {
            self.documents[self.front].text = text;
            self.edited();
        }
    }

    /// Where the cursor is, bytes.
    pub fn set_cursor(&mut self, at: usize) {
        self.cursor = at;
    }

    /// The jump that the editor should make, once.
    pub fn take_jump(&mut self) -> Option<Range<usize>> {
        self.jump.take()
    }

    /// Whether a jump waits to be made.
    pub fn has_jump(&self) -> bool {
        self.jump.is_some()
    }

    /// Puts the cursor on a stretch of the text in front.
    pub fn jump_to(&mut self, range: Range<usize>) {
        self.cursor = range.start;
        self.jump = Some(range);
    }

    /// Goes to a place in any text of the profile: in front, in another tab, or in one opened for it.
    pub fn go_to(&mut self, span: Span) {
        let range = span.start as usize..span.end as usize;
        let Some(understood) = self.understood.clone() else { return };
        if span.source == understood.profile {
            self.jump_to(range);
            return;
        }
        let path = understood.sources.get(span.source).name().to_string();
        if self.open(std::path::Path::new(&path)) {
            self.jump_to(range);
        }
    }

    /// Selects a finding: the cursor goes to its place, the playhead to its time.
    pub fn select(&mut self, at: usize) {
        let Some(row) = self.rows.get(at).cloned() else { return };
        self.selected = Some(at);
        if let Some(at_s) = row.at_s {
            self.put_playhead(at_s);
            self.axis = self.axis.showing(at_s, self.length_s());
        }
        if row.span.source == self.understood.as_ref().map_or(SourceId(0), |known| known.profile) {
            self.jump_to(row.span.start as usize..row.span.end as usize);
        }
    }

    /// Selects the next finding, or with `back` the one before, round and round.
    pub fn select_next(&mut self, back: bool) {
        let count = self.rows.len();
        if count == 0 {
            self.say("there are no findings");
            return;
        }
        let next = match (self.selected, back) {
            (None, false) => 0,
            (None, true) => count - 1,
            (Some(at), false) => (at + 1) % count,
            (Some(at), true) => (at + count - 1) % count,
        };
        self.select(next);
    }

    /// Does what a finding advises. The first remedy of the selected (or first) finding where none is named.
    pub fn remedy(&mut self, finding: Option<usize>, remedy: usize) {
        let at = finding.or(self.selected).unwrap_or(0);
        let Some(found) = self.rows.get(at).and_then(|row| row.remedies.get(remedy)).cloned() else {
            self.say("this finding has no advice to follow");
            return;
        };
        match found {
            Remedy::Gain(gain) => self.set_gain(gain),
            Remedy::Edit(fix) => {
                let Some(understood) = self.understood.clone() else { return };
                let source = understood.sources.get(fix.span.source);
                if fix.span.source != understood.profile && !self.open(std::path::Path::new(source.name())) {
                    return;
                }
                // The fix speaks of the text that was read; only that one is changed.
                if self.document().text != source.text() {
                    self.say("the text has changed since; look again in a moment");
                    return;
                }
                if let Some(text) = findings::applied(source.text(), &fix) {
                    let start = fix.span.start as usize;
                    self.replace_text(text);
                    self.jump_to(start..start + fix.replacement.len());
                    self.say(format!("done: {}", fix.title));
                }
            }
        }
    }

    /// Puts the text into the one layout.
    pub fn format(&mut self) {
        match lang::format(&self.document().text) {
            Ok(text) => {
                self.replace_text(text);
                self.say("formatted");
            }
            Err(parsed) => {
                self.say(format!("not formatted: the text has {} syntax errors", parsed.errors.len()));
            }
        }
    }

    /// What could stand at the cursor.
    pub fn candidates(&self) -> (Range<usize>, Vec<Candidate>) {
        let mut cues: Vec<String> = Vec::new();
        if let Some(understood) = &self.understood {
            let sources = understood.sources.iter().map(|(_, text)| text);
            let profiles = sources.filter(|text| text.name().ends_with(".cues"));
            cues.extend(profiles.flat_map(|text| writing::cues_of(text.text())));
        }
        let labels: Vec<String> = self.blocks.iter().map(|block| block.name.clone()).collect();
        writing::candidates(&self.document().text, self.cursor, &cues, &labels)
    }
}
