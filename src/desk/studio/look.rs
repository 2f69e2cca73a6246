//! What there is to see, and how the program stands, in words.

use super::{Fresh, Studio};
use crate::desk::compiler::Motion;
use crate::desk::document::Document;
use crate::desk::findings::Row;
use crate::desk::lanes::Block;
use crate::desk::margins::MarginRow;
use crate::desk::recovery::Unsaved;
use crate::desk::transport::Transport;
use crate::desk::understand::Understood;
use crate::desk::variant::Variant;
use crate::diag::Severity;
use crate::scenario::Scenario;
use crate::signal::Jet;
use std::sync::Arc;

/// What the program is doing; cannot be mistaken, because everything else follows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    /// Nothing moves.
    Writing,
    /// The drawn rig moves, no steel does.
    Rehearsing,
    /// A link to drives is open: steel moves.
    OnDrives,
}

impl Mode {
    /// Its word, in its fixed place.
    pub fn word(self) -> &'static str {
        match self {
            Mode::Writing => "Writing",
            Mode::Rehearsing => "Rehearsing",
            Mode::OnDrives => "On the drives",
        }
    }

    /// What that means.
    pub fn meaning(self) -> &'static str {
        match self {
            Mode::Writing => "nothing moves",
            Mode::Rehearsing => "the simulated rig moves, no drive does",
            Mode::OnDrives => "legs of steel move, once chosen and held",
        }
    }
}

/// How the text and the motion shown stand to each other and to the rig.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Standing {
    /// Nothing is known yet.
    Reading,
    /// A text has errors; what is shown is of the last texts that had none.
    Broken {
        /// Which: "the text", or the name of a library's or the rig's file.
        text: String,
        /// Whether there is such a motion.
        shows_old: bool,
    },
    /// There is no rig to look at it on.
    NoRig(String),
    /// The motion shown is of an earlier text or variant.
    Working,
    /// The motion is there, the check is not.
    Checking,
    /// The rig file cannot be used as it is now; all that is shown is on its last good state.
    OldRig(String),
    /// It fits the rig file.
    Fits,
    /// It does not.
    TooMuch,
}

impl Standing {
    /// One line for people.
    pub fn words(&self) -> String {
        match self {
            Standing::Reading => "reading".to_string(),
            Standing::Broken { text, shows_old: true } => {
                format!("{text} has errors; the motion shown is of the last state without")
            }
            Standing::Broken { text, shows_old: false } => {
                format!("{text} has errors; there is no motion yet")
            }
            Standing::NoRig(words) => words.clone(),
            Standing::OldRig(words) => format!("{words}; shown on its last state without"),
            Standing::Working => "working out the motion; the one shown is old".to_string(),
            Standing::Checking => "checking against the rig file".to_string(),
            Standing::Fits => "fits the rig file".to_string(),
            Standing::TooMuch => "does not fit the rig file".to_string(),
        }
    }
}

impl Studio {
    /// Open texts.
    pub fn documents(&self) -> &[Document] {
        &self.documents
    }

    /// Which text is in front.
    pub fn front(&self) -> usize {
        self.front
    }

    /// The text in front.
    pub fn document(&self) -> &Document {
        &self.documents[self.front]
    }

    /// What the newest text that was read says.
    pub fn understood(&self) -> Option<&Arc<Understood>> {
        self.understood.as_ref()
    }

    /// The last good motion.
    pub fn motion(&self) -> Option<&Arc<Motion>> {
        self.motion.as_ref()
    }

    /// Whether the motion shown is of an earlier text or variant.
    pub fn motion_is_old(&self) -> bool {
        self.motion_is == Fresh::Old
    }

    /// The scene of the motion shown, as written.
    pub fn scenario(&self) -> Option<&Arc<Scenario>> {
        self.motion.as_ref()?.understood.scenario.as_ref()
    }

    /// Whether the margins are of an earlier text or variant.
    pub fn margins_are_old(&self) -> bool {
        self.margins_are == Fresh::Old
    }

    /// Margins, worst first.
    pub fn margins(&self) -> &[MarginRow] {
        &self.margins
    }

    /// The largest gain at which the scene fits, as last checked: of a text and parts that may have changed since.
    pub fn fits_gain(&self) -> Option<f64> {
        self.checked.as_ref()?.report.fits_gain
    }

    /// The report of the last check, when it is of the text and variant as they are.
    pub fn report(&self) -> Option<&Arc<crate::check::Report>> {
        (self.checked_is == Fresh::Current).then_some(&self.checked.as_ref()?.report)
    }

    /// Findings, gravest first.
    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// The finding that is selected.
    pub fn selected(&self) -> Option<usize> {
        self.selected
    }

    /// Blocks of the placements.
    pub fn blocks(&self) -> &[Block] {
        &self.blocks
    }

    /// The playhead.
    pub fn transport(&self) -> &Transport {
        &self.transport
    }

    /// How the scene is rehearsed.
    pub fn variant(&self) -> &Variant {
        &self.variant
    }

    /// Counts starts, laps and changes of what sounds.
    pub fn lap(&self) -> u64 {
        self.lap
    }

    /// What was said last.
    pub fn said(&self) -> Option<&str> {
        self.said.as_deref()
    }

    /// Texts that a crash left behind.
    pub fn unsaved(&self) -> &[Unsaved] {
        &self.unsaved
    }

    /// The statement that the cursor stands in, as an index of a block: the shortest that holds it.
    pub fn block_at_cursor(&self) -> Option<usize> {
        let profile = self.understood.as_ref()?.profile;
        let at = u32::try_from(self.cursor).ok()?;
        let holds =
            |block: &&Block| block.span.source == profile && block.span.start <= at && at <= block.span.end;
        let shortest = self.blocks.iter().filter(holds).min_by_key(|block| block.span.end - block.span.start);
        shortest.map(|block| block.placement)
    }

    /// For each placement, its share of the selected finding: its largest layer's.
    pub fn blamed(&self, placement: usize) -> f64 {
        let Some(row) = self.selected.and_then(|at| self.rows.get(at)) else { return 0.0 };
        let Some(plan) = self.checked.as_ref().map(|checked| checked.report.plan()) else { return 0.0 };
        let layers = &plan.scenario().layers;
        let mine =
            |(layer, _): &&(usize, f64)| layers.get(*layer).is_some_and(|layer| layer.placement == placement);
        row.blame.iter().filter(mine).map(|(_, share)| share.abs()).fold(0.0, f64::max)
    }

    /// Platform coordinates of the rig: where the legs of a run on drives or of a rehearsal are; else at the playhead, of
    /// the motion shown.
    pub fn pose(&self) -> Vec<f64> {
        if let Some(pose) = self.driven_pose() {
            return pose;
        }
        if let Some((_, rig)) = self.rehearsal.as_ref().filter(|_| self.transport.playing) {
            return rig.pose().to_vec();
        }
        let Some(motion) = &self.motion else { return Vec::new() };
        let plan = &motion.plan;
        let mut jets = vec![Jet::default(); plan.rig().axes.len()];
        plan.platform_at(self.transport.at_s / plan.tempo(), &mut jets);
        jets.iter().map(|jet| jet.0[0]).collect()
    }

    /// What the program is doing.
    pub fn mode(&self) -> Mode {
        match (self.drives.is_engaged(), self.rehearsing) {
            (true, _) => Mode::OnDrives,
            (false, true) => Mode::Rehearsing,
            (false, false) => Mode::Writing,
        }
    }

    /// Why the rig is not the file's as it is now but its last good one; `None` while it is the file's.
    pub fn old_rig(&self) -> Option<&str> {
        self.understood.as_ref()?.old_rig.as_deref()
    }

    /// How things stand.
    pub fn standing(&self) -> Standing {
        let Some(understood) = &self.understood else { return Standing::Reading };
        if let Some(text) = understood.broken() {
            return Standing::Broken { text, shows_old: self.motion.is_some() };
        }
        if let Some(words) = &understood.no_rig {
            return Standing::NoRig(words.clone());
        }
        if self.refused {
            return Standing::TooMuch;
        }
        if self.motion_is == Fresh::Old || self.understood_is == Fresh::Old {
            return Standing::Working;
        }
        if self.checked_is == Fresh::Old {
            return Standing::Checking;
        }
        if let Some(words) = &understood.old_rig {
            return Standing::OldRig(words.clone());
        }
        let errors = self.rows.iter().any(|row| row.severity == Severity::Error);
        if errors { Standing::TooMuch } else { Standing::Fits }
    }

    /// Whether the background still has something to say of the text and variant as they are.
    pub fn is_busy(&self) -> bool {
        let Some(understood) = self.understood.as_ref().filter(|_| self.understood_is == Fresh::Current)
        else {
            return true;
        };
        if self.comparing.is_working() || self.overlay.is_working() {
            return true;
        }
        let ends_there = understood.has_errors() || understood.rig.is_none() || understood.scenario.is_none();
        !ends_there && !self.refused && (self.motion_is == Fresh::Old || self.checked_is == Fresh::Old)
    }

    /// What can be done next, in words, to stand beside the state.
    pub fn next_step(&self) -> String {
        match self.standing() {
            Standing::Broken { .. } => "mend the findings".to_string(),
            Standing::OldRig(_) => "mend the rig file".to_string(),
            Standing::TooMuch if self.refused => "see the findings".to_string(),
            Standing::TooMuch => match self.fits_gain() {
                Some(gain) => format!("gain {} would fit", crate::desk::margins::gain_percent(gain)),
                None => "no gain mends this; see the findings".to_string(),
            },
            _ if self.rehearsing && self.transport.playing => "Escape stops".to_string(),
            _ if self.rehearsing => "F5 goes on, Escape goes back to writing".to_string(),
            Standing::Fits | Standing::Checking => "F5 plays".to_string(),
            _ => String::new(),
        }
    }

    /// The window's title: file, mode, standing. A screen reader and a task bar say it too.
    pub fn title(&self) -> String {
        let document = self.document();
        let star = if document.is_unsaved() { " (unsaved)" } else { "" };
        if let Some(state) = self.drives.state() {
            let drives = if self.drives.are_simulated() { "SIMULATED" } else { "THE" };
            return format!("ON {drives} DRIVES, {state} - {} - Cueloom", document.name());
        }
        let mode = match (self.rehearsing, self.transport.playing) {
            (false, _) => "writing".to_string(),
            (true, true) => "rehearsing".to_string(),
            (true, false) => "rehearsing, paused".to_string(),
        };
        format!(
            "{}{star} - {mode}, gain {:.0} %, {} - Cueloom",
            document.name(),
            self.variant.gain * 100.0,
            self.standing().words()
        )
    }
}
